"""A class run that is ended at any moment: the next one brings the same gradebook, and nobody's marks are lost.

The moments are counted, not timed: the run is killed at the n-th step of nbgrader, at the n-th hand-in, and at the
n-th page that is written into the gradebook itself.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
from contextlib import closing

import nbformat
import pytest
from nbgrader.api import Gradebook
from nbgrader.converters import Autograde
from nbgrader.preprocessors import AssignLatePenalties, SaveAutoGrades

from graders.classroom import run as classroom_module
from graders.classroom.gradebook_copy import GradebookError, OneAtATime, WorkingCopy
from graders.classroom.run import JUDGED, NEEDS_PERSON, Classroom
from graders.nbgrader_bridge.judge_step import AskForPerson, Judge, NotesInert
from tests.graders.conftest import EXERCISES, PERFECT, by_trial_judge, marks

LESSON, WRITTEN = "l98_trial", "l98_explain"
SECOND = "l99_second"

pytestmark = [
    pytest.mark.classroom,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="a run is killed in a process of its own"),
]


@pytest.fixture(scope="module")
def waiting(trial_class_template, tmp_path_factory):
    """A class of three hand-ins: one judged and marked by a person and then handed in again, one judged before, one
    new."""
    trial_class = trial_class_template.copied(tmp_path_factory.mktemp("waiting") / "class")
    trial_class.hand_in("ada", PERFECT)
    trial_class.hand_in("ben", {"l98_first": 1.0})
    with by_trial_judge():
        Classroom(trial_class.root).judge(LESSON)
    with Gradebook(trial_class.course.directory.db_url) as gradebook:
        grade = gradebook.find_grade(WRITTEN, LESSON, LESSON, "ada")
        grade.manual_score, grade.needs_manual_grade = 3.5, False
        gradebook.db.commit()
    trial_class.hand_in("ada", PERFECT | {WRITTEN: "Another answer."})
    trial_class.hand_in("cy", {"l98_first": 2.0, "l98_second": 0.5})
    return trial_class


@pytest.fixture
def three(waiting, tmp_path):
    """A copy of that class for one test, judged by the trial judge."""
    with by_trial_judge():
        yield waiting.copied(tmp_path / "class")


def contents(trial_class):
    """Everything in the gradebook that a person or a school would see, and that the file is sound."""
    with closing(sqlite3.connect(trial_class.root / "gradebook.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return connection.execute(
            "SELECT sa.student_id, a.name, cell.name, grade.auto_score, grade.manual_score, grade.needs_manual_grade "
            "FROM grade JOIN base_cell AS cell ON grade.cell_id = cell.id "
            "JOIN submitted_notebook AS sn ON grade.notebook_id = sn.id "
            "JOIN submitted_assignment AS sa ON sn.assignment_id = sa.id "
            "JOIN assignment AS a ON sa.assignment_id = a.id ORDER BY 1, 2, 3"
        ).fetchall()


def killed(trial_class, place) -> bool:
    """Run the class in a process of its own in which `place(die)` has set a trap; whether it was killed."""
    child = os.fork()
    if child == 0:
        try:
            place(lambda: os.kill(os.getpid(), signal.SIGKILL))
            Classroom(trial_class.root).judge(LESSON)
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL


def at_call(owner, name: str, number: int, after: bool):
    """A trap that dies just before or after the n-th call of a function."""

    def place(die):
        real, calls = getattr(owner, name), []

        def trapped(*arguments, **options):
            calls.append(name)
            if len(calls) == number and not after:
                die()
            result = real(*arguments, **options)
            if len(calls) == number and after:
                die()
            return result

        setattr(owner, name, trapped)

    return place


def at_page(number: int):
    """A trap that dies when so many pages of a copy were written into the gradebook itself."""

    def place(die):
        def copy(self, source, target):
            if source is not self.path:
                return real(self, source, target)

            def told(_status, remaining, total):
                if total - remaining >= number:
                    die()

            with closing(sqlite3.connect(source)) as connection:
                connection.backup(target, pages=1, progress=told)

        real, WorkingCopy._copy = WorkingCopy._copy, copy

    return place


STEPS = [
    (NotesInert, "preprocess"),
    (Judge, "preprocess"),
    (SaveAutoGrades, "preprocess"),
    (AskForPerson, "preprocess"),
    (AssignLatePenalties, "preprocess"),
    (Autograde, "start"),
    (WorkingCopy, "take_over"),
    (classroom_module.Classroom, "_judge_one"),
    (classroom_module.shutil, "rmtree"),
]
BEHIND_IT_THE_NEXT = 4  # of these steps: just after one of them is just before the next
MOMENTS = [
    (owner, name, number, after)
    for place, (owner, name) in enumerate(STEPS)
    for number in (1, 2)
    for after in ((False,) if place < BEHIND_IT_THE_NEXT else (False, True))
]


@pytest.fixture(scope="module")
def undisturbed(waiting, tmp_path_factory):
    """What the gradebook holds after a run that nobody ended."""
    copy = waiting.copied(tmp_path_factory.mktemp("undisturbed") / "class")
    with by_trial_judge():
        Classroom(copy.root).judge(LESSON)
    return contents(copy)


@pytest.mark.parametrize("moments", [MOMENTS[start::4] for start in range(4)], ids=lambda _: "")
def test_killed_at_any_step_the_next_run_brings_the_same_gradebook(three, undisturbed, moments):
    """Before and after each step of the first and of the second hand-in, one kill after another in one class."""
    before = three.root.with_name("before")
    shutil.copytree(three.root, before)
    for owner, name, number, after in moments:
        assert killed(three, at_call(owner, name, number, after)), (name, number, after)
        contents(three)
        Classroom(three.root).judge(LESSON)
        assert contents(three) == undisturbed, (name, number, after)
        assert list(three.root.glob("judging_*")) == []
        shutil.rmtree(three.root)
        shutil.copytree(before, three.root)


@pytest.mark.parametrize("pages", [1, 2, 7, 20])
def test_killed_while_the_gradebook_is_replaced(three, undisturbed, pages):
    """In the middle of the one step that writes the gradebook, the old one comes back whole."""
    before = contents(three)
    assert killed(three, at_page(pages))
    assert contents(three) == before
    Classroom(three.root).judge(LESSON)
    assert contents(three) == undisturbed


def test_killed_again_and_again_it_gets_there(three, undisturbed):
    """A run that is killed at every hand-in, five times over, still ends in the same gradebook."""
    for _ in range(5):
        assert killed(three, at_call(WorkingCopy, "take_over", 1, after=False))
    Classroom(three.root).judge(LESSON)
    assert contents(three) == undisturbed


def test_the_review_of_a_new_answer_is_not_lost_by_a_kill(three):
    """Killed when the page was judged but not yet in the gradebook, the new answer still asks for a look."""
    assert killed(three, at_call(WorkingCopy, "take_over", 1, after=False))
    report = next(one for one in Classroom(three.root).judge(LESSON) if one.learner == "ada")
    assert report.status == NEEDS_PERSON and report.judged_now
    assert three.points("ada")[WRITTEN] == 3.5


def test_a_second_run_at_the_same_time_is_kept_out(three):
    """Two runs in one folder would wait for each other's gradebook; the second gets a sentence."""
    with OneAtATime(three.root), pytest.raises(GradebookError, match="at work"):
        Classroom(three.root).judge(LESSON)
    assert Classroom(three.root).judge(LESSON)


# ---- marks and rules -------------------------------------------------------------------------------------------------


def test_judged_by_another_rubric_a_mark_needs_no_second_look(trial_class, perfect):
    """With another rubric of the class all are judged again, marks stay, and only changed points ask for a look."""
    trial_class.hand_in("ada", perfect)
    Classroom(trial_class.root).judge(LESSON)
    with Gradebook(trial_class.course.directory.db_url) as gradebook:
        for cell, points in ((WRITTEN, 3.5), ("l98_first", 2.5)):
            grade = gradebook.find_grade(cell, LESSON, LESSON, "ada")
            grade.manual_score, grade.needs_manual_grade = points, False
        gradebook.db.commit()
    rubrics = trial_class.root / "rubrics"
    rubrics.mkdir()
    (rubrics / "l97_other.toml").write_text("", encoding="utf-8")
    assert Classroom(trial_class.root).judge(LESSON)[0].judged_now is False
    report = Classroom(trial_class.root, again=True).judge(LESSON)[0]
    assert report.judged_now and report.status == JUDGED
    assert trial_class.points("ada") == {"l98_first": 2.5, "l98_second": 2.0, WRITTEN: 3.5}


def test_the_key_of_a_verdict_changes_with_whatever_could_change_the_verdict(
    trial_class, perfect, tmp_path, monkeypatch
):
    """Name, class rubric, engine cards and code: each makes another key; the same makes the same."""
    import dataclasses

    from graders.submissions import verdict_key

    trial_class.hand_in("ada", perfect)
    wanted = verdict_key.to_judge(trial_class.root, "submitted", "ada", LESSON, tmp_path)
    keys = [wanted.key(), dataclasses.replace(wanted, name="Ada").key()]
    (tmp_path / f"{LESSON}.toml").write_text("points = 2", encoding="utf-8")
    keys.append(dataclasses.replace(wanted, rubrics=tmp_path, engines=tmp_path / "none").key())
    keys.append(wanted.key())  # the folder of engine cards holds one more file now
    assert wanted.key() == keys[-1]
    monkeypatch.setattr(verdict_key, "_code", lambda: "another edition")
    keys.append(wanted.key())
    assert len(set(keys)) == len(keys)


def test_several_lessons_are_judged_in_one_run(trial_class, perfect):
    """A second, smaller lesson beside the first: each learner has a line for each, and nothing is mixed up."""
    source = trial_class.root / "source" / SECOND
    source.mkdir()
    cell = nbformat.v4.new_code_cell(
        'check("l98_second")', metadata=marks("l98_second", True, False, EXERCISES["l98_second"])
    )
    nbformat.write(nbformat.v4.new_notebook(cells=[cell]), source / f"{SECOND}.ipynb")
    trial_class.course.release(SECOND)
    trial_class.hand_in("ada", perfect)
    other = trial_class.root / "submitted" / "ben" / SECOND
    other.mkdir(parents=True)
    (other / f"{SECOND}.ipynb").write_text(json.dumps({"cells": []}), encoding="utf-8")
    steps = []
    reports = Classroom(trial_class.root).judge(progress=lambda what, done, total: steps.append((done, total)))
    lines = {(one.learner, one.lesson): one.points for one in reports}
    assert lines == {("ada", LESSON): 5.0, ("ada", SECOND): 0.0, ("ben", LESSON): 0.0, ("ben", SECOND): 0.0}
    assert steps == [(number, len(steps) - 1) for number in range(len(steps))]
    assert not any(one.judged_now for one in Classroom(trial_class.root).judge())
