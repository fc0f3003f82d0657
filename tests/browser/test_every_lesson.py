"""Every lesson as a learner gets it, in JupyterLab and as a plain page: it runs, it is whole, nothing is cut off in any
light, and every control is there for those who use keys or hear the page.

Each lesson is opened once in each place; all tests of a lesson look at that one page.
"""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

import course
from course.commands.start import lay_out
from engine_sim import INSPECTIONS, read_evidence
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.own_engine import EXAMPLE
from graders.exercises.loader import load_rubric
from tests.browser.by_keys import KeyboardLearner
from tests.browser.conftest import faults_of

OUTLINE = tomllib.loads(course.OUTLINE.read_text(encoding="utf-8"))["lessons"]
EXERCISES = {lesson["id"]: lesson["exercises"] for lesson in OUTLINE}
LESSONS = list(EXERCISES)
PLACES = [(place, lesson) for place in ("notebook", "plain page") for lesson in LESSONS]
TALL = 30_000  # higher than any lesson: JupyterLab takes what is out of sight off the page
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

# What leaves its frame, or is cut off inside one. The needle of a dial turns inside a window, on purpose.
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
            if (part.closest('.eb-dial [role=meter], .cf-hidden')) continue;
            const box = part.getBoundingClientRect();
            const leaves = box.right > edge.right + 1 || box.left < edge.left - 1;
            if (box.width > 2 && leaves) say(frame, part, 'leaves it');
            if (part.scrollWidth > part.clientWidth + 1 && getComputedStyle(part).overflowX !== 'visible'
                && !part.matches('input, select, textarea')) say(frame, part, 'is cut off');
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
LETS_LETTERS_THROUGH = f"""() => {{
    {CONTROLS}
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
        """Make the page so wide, and high enough for all of the lesson."""
        if self.place == "notebook" and width == AT_200_PERCENT:  # as anybody would who needs the room
            self.page.evaluate("window.jupyterapp.shell.collapseLeft()")
        self.page.set_viewport_size({"width": width, "height": TALL})
        self.all_shown()

    def light(self, light: bool) -> None:
        """Choose the light or the dark look."""
        if self.place == "notebook":
            theme = f"JupyterLab {'Light' if light else 'Dark'}"
            self.page.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
            self.page.wait_for_selector(f"body[data-jp-theme-light={str(light).lower()}]", state="attached")
        else:
            self.page.emulate_media(color_scheme="light" if light else "dark")
        self.all_shown()

    def all_shown(self) -> None:
        """Wait until the page has settled: JupyterLab puts the cells of a changed page back bit by bit."""
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


@pytest.fixture(scope="module")
def folder(server) -> Path:
    """A learner's folder as `timing-course start` lays it out, where the notebook server has it."""
    folder = server.folder / "my course"
    lay_out(folder, "Robin Vale")
    return folder


@pytest.fixture(scope="module")
def screen(browser):
    """The page on which one lesson after the other is opened, and what it finds wrong."""
    context = browser.new_context(viewport={"width": WIDE, "height": 900}, color_scheme="light")
    page = context.new_page()
    yield page, faults_of(page)
    context.close()


@pytest.fixture(scope="module")
def workbench(server, folder, screen):
    """JupyterLab as the course opens it; a lesson that is opened takes the place of the one before."""
    page, _faults = screen

    def open_lesson(lesson: str) -> None:
        place = f"{folder.name}/{lesson}/{lesson}.ipynb"
        if not page.url.startswith(f"{server.address}/lab"):
            page.goto(f"{server.address}/lab/tree/{place}?token={server.token}&reset")
            page.wait_for_function("window.jupyterapp && document.querySelector('.jp-Notebook')", timeout=60_000)
        page.evaluate(
            """async (path) => {
            const {shell, commands} = window.jupyterapp;
            for (const panel of [...shell.widgets('main')].filter((one) => one.context?.path !== path)) panel.dispose();
            const panel = await commands.execute('docmanager:open', {path});
            await panel.context.ready;
            await panel.sessionContext.ready;
            shell.expandLeft(); }""",
            place,
        )
        page.wait_for_selector("[data-status=idle]", state="attached", timeout=60_000)
        page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")

    return open_lesson


@pytest.fixture(scope="module")
def plain_course(folder, served_plain_pages, tmp_path_factory):
    """The same lessons as plain pages, from a copy of the folder, so that neither has the other's evidence."""
    copy = tmp_path_factory.mktemp("every") / "my course"
    shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("evidence.jsonl"))
    with served_plain_pages(copy) as pages:
        yield pages


@pytest.fixture(scope="module")
def opened(request, server, folder, screen) -> Iterator[Opened]:
    """One lesson, opened in one of the two places and run."""
    place, lesson = request.param
    page, faults = screen
    faults.clear()
    here = Opened(page, lesson, place, folder / lesson / f"{lesson}.ipynb", faults)
    page.set_viewport_size({"width": WIDE, "height": TALL})
    if place == "notebook":
        request.getfixturevalue("workbench")(lesson)
    else:
        page.goto(request.getfixturevalue("plain_course").address_of(lesson))
    page.wait_for_selector(".cf-hand-in", state="attached", timeout=READY_WITHIN_MS)
    here.light(True)
    here.be(WIDE)
    yield here
    server.end_sessions()


def pytest_generate_tests(metafunc):
    """Every test goes through all lessons in both places, one page after the other; keys only through the notebook."""
    if "opened" in metafunc.fixturenames:
        wanted = {
            "test_keys_come_to_every_control": PLACES[: len(LESSONS)],
            "test_the_checks_can_fail": PLACES[:1],
            "test_an_exercise_is_done_by_keys": [("notebook", lesson) for lesson in BY_KEYS],
        }
        here = wanted.get(metafunc.function.__name__, PLACES)
        metafunc.parametrize(
            "opened",
            here,
            indirect=True,
            scope="module",
            ids=[f"{lesson[:3]}-{place.split()[0]}" for place, lesson in here],
        )


def test_it_runs_and_is_whole(opened):
    """No error anywhere; every exercise of the outline stands there once, in its order, with its check; so do all
    pictures, the words and the button to hand in."""
    page, rubric, wanted = opened.page, load_rubric(opened.lesson), []
    for name in EXERCISES[opened.lesson]:
        kind = rubric.exercises[name].kind
        wanted += [[kind, name], *([["check", name]] if kind != "written" else [])]  # a person reads what is written
    assert page.evaluate(SHOWN) == wanted
    called = [cell["cell"] for cell in opened.cells()]
    drawn = page.locator(".course-picture svg[role=img]").evaluate_all("""all => all.filter((one) => {
        const {width, height} = one.getBoundingClientRect();
        return width > 300 && height > 100; }).length""")
    assert drawn == called.count("picture")
    assert page.locator(".course-words details").count() == called.count("words") == 1
    assert page.locator(".cf-hand-in .cf-press").count() == called.count("hand_in") == 1
    assert page.evaluate(PROBLEMS) == [] and opened.faults == []
    if opened.place == "notebook":
        assert page.evaluate(WRONG_OUTPUTS) == []


def violations(opened: Opened, rules: dict) -> list[str]:
    """What axe finds in bench, forms and lesson text, and on a plain page in all of it."""
    ours = {"include": [[".engine-bench"], [".course-form"], [".jp-MarkdownOutput"]]}
    found = (
        Axe()
        .run(
            opened.page,
            context=ours if opened.place == "notebook" else None,
            options={"resultTypes": ["violations"], **rules},
        )
        .response["violations"]
    )
    return [f"{one['id']}: {node['target']}" for one in found for node in one["nodes"]]


def test_axe_finds_nothing(opened):
    """No violation in the notebook, in the light and (for what is about colours) in the dark; none on the plain page in
    the dark."""
    if opened.place == "notebook":
        assert violations(opened, {}) == []
    opened.light(False)
    assert violations(opened, {"runOnly": list(COLOUR_RULES)} if opened.place == "notebook" else {}) == []
    opened.light(True)


def test_keys_come_to_every_control(opened):
    """Tab comes to every control and to every word; each has a name to be heard; and none lets a letter through to
    JupyterLab's commands."""
    page = opened.page
    count = page.evaluate(WATCH_FOCUS)
    assert count > 20
    for pressed in range(MOST_PRESSES):
        if pressed % 20 == 0 and page.evaluate("window.reached.has(window.lastControl)"):
            break
        page.keyboard.press("Tab")
    assert page.evaluate(NOT_REACHED) == []
    assert page.evaluate(LETS_LETTERS_THROUGH) == []
    assert nameless(page) == []


def nameless(page) -> list[str]:
    """What a screen reader would find in bench and forms without a name, a line each."""
    return [line for part in page.locator(OURS).all() for line in NAMELESS.findall(part.aria_snapshot())]


@pytest.mark.parametrize("width", [CLASSROOM, AT_200_PERCENT])
def test_nothing_is_cut_off(opened, width):
    """On a classroom's screen, and on a screen of 1280 at 200 %, nothing scrolls sideways or leaves its frame."""
    opened.be(width)
    assert opened.page.evaluate(CUT_OFF) == []


def name_needle(keys: KeyboardLearner, form: str, own) -> None:
    """Hold the engine at speed, let it go, and name the needle."""
    for hand in ("hold", "let_go"):
        keys.press_on(f"{form} [data-hand={hand}]")
    keys.pick(form, own.model_answer().value)


def draw_curve(keys: KeyboardLearner, form: str, own) -> None:
    """Add points until there are enough, and write their numbers."""
    while keys.page.locator(f"{form} .cf-point-row").count() < len(own.reference):
        keys.press_on(f"{form} .cf-add")
    keys.begin_at(form)
    for number, point in enumerate(own.reference, 1):
        for label, value in zip(("speed", "advance"), point, strict=True):
            keys.write(f"{form} [aria-label^='Point {number}, {label}']", f"{value:g}")


def find_fault(keys: KeyboardLearner, form: str, own) -> None:
    """Make the inspections that show the fault, and name it."""
    for name in own.model_answer().inspections:
        keys.begin_at(form)
        keys.press_on(f"{form} [data-inspection={name}]")
        keys.page.locator(f"{form} tbody th", has_text=INSPECTIONS[name].title).wait_for(timeout=30_000)
    keys.pick(form, own.model_answer().value)


def fill_card(keys: KeyboardLearner, form: str, _own) -> None:
    """Fill in the workshop's example."""
    for name, given in EXAMPLE.items():
        entry = f"{form} [data-entry={name}]"
        if isinstance(given, str):
            keys.select(f"{entry} select", given)
        elif given is not None:
            keys.write(f"{entry} input", str(given[0]))
            if keys.page.locator(f"{entry} select").count():
                keys.select(f"{entry} select", given[1])


BY_KEYS = {
    "l02_what_the_gauges_say": ("l02_needle_truck", name_needle),
    "l06_advance_curve": ("l06_design_curve", draw_curve),
    "l08_not_the_timing": ("l08_truck", find_fault),
    "l10_your_own_engine": ("l10_engine_card", fill_card),
}


def test_an_exercise_is_done_by_keys(opened):
    """The newest forms in their own lessons: worked, recorded and checked without a pointer, for all their points."""
    opened.be(WIDE)
    exercise, work = BY_KEYS[opened.lesson]
    rubric = load_rubric(opened.lesson)
    header = read_evidence(opened.notebook.with_name("evidence.jsonl")).header
    own = learners_exercise(rubric.exercises[exercise], header, course.ENGINES)
    form = f".cf-{own.kind}[data-exercise={exercise}]"
    check = f".cf-check[data-exercise={exercise}]"
    keys = KeyboardLearner(opened.page)
    keys.begin_at(form)
    work(keys, form, own)
    keys.press_on(f"{form} .cf-press")
    opened.page.locator(f"{form} .cf-said", has_text="is recorded").wait_for(timeout=30_000)
    keys.press_on(f"{check} .cf-press")
    all_of_it = f"{own.points:g} of {own.points:g} points"
    opened.page.locator(f"{check} .cf-said", has_text=all_of_it).wait_for(timeout=60_000)


def test_the_checks_can_fail(opened):
    """A control without a name, out of Tab's way and open to letters, that leaves its frame, is found by each check."""
    page = opened.page
    page.evaluate("""() => {
        const button = document.createElement('button');
        button.tabIndex = -1;
        button.style.marginLeft = '3000px';
        document.querySelector('.course-form').append(button);
        window.reached = new Set(); }""")
    assert any("leaves it" in line for line in page.evaluate(CUT_OFF))
    assert len(page.evaluate(NOT_REACHED)) > 20
    assert len(page.evaluate(LETS_LETTERS_THROUGH)) == 1
    assert [line.strip() for line in nameless(page)] == ["- button"]
    assert any(line.startswith("button-name") for line in violations(opened, {}))
    page.evaluate("document.querySelector('.course-form').lastElementChild.remove()")
