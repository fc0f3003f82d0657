"""The sheet for the car: cautions first, a line for every reading, no figure of ours above the limits, two pages."""

from __future__ import annotations

import html
import re
import zlib

import pytest
from bs4 import BeautifulSoup

from course.owner.cautions import CAUTIONS, FIRST, NOT_STARTING, STOP
from course.owner.filled_sheet import AT_THE_CAR, EXAMPLE, ToCompare, example_sheet, sheet_of
from course.owner.sheet import (
    HELD,
    ON_THE_STARTER,
    TURNED_EARLY,
    TURNED_LATE,
    SheetError,
    blank_sheet,
    figure_of_practice,
)
from course.owner.sheet_page import sheet_page
from course.owner.sheet_pdf import PAPERS, sheet_pdf
from engine_sim.owned.description import load_owned, owned_from
from engine_sim.owned.starting import HIGHEST_BASE_DEG, HIGHEST_TOTAL_DEG

PROMISED = (  # by lesson 12: state, hose, mark made, speed at the peak, after backing off, total, what did not fit ...
    "State of the engine",
    "Hose off, plugged with",
    "Mark made, and where",
    "Speed at the peak (rpm)",
    "Less the drop: stop at (rpm)",
    "Speed after backing off",
    "What did not fit",
    "Fuel in the tank",
    "Date",
    "Height of the day's place (ft or m)",
    "Heard on the road, and where",
)
PAGE_SIZES = {"A4": "595.28 841.89", "Letter": "612.00 792.00"}


def text_of(page: str) -> str:
    """What a person reads of a page, with single spaces."""
    return " ".join(BeautifulSoup(page, "html.parser").body.get_text(" ").split())


def test_the_order_is_the_order_of_work():
    """The way to stop and the cautions before the maker's figures, these before the work, and the road last."""
    text = text_of(sheet_page(blank_sheet()))
    marks = [STOP, CAUTIONS[0], FIRST, NOT_STARTING[0], "Mark body and block", "Clamp just loose", "Clamp tight"]
    marks += ["total by the light at 3,000 rpm", "To the road: engine off", "Road check", "What did not fit"]
    places = [text.index(" ".join(mark.split())) for mark in marks]
    assert places == sorted(places)


@pytest.mark.parametrize("line", PROMISED)
def test_every_reading_that_the_lesson_names_has_its_line(line):
    """On the page and in the PDF's source of lines."""
    assert line in text_of(sheet_page(blank_sheet()))


def test_the_sheet_stands_alone():
    """It fetches nothing and runs nothing."""
    for sheet in (blank_sheet(), example_sheet()):
        assert not re.search(r"(src|href)=|https?://|<script|@import|url\(", sheet_page(sheet))


def test_the_blank_one_is_blank_and_the_example_is_filled():
    """No value on the first; the second has what was read, what was written at the car, and the way to turn."""
    blank = BeautifulSoup(sheet_page(blank_sheet()), "html.parser")
    assert {one.get_text(strip=True) for one in blank.select(".value, td")} == {""}
    text = text_of(sheet_page(example_sheet()))
    assert "16.5 inHg (56 kPa)" in text and "2300 ft (701 m)" in text and "91 RON" in text
    assert all(value in text for value in AT_THE_CAR.values())
    assert "Turn towards advance (anticlockwise, seen from above the cap)" in text


def test_every_value_of_the_example_has_a_line():
    """A label that moved would leave a value unprinted."""
    sheet = example_sheet()
    lines = {line.label for step in sheet.steps for line in step.lines} | {line.label for line in sheet.left}
    assert set(AT_THE_CAR) <= lines


# ---- the limits ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "highest"), [("base", HIGHEST_BASE_DEG), ("total", HIGHEST_TOTAL_DEG)])
def test_no_figure_of_ours_lies_above_its_limit(kind, highest):
    """Up to the limit it is printed; above, and where it is no number, it is refused."""
    assert figure_of_practice(highest, kind) == f"{highest:.0f}"
    for degrees in (highest + 0.5, 90.0, float("nan")):
        with pytest.raises(SheetError, match="that the maker did not give"):
            figure_of_practice(degrees, kind)


def test_the_makers_own_figure_is_printed_as_it_was_typed():
    """A base of 16 and a total of 40 stand there, as the maker's; not where the label is another engine's."""
    label = {"base_deg": 16.0, "total_deg": 40.0}
    text = text_of(sheet_page(sheet_of(owned_from({"label": label}))))
    assert "16 crank degrees" in text and "40 crank degrees" in text
    other = text_of(sheet_page(sheet_of(owned_from({"label": {**label, "trusted": False}}))))
    assert "16 crank degrees" not in other and "40 crank degrees" not in other


def test_a_sheet_without_figures_of_the_maker_names_none_above_the_limits():
    """Every number of degrees before something is read is at most 12 for a base and 36 for a total."""
    text = text_of(sheet_page(sheet_of(owned_from({"build": {"cylinders": 6}}))))
    assert max(map(int, re.findall(r"(\d+)(?: in an unknown chamber)? (?:crank )?degrees", text))) <= HIGHEST_TOTAL_DEG
    assert max(map(int, re.findall(r"static (?:\d+) to (\d+)", text))) <= HIGHEST_BASE_DEG


def test_a_band_stands_at_its_step():
    """What is compared stands with the reading that it belongs to."""
    sheet = sheet_of(load_owned(EXAMPLE), ToCompare(idle_vacuum="a band of vacuum", total="a band of the total"))
    by_step = {step.compare: step for step in sheet.steps if step.compare}
    assert by_step["a band of vacuum"].text.startswith("Read before you touch") and by_step["a band of the total"].light


# ---- paper -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("sheet", [blank_sheet, example_sheet])
def test_the_pdf_has_two_pages_of_its_size_in_black_and_white(paper, sheet):
    """A4 and Letter; no colour is set anywhere in it."""
    content = sheet_pdf(sheet(), paper)
    pages = re.findall(rb"/Type /Page\b", content)
    assert len(pages) == 2 and PAGE_SIZES[paper].encode() in content
    # The last byte of a stream may itself be the end of a line, which the pattern takes for its own.
    streams = [
        zlib.decompressobj().decompress(found)
        for found in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", content, re.DOTALL)[:2]
    ]
    assert not re.search(rb"\brg\b|\bRG\b|\bscn\b", b"".join(streams))


def test_the_pdf_takes_a_title_in_any_letters():
    """A name with accents is printed."""
    engine = owned_from({"identity": {"title": "Šárka’s pump – blå"}})
    assert sheet_pdf(sheet_of(engine)).startswith(b"%PDF") and html.escape("Šárka’s") in sheet_page(sheet_of(engine))


def test_what_was_read_for_an_answer_from_afar_stands_on_the_sheet():
    """The body turned either way, 2,500 rpm held, the starter: each value at its own line, empty where nothing was
    read."""
    read = {"turned_early_inhg": 15.5, "turned_early_rpm": 640.0, "held_2500_on_inhg": 21.0, "cranking_inhg": 3.5}
    lines = {line.label: line.value for step in sheet_of(owned_from({"readings": read})).steps for line in step.lines}
    assert lines[TURNED_EARLY] == "15.5 inHg (52 kPa), 640 rpm" and lines[TURNED_LATE] == ""
    assert lines[HELD] == "21.0 inHg (71 kPa)" and lines[ON_THE_STARTER] == "3.5 inHg (12 kPa)"
