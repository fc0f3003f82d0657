"""The needle, the fault and the engine card in a real notebook: by pointer and by keys, accessible, and restored.

One notebook is opened for all; each test runs it once more without what was done.
"""

from __future__ import annotations

import os
import re

import pytest

import course
from engine_sim import INSPECTIONS, read_evidence
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.own_engine import EXAMPLE
from graders.exercises.loader import rubric_in
from tests.browser.axe import violations
from tests.browser.conftest import SCREEN, Lab
from tests.graders.instrument import TRIAL

LESSON, LEARNER = "l96_inspections", "Robin Vale"
RUBRIC = rubric_in(TRIAL / f"{LESSON}.toml")
CELLS = {"l96_needle": "needle", "l96_fault": "diagnosis", "l96_card": "engine_card"}
PRESSES_AT_MOST = 120
PICTURES = os.environ.get("TIMING_COURSE_SHOW_IN")  # a folder, for anybody who wants to look at the forms


@pytest.fixture(scope="module")
def lab(server, notebook) -> Lab:
    """The notebook server over a lesson folder with the trial rubric."""
    return Lab(server, notebook.trial_lesson(server, LESSON, LEARNER))


@pytest.fixture(scope="module")
def opened(lab, desk_of_module, notebook):
    """The page with the notebook that shows the three forms of the trial rubric, run."""
    return notebook.open_trial(lab, desk_of_module, CELLS, form("l96_card"))


@pytest.fixture
def forms(lab, opened, notebook):
    """That page, with nothing done on it yet."""
    (lab.lesson / "evidence.jsonl").unlink(missing_ok=True)
    notebook.run_again(opened, form("l96_card"))
    yield opened
    opened.set_viewport_size(SCREEN)


def form(exercise: str, part: str = "") -> str:
    """The selector of a form or of something in it."""
    return f".course-form[data-exercise={exercise}] {part}".strip()


def own(lab, exercise: str):
    """The exercise as the learner of this page has it."""
    header = read_evidence(lab.lesson / "evidence.jsonl").header
    return learners_exercise(RUBRIC.exercises[exercise], header, course.ENGINES)


# By the turn of the needle on a scale from 0 to 30 inHg.
STANDS_AT = "needle => (parseFloat(needle.style.transform.replace('rotate(', '')) + 135) / 9"


def vacuum(page) -> float:
    """Where the needle stands on its scale [inHg]."""
    return page.locator(form("l96_needle", ".eb-needle")).evaluate(STANDS_AT)


def needle_runs(page) -> None:
    """Wait until the engine behind the needle idles."""
    page.locator(form("l96_needle")).scroll_into_view_if_needed()
    page.wait_for_function(
        f"selector => (({STANDS_AT})(document.querySelector(selector)) > 5)",
        arg=form("l96_needle", ".eb-needle"),
        timeout=40_000,
    )


def press_by_keys(page, selector: str, key: str = "Enter") -> None:
    """Walk with Tab from the head of the form to a part, and press a key on it."""
    page.locator(selector.split("]")[0] + "]").first.evaluate(
        "form => { form.tabIndex = -1; form.focus(); form.removeAttribute('tabindex'); }"
    )
    for _ in range(PRESSES_AT_MOST):
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            page.keyboard.press(key)
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab did not reach {selector}")


def points(page, exercise: str) -> str:
    """What came of the answer."""
    said = page.locator(form(exercise, ".cf-said"), has_text=" points")
    said.wait_for(timeout=30_000)
    return re.search(r"[\d.]+ of [\d.]+ points", said.inner_text())[0]


def count_cells(page) -> int:
    """How many cells the notebook has: JupyterLab's letters would add or cut some."""
    return page.evaluate("window.jupyterapp.shell.currentWidget.content.widgets.length")


def picture(page, exercise: str, name: str) -> None:
    """A picture of a form, for anybody who asked for it."""
    if PICTURES:
        page.locator(form(exercise)).screenshot(path=f"{PICTURES}/{name}.png")


def test_a_needle_is_watched_and_named_by_pointer(lab, forms):
    """The engine idles by itself, a button holds it at speed, units change the scale, the right pattern earns all."""
    needle_runs(forms)
    forms.locator(form("l96_needle", "[data-hand=hold]")).click()
    forms.wait_for_function(
        "selector => document.querySelector(selector).textContent.startsWith('held')",
        arg=form("l96_needle", ".eb-dial-note"),
        timeout=10_000,
    )
    picture(forms, "l96_needle", "needle")
    forms.locator(form("l96_needle", "[data-unit=kPa]")).click()
    assert forms.locator(form("l96_needle", ".eb-dial-unit")).text_content() == "kPa"
    forms.locator(form("l96_needle", "[data-unit=inHg]")).click()
    forms.locator(form("l96_needle", f"input[value={own(lab, 'l96_needle').model_answer().value}]")).check()
    forms.locator(form("l96_needle", ".cf-press")).click()
    assert points(forms, "l96_needle") == "2 of 2 points"


def test_a_needle_is_watched_and_named_by_keys(lab, forms):
    """The same with Tab, Enter and Space; JupyterLab's letters stay off."""
    needle_runs(forms)
    cells, idle = count_cells(forms), vacuum(forms)
    press_by_keys(forms, form("l96_needle", "[data-hand=snap]"))
    falls = f"([selector, idle]) => ({STANDS_AT})(document.querySelector(selector)) < idle / 2"
    forms.wait_for_function(falls, arg=[form("l96_needle", ".eb-needle"), idle], timeout=10_000)
    forms.keyboard.press("x")
    press_by_keys(forms, form("l96_needle", "input[type=radio]"), "Space")
    press_by_keys(forms, form("l96_needle", ".cf-press"))
    points(forms, "l96_needle")
    assert count_cells(forms) == cells


@pytest.mark.parametrize("by", ["pointer", "keys"])
def test_a_fault_is_found(lab, forms, by):
    """Inspections are chosen, told and counted; the cause is named; the account is a table with headings."""
    fault = own(lab, "l96_fault")
    for name in fault.model_answer().inspections:
        button = form("l96_fault", f"[data-inspection={name}]")
        press_by_keys(forms, button) if by == "keys" else forms.locator(button).click()
        made = form("l96_fault", f"tr[data-made=true]:has([data-inspection={name}])")
        forms.wait_for_selector(made, timeout=20_000)
        assert INSPECTIONS[name].title in forms.locator(f"{made} th").inner_text()
    minutes = sum(INSPECTIONS[name].minutes for name in fault.model_answer().inspections)
    assert forms.locator(form("l96_fault", ".cf-account")).inner_text() == f"{minutes} of 45 minutes used."
    cause = form("l96_fault", f"input[value={fault.model_answer().value}]")
    forms.locator(cause).check()
    press = form("l96_fault", ".cf-press")
    press_by_keys(forms, press) if by == "keys" else forms.locator(press).click()
    assert points(forms, "l96_fault") == "5 of 5 points"
    picture(forms, "l96_fault", f"fault_by_{by}")


def fill_card(page, by: str) -> None:
    """Fill in the workshop's example."""
    for name, given in EXAMPLE.items():
        entry = form("l96_card", f"[data-entry={name}]")
        if given is None:
            continue
        if isinstance(given, str):
            page.locator(f"{entry} select").first.select_option(given)
            continue
        page.locator(f"{entry} input").fill(str(given[0]))
        if page.locator(f"{entry} select").count():
            page.locator(f"{entry} select").select_option(given[1])
    if by == "keys":
        press_by_keys(page, form("l96_card", "[data-entry=base] input"))
    else:
        page.locator(form("l96_card", ".cf-press")).click()


@pytest.mark.parametrize("by", ["pointer", "keys"])
def test_an_engine_card_is_filled_in_and_its_sheet_written(lab, forms, by):
    """Entries are recorded, what follows is told with its ground, and the sheet lies in the lesson's folder."""
    fill_card(forms, by)
    assert points(forms, "l96_card") == "8 of 8 points"
    assert "Vacuum to expect" in forms.locator(form("l96_card", ".cf-told")).inner_text()
    assert "your_engine.html" in forms.locator(form("l96_card", ".cf-sheet-place")).inner_text()
    picture(forms, "l96_card", "card")
    sheet = forms.context.new_page()
    sheet.goto((lab.lesson / "your_engine.html").as_uri())
    assert "Who" not in sheet.title() and sheet.locator("h2").count() >= 6
    sheet.close()


def test_the_forms_come_back(lab, forms, notebook):
    """Opened and run again: the account of the fault is there, and so are the entries of the card."""
    forms.locator(form("l96_fault", "[data-inspection=hose_trace]")).click()
    forms.wait_for_selector(form("l96_fault", "tr[data-made=true]"), timeout=20_000)
    forms.locator(form("l96_card", "[data-entry=dwell] input")).fill("36.5")
    forms.locator(form("l96_card", ".cf-press")).click()
    points(forms, "l96_card")
    lab.open(forms, "forms.ipynb")
    notebook.run_all(forms, form("l96_card"))
    assert forms.locator(form("l96_fault", "tr[data-made=true]")).count() == 1
    assert forms.locator(form("l96_card", "[data-entry=dwell] input")).input_value() == "36.5"


def test_no_violation_is_ours(lab, forms):
    """What axe-core finds in the three forms at work: nothing; and nothing is cut off at 1024 pixels."""
    needle_runs(forms)
    forms.locator(form("l96_fault", "[data-inspection=hose_trace]")).click()
    forms.wait_for_selector(form("l96_fault", "tr[data-made=true]"), timeout=20_000)
    forms.set_viewport_size({"width": 1024, "height": 4200})
    forms.wait_for_selector(form("l96_card", ".cf-press"))
    assert violations(forms, ".course-form") == []
    wide = forms.evaluate("""[...document.querySelectorAll('.course-form')].filter(
        (form) => form.scrollWidth > form.clientWidth + 1).length""")
    assert wide == 0
