"""A lesson's picture in a real notebook: drawn, named, told in words by keyboard, and readable in light and dark."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.axe import violations
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
    drawings = pictures.locator(f"{CARD} svg[role=img]:visible")
    assert drawings.count() == len(PICTURES)
    assert pictures.get_by_role("figure", name="Pressure in the cylinder").count() == 1
    card, drawn = (pictures.locator(selector).first.bounding_box() for selector in (CARD, f"{CARD} svg:visible"))
    assert 0.85 * card["width"] < drawn["width"] <= card["width"] and drawn["height"] > 200
    words = pictures.locator(f"{CARD} details").first
    words.locator("summary").focus()
    pictures.keyboard.press("Enter")
    assert words.evaluate("details => details.open") and "N m" in words.inner_text()


SMALLEST_LETTERS = """pictures => Math.min(...pictures.map((svg) => {
    const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    const sizes = [...svg.querySelectorAll('text')].map((one) => parseFloat(getComputedStyle(one).fontSize));
    return scale * Math.min(...sizes);
}))"""


@pytest.mark.parametrize("width", [390, 420, 1024])
def test_no_picture_is_moved_sideways(pictures, width):
    """On a phone each is shown as it was drawn for one, on a page as for a page, and it fits its card. In a
    notebook the card is narrow; that of the plain page, where letters are larger, is looked at with every lesson."""
    pictures.set_viewport_size({"width": width, "height": 800})
    shown = pictures.locator(f"{CARD} svg:visible")
    expect(shown).to_have_count(len(PICTURES))
    assert pictures.locator(f"{CARD} {'.cp-narrow' if width < 660 else '.cp-wide'}:visible").count() == len(PICTURES)
    assert shown.evaluate_all(SMALLEST_LETTERS) >= 8.0
    too_wide = (
        "cards => cards.map((card) => [card.scrollWidth, card.clientWidth]).filter(([all, seen]) => all > seen + 1)"
    )
    assert pictures.locator(f"{CARD}:has(svg)").evaluate_all(too_wide) == []
    frames = "frames => frames.every((one) => one.scrollWidth <= one.clientWidth)"
    assert pictures.locator(f"{CARD} .cp-drawing:visible").evaluate_all(frames)
    pictures.set_viewport_size(SCREEN)


def test_a_name_that_there_is_not_is_said(pictures):
    """The card of an unknown picture holds one sentence and no drawing."""
    last = pictures.locator(CARD).last
    expect(last).to_contain_text("There is no picture 'nothing'")
    assert (last.text_content() or "").count("There is no picture") == 1 and last.locator("svg").count() == 0


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_axe_finds_nothing_in_either_theme(pictures, theme):
    """No violation in the cards, and the letters have the theme's own ink."""
    choose_theme(pictures, theme)
    assert violations(pictures, CARD) == []
    ink = pictures.evaluate(f"getComputedStyle(document.querySelector('{CARD}')).color")
    letters = pictures.evaluate(f"[...document.querySelectorAll('{CARD} svg text')].map(t => getComputedStyle(t).fill)")
    assert ink in letters
