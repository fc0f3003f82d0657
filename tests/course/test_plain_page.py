"""The plain pages without a browser: what the index says, what is left out of a lesson, how they are started."""

from __future__ import annotations

import json
import re

import nbformat
import pytest

from course.__main__ import command_line
from course.jupyter.plain_page.lesson_list import UNREADABLE, lessons_in
from course.jupyter.plain_page.server import HERE, page_style, without_notebook_talk


def write_lesson(folder, lesson: str, text: str):
    """Write a lesson of one Markdown cell."""
    place = folder / lesson
    place.mkdir()
    cells = [nbformat.v4.new_markdown_cell(text)]
    nbformat.write(nbformat.v4.new_notebook(cells=cells), place / f"{lesson}.ipynb")
    return place


def test_the_index_lists_lessons_in_order(tmp_path):
    """Title, minutes and whether work has begun; folders without a lesson of their name are not lessons."""
    second = write_lesson(tmp_path, "l01_spark", "# Why the spark leads\n\n*Lesson l01 · about 40 minutes*")
    write_lesson(tmp_path, "l00_before", "# Before you touch the engine")
    (tmp_path / "notes").mkdir()
    (tmp_path / "notes" / "mine.ipynb").write_text("{}", encoding="utf-8")
    (second / "evidence.jsonl").write_text("something\n", encoding="utf-8")
    found = lessons_in(tmp_path)
    assert [(one.title, one.minutes, one.begun) for one in found] == [
        ("Before you touch the engine", None, False),
        ("Why the spark leads", 40, True),
    ]
    assert found[1].path == "l01_spark/l01_spark.ipynb"


@pytest.mark.parametrize("content", ["", "not JSON", "[]", json.dumps({"cells": 3}), json.dumps({"cells": [{}]})])
def test_a_lesson_that_cannot_be_read_is_said(tmp_path, content):
    """A spoilt notebook has its sentence on the index and does not take the others away."""
    write_lesson(tmp_path, "l00_good", "# Good")
    (write_lesson(tmp_path, "l01_bad", "x") / "l01_bad.ipynb").write_text(content, encoding="utf-8")
    good, bad = lessons_in(tmp_path)
    assert good.title == "Good" and not good.problem
    assert bad.problem == UNREADABLE


def test_talk_about_running_cells_is_left_out():
    """The paragraph for notebooks goes; everything around it stays."""
    text = "# Title\n\n**First of all:** open the menu\n**Run**.\n\nThe rest."
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(text)])
    without_notebook_talk(None, notebook, "")
    assert notebook.cells[0].source == "# Title\n\nThe rest."


@pytest.mark.parametrize("path", sorted(HERE.rglob("*.j2")) + sorted(HERE.rglob("*.css")), ids=lambda path: path.name)
def test_templates_name_no_other_machine(path):
    """Nothing in our templates and style sheets is fetched from elsewhere."""
    assert not re.search(r"(https?:)?//[a-z]", path.read_text(encoding="utf-8"))


def test_the_style_has_both_palettes():
    """The page's style holds light colours, and dark ones where the system is dark."""
    style = page_style()
    assert style.index("--eb-paper: #ffffff") < style.index("prefers-color-scheme: dark")
    assert "/* colours" not in style


@pytest.mark.parametrize(
    ("given", "run"),
    [
        ([], ["start"]),
        (["--plain"], ["start", "--plain"]),
        (["--help"], ["--help"]),
        (["check"], ["check"]),
        (["start", "here", "--plain"], ["start", "here", "--plain"]),
    ],
)
def test_options_alone_are_options_of_start(given, run):
    """`python3 -m course --plain` starts plain pages, and every command is reached as before."""
    assert command_line(given) == run
