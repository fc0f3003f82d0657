"""The letter that a learner answers has the space to write beside it: the one that the question names."""

from __future__ import annotations

import json
import shutil

import pytest

from course import SOURCE, widgets
from course.widgets.forms.written import named_part, plain

LESSON, EXERCISE = "l09_answer_the_letter", "l09_answer"


@pytest.mark.parametrize("learner", ["anna", "bo", "cleo"])
def test_the_learners_own_letter_is_shown(tmp_path, monkeypatch, learner):
    """Its heading is what the question says, its words are those of the lesson, without any mark of Markdown."""
    folder = tmp_path / LESSON
    folder.mkdir()
    (folder / "learner.toml").write_text(f'name = "{learner}"\n', encoding="utf-8")
    shutil.copy(SOURCE / LESSON / f"{LESSON}.ipynb", folder)
    monkeypatch.chdir(folder)
    form = widgets.written(EXERCISE)
    title, text = form.beside
    assert title.lower() in form.question.lower() and title.startswith("Letter ")
    assert len(text) > 200 and text.startswith('"') and text.endswith('"') and not set(text) & set("*[]#")


def test_without_the_notebook_there_is_only_the_space(tmp_path, monkeypatch):
    """A folder in which the notebook is missing or broken still takes an answer."""
    folder = tmp_path / LESSON
    folder.mkdir()
    monkeypatch.chdir(folder)
    assert widgets.written(EXERCISE).beside == []
    (folder / f"{LESSON}.ipynb").write_text('{"cells": [{"cell_type": "code"}]}', encoding="utf-8")
    assert widgets.written(EXERCISE).beside == []
    (folder / f"{LESSON}.ipynb").write_text("no notebook", encoding="utf-8")
    assert widgets.written(EXERCISE).beside == []


def test_only_a_heading_that_the_question_names_is_taken(tmp_path):
    """Another part of the lesson is not taken for it."""
    cells = [
        {"cell_type": "markdown", "source": ["### Letter A, from Marit\n", "\n", "*one*"]},
        {"cell_type": "markdown", "source": '### Letter B, from Bento\n\n*"two [dwell](#dwell) at **once**"*\n\nthree'},
    ]
    notebook = tmp_path / "letters.ipynb"
    notebook.write_text(json.dumps({"cells": cells}), encoding="utf-8")
    assert named_part(notebook, "Yours is letter B, from Bento. Read it.") == [
        "Letter B, from Bento",
        '"two dwell at once"\n\nthree',
    ]
    assert named_part(notebook, "Write to nobody.") == []


def test_plain_words_lose_nothing_but_the_marks():
    """Signs that are no mark stay."""
    assert plain("a * b, 2_000 <b>and</b> *so*") == "a * b, 2_000 and so"
