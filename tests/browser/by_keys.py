"""A learner who has no pointer: Tab, Enter, Space, arrows and letters."""

from __future__ import annotations

PRESSES_AT_MOST = 400
FOCUS_IS = "selector => document.activeElement.matches(selector)"
STANDS_BEFORE = """selector => {
    const place = document.activeElement.compareDocumentPosition(document.querySelector(selector));
    return Boolean(place & Node.DOCUMENT_POSITION_PRECEDING); }"""
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
        key = "Shift+Tab" if self.page.evaluate(STANDS_BEFORE, selector) else "Tab"
        for _ in range(PRESSES_AT_MOST):
            if self.page.evaluate(FOCUS_IS, selector):
                return
            self.page.keyboard.press(key)
        raise AssertionError(f"{PRESSES_AT_MOST} presses of {key} did not reach {selector}")

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
