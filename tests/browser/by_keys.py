"""A learner who has no pointer: Tab, Enter, Space, arrows and letters."""

from __future__ import annotations

PRESSES_AT_MOST = 400
FOCUS_IS = "selector => document.activeElement.matches(selector)"
# How often Tab is pressed from here to a part, or Shift+Tab where the number is negative: a radio group is one stop.
PRESSES_TO = """selector => {
    const here = document.activeElement, wanted = document.querySelector(selector);
    const named = 'a[href], button, input, select, textarea, summary, [tabindex], [contenteditable=true]';
    const groups = new Set();
    const stops = [...document.querySelectorAll(named)].filter((part) => {
        if (part === here || part === wanted) return true;
        if (part.tabIndex < 0 || part.disabled || !part.checkVisibility({visibilityProperty: true})) return false;
        if (part.type !== 'radio') return true;
        return !groups.has(part.name) && groups.add(part.name);
    });
    const before = here.compareDocumentPosition(wanted) & Node.DOCUMENT_POSITION_PRECEDING;
    const places = [stops.indexOf(here), stops.indexOf(wanted)];
    return places.includes(-1) || places[0] === places[1] ? (before ? -1 : 1) : places[1] - places[0]; }"""
HEAD = "form => { form.tabIndex = -1; form.focus(); form.removeAttribute('tabindex'); }"


class KeyboardLearner:
    """Works on a page by keys alone."""

    def __init__(self, page):
        self.page = page

    def begin_at(self, form: str) -> None:
        """Stand at the head of a form, as after walking there from the one before."""
        self.page.locator(form).evaluate(HEAD)

    def go_to(self, selector: str) -> None:
        """Walk with Tab, or back with Shift+Tab, until a part has the focus."""
        pressed = 0
        while not self.page.evaluate(FOCUS_IS, selector):
            presses = self.page.evaluate(PRESSES_TO, selector)
            pressed += abs(presses)
            assert pressed <= PRESSES_AT_MOST, f"{PRESSES_AT_MOST} presses of Tab did not reach {selector}"
            for _ in range(abs(presses)):
                self.page.keyboard.press("Tab" if presses > 0 else "Shift+Tab")

    def press_on(self, selector: str, key: str = "Enter") -> None:
        """Go to a part and press a key on it."""
        self.go_to(selector)
        self.page.keyboard.press(key)

    def pick(self, form: str, value: str) -> None:
        """Choose one answer of a list of answers."""
        self.press_on(f"{form} input[type=radio]", "Space")
        self._arrows_to(value)

    def select(self, selector: str, value: str) -> None:
        """Choose an entry of a list that opens."""
        self.press_on(selector, "Home")
        self._arrows_to(value)

    def write(self, selector: str, text: str) -> None:
        """Write into a field in place of what is there."""
        self.press_on(selector, "Control+a")
        self.page.keyboard.type(text)

    def _arrows_to(self, value: str) -> None:
        for _ in range(40):
            if self.page.evaluate("document.activeElement.value") == value:
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"the arrow keys did not come to {value}")
