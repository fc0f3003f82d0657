"""The words of a lesson in a real browser: one press, or one key, from a word to its meaning, and back."""

from __future__ import annotations

import shutil

import pytest

from course.authoring.edition import make_learners_edition
from tests.browser.axe import violations
from tests.browser.conftest import choose_theme

BUBBLE, CARD, LINK = ".wc-bubble", ".course-words", 'a[href="#word-ported-source"]'
MEANING = "no vacuum at idle"


@pytest.fixture(scope="module")
def opened(lab_of_module, desk_of_module, notebook):
    """The learner's edition of l04 in the notebook, run."""
    (lab_of_module.lesson / "l04_base_timing.ipynb").unlink()
    make_learners_edition(lab_of_module.lesson.parent, ["l04_base_timing"])
    lab_of_module.open(desk_of_module)
    notebook.run_all(desk_of_module, f"{CARD} details")
    return desk_of_module


@pytest.fixture
def words_in_lab(opened):
    """That page; afterwards no meaning is open, and the page is light."""
    yield opened
    if opened.locator(BUBBLE).is_visible():
        opened.locator(BUBBLE).press("Escape")
    opened.locator(f"{CARD} details").evaluate("list => { list.open = false; }")
    choose_theme(opened, "JupyterLab Light")


@pytest.fixture
def second_lesson(plain):
    """The learner's edition of l02 among the plain pages, taken away after the test; its address."""
    lesson = "l02_what_the_gauges_say"
    make_learners_edition(plain.folder, [lesson])
    plain.may_run(plain.folder / lesson / f"{lesson}.ipynb")
    yield plain.address_of(lesson)
    shutil.rmtree(plain.folder / lesson)


def test_a_word_is_explained_by_keyboard_in_the_notebook(words_in_lab):
    """Enter on a word opens its meaning and takes the keys; Escape closes it and leads back to the word. The notebook
    itself takes none of these keys."""
    page = words_in_lab
    link = page.locator(LINK)
    link.scroll_into_view_if_needed()
    link.focus()
    page.keyboard.press("Enter")
    bubble = page.locator(BUBBLE)
    bubble.wait_for(state="visible")
    assert MEANING in bubble.inner_text() and bubble.evaluate("bubble => bubble === document.activeElement")
    page.keyboard.press("Escape")
    bubble.wait_for(state="hidden")
    assert link.evaluate("link => link === document.activeElement")
    assert page.locator(".jp-MarkdownCell .cm-editor:visible").count() == 0  # no text was opened to be edited
    page.keyboard.press("Enter")
    page.get_by_role("dialog", name="ported source").get_by_role("button", name="Close").press("Enter")
    bubble.wait_for(state="hidden")


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_axe_finds_nothing_in_the_notebook(words_in_lab, theme):
    """Neither in the list, opened, nor in a meaning beside its word, in either theme."""
    page = words_in_lab
    choose_theme(page, theme)
    page.locator(f"{CARD} summary").click()
    page.locator(LINK).click()
    page.locator(BUBBLE).wait_for(state="visible")
    assert violations(page, CARD, BUBBLE) == []


def test_a_word_is_explained_on_the_plain_page(second_lesson, page):
    """So is it there by pointer, beside the word and inside the window; a press elsewhere closes it."""
    page.set_viewport_size({"width": 1024, "height": 700})
    page.goto(second_lesson)
    page.wait_for_selector(f"{CARD} details", timeout=90_000)
    for link in page.locator('a[href^="#word-"]').all()[::3]:
        link.scroll_into_view_if_needed()
        link.click()
        bubble = page.locator(BUBBLE)
        bubble.wait_for(state="visible")
        box, word = bubble.bounding_box(), link.bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= 1024 and box["y"] >= 0 and box["y"] + box["height"] <= 700
        assert min(abs(box["y"] - word["y"] - word["height"]), abs(word["y"] - box["y"] - box["height"])) < 40
        page.mouse.click(3, 690)
        bubble.wait_for(state="hidden")
    page.locator(f"{CARD} summary").click()
    assert MEANING in page.locator(f"{CARD} dl").inner_text()
    assert violations(page, CARD, "main") == []


def test_a_meaning_goes_with_its_word_and_comes_back_with_it(second_lesson, page):
    """Scrolling, by a person or by the notebook itself, never takes away the meaning that was asked for."""
    page.set_viewport_size({"width": 1024, "height": 700})
    page.goto(second_lesson)
    page.wait_for_selector(f"{CARD} details", timeout=90_000)
    link, bubble = page.locator('a[href^="#word-"]').first, page.locator(BUBBLE)
    link.click()
    bubble.wait_for(state="visible")
    beside = bubble.bounding_box()["y"] - link.bounding_box()["y"]
    in_window = "bubble => bubble.getBoundingClientRect().bottom > 0 && bubble.getBoundingClientRect().top < 700"
    link.evaluate("link => { for (let e = link; e; e = e.parentElement) e.scrollTop = 1e6; }")
    page.wait_for_function(f"() => !({in_window})(document.querySelector('{BUBBLE}'))")
    link.evaluate("link => link.scrollIntoView({block: 'center'})")
    page.wait_for_function(f"() => ({in_window})(document.querySelector('{BUBBLE}'))")
    assert bubble.is_visible() and abs(bubble.bounding_box()["y"] - link.bounding_box()["y"] - beside) < 2
    bubble.press("Escape")
    bubble.wait_for(state="hidden")
