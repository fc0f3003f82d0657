"""The steps that nbgrader runs for us: one at a time, and in nbgrader's own runs over a whole class."""

from __future__ import annotations

import contextlib
import json
import logging
import math
import os

import nbformat
import pytest
from nbgrader import utils
from traitlets.log import get_logger

from graders.feedback import LONGEST_NOTE, exercise_html, inert_text, problem_html, sanitised
from graders.nbgrader_bridge.judge_step import clamped_points, show_score
from graders.nbgrader_bridge.notebook import legible_notebook
from graders.outcome import CriterionOutcome, ExerciseResult, Outcome
from graders.submissions import folder

LESSON = "l98_trial"
FULL = {"l98_first": 3.0, "l98_second": 2.0, "l98_explain": 0.0}


def result(points, max_points=3.0):
    """An exercise with one criterion that earned `points`."""
    return ExerciseResult(
        "l98_first",
        "First",
        max_points,
        (CriterionOutcome("value", "The value", Outcome.MET, points, max_points, "Well done."),),
    )


def grade_cell(points=3.0):
    """A locked grade cell of nbgrader's."""
    return nbformat.v4.new_code_cell(
        "check('l98_first')",
        metadata={
            "nbgrader": {
                "grade": True,
                "grade_id": "l98_first",
                "locked": True,
                "solution": False,
                "points": points,
                "task": False,
                "schema_version": 3,
                "cell_type": "code",
            }
        },
    )


@pytest.mark.parametrize("earned", [0.0, 1.25, 1e-7, 2.0, 3.0])
def test_nbgrader_reads_exactly_the_score_that_was_written(earned):
    """nbgrader takes the first output as the grade, to four decimals."""
    cell = grade_cell()
    show_score(cell, clamped_points(result(earned), 3.0), "<div>page</div>", "page")
    assert utils.determine_grade(cell) == (pytest.approx(earned, abs=5e-5), 3.0)
    assert cell.outputs[0].output_type == "execute_result"


@pytest.mark.parametrize(
    "earned, kept", [(math.nan, 0.0), (math.inf, 3.0), (-math.inf, 0.0), (1e300, 3.0), (-1.0, 0.0)]
)
def test_points_that_are_no_points_are_clamped(earned, kept):
    """NaN is nothing and not full points; what is beyond the range ends at its edge."""
    assert clamped_points(result(earned), 3.0) == kept


def test_points_are_counted_in_the_cells_own_scale():
    """An instructor may make an exercise worth more or less than its rubric says."""
    assert clamped_points(result(1.5), 10.0) == 5.0


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"cells": 3}',
        b'{"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [null]}',
        b'{"nbformat": 99, "nbformat_minor": 5, "metadata": {}, "cells": []}',
    ],
)
def test_an_illegible_notebook_becomes_an_empty_one_with_a_note(tmp_path, content):
    """Whatever stands in the file, there is a sound notebook, and it says what happened."""
    path = tmp_path / f"{LESSON}.ipynb"
    path.write_bytes(content)
    notebook = legible_notebook(path)
    nbformat.validate(notebook)
    assert notebook.cells == [] and "could not be read" in notebook.metadata.timing_course.remarks[0]


def test_legible_notebook_keeps_text_and_grade_ids_only(tmp_path):
    """Outputs, attachments, tags, forged marks and notebook metadata do not come along."""
    cell = grade_cell() | {
        "id": "same",
        "metadata": {"nbgrader": {"grade_id": "l98_first", "points": 99}, "tags": ["skip-execution"]},
        "outputs": [],
        "execution_count": None,
    }
    note = {
        "cell_type": "markdown",
        "id": "same",
        "metadata": {},
        "source": ["a ", "note"],
        "attachments": {"x.svg": {"image/svg+xml": "<svg onload='x'/>"}},
    }
    path = tmp_path / "x.ipynb"
    path.write_text(
        json.dumps({"nbformat": 4, "nbformat_minor": 5, "metadata": {"title": "<script>"}, "cells": [cell, note]}),
        encoding="utf-8",
    )
    notebook = legible_notebook(path)
    assert [cell.metadata for cell in notebook.cells] == [{"nbgrader": {"grade_id": "l98_first"}}, {}]
    assert notebook.cells[1].source == "a note" and "attachments" not in notebook.cells[1]
    assert notebook.cells[0].id != notebook.cells[1].id and notebook.metadata == {}


def test_inert_text_shows_letters_and_nothing_else():
    """What Markdown, HTML or MathJax might act on is an entity; halves of characters and overrides are gone."""
    html = inert_text("# a\n\n*b* _c_ [d](e) `f` $g$ \\(h\\) <i>&lt;\n| \ud800\u202e\x00é")
    assert html.count("\n") == 0 and "é" in html
    assert not set("#*_[]`$\\|") & set(html.split(">", 1)[1].replace("&#", ""))
    assert "<i>" not in html and "\ud800" not in html and "\u202e" not in html
    html.encode()


def test_long_text_is_cut_and_says_so():
    """A text beyond the limit ends with a sentence."""
    assert "cut after" in inert_text("x" * (LONGEST_NOTE + 1)) and "cut after" not in inert_text("x" * LONGEST_NOTE)


def test_feedback_is_escaped_sanitised_and_says_outcome_in_words():
    """Titles and sentences may hold signs of HTML; the outcome is a word and not only a colour."""
    exercise = ExerciseResult(
        "x",
        "A < B",
        2.0,
        (CriterionOutcome("c", "T & U", Outcome.NOT_YET, 0.5, 2.0, "<script>alert(1)</script>"),),
        needs_person="look",
    )
    html = exercise_html(exercise, 0.5, 2.0)
    assert "<script" not in html and "not yet" in html and "0.5 of 2" in html and "A &lt; B" in html
    assert "<script" not in problem_html("<script>x</script>", 1.0)
    assert sanitised('<div onclick="x" style="y" class="z"><a href="http://x">l</a></div>') == '<div class="z">l</div>'


def test_nbgraders_own_run_over_all_judges_the_same_and_leaves_out_what_it_must_not_touch(trial_class, perfect):
    """`nbgrader autograde` with our configuration judges everyone, and neither links nor odd names stop it."""
    good = trial_class.hand_in("ada", perfect)
    eve = trial_class.hand_in("eve", perfect)
    os.symlink(good / "evidence.jsonl", eve / "borrowed.jsonl")
    trial_class.hand_in("two\nlines", perfect)
    big = trial_class.hand_in("max", perfect)
    with (big / "video.bin").open("wb") as file:
        file.truncate(folder.LARGEST_FILE_BYTES + 1)
    trial_class.hand_in("zoe", perfect)
    trial_class.change_notebook("zoe", lambda content: content["cells"].append(dict(content["cells"][2], id="again")))
    trial_class.course.autograde(LESSON, "*", "submitted")
    assert trial_class.points("ada") == trial_class.points("zoe") == FULL
    assert trial_class.points("eve") == trial_class.points("max") == {}
    assert sorted(path.name for path in (trial_class.root / "autograded").iterdir()) == ["ada", "zoe"]


def test_nbgraders_own_run_makes_no_new_learner_of_a_typed_name(trial_class, perfect):
    """With a class list, a folder that is named as a learner typed it is left out, and the log says whose it is; who
    is on the list, or was put into the gradebook by hand, is judged. Without a list every name is an id, as nbgrader
    has it."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("by hand", perfect)
    trial_class.hand_in("Ben  BRANDT", perfect)
    trial_class.hand_in("somebody", perfect)
    (trial_class.root / "roster.csv").write_text("id,first_name,last_name\nada,Ada,B\nben,Ben,Brandt\n", "utf-8")
    trial_class.course.add_learner("by hand")
    with nbgraders_log() as said:
        trial_class.course.autograde(LESSON, "*", "submitted")
    assert sorted(path.name for path in (trial_class.root / "autograded").iterdir()) == ["ada", "by hand"]
    assert trial_class.course.learners() == ["ada", "by hand"]
    lines = [line for line in said if line.startswith("Not judged:")]
    assert len(lines) == 2 and all("timing-course grade" in line for line in lines)
    assert any("'Ben  BRANDT' is ben on the class list" in line for line in lines)
    assert any("'somebody' is not on the class list" in line for line in lines)
    (trial_class.root / "roster.csv").unlink()
    trial_class.course.autograde(LESSON, "*", "submitted")
    assert trial_class.points("somebody") == FULL


@contextlib.contextmanager
def nbgraders_log():
    """What nbgrader's program logs meanwhile."""
    said: list[str] = []
    handler = logging.Handler()
    handler.emit = lambda record: said.append(record.getMessage())
    # Whose log it is, and whether it is switched off, depends on what applications were made in this process before.
    log = get_logger()
    logger = getattr(log, "logger", log)
    off, logger.disabled = logger.disabled, False
    logger.addHandler(handler)
    try:
        yield said
    finally:
        logger.removeHandler(handler)
        logger.disabled = off


def test_evidence_is_read_from_the_hand_in_and_not_from_the_copy(trial_class, perfect):
    """A file of the course that bears the evidence's name cannot replace what a learner handed in."""
    trial_class.hand_in("ada", perfect)
    (trial_class.root / "source" / LESSON / "evidence.jsonl").write_text("of the course", encoding="utf-8")
    trial_class.course.autograde(LESSON, "*", "submitted")
    assert trial_class.points("ada") == FULL


def test_an_answer_typed_into_the_cell_is_kept_beside_the_one_from_the_widget(trial_class, perfect):
    """Both texts reach the person who marks; neither is lost."""
    trial_class.hand_in("ada", perfect)
    trial_class.change_notebook("ada", lambda content: content["cells"][-1].update(source="typed <b>here</b>"))
    trial_class.course.autograde(LESSON, "ada", "submitted")
    source = trial_class.judged_notebook("ada").cells[-1].source
    assert "Because the needle falls." in source and "typed &#60;b&#62;here" in source


def test_prose_of_the_lesson_stays_and_learners_notes_become_plain_text(trial_class, perfect):
    """An untouched Markdown cell keeps its Markdown; a changed one is shown letter by letter."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("ben", perfect)
    trial_class.change_notebook("ben", lambda content: content["cells"][0].update(source="**mine**"))
    trial_class.course.autograde(LESSON, "*", "submitted")
    assert "**weight**" in trial_class.judged_notebook("ada").cells[0].source
    assert "**" not in trial_class.judged_notebook("ben").cells[0].source


@pytest.mark.parametrize(
    "learner", ["", ".", "..", "a/b", "a\\b", "a*", "a?", "[a]", "{a}", "a,b", "a+b", "a\nb", " a"]
)
def test_names_that_cannot_be_ids_are_refused(learner):
    """Each sign that nbgrader's patterns, lists or folders trip over is refused; ordinary names are not."""
    assert folder.name_problem(learner)
    assert not folder.name_problem("Ada B. O'Neil-Müller_2@school")
