"""The palette: told apart by every eye, readable on every ground, and the same in page and picture."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE

import course
import graders
from graders.palette import DARK, LIGHT, THEMES, chart_style, css_variables
from tests.every_case import check_every

READ_ON = (
    ("ink", "paper"),
    ("ink", "raised"),
    ("quiet", "paper"),
    ("quiet", "raised"),
    ("speed", "paper"),
    ("vacuum", "paper"),
    ("ink", "speed-soft"),
    ("ink", "vacuum-soft"),
    ("on-pressed", "pressed"),
)
SEEN_ON = (("edge", "paper"), ("focus", "paper"), ("focus", "raised"))
DEFICIENCIES = ("deuteranomaly", "protanomaly", "tritanomaly")
HEX = re.compile(r"#[0-9a-fA-F]{3,8}\b")


def rgb(colour: str) -> np.ndarray:
    """A colour as three shares from 0 to 1."""
    return np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255.0


def contrast(one: str, other: str) -> float:
    """Contrast ratio by the formula of WCAG 2.2, "relative luminance" and "contrast ratio"."""

    def luminance(colour):
        shares = rgb(colour)
        linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
        return float(linear @ (0.2126, 0.7152, 0.0722))

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_of_contrast_is_the_published_one():
    """Black on white is 21 to 1, and #767676 is the lightest grey with 4.54 to 1 on white (WCAG 2.2; from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
def test_text_can_be_read_on_its_ground(theme):
    """Text has 4.5 to 1, an edge or a focus ring 3 to 1 (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""
    colours = THEMES[theme]
    assert [pair for pair in READ_ON if contrast(colours[pair[0]], colours[pair[1]]) < 4.5] == []
    assert [pair for pair in SEEN_ON if contrast(colours[pair[0]], colours[pair[1]]) < 3.0] == []


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
@pytest.mark.parametrize("theme", THEMES)
def test_the_two_accents_stay_apart_for_every_eye(theme, deficiency):
    """With a whole colour sense missing (simulated after Machado and others, 2009) the accents differ by far more than
    what is just seen, 1 in CAM02-UCS."""
    space = {"name": "sRGB1+CVD", "cvd_type": deficiency, "severity": 100}
    seen = [np.clip(cspace_convert(rgb(THEMES[theme][role]), space, "sRGB1"), 0, 1) for role in ("speed", "vacuum")]
    assert deltaE(*seen, input_space="sRGB1") > 20


def test_two_hues_that_fail_would_be_found():
    """The check above can fail: a red and a green come together for an eye without the sense for the two."""
    space = {"name": "sRGB1+CVD", "cvd_type": "deuteranomaly", "severity": 100}
    seen = [np.clip(cspace_convert(rgb(colour), space, "sRGB1"), 0, 1) for colour in ("#b0561e", "#6f7a1e")]
    assert deltaE(*seen, input_space="sRGB1") < 20


def test_both_themes_have_every_role():
    """Light and dark name the same roles."""
    assert list(LIGHT) == list(DARK)


@pytest.mark.parametrize("theme", THEMES)
def test_page_and_picture_get_the_same_colours(theme):
    """Every role reaches the style sheet, and every colour of the chart style is one of the palette's."""
    import matplotlib

    colours = THEMES[theme]
    assert dict(re.findall(r"--eb-([a-z-]+): (#[0-9a-f]{6});", css_variables(colours))) == dict(colours)
    with matplotlib.rc_context(chart_style(colours)):
        assert matplotlib.rcParams["axes.prop_cycle"].by_key()["color"][:2] == [colours["vacuum"], colours["speed"]]
    assert set(HEX.findall(str(chart_style(colours)))) <= set(colours.values())


def test_no_colour_is_written_elsewhere():
    """Style sheets, scripts, templates and drawing code take their colours from the palette."""
    allowed = set(LIGHT.values()) | set(DARK.values())

    def check(path):
        assert set(HEX.findall(path.read_text(encoding="utf-8"))) <= allowed

    rooms, kinds = (course.HERE, Path(graders.__file__).parent), (".css", ".js", ".py", ".j2")
    paths = [path for room in rooms for path in sorted(room.rglob("*")) if path.suffix in kinds]
    check_every(check, ((path.relative_to(course.HERE.parent).as_posix(), path) for path in paths))
