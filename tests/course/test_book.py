"""The book without Sphinx: what becomes of an exercise and of a cell, and where no book is made."""

from __future__ import annotations

import json

import pytest
from bs4 import BeautifulSoup

from course.authoring.edition import lessons
from course.book import exercises as printing
from course.book.exercises import BookError, printed_exercise
from course.book.pages import lesson_page
from course.book.site import book_style
from course.commands.book import run
from graders.exercises.loader import load_rubric


def test_an_order_is_printed_out_of_order():
    """To copy the steps as the book has them earns no points."""
    orders = [one for lesson in lessons() for one in load_rubric(lesson).exercises.values() if one.kind == "order"]
    assert orders
    for exercise in orders:
        section = BeautifulSoup(printed_exercise(exercise), "html.parser")
        by_text = {step.text: step.id for step in exercise.steps}
        printed = [by_text[item.get_text()] for item in section("li")]
        outcomes = exercise.judge(exercise.read(json.dumps(printed), None), None)
        assert sum(one.points for one in outcomes) < exercise.points, exercise.id


def test_what_the_book_does_not_know_is_refused(monkeypatch):
    """A cell that is none of the course's own, and a trait of a form that nobody prints."""
    rubric = load_rubric("l04_base_timing").exercises
    cell = {"cell_type": "code", "metadata": {}, "source": ["import os"]}
    with pytest.raises(BookError, match="import os"):
        lesson_page([cell], rubric, {})
    monkeypatch.delitem(printing.PRINTED, "choices")
    with pytest.raises(BookError, match="choices"):
        printed_exercise(rubric["l04_why_back_off"])


def test_a_lesson_becomes_text():
    """The exercise in its place, the word as a term, and nothing of the notebook: no import, no check, no talk."""
    cells = [
        {"cell_type": "markdown", "metadata": {}, "source": "# Title\n\n**First of all:** run it.\n\nOn."},
        {"cell_type": "code", "metadata": {}, "source": "from course.widgets import check, choice"},
        {"cell_type": "code", "metadata": {}, "source": 'choice("l04_why_back_off")'},
        {"cell_type": "code", "metadata": {}, "source": 'check("l04_why_back_off")'},
        {"cell_type": "code", "metadata": {}, "source": 'picture("six_needles")'},
        {"cell_type": "code", "metadata": {}, "source": "replays()"},
        {"cell_type": "markdown", "metadata": {"nbgrader": {"solution": True}}, "source": "*Your answer*"},
    ]
    text = lesson_page(cells, load_rubric("l04_base_timing").exercises, {})
    assert text.startswith("# Title\n\nOn.") and 'id="l04_why_back_off"' in text and 'role="img"' in text
    assert not any(talk in text for talk in ("import", "check(", "First of all", "Your answer"))
    assert "--eb-paper: #ffffff" in book_style() and ".pp-vignette" in book_style()


def test_only_a_book_is_replaced(tmp_path):
    """A folder with something else in it is left alone, a file too."""
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "one.txt").write_text("mine", encoding="utf-8")
    for place in (tmp_path / "photos", tmp_path / "photos" / "one.txt"):
        with pytest.raises(BookError, match=r"new folder|another name"):
            run(place)
    assert (tmp_path / "photos" / "one.txt").read_text(encoding="utf-8") == "mine"
