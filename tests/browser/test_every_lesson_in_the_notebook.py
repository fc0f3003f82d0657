"""Every lesson as a learner gets it, in JupyterLab: it runs, it is whole, nothing is cut off, and every control is
there for those who use keys or hear the page.

Each lesson is opened once; all tests of a lesson look at that one page. As many lessons are looked at as have every
kind of exercise; the others, whose text and forms are looked at as plain pages, are part of the long run.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest

import course
from engine_sim import INSPECTIONS, read_evidence
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.own_engine import EXAMPLE
from graders.exercises.loader import load_rubric
from tests.browser.by_keys import KeyboardLearner
from tests.browser.conftest import faults_of
from tests.browser.opened_lesson import (
    COLOUR_RULES,
    CUT_OFF,
    EXERCISES,
    LETS_LETTERS_THROUGH,
    NOT_REACHED,
    READY_WITHIN_MS,
    WIDE,
    WRONG_OUTPUTS,
    Opened,
    look_whether_cut_off,
    look_whether_whole,
    nameless,
    violations_in,
    walk_with_tab,
    with_every_kind,
)

# A lesson takes the place of the one before.
OPEN = """async (path) => {
    const {shell, commands} = window.jupyterapp;
    for (const panel of [...shell.widgets('main')].filter((one) => one.context?.path !== path)) panel.dispose();
    const panel = await commands.execute('docmanager:open', {path});
    await panel.context.ready;
    await panel.sessionContext.ready;
    shell.expandLeft(); }"""
# JupyterLab takes off the page what is out of sight, where nobody could look at it; by a setting of its own all stays.
KEEP_ALL_THERE = """() => {
    const notebook = window.jupyterapp.shell.currentWidget.content;
    notebook.notebookConfig = {...notebook.notebookConfig, windowingMode: 'none'}; }"""


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
# In this order pytest opens each lesson once, though some tests want only the first of them.
EVERY_KIND = with_every_kind(list(BY_KEYS))
IN_LONG = [lesson for lesson in EXERCISES if lesson not in EVERY_KIND]
WANTED = {
    "test_axe_finds_nothing": EVERY_KIND,
    "test_keys_come_to_every_control": EVERY_KIND,
    "test_an_exercise_is_done_by_keys": list(BY_KEYS),
    "test_the_checks_can_fail": EVERY_KIND[:1],
}

CODE_TO_READ = """() => [...document.querySelectorAll('.jp-CodeCell :is(.cm-content, .jp-PlaceholderText)')]
    .filter((part) => part.checkVisibility({visibilityProperty: true})).map((part) => part.textContent)"""


def pytest_generate_tests(metafunc):
    """Every test goes through the lessons that it wants, one page after the other."""
    lessons = WANTED.get(metafunc.function.__name__, [*EVERY_KIND, *IN_LONG])
    opened = [
        pytest.param(lesson, id=lesson[:3], marks=[pytest.mark.further] if lesson in IN_LONG else [])
        for lesson in lessons
    ]
    metafunc.parametrize("opened", opened, indirect=True, scope="module")


@pytest.fixture(scope="module")
def folder(server, learners_folder):
    """A learner's folder, where the notebook server has it."""
    return shutil.copytree(learners_folder, server.folder / "my course")


@pytest.fixture(scope="module")
def workbench(server, folder, jupyterlab):
    """JupyterLab as the course opens it, and what the page itself finds wrong."""
    page = jupyterlab[0].context.new_page()
    try:
        faults = faults_of(page)
        page.set_viewport_size({"width": WIDE, "height": 900})
        # A workspace of its own: JupyterLab goes to another one, and loads again, where a window has it already.
        page.goto(f"{server.address}/lab/workspaces/every-lesson/tree/{folder.name}?token={server.token}")
        page.wait_for_function("window.jupyterapp?.restored.then(() => true)", timeout=60_000)
        yield page, faults
    finally:
        page.close()  # a page left in front would slow down those behind it


@pytest.fixture(scope="module")
def opened(request, server, folder, workbench) -> Iterator[Opened]:
    """One lesson, opened and run."""
    page, faults = workbench
    lesson = request.param
    faults.clear()
    here = Opened(page, lesson, "notebook", folder / lesson / f"{lesson}.ipynb", faults)
    page.evaluate(OPEN, f"{folder.name}/{lesson}/{lesson}.ipynb")
    page.wait_for_selector("[data-status=idle]", state="attached", timeout=60_000)
    page.evaluate(KEEP_ALL_THERE)
    assert page.evaluate(CODE_TO_READ) == []  # nor before anything was run
    page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_selector(".cf-hand-in", state="attached", timeout=READY_WITHIN_MS)
    here.light(True)
    here.be(WIDE)
    yield here
    server.end_sessions()


def test_it_runs_and_is_whole(opened):
    """No error anywhere; every exercise of the outline stands there once, in its order, with its check; so do all
    pictures, the words and the button to hand in; and no cell shows anything else."""
    look_whether_whole(opened)
    assert opened.page.evaluate(WRONG_OUTPUTS) == []


def test_no_code_is_on_the_page(opened):
    """Neither a cell's text nor the first line of a folded one can be read, of grade cells neither; what the cells show
    can."""
    assert opened.page.evaluate(CODE_TO_READ) == []
    assert opened.page.locator(".course-form:visible").count() > 0


def test_nothing_is_cut_off(opened):
    """At three widths of the screen nothing scrolls sideways or leaves its frame."""
    look_whether_cut_off(opened)


def test_every_control_has_a_name_and_keeps_the_letters_to_itself(opened):
    """Each control has a name to be heard, and none lets a letter through to JupyterLab's commands; nor does a word."""
    assert opened.page.evaluate(LETS_LETTERS_THROUGH) == []
    assert nameless(opened.page) == []


def test_keys_come_to_every_control(opened):
    """Tab comes to every control of every kind of exercise, and to every word."""
    walk_with_tab(opened.page)
    assert opened.page.evaluate(NOT_REACHED) == []


def test_axe_finds_nothing(opened):
    """No violation in any kind of exercise, nor in a lesson's text, in the light and (for what is about colours) in the
    dark."""
    assert violations_in(opened) == []
    opened.light(False)
    assert violations_in(opened, *COLOUR_RULES) == []
    opened.light(True)


def test_an_exercise_is_done_by_keys(opened):
    """The newest forms in their own lessons: worked, recorded and checked without a pointer, for all their points."""
    exercise, work = BY_KEYS[opened.lesson]
    rubric = load_rubric(opened.lesson)
    header = read_evidence(opened.notebook.with_name("evidence.jsonl")).header
    own = learners_exercise(rubric.exercises[exercise], header, course.ENGINES)
    form = f".cf-{own.kind}[data-exercise={exercise}]"
    keys = KeyboardLearner(opened.page)
    keys.begin_at(form)
    work(keys, form, own)
    keys.press_on(f"{form} .cf-press")
    opened.page.locator(f"{form} .cf-said", has_text="is recorded").wait_for(timeout=30_000)
    all_of_it = f"{own.points:g} of {own.points:g} points"
    opened.page.locator(f"{form} .cf-said", has_text=all_of_it).wait_for(timeout=60_000)


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
    assert any(line.startswith("button-name") for line in violations_in(opened))
    page.evaluate("document.querySelector('link[href*=\"custom.css\"]').disabled = true")
    assert any(line.startswith("check(") for line in page.evaluate(CODE_TO_READ))
    page.evaluate("document.querySelector('link[href*=\"custom.css\"]').disabled = false")
    page.evaluate("document.querySelector('.course-form').lastElementChild.remove()")
