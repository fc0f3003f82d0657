"""A folder of an older edition: the home page says so, and today's edition takes its place with nothing lost."""

from __future__ import annotations

import json
import subprocess
import sys

import nbformat

import course
from course.authoring.lay_out_again import lay_out_again
from course.jupyter.plain_page.lesson_list import NOT_HANDED_OUT, OLDER_EDITION, UNREADABLE, lessons_in, other_notebooks
from course.learner.known_lessons import LEDGER, is_known

LESSON = "l04_base_timing"
WORK = "what was done\n"


def lesson_of(folder, lesson: str, text: str):
    """A lesson's folder with a notebook that no list of this course knows, and work in it."""
    place = folder / lesson
    place.mkdir()
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(text)])
    nbformat.write(notebook, place / f"{lesson}.ipynb")
    (place / "evidence.jsonl").write_text(WORK, encoding="utf-8")
    return place


def test_another_edition_is_said_and_can_be_replaced(tmp_path):
    """One of the course's lessons has the button; a class's own has not, and neither has one that runs."""
    lesson_of(tmp_path, LESSON, "# Base timing, an older text")
    lesson_of(tmp_path, "l00_of_our_own", "# Our own workshop")
    found = {one.lesson: (one.problem, one.replaceable) for one in lessons_in(tmp_path)}
    assert found == {LESSON: (OLDER_EDITION, True), "l00_of_our_own": (NOT_HANDED_OUT, False)}
    (tmp_path / LESSON / f"{LESSON}.ipynb").write_text("spoilt", encoding="utf-8")
    spoilt = lessons_in(tmp_path)[0]
    assert (spoilt.problem, spoilt.replaceable, spoilt.title) == (UNREADABLE, True, "Lesson 5 of 12")


def test_todays_edition_takes_its_place_and_nothing_is_lost(tmp_path):
    """The lesson runs, the work stays, the notebook before is kept beside it and named; a second time, too."""
    place = lesson_of(tmp_path, LESSON, "# Base timing, an older text")
    subprocess.run(
        [sys.executable, "-m", "course.authoring.lay_out_again", str(tmp_path), LESSON],
        check=True,
        cwd=course.HERE.parent,
    )
    (now,) = lessons_in(tmp_path)
    assert (now.problem, now.replaceable) == ("", False) and is_known(tmp_path, place / f"{LESSON}.ipynb")
    assert (place / "evidence.jsonl").read_text(encoding="utf-8") == WORK
    assert other_notebooks(tmp_path) == [f"{LESSON}/{LESSON} as it was 1.ipynb"]
    kept = json.loads((place / f"{LESSON} as it was 1.ipynb").read_text(encoding="utf-8"))
    assert "an older text" in "".join(kept["cells"][0]["source"])
    (tmp_path / LEDGER).unlink()
    assert lay_out_again(tmp_path, LESSON).name == f"{LESSON} as it was 2.ipynb"
    assert lessons_in(tmp_path)[0].problem == ""
