"""A small class of two exercises and a written answer, with a judge that reads real evidence by a rule of one line."""

from __future__ import annotations

import json
import os
import shutil
from contextlib import contextmanager
from pathlib import Path

import nbformat
import pytest

import course as course_package
from engine_sim import Event, EvidenceError, EvidenceWriter, Header, read_evidence
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.outcome import CriterionOutcome, ExerciseResult, LessonResult, Outcome
from tests.short_ways import disk_not_waited_for, schema_asked_once  # noqa: F401 - fixtures of this room

LESSON = "l98_trial"
PAGE = f"{LESSON}.ipynb"
EXERCISES = {"l98_first": 3.0, "l98_second": 2.0}
WRITTEN = "l98_explain"


def marks(grade_id: str, grade: bool, solution: bool, points: float | None = None, cell_type: str = "code") -> dict:
    """nbgrader's marks of one cell as its own tools write them."""
    content = {
        "grade": grade,
        "grade_id": grade_id,
        "locked": not solution,
        "schema_version": 3,
        "solution": solution,
        "task": False,
        "cell_type": cell_type,
    }
    return {"nbgrader": content | ({"points": points} if points is not None else {})}


def source_notebook():
    """The instructor's edition: prose, a widget cell and a locked grade cell an exercise, a written answer."""
    cells = [nbformat.v4.new_markdown_cell("# A trial lesson\n\nProse with $x^2$ and **weight**.")]
    for exercise, points in EXERCISES.items():
        cells += [
            nbformat.v4.new_code_cell(f'choice("{exercise}")', metadata=marks(f"{exercise}_work", False, False)),
            nbformat.v4.new_code_cell(f'check("{exercise}")', metadata=marks(exercise, True, False, points)),
        ]
    cells.append(
        nbformat.v4.new_markdown_cell(
            "The instructor's own answer.", metadata=marks(WRITTEN, True, True, 4.0, "markdown")
        )
    )
    for cell, name in zip(cells, "abcdefgh", strict=False):
        cell.id = name
    return nbformat.v4.new_notebook(
        cells=cells, metadata={"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
    )


def trial_judge(lesson, evidence_path, engines, learner=None, rubrics=None):
    """Every exercise earns the number that was answered; a written answer waits for a person."""
    try:
        evidence = read_evidence(evidence_path)
    except EvidenceError as error:
        return LessonResult(lesson, learner, (), str(error), error.kind)
    if evidence.header.learner != learner:
        return LessonResult(lesson, learner, (), f"The evidence belongs to {evidence.header.learner}.", "another")
    answers = {event.exercise: event.value for event in evidence.events}
    results = [
        ExerciseResult(
            name,
            f"Title of {name}",
            most,
            (
                CriterionOutcome(
                    "value",
                    "The value",
                    Outcome.MET,
                    float(answers.get(name, 0.0)),
                    most,
                    f"You said {answers.get(name)}.",
                ),
            ),
        )
        for name, most in EXERCISES.items()
    ]
    text = str(answers.get(WRITTEN, ""))
    waits = "a written answer" if text else ""
    results.append(ExerciseResult(WRITTEN, "Explain", 4.0, needs_person=waits, answer=text))
    return LessonResult(lesson, learner, tuple(results))


class TrialClass:
    """The class folder `root`, in which learners hand in; `course` is nbgrader's view of it."""

    def __init__(self, root: Path):
        self.root, self.course = root, NbgraderCourse(root)

    @classmethod
    def made(cls, root: Path) -> TrialClass:
        """A new class with its lesson released."""
        source = root / "source" / LESSON
        source.mkdir(parents=True)
        shutil.copyfile(course_package.HERE / "nbgrader_config.py", root / "nbgrader_config.py")
        nbformat.write(source_notebook(), source / PAGE)
        trial_class = cls(root)
        trial_class.course.release(LESSON)
        return trial_class

    def copied(self, root: Path) -> TrialClass:
        """A copy to work on."""
        shutil.copytree(self.root, root)
        return TrialClass(root)

    def hand_in(self, learner: str, answers: dict | None = None, header_learner: str | None = None) -> Path:
        """Lay down a hand-in with the released notebook and evidence of these answers; return its folder."""
        folder = self.root / "submitted" / learner / LESSON
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(self.root / "release" / LESSON / PAGE, folder / PAGE)
        if answers is not None:
            (folder / "evidence.jsonl").unlink(missing_ok=True)
            writer = EvidenceWriter(
                folder / "evidence.jsonl",
                Header(header_learner or learner, LESSON, "", "digest", "2026-01-05T09:00:00+00:00"),
            )
            for time_s, (exercise, value) in enumerate(answers.items()):
                writer.append(Event(float(time_s), exercise, "answer", value))
        return folder

    def change_notebook(self, learner: str, change) -> None:
        """Let `change` alter the handed-in notebook's JSON."""
        path = self.root / "submitted" / learner / LESSON / PAGE
        content = json.loads(path.read_text(encoding="utf-8"))
        change(content)
        path.write_text(json.dumps(content), encoding="utf-8")

    def points(self, learner: str) -> dict[str, float]:
        """The points in the gradebook, by grade cell."""
        return {grade.name: grade.points for grade in self.course.grades(LESSON, learner)}

    def judged_notebook(self, learner: str):
        """The notebook in autograded/."""
        return nbformat.read(self.root / "autograded" / learner / LESSON / PAGE, as_version=4)

    def page(self, learner: str) -> str:
        """The feedback page."""
        return (self.root / "feedback" / learner / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")


PERFECT = {"l98_first": 3.0, "l98_second": 2.0, WRITTEN: "Because the needle falls."}


@pytest.fixture(scope="session")
def trial_class_template(tmp_path_factory, schema_asked_once):  # noqa: F811
    """One released class, made once; each test works on a copy."""
    return TrialClass.made(tmp_path_factory.mktemp("template") / "class")


@contextmanager
def by_trial_judge():
    """Let the trial judge judge, in this process: others would not know it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("graders.judge.worker_pool.judge_lesson", trial_judge)
        patch.setattr("graders.submissions.verdict_key.ToJudge.has_rubric", True)  # the trial judge is its rubric
        patch.setattr("graders.judge.worker_pool.default_workers", lambda: 0)
        yield


@pytest.fixture
def trial_class(trial_class_template, tmp_path):
    """A class of the trial lesson, whose judge is the trial judge."""
    with by_trial_judge():
        yield trial_class_template.copied(tmp_path / "class")


@pytest.fixture
def perfect():
    """Answers that earn everything."""
    return dict(PERFECT)


@pytest.fixture
def chromium_path():
    """Where headless Chromium is, or a skip where there is none."""
    from tests.browser.conftest import CHROMIUM_NAMES, REQUIRED

    path = next((found for found in map(shutil.which, CHROMIUM_NAMES) if found), None)
    if path is None and not os.environ.get(REQUIRED):
        pytest.skip(f"no Chromium was found; install it, or set {REQUIRED}=1 to make this an error")
    return path
