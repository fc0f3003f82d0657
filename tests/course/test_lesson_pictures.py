"""The pictures of the lessons: each can be drawn, is told in words as well, and stands in the colours of the page."""

from __future__ import annotations

import functools
import json
import os
import re
import subprocess
import sys
import warnings
import xml.etree.ElementTree as ElementTree

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

import course
from course.authoring.lesson_pictures import LessonPicture, LessonPictureError, picture_named, pictures
from course.authoring.lesson_pictures.registry import in_colours_of_the_page
from course.authoring.lesson_pictures.sheet import NARROW_IN
from course.widgets import picture
from course.widgets.cards import kept_pictures
from graders.palette import LIGHT
from tests.tiers import ROOT

TICK = re.compile(r"[\N{MINUS SIGN}\d.,]+")  # those beyond the ends of an axis are not drawn
every_picture = pytest.mark.parametrize("name", sorted(pictures()))
IN_A_CELL = re.compile(r'^picture\("(\w+)"\)$', re.MULTILINE)


def text_of(svg: str) -> list[str]:
    """Everything written in a drawing."""
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


@functools.cache
def drawn(name: str) -> LessonPicture:
    """A picture, drawn once for all tests; a warning is an error."""
    found = picture_named(name)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        fresh = LessonPicture(name, found.title, found.draw)
        assert text_of(fresh.svg) and text_of(fresh.narrow_svg)
    return fresh


@every_picture
def test_a_picture_is_drawn_without_a_warning(name):
    """It fits its sheet, has a title, and its axes say what they show."""
    plain = [axis for axis in drawn(name).drawn.figure.axes if axis.axison]
    assert drawn(name).title and all(axis.get_xlabel() or axis.get_ylabel() or axis.get_title() for axis in plain)


@every_picture
def test_a_picture_is_told_in_words(name):
    """Two paragraphs or more, with numbers, and no colour that the reader would have to see."""
    words = drawn(name).drawn.words
    assert len(words.split("\n\n")) > 1 and re.search(r"\d", words)
    assert not re.search(r"\b(blue|orange|red|green|grey|gray)\b", words)


@every_picture
def test_a_picture_wears_the_colours_of_the_page(name):
    """No colour of the light page is left in it, and it changes nothing outside of itself."""
    for svg in (drawn(name).svg, drawn(name).narrow_svg):
        assert not set(re.findall(r"#[0-9a-f]{6}", svg)) & set(LIGHT.values())
        assert "var(--eb-ink)" in svg and "<style" not in svg


@every_picture
def test_a_picture_for_a_phone_has_letters_that_can_be_read(name):
    """It is narrow, nothing is lost of what the wide one says, no letter is smaller than ten points, and every text
    lies on the sheet."""
    found = drawn(name)
    wide, narrow = found.drawn.figure, found.drawn_narrow.figure
    assert narrow.get_figwidth() == NARROW_IN < wide.get_figwidth()
    sizes = [one.get_fontsize() for one in narrow.findobj(Text) if one.get_text().strip() and one.get_visible()]
    assert min(sizes) >= 10.0
    words = set(re.findall(r"[a-z]{4,}", " ".join(text_of(found.svg))))
    assert words - set(re.findall(r"[a-z]{4,}", " ".join(text_of(found.narrow_svg)))) <= {"what"}
    renderer, width, height = FigureCanvasAgg(narrow).get_renderer(), narrow.bbox.width, narrow.bbox.height
    narrow.draw(renderer)
    shown = [
        one
        for one in narrow.findobj(Text)
        if one.get_text().strip() and one.get_visible() and not TICK.fullmatch(one.get_text())
    ]
    outside = [
        one.get_text()
        for one in shown
        if not (
            (box := one.get_window_extent(renderer)).x0 >= -2
            and box.x1 <= width + 2
            and box.y0 >= -2
            and box.y1 <= height + 2
        )
    ]
    assert outside == []


def test_a_name_of_a_part_is_a_letter_on_a_phone():
    """A drawing that fills the sheet has a key below it, with every name of the wide one."""
    narrow = picture_named("coil_and_its_terminals").narrow_svg
    said = " ".join(text_of(narrow))
    assert "a  high tension: to the middle of the cap" in said and "g  coil" in said
    assert {"a", "b", "g"} <= set(text_of(narrow))


def test_pictures_on_one_page_do_not_share_ids():
    """Ids inside the drawings differ, so that one picture cannot be clipped by another's frame."""
    drawings = [svg for one in pictures().values() for svg in (one.svg, one.narrow_svg)]
    ids = [re.findall(r'\bid="([^"]*(?:clip|p[0-9a-f]{10})[^"]*)"', svg) for svg in drawings]
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


LOADS = "import sys, course.widgets as w; card = w.picture({name!r}); print('matplotlib' in sys.modules, card.title)"


def test_a_picture_that_was_drawn_once_is_kept(tmp_path, monkeypatch):
    """A second program shows the same without loading what draws; a spoiled file, or one of another program, is drawn
    again; where none can be kept it is drawn all the same."""
    name = "coil_and_its_terminals"
    monkeypatch.setenv("TIMING_COURSE_CACHE", str(tmp_path))
    work = [sys.executable, "-c", LOADS.format(name=name)]
    said = [subprocess.run(work, cwd=ROOT, check=True, capture_output=True, text=True).stdout for _ in range(2)]
    title = picture_named(name).title
    assert said == [f"True {title}\n", f"False {title}\n"]
    (path,) = (tmp_path / "pictures").iterdir()
    kept = picture(name)
    assert (kept.svg, kept.narrow) == (picture_named(name).svg, picture_named(name).narrow_svg)
    assert kept.words == picture_named(name).drawn.words
    whole = path.read_bytes()
    for spoiled in (b"", b"[]", b'{"title": 1}', json.dumps({**json.loads(whole), "svg": None}).encode()):
        path.write_bytes(spoiled)
        assert picture(name).svg == kept.svg and path.read_bytes() == whole
    monkeypatch.setattr(kept_pictures, "_drawn_with", lambda: "another program")
    assert picture(name).svg == kept.svg and len(list((tmp_path / "pictures").iterdir())) == 2
    monkeypatch.setenv("TIMING_COURSE_CACHE", str(path))
    assert picture(name).svg == kept.svg


def test_the_oldest_pictures_make_room(tmp_path, monkeypatch):
    """No more are kept than fit."""
    monkeypatch.setenv("TIMING_COURSE_CACHE", str(tmp_path))
    monkeypatch.setattr(kept_pictures, "MOST_KEPT", 2)
    names = sorted(pictures())[:3]
    for age, name in enumerate(names):
        picture(name)
        for path in (tmp_path / "pictures").iterdir():
            os.utime(path, (path.stat().st_mtime - 10 * (3 - age),) * 2)
    kept = {json.loads(path.read_text(encoding="utf-8"))["title"] for path in (tmp_path / "pictures").iterdir()}
    assert kept == {picture_named(name).title for name in names[1:]}


def test_every_picture_of_a_lesson_is_there():
    """What the lessons show is known, and every picture is shown in a lesson."""
    shown = set()
    for path in sorted(course.SOURCE.glob("*/*.ipynb")):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            shown |= set(IN_A_CELL.findall("".join(cell["source"])))
    assert shown == set(pictures())
