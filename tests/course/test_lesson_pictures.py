"""The pictures of the lessons: each can be drawn, is told in words as well, and stands in the colours of the page."""

from __future__ import annotations

import json
import re
import warnings
import xml.etree.ElementTree as ElementTree

import pytest

import course
from course.authoring.lesson_pictures import LessonPicture, LessonPictureError, picture_named, pictures
from course.authoring.lesson_pictures.registry import in_colours_of_the_page
from course.widgets import picture
from graders.palette import LIGHT

every_picture = pytest.mark.parametrize("name", sorted(pictures()))
IN_A_CELL = re.compile(r'^picture\("(\w+)"\)$', re.MULTILINE)


def text_of(svg: str) -> list[str]:
    """Everything written in a drawing."""
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


@every_picture
def test_a_picture_is_drawn_without_a_warning(name):
    """It fits its sheet, has a title, and its axes say what they show."""
    found = picture_named(name)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        fresh = LessonPicture(name, found.title, found.draw)
        assert text_of(fresh.svg)
    plain = [axis for axis in fresh.drawn.figure.axes if axis.axison]
    assert found.title and all(axis.get_xlabel() or axis.get_ylabel() or axis.get_title() for axis in plain)


@every_picture
def test_a_picture_is_told_in_words(name):
    """Two paragraphs or more, with numbers, and no colour that the reader would have to see."""
    words = picture_named(name).drawn.words
    assert len(words.split("\n\n")) > 1 and re.search(r"\d", words)
    assert not re.search(r"\b(blue|orange|red|green|grey|gray)\b", words)


@every_picture
def test_a_picture_wears_the_colours_of_the_page(name):
    """No colour of the light page is left in it, and it changes nothing outside of itself."""
    svg = picture_named(name).svg
    assert not set(re.findall(r"#[0-9a-f]{6}", svg)) & set(LIGHT.values())
    assert "var(--eb-ink)" in svg and "<style" not in svg


def test_pictures_on_one_page_do_not_share_ids():
    """Ids inside the drawings differ, so that one picture cannot be clipped by another's frame."""
    ids = [re.findall(r'\bid="([^"]*(?:clip|p[0-9a-f]{10})[^"]*)"', picture_named(name).svg) for name in pictures()]
    flat = [one for found in ids for one in set(found)]
    assert flat and len(flat) == len(set(flat))


def test_other_colours_stay():
    """Only the palette's own colours are given over to the page."""
    assert in_colours_of_the_page("fill: #1d2327; stroke: #123456") == "fill: var(--eb-ink); stroke: #123456"


def test_an_unknown_picture_is_said():
    """A name that there is not gives a card with one sentence, and an error in code."""
    with pytest.raises(LessonPictureError, match="There is no picture 'nothing'; there are"):
        picture_named("nothing")
    assert picture("nothing").problem.startswith("There is no picture 'nothing'")


def test_every_picture_of_a_lesson_is_there():
    """What the lessons show is known, and every picture is shown in a lesson."""
    shown = set()
    for path in sorted(course.SOURCE.glob("*/*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            shown |= set(IN_A_CELL.findall("".join(cell["source"])))
    assert shown == set(pictures())
