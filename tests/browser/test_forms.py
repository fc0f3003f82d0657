"""Every form in a real notebook: by keyboard, by pointer, on another day, at 200 %, and for those who hear the page.

One notebook is opened for all; a test that wants it untouched runs it once more without what was done.
"""

from __future__ import annotations

import re

import pytest

import course
from engine_sim import read_evidence
from graders.exercises.individualise import learners_exercise
from graders.exercises.loader import rubric_in
from tests.browser.axe import violations
from tests.browser.conftest import SCREEN, Lab, choose_theme
from tests.graders.instrument import TRIAL

LESSON = "l97_forms"
LEARNER = "Robin Vale"
RUBRIC = rubric_in(TRIAL / f"{LESSON}.toml")
CELLS = {
    "l97_before_starting": "several",
    "l97_steps": "order",
    "l97_total": "fill_sum",
    "l97_hoses": "hook_up",
    "l97_curve": "curve",
    "l97_body": "number",
    "l97_altitude": "number",
    "l97_label": "number",
    "l97_cruise": "choice",
}
RECORDED = "form => document.querySelector(form + ' .cf-said').textContent.includes(' point')"
EARNED = re.compile(r"[\d.]+ of [\d.]+ points?")
FOCUS_IS = "selector => document.activeElement.matches(selector)"
PRESSES_AT_MOST = 150
RIGHT_HOSES = RUBRIC.exercises["l97_hoses"].right_hook_up()
RIGHT_CURVE = [list(point) for point in RUBRIC.exercises["l97_curve"].reference]


@pytest.fixture(scope="module")
def lab(server, notebook) -> Lab:
    """The notebook server over a lesson folder with the trial rubric."""
    return Lab(server, notebook.trial_lesson(server, LESSON, LEARNER))


@pytest.fixture(scope="module")
def opened(lab, desk_of_module, notebook):
    """The page with the notebook that shows every form of the trial rubric, run."""
    return notebook.open_trial(lab, desk_of_module, CELLS, form("l97_cruise"))


@pytest.fixture
def forms(lab, opened, notebook):
    """That page, with nothing done on it yet."""
    (lab.lesson / "evidence.jsonl").unlink(missing_ok=True)
    notebook.run_again(opened, form("l97_cruise"))
    yield opened
    opened.set_viewport_size(SCREEN)
    choose_theme(opened, "JupyterLab Light")


def form(exercise: str, part: str = "") -> str:
    """The selector of a form or of something in it."""
    return f".course-form[data-exercise={exercise}] {part}".strip()


def own(lab, exercise: str):
    """The exercise as the learner of this page has it."""
    header = read_evidence(lab.lesson / "evidence.jsonl").header
    return learners_exercise(RUBRIC.exercises[exercise], header, course.ENGINES)


def go_to(page, selector: str) -> None:
    """Walk with Tab until a part has the focus, from the first element of its form that takes it."""
    page.locator(selector.split("]")[0] + "]").first.evaluate(
        "form => { form.tabIndex = -1; form.focus(); form.removeAttribute('tabindex'); }"
    )
    for _ in range(PRESSES_AT_MOST):
        if page.evaluate(FOCUS_IS, selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab did not reach {selector}")


def record(page, exercise: str, by: str) -> str:
    """Press the form's button and return what came of it."""
    button = form(exercise, ".cf-press")
    if by == "keyboard":
        go_to(page, button)
        page.keyboard.press("Enter")
    else:
        page.locator(button).click()
    page.wait_for_function(RECORDED, arg=form(exercise), timeout=30_000)
    return EARNED.search(page.locator(form(exercise, ".cf-said")).inner_text())[0]


def shown(page, selector: str) -> str:
    """The text of a part that is scrolled into view: JupyterLab takes what is far away off the page."""
    part = page.locator(selector)
    part.evaluate("part => part.closest('.jp-Cell').scrollIntoView()")
    part.scroll_into_view_if_needed()
    return part.inner_text()


def everything_in_view(page, width: int) -> None:
    """Make the page so high that JupyterLab shows every form at once, and make sure that it does."""
    page.set_viewport_size({"width": width, "height": 6500})
    page.wait_for_function(
        """count => [...document.querySelectorAll('.course-form')].filter(
        (form) => form.checkVisibility() && form.getBoundingClientRect().height > 50).length === count""",
        arg=len(CELLS),
        timeout=30_000,
    )


def select_by_keys(page, selector: str, value: str) -> None:
    """Choose one entry of a list with the arrow keys."""
    go_to(page, selector)
    page.keyboard.press("Home")
    for _ in range(20):
        if page.evaluate("document.activeElement.value") == value:
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"{selector} has no {value}")


def count_cells(page) -> int:
    """How many cells the notebook has: JupyterLab's letters would add or cut some."""
    return page.evaluate("window.jupyterapp.shell.currentWidget.content.widgets.length")


# ---- how each form is worked --------------------------------------------------------------------------------------


def tick(page, by: str) -> None:
    """Tick exactly what is right."""
    for choice in RUBRIC.exercises["l97_before_starting"].choices:
        box = form("l97_before_starting", f"input[value={choice.id}]")
        if choice.right and by == "keyboard":
            go_to(page, box)
            page.keyboard.press("Space")
        elif choice.right:
            page.locator(box).click()


def order_on(page) -> list[str]:
    """The order in which the steps stand."""
    return page.locator(form("l97_steps", "li[data-step]")).evaluate_all(
        "items => items.map((item) => item.dataset.step)"
    )


def order_by_keyboard(page) -> None:
    """Bring every step to its place with Alt and an arrow key; the focus stays on the step, and the move is spoken."""
    wanted = RUBRIC.exercises["l97_steps"].right_order()
    for place, step in enumerate(wanted):
        go_to(page, form("l97_steps", f"li[data-step={step}] button:last-child"))
        while order_on(page).index(step) > place:
            page.keyboard.press("Alt+ArrowUp")
            assert page.evaluate(FOCUS_IS, f"li[data-step={step}] button")
    assert order_on(page) == wanted
    assert "of 6" in page.locator(form("l97_steps", "[role=status].cf-hidden")).inner_text()


def order_by_dragging(page) -> None:
    """Drag every step to its place."""
    wanted = RUBRIC.exercises["l97_steps"].right_order()
    page.locator(form("l97_steps")).scroll_into_view_if_needed()
    for place, step in enumerate(wanted):
        item, at = page.locator(form("l97_steps", f"li[data-step={step}]")), order_on(page)[place]
        if at == step:
            continue
        goal = page.locator(form("l97_steps", f"li[data-step={at}]"))
        item.hover(position={"x": 80, "y": 10})
        page.mouse.down()
        box = goal.bounding_box()
        page.mouse.move(box["x"] + 80, box["y"] + 2, steps=8)
        page.mouse.up()
    assert order_on(page) == wanted


def fill_sum(lab, page, by: str) -> None:
    """Fill in every line with its unit."""
    for line in own(lab, "l97_total").fields:
        entry, unit = (form("l97_total", f"[data-field={line.id}] {part}") for part in ("input", "select"))
        if by == "keyboard":
            go_to(page, entry)
            page.keyboard.type(f"{line.value:g}".replace(".", ","))
            select_by_keys(page, unit, line.unit)
        else:
            page.locator(entry).fill(f"{line.value:g}")
            page.locator(unit).select_option(line.unit)


def hook_up_on_the_picture(page) -> None:
    """Click each hose, then its fitting; the lists and the words follow."""
    picture = form("l97_hoses", ".cf-picture")
    for hose, port in RIGHT_HOSES.items():
        page.locator(f"{picture} .cf-badge[data-hose={hose}]").click()
        assert "in your hand" in page.locator(form("l97_hoses", ".cf-hoses [role=status]")).inner_text()
        page.locator(f"{picture} [data-port={port}] .cf-fitting-ring").click()
        assert page.locator(form("l97_hoses", f".cf-hose-row[data-hose={hose}] select")).input_value() == port


def curve_on(page) -> list[list[float]]:
    """The points as their fields have them."""
    texts = page.locator(form("l97_curve", ".cf-point-field")).evaluate_all("all => all.map((one) => one.value)")
    numbers = [float(text) for text in texts]
    return [numbers[place : place + 2] for place in range(0, len(numbers), 2)]


def curve_by_keyboard(page) -> None:
    """Move the points with the arrow keys; letters do nothing."""
    moves = {1: ("ArrowDown", 20), 2: ("ArrowUp", 4), 3: ("ArrowUp", 20)}
    for number, (key, times) in moves.items():
        go_to(page, form("l97_curve", f".cf-handle[aria-label='Point {number}']"))
        for _ in range(times):
            page.keyboard.press(key)
        page.keyboard.press("x")
    assert page.locator(form("l97_curve", ".cf-handle")).nth(1).get_attribute("aria-valuetext") == (
        "2000 rpm, 12 crank degrees"
    )


def curve_by_dragging(page) -> None:
    """Drag the points; the fields follow, and a point stays between its neighbours."""
    sheet = page.locator(form("l97_curve", ".cf-sheet"))
    sheet.scroll_into_view_if_needed()
    handles = page.locator(form("l97_curve", ".cf-handle"))

    def drag(index: int, rpm: float, degrees: float) -> None:
        dot, box = handles.nth(index).bounding_box(), sheet.bounding_box()
        scale = box["width"] / 640
        page.mouse.move(dot["x"] + dot["width"] / 2, dot["y"] + dot["height"] / 2)
        page.mouse.down()
        page.mouse.move(
            box["x"] + (54 + (rpm - 500) / 3500 * 560) * scale, box["y"] + (326 - degrees / 40 * 312) * scale, steps=5
        )
        page.mouse.up()

    drag(0, 3500, 30)
    assert curve_on(page)[0] == [1950, 30]
    for index, (rpm, degrees) in enumerate(RIGHT_CURVE):
        drag(index, rpm, degrees)


# ---- the tests -------------------------------------------------------------------------------------------------------


def test_every_form_by_keyboard(lab, forms):
    """Ticks, order, sum, hook-up and curve earn all by keys alone, and no key reaches the notebook."""
    cells = count_cells(forms)
    tick(forms, "keyboard")
    assert record(forms, "l97_before_starting", "keyboard") == "3 of 3 points"
    assert order_on(forms) == [step.id for step in own(lab, "l97_steps").steps]
    order_by_keyboard(forms)
    assert record(forms, "l97_steps", "keyboard") == "4 of 4 points"
    fill_sum(lab, forms, "keyboard")
    assert record(forms, "l97_total", "keyboard") == "4 of 4 points"
    for hose, port in RIGHT_HOSES.items():
        select_by_keys(forms, form("l97_hoses", f"[data-hose={hose}] select"), port)
    assert record(forms, "l97_hoses", "keyboard") == "3 of 3 points"
    curve_by_keyboard(forms)
    assert curve_on(forms) == RIGHT_CURVE
    assert record(forms, "l97_curve", "keyboard") == "5 of 5 points"
    assert count_cells(forms) == cells


def test_every_form_by_pointer(lab, forms):
    """The same by clicking and dragging."""
    tick(forms, "pointer")
    assert record(forms, "l97_before_starting", "pointer") == "3 of 3 points"
    order_by_dragging(forms)
    assert record(forms, "l97_steps", "pointer") == "4 of 4 points"
    fill_sum(lab, forms, "pointer")
    assert record(forms, "l97_total", "pointer") == "4 of 4 points"
    hook_up_on_the_picture(forms)
    assert record(forms, "l97_hoses", "pointer") == "3 of 3 points"
    curve_by_dragging(forms)
    assert curve_on(forms) == RIGHT_CURVE
    assert record(forms, "l97_curve", "pointer") == "5 of 5 points"


def test_questions_with_own_numbers(lab, forms):
    """The page asks with the learner's own numbers, in the learner's own order, and the judge wants the answer to
    these."""
    for exercise in ("l97_body", "l97_altitude", "l97_label"):
        mine = own(lab, exercise)
        assert shown(forms, form(exercise, ".cf-question")) == mine.question
        forms.locator(form(exercise, "input")).fill(f"{mine.value:.2f}")
        if len(mine.units) > 1:
            forms.locator(form(exercise, "select")).select_option(mine.unit)
        assert record(forms, exercise, "pointer").startswith(f"{mine.points:g} of {mine.points:g} ")
    shown(forms, form("l97_cruise", ".cf-question"))
    texts = forms.locator(form("l97_cruise", ".cf-option")).all_inner_texts()
    assert [text.strip() for text in texts] == [choice.text for choice in own(lab, "l97_cruise").choices]
    forms.locator(form("l97_cruise", "input[value=all]")).click()
    assert record(forms, "l97_cruise", "pointer") == "1 of 1 point"


def test_half_and_wrong_answers_are_said_in_words(forms):
    """A wrong tick has its own sentence while what was left out is not given away; a line without its unit is asked
    about and not recorded."""
    for name in ("chocks", "helper_in_front"):
        forms.locator(form("l97_before_starting", f"input[value={name}]")).click()
    assert record(forms, "l97_before_starting", "pointer") == "0 of 3 points"
    said = forms.locator(form("l97_before_starting", ".cf-result")).inner_text()
    assert "You ticked: A helper stands" in said and "left out" in said and "exhaust goes outdoors" not in said
    forms.locator(form("l97_total", "[data-field=base] input")).fill("8")
    forms.locator(form("l97_total", ".cf-press")).click()
    forms.wait_for_selector(form("l97_total", ".cf-said[data-kind=wrong]"))
    assert "Base timing: choose the unit" in forms.locator(form("l97_total", ".cf-said")).inner_text()


def test_buttons_and_number_fields(forms):
    """The arrows beside a step move it by one place and stop at the ends; numbers move the points of a curve, points
    are added and removed, and a number off the sheet is marked."""
    first, second = order_on(forms)[:2]
    up, down = (form("l97_steps", f"li[data-step={second}] [data-by='{by}']") for by in (-1, 1))
    for press, order in ((up, [second, first]), (up, [second, first]), (down, [first, second])):
        forms.locator(press).hover()  # it must lie still: a forced click waits for nothing
        forms.locator(press).click(force=True)
        assert order_on(forms)[:2] == order
    fields = forms.locator(form("l97_curve", ".cf-point-field"))
    for place, text in enumerate(["1000", "0", "2000", "12,0", "3000", "20"]):
        fields.nth(place).fill(text)
    forms.locator(form("l97_curve", ".cf-add")).click()
    assert len(curve_on(forms)) == 4
    forms.locator(form("l97_curve", ".cf-remove")).nth(1).click()
    assert curve_on(forms) == RIGHT_CURVE
    fields.nth(0).fill("9000")
    fields.nth(0).blur()
    assert fields.nth(0).get_attribute("aria-invalid") == "true"
    fields.nth(0).fill("1000")
    assert record(forms, "l97_curve", "pointer") == "5 of 5 points"


def test_state_comes_back_on_another_day(lab, forms, notebook):
    """Opened again, with another kernel: every form shows what was recorded last, and how many tries there were; the
    evidence holds one event a try."""
    forms.locator(form("l97_before_starting", "input[value=chocks]")).click()
    forms.locator(form("l97_steps", "[data-by='1']")).first.click()
    forms.locator(form("l97_total", "[data-field=base] input")).fill("7,5")
    forms.locator(form("l97_total", "[data-field=base] select")).select_option("crank degrees")
    forms.locator(form("l97_hoses", "[data-hose=gauge] select")).select_option("ported")
    forms.locator(form("l97_curve", ".cf-point-field")).nth(1).fill("3")
    exercises = ("l97_before_starting", "l97_steps", "l97_total", "l97_hoses", "l97_curve")
    for exercise in exercises:
        record(forms, exercise, "pointer")
    order = order_on(forms)
    events = read_evidence(lab.lesson / "evidence.jsonl").events
    assert [(event.exercise, event.control) for event in events] == [(exercise, "answer") for exercise in exercises]
    lab.server.end_sessions()
    lab.open(forms, "forms.ipynb")
    notebook.run_all(forms, form("l97_cruise"))
    assert forms.locator(form("l97_before_starting", "input:checked")).evaluate_all(
        "all => all.map((one) => one.value)"
    ) == ["chocks"]
    assert order_on(forms) == order
    assert forms.locator(form("l97_total", "[data-field=base] input")).input_value() == "7.5"
    assert forms.locator(form("l97_total", "[data-field=base] select")).input_value() == "crank degrees"
    assert forms.locator(form("l97_hoses", "[data-hose=gauge] select")).input_value() == "ported"
    assert curve_on(forms)[0] == [1000, 3]
    assert [shown(forms, form(exercise, ".cf-tries")) for exercise in exercises] == ["1 try so far"] * len(exercises)


def test_axe_finds_nothing_in_the_forms(forms):
    """No violation in any form, in the light and in the dark, with an answer judged."""
    forms.locator(form("l97_before_starting", "input[value=helper_in_front]")).click()
    record(forms, "l97_before_starting", "pointer")
    everything_in_view(forms, 1280)
    for theme in ("JupyterLab Light", "JupyterLab Dark"):
        choose_theme(forms, theme)
        assert violations(forms, ".course-form") == []


def test_no_form_is_cut_off_and_none_lets_a_key_through(forms):
    """On a classroom's screen and at 200 % nothing of a form runs out of its frame; whatever can have the focus
    carries the attribute that keeps JupyterLab's letters off."""
    bare = forms.evaluate("""() => [...document.querySelectorAll(
        '.course-form :is(button, input, select, textarea, [tabindex])')]
        .filter((part) => part.dataset.lmSuppressShortcuts !== 'true').map((part) => part.outerHTML.slice(0, 80))""")
    assert bare == []
    for width in (1024, 640):  # 640 is a screen of 1280 at 200 %
        everything_in_view(forms, width)
        outside = forms.evaluate("""() => [...document.querySelectorAll('.course-form')].flatMap((frame) => {
            const edge = frame.getBoundingClientRect();
            return [...frame.querySelectorAll('button, input, select, label, span, li, svg')].filter((part) => {
                const box = part.getBoundingClientRect();
                return box.width > 2 && (box.right > edge.right + 1 || box.left < edge.left - 1);
            }).map((part) => frame.dataset.exercise + ' ' + part.className + ' ' + part.textContent);
        })""")
        assert outside == []
