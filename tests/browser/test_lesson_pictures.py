"""A lesson's picture in a real notebook: drawn, named, told in words by keyboard, and readable in light and dark."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.browser.conftest import SCREEN, choose_theme

PICTURES = ("pressure_over_crank_angle", "how_long_a_charge_burns", "how_the_starter_turns")
CARD = ".course-picture"


@pytest.fixture(scope="module")
def pictures(lab_of_module, desk_of_module, notebook):
    """A notebook with three pictures, and the page it is on."""
    cells = [f'picture("{name}")' for name in PICTURES]
    path = lab_of_module.lesson / "pictures.ipynb"
    notebook.write(path, "from course.widgets import picture", *cells, 'picture("nothing")')
    lab_of_module.open(desk_of_module, path.name)
    notebook.run_all(desk_of_module, f"{CARD} .cf-problem")
    return desk_of_module


def test_pictures_are_drawn_named_and_told(pictures):
    """Each is an image with a name, as wide as its card, and its words open by keyboard."""
    drawings = pictures.locator(f"{CARD} svg[role=img]")
    assert drawings.count() == len(PICTURES)
    assert pictures.get_by_role("figure", name="Pressure in the cylinder").count() == 1
    card, drawn = (pictures.locator(selector).first.bounding_box() for selector in (CARD, f"{CARD} svg"))
    assert 0.85 * card["width"] < drawn["width"] <= card["width"] and drawn["height"] > 200
    words = pictures.locator(f"{CARD} details").first
    words.locator("summary").focus()
    pictures.keyboard.press("Enter")
    assert words.evaluate("details => details.open") and "N m" in words.inner_text()


def test_on_a_phone_a_picture_is_moved_sideways(pictures):
    """Its letters stay large enough to read, its card leaves no frame, and the arrow keys move it."""
    pictures.set_viewport_size({"width": 420, "height": 800})
    frame = pictures.locator(f"{CARD} .cp-drawing").first
    letters = frame.locator("svg").evaluate("""svg => {
        const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
        return Math.min(...[...svg.querySelectorAll('text')].map(
            (one) => parseFloat(getComputedStyle(one).fontSize) * scale)); }""")
    assert letters >= 10
    card = pictures.locator(CARD).first
    assert card.evaluate("card => card.scrollWidth <= card.clientWidth + 1")
    frame.focus()
    pictures.keyboard.press("ArrowRight")
    pictures.wait_for_function("document.querySelector('.cp-drawing').scrollLeft > 0")
    pictures.set_viewport_size(SCREEN)
    expect(frame).not_to_have_attribute("tabindex", "0")


def test_a_name_that_there_is_not_is_said(pictures):
    """The card of an unknown picture holds one sentence and no drawing."""
    last = pictures.locator(CARD).last
    assert last.inner_text().count("There is no picture 'nothing'") == 1 and last.locator("svg").count() == 0


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_axe_finds_nothing_in_either_theme(pictures, theme):
    """No violation in the cards, and the letters have the theme's own ink."""
    choose_theme(pictures, theme)
    found = Axe().run(pictures, context={"include": [[CARD]]}).response["violations"]
    assert [f"{one['id']}: {one['help']}" for one in found] == []
    ink = pictures.evaluate(f"getComputedStyle(document.querySelector('{CARD}')).color")
    letters = pictures.evaluate(f"[...document.querySelectorAll('{CARD} svg text')].map(t => getComputedStyle(t).fill)")
    assert ink in letters
