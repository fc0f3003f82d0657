"""One form alone in an empty page, with what its kernel would say given by the test."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator

from course.widgets.forms.form import Form

# Text has 12 px or more and lies within the form; no two texts of a picture overlap, nor a text and a grip.
TEXTS = """svg => [...svg.querySelectorAll('text')].filter((one) => one.checkVisibility()).map((one) => {
    const {left, top, right, bottom} = one.getBoundingClientRect();
    const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    return {text: one.textContent, size: parseFloat(getComputedStyle(one).fontSize) * scale,
        box: [left, top, right, bottom]}; })"""
PAGE = """<!DOCTYPE html><html><head><meta name=viewport content="width=device-width, initial-scale=1">
<style>body {{ margin: 0 }}{style}</style></head><body class="plain-page"><main></main><script type="module">
const traits = {traits}, listeners = {{}};
window.sent = [];
const model = {{
    get: (name) => traits[name],
    on: (event, listener) => (listeners[event] ??= []).push(listener),
    off() {{}},
    send: (message) => window.sent.push(message),
    set: (name, value) => {{ traits[name] = value; }},
    save_changes: () => {{ window.saved = {{...traits}}; }},
}};
window.told = (more) => {{
    Object.assign(traits, more);
    for (const name of Object.keys(more)) for (const one of listeners[`change:${{name}}`] ?? []) one();
}};
{module}
widget.initialize({{model}});
widget.render({{model, el: document.querySelector('main')}});
window.shown = true;
</script></body></html>"""
USUAL = {"title": "A form", "question": "What is to be done?", "points": 3.0}


class FormAlone:
    """A form as the browser shows it; `tell` is what the kernel says, `answers` what was sent as answers."""

    def __init__(self, page, form: type[Form], **traits):
        self.page = page
        defaults = {name: trait.default() for name, trait in form.class_traits(sync=True).items() if name[0] != "_"}
        given = {**{name: value for name, value in defaults.items() if is_plain(value)}, **USUAL, **traits}
        module = str(form._esm).replace("export default {", "const widget = {")
        page.set_content(PAGE.format(style=form._css, traits=json.dumps(given), module=module))
        page.wait_for_function("window.shown")

    def tell(self, **traits) -> None:
        """Change what the kernel says."""
        self.page.evaluate("more => told(more)", traits)

    def answers(self) -> list:
        """The values of the answers that were sent."""
        return self.page.evaluate("sent.filter((one) => one.answer).map((one) => one.answer.value)")

    def sent(self) -> list[dict]:
        """Every message but the questions whether the kernel is there."""
        return self.page.evaluate("sent.filter((one) => !one.heartbeat)")

    def middle(self, selector: str) -> tuple[float, float]:
        """Where the middle of a part is on the page."""
        box = self.page.locator(selector).first.bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def is_plain(value) -> bool:
    """Whether the page can be given this value as it is."""
    with contextlib.suppress(TypeError):
        json.dumps(value)
        return True
    return False


@contextlib.contextmanager
def alone(browser, form: type[Form], width: int = 700, *, touch: bool = False, **traits) -> Iterator[FormAlone]:
    """A form in a page of its own that is so wide, and fails where the page's own code fails."""
    context = browser.new_context(viewport={"width": width, "height": 1000}, has_touch=touch, is_mobile=touch)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield FormAlone(page, form, **traits)
    assert faults == []
    context.close()


def overlapping(boxes: list[tuple[str, list[float]]]) -> list[tuple[str, str]]:
    """The pairs of names whose boxes (left, top, right, bottom) overlap by more than a pixel."""
    return [
        (one, other)
        for place, (one, first) in enumerate(boxes)
        for other, second in boxes[place + 1 :]
        if min(first[2], second[2]) - max(first[0], second[0]) > 1
        and min(first[3], second[3]) - max(first[1], second[1]) > 1
    ]
