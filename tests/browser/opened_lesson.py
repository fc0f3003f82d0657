"""A lesson as a learner gets it, open on a page, and what is looked at in every one of them."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import course
from graders.exercises.loader import load_rubric
from tests.browser.axe import violations
from tests.browser.conftest import choose_theme

OUTLINE = tomllib.loads(course.OUTLINE.read_text(encoding="utf-8"))["lessons"]
EXERCISES = {lesson["id"]: lesson["exercises"] for lesson in OUTLINE}
WIDE, CLASSROOM, AT_200_PERCENT = 1280, 1024, 640
READY_WITHIN_MS = 180_000
COLOUR_RULES = ("color-contrast", "link-in-text-block")
MOST_PRESSES = 1500
OURS = ".engine-bench, .course-form"
CALL = re.compile(r"^(?P<cell>\w+)\((?:\"(?P<name>\w+)\")?\)$", re.MULTILINE)

SHOWN = f"""() => [...document.querySelectorAll('{OURS}')].map((part) => [
    part.matches('.engine-bench') ? 'bench' : [...part.classList].find((name) => /^cf-/.test(name))?.slice(3) ?? '',
    part.dataset.exercise ?? '']).filter(([kind, exercise]) => exercise)"""

PROBLEMS = """() => [
    ...[...document.querySelectorAll('.cf-problem:not(.cf-kernel), .eb-problem')].filter((one) => one.textContent),
    ...document.querySelectorAll('[data-mime-type$=stderr], [data-mime-type$=error], .jp-RenderedText')]
    .map((one) => one.textContent.slice(0, 200))"""

WRONG_OUTPUTS = """() => window.jupyterapp.shell.currentWidget.content.widgets
    .filter((cell) => cell.model.type === 'code')
    .flatMap((cell) => cell.model.outputs.toJSON().map((output) => [cell.model.sharedModel.source, output]))
    .filter(([, output]) => !output.data?.['application/vnd.jupyter.widget-view+json'])
    .map(([source, output]) => source + ' gives ' + JSON.stringify(output).slice(0, 200))"""

# What leaves its frame, or is cut off inside one. On purpose the needle of a dial turns inside a window, and a picture
# is moved sideways on a phone.
CUT_OFF = f"""() => {{
    const wrong = [];
    const say = (frame, part, what) => wrong.push([frame.dataset.exercise ?? frame.className, part.tagName,
        part.getAttribute('class'), part.textContent.trim().slice(0, 40), what].join(' | '));
    const page = document.querySelector('.jp-WindowedPanel-outer') ?? document.documentElement;
    if (page.scrollWidth > page.clientWidth + 1) say(page, page, 'the page scrolls sideways');
    for (const frame of document.querySelectorAll('{OURS}, .jp-RenderedMarkdown')) {{
        const edge = frame.getBoundingClientRect();
        if (edge.width < 100) say(frame, frame, 'is not shown');
        if (edge.right > page.getBoundingClientRect().left + page.clientWidth + 1) say(frame, frame, 'leaves the page');
        for (const part of frame.querySelectorAll('*')) {{
            if (part.closest('.eb-dial [role=meter], .cf-hidden, .cp-drawing > *')) continue;
            const box = part.getBoundingClientRect();
            const leaves = box.right > edge.right + 1 || box.left < edge.left - 1;
            if (box.width > 2 && leaves) say(frame, part, 'leaves it');
            if (part.scrollWidth > part.clientWidth + 1 && getComputedStyle(part).overflowX !== 'visible'
                && !part.matches('input, select, textarea, .cp-drawing')) say(frame, part, 'is cut off');
        }}
    }}
    return wrong;
}}"""

# Note whatever of ours gets the focus from now on; a word of a lesson that can be pressed is ours, too.
CONTROLS = """
    const named = 'a[href], button, input, select, textarea, summary, [tabindex="0"]';
    const controls = [...document.querySelectorAll(
        `:is(.engine-bench, .course-form) :is(${named}), a[href^="#word-"]`)]
        .filter((part) => part.checkVisibility({visibilityProperty: true}) && !part.disabled);
"""
WATCH_FOCUS = f"""() => {{
    {CONTROLS}
    window.reached = new Set();
    document.addEventListener('focusin', (event) => window.reached.add(event.target), true);
    document.activeElement?.blur();
    controls[0].focus();
    window.lastControl = controls.at(-1);
    return controls.length;
}}"""
NOT_REACHED = f"""() => {{
    {CONTROLS}
    const groups = new Set([...window.reached].filter((part) => part.type === 'radio').map((part) => part.name));
    return controls.filter((part) => !window.reached.has(part) && !groups.has(part.name))
        .map((part) => part.outerHTML.slice(0, 120));
}}"""
# A word says so from the moment on at which it has the focus.
LETS_LETTERS_THROUGH = f"""() => {{
    {CONTROLS}
    for (const part of controls) part.focus({{preventScroll: true}});
    return controls.filter((part) => part.dataset.lmSuppressShortcuts !== 'true')
        .map((part) => part.outerHTML.slice(0, 120));
}}"""
NAMELESS = re.compile(
    r"^\s*- (?:button|checkbox|combobox|link|meter|radio|slider|spinbutton|switch|textbox)(?! \")", re.MULTILINE
)


@dataclass
class Opened:
    """One lesson on a page, everything in it run; `faults` are what the page itself found wrong."""

    page: object
    lesson: str
    place: str
    notebook: Path
    faults: list[str] = field(default_factory=list)

    def be(self, width: int) -> None:
        """Make the page so wide."""
        if self.place == "notebook":  # at 200 % the list of files goes, as anybody would have it who needs the room
            side = "collapseLeft" if width == AT_200_PERCENT else "expandLeft"
            self.page.evaluate(f"window.jupyterapp.shell.{side}()")
        self.page.set_viewport_size({"width": width, "height": 900})
        self.all_shown()

    def light(self, light: bool) -> None:
        """Choose the light or the dark look."""
        if self.place == "notebook":
            choose_theme(self.page, f"JupyterLab {'Light' if light else 'Dark'}")
        else:
            self.page.emulate_media(color_scheme="light" if light else "dark")
        self.all_shown()

    def all_shown(self) -> None:
        """Wait until the page has settled."""
        self.page.wait_for_timeout(200)
        self.page.wait_for_function(
            f"""() => [...document.querySelectorAll('{OURS}')].every(
            (form) => form.checkVisibility() && form.getBoundingClientRect().height > 20)""",
            timeout=30_000,
        )

    def cells(self) -> list[re.Match]:
        """What the notebook's code cells call."""
        cells = json.loads(self.notebook.read_text(encoding="utf-8"))["cells"]
        return [
            found for cell in cells if cell["cell_type"] == "code" for found in CALL.finditer("".join(cell["source"]))
        ]


def kinds_in(lesson: str) -> set[str]:
    """The kinds of exercise that a lesson has."""
    return {exercise.kind for exercise in load_rubric(lesson).exercises.values()}


def with_every_kind(lessons: list[str]) -> list[str]:
    """These lessons, and as many more as it takes to have every kind of exercise."""
    chosen = list(lessons)
    while missing := set().union(*map(kinds_in, EXERCISES)) - set().union(*map(kinds_in, chosen)):
        chosen.append(max(EXERCISES, key=lambda lesson: len(kinds_in(lesson) & missing)))
    return chosen


def look_whether_whole(opened: Opened) -> None:
    """No error anywhere; every exercise of the outline stands there once, in its order, and its grade cell shows
    nothing; so do all pictures, the words and the button to hand in."""
    page, rubric = opened.page, load_rubric(opened.lesson)
    assert page.evaluate(SHOWN) == [[rubric.exercises[name].kind, name] for name in EXERCISES[opened.lesson]]
    called = [cell["cell"] for cell in opened.cells()]
    drawn = page.locator(".course-picture svg[role=img]").evaluate_all("""all => all.filter((one) => {
        const {width, height} = one.getBoundingClientRect();
        return width > 300 && height > 100; }).length""")
    assert drawn == called.count("picture")
    assert page.locator(".course-words details").count() == called.count("words") == 1
    assert page.locator(".cf-hand-in .cf-press").count() == called.count("hand_in") == 1
    assert page.evaluate(PROBLEMS) == [] and opened.faults == []


def violations_in(opened: Opened, *rules: str) -> list[str]:
    """What axe finds in bench, forms and lesson text, and on a plain page in all of it; by all rules or by these."""
    ours = (".engine-bench", ".course-form", ".jp-MarkdownOutput") if opened.place == "notebook" else ()
    return violations(opened.page, *ours, rules=rules)


def look_whether_cut_off(opened: Opened) -> None:
    """On a wide screen, a classroom's, and one of 1280 at 200 %, nothing scrolls sideways or leaves its frame."""
    for width in (WIDE, CLASSROOM, AT_200_PERCENT):
        opened.be(width)
        cut_off = opened.page.evaluate(CUT_OFF)
        assert cut_off == [], f"{width}: {cut_off}"
    opened.be(WIDE)


def walk_with_tab(page) -> None:
    """Press Tab from the first control to the last, and note what gets the focus."""
    assert page.evaluate(WATCH_FOCUS) > 20
    for pressed in range(MOST_PRESSES):
        if pressed % 20 == 0 and page.evaluate("window.reached.has(window.lastControl)"):
            break
        page.keyboard.press("Tab")


def nameless(page) -> list[str]:
    """What a screen reader would find in bench and forms without a name, a line each."""
    return [line for part in page.locator(OURS).all() for line in NAMELESS.findall(part.aria_snapshot())]
