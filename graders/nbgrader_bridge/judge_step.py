"""The steps that nbgrader runs for us, named in nbgrader_config.py: the judge in the place of its Execute, and guards.

No code of a learner's is ever run. Everything before the judge makes a hand-in harmless and whole again; everything
after it (grades, late penalties, feedback, marking screen) is nbgrader's own. nbgrader gives full points to a grade
cell that shows no output, so the judge always writes one, and writes 0.0 where it could not judge. This module is the
door: a class's configuration names every step of ours from here.
"""

from __future__ import annotations

import contextlib
import math
import secrets
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from dataclasses import asdict, replace
from pathlib import Path

import nbformat
from nbformat import NotebookNode
from nbgrader import utils
from nbgrader.api import Gradebook, MissingEntry
from nbgrader.preprocessors import NbGraderPreprocessor
from traitlets import Dict, Unicode

from engine_sim.version import Edition
from graders.feedback import exercise_html, exercise_text, inert_text, marking_html, notes_html, problem_html
from graders.judge.worker_pool import JudgePool, Task
from graders.outcome import FAULTS_OF_OURS, UNFORESEEN, ExerciseResult, LessonResult
from graders.submissions.folder import SECRET_NAME, TIMESTAMP_NAME, Submission, for_learners
from graders.submissions.verdict_key import ToJudge, to_judge

from .feedback_page import FeedbackPageExporter, HiddenTestsLeftOut, MarksForPage
from .notebook import RECORD, HandInExporter, new_cell
from .sanitize import EmptiedMarksRemoved, MarksAsReleased, MissingCellsPutBack, NotesInert, course_of

__all__ = [
    "RECORD",
    "AskForPerson",
    "EmptiedMarksRemoved",
    "FeedbackPageExporter",
    "HandInExporter",
    "HiddenTestsLeftOut",
    "Judge",
    "MarksAsReleased",
    "MarksForPage",
    "MissingCellsPutBack",
    "NotesInert",
    "clamped_points",
    "judging_by",
    "shortened",
    "show_score",
]

NO_RUBRIC = "no rubric"
ITS_OWN_TESTS = (
    "This lesson has no rubric: only its own test cells can judge it, and this class's configuration "
    "does not name graders.nbgrader_bridge.CodeInBox, which runs them."
)
POINTS_STAND = "{title}: its {points:g} points are those that it had before the course was updated."
ANOTHER_SPELLING = (
    "This was made under the name '{name}', and the class has '{learner}'. Numbers, and for another name the engines "
    "too, are drawn from the name: begin your next lessons as '{learner}'."
)
LONGEST_SENTENCE = 600

_judging: ContextVar = ContextVar("judging", default=(None, None))


@contextlib.contextmanager
def judging_by(
    function: Callable[..., LessonResult], find: Callable[[str, str], ToJudge] | None = None
) -> Iterator[None]:
    """Let `function`, called as judge_lesson is, give the verdicts while inside, and `find(learner, lesson)` what is to
    be judged: a class run has the verdicts ahead, and knows whose each hand-in is."""
    token = _judging.set((function, find))
    try:
        yield
    finally:
        _judging.reset(token)


class Judge(NbGraderPreprocessor):
    """Judges a hand-in by its evidence and writes score and feedback into every grade cell.

    The evidence is read from the folder of hand-ins, never from a copy in which files of the course may have replaced
    it. Anything unforeseen ends in 0.0, a sentence and a call for a person; nothing is raised.
    """

    engines = Unicode("", help="Folder of the engine cards that the evidence may name.").tag(config=True)
    submitted_directory = Unicode(
        "",
        help="Folder of the hand-ins in the class folder, where it is not nbgrader's "
        "CourseDirectory.submitted_directory.",
    ).tag(config=True)

    made_with = Dict(help="The edition of the course that the class was made with, `course` and `model`.").tag(
        config=True
    )

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        learner, lesson = resources["nbgrader"]["student"], resources["nbgrader"]["assignment"]
        wanted, result = self._judged(learner, lesson)
        earlier = nb.metadata.get(RECORD, {}).get("remarks", [])
        result = replace(result, problem=shortened(result.problem))
        strangers = _strangers(wanted.found, resources["nbgrader"]["notebook"]) if earlier else []
        spelled = [ANOTHER_SPELLING.format(name=wanted.name, learner=learner)] if wanted.name != learner else []
        remarks = [*map(shortened, (*earlier, *strangers, *spelled, *wanted.found.remarks, *result.notes))]
        record = {
            "learner": learner,
            "lesson": lesson,
            "problem": result.problem,
            "problem_kind": result.problem_kind,
            "remarks": remarks,
            "key": _key(wanted, result),
            "hand_in": wanted.found.digest(),
            "edition": asdict(Edition.here()),
            "exercises": {},
            "runs_code": result.problem_kind == NO_RUBRIC,
        }
        before = _points_before(result, resources["nbgrader"])
        for cell in nb.cells:
            if utils.is_grade(cell):
                found = record["exercises"][cell.metadata.nbgrader.grade_id] = self._write(cell, result, before)
                if found.get("stands"):
                    remarks.append(POINTS_STAND.format(**found))
        nb.metadata[RECORD] = record
        _way_back(Path(resources["metadata"]["path"]))
        if remarks:
            nb.cells.insert(0, new_cell("markdown", notes_html(remarks), "notes-on-the-hand-in"))
        return nb, resources

    def _judged(self, learner: str, lesson: str) -> tuple[ToJudge, LessonResult]:
        root, engines = Path(course_of(self).root), Path(self.engines)
        submitted = self.submitted_directory or course_of(self).submitted_directory
        nothing = Submission(root / submitted / learner / lesson, {})
        wanted = ToJudge(learner, lesson, nothing, learner, engines)
        judge, find = _judging.get()
        try:
            wanted = find(learner, lesson) if find else to_judge(root, submitted, learner, lesson, engines)
            if not wanted.has_rubric:
                return wanted, LessonResult(lesson, learner, (), ITS_OWN_TESTS, NO_RUBRIC)
            if wanted.found.problem:
                return wanted, LessonResult(lesson, learner, (), wanted.found.problem, "refused")
            return wanted, (judge or _judged_alone)(*wanted.arguments)
        except Exception as error:  # fail closed: nothing may pass as full points
            self.log.exception("The judge failed on %s, %s", learner, lesson)
            return wanted, LessonResult(
                lesson,
                learner,
                (),
                (
                    f"This work could not be judged, for a reason that lies in the course and not in the work "
                    f"({type(error).__name__}): the instructor must look at it."
                ),
                UNFORESEEN,
            )

    def _write(self, cell: NotebookNode, result: LessonResult, before: dict[str, float]) -> dict:
        marks = cell.metadata.nbgrader
        max_points = float(marks["points"])
        exercise = result.exercise(marks["grade_id"])
        problem = result.problem or ("" if exercise else "The judge has no rubric for this exercise.")
        if utils.is_solution(cell):
            return self._write_answer(cell, exercise, max_points, problem)
        points, stands = 0.0, False
        if problem or exercise is None:
            text = for_learners(problem)
            page = problem_html(text, max_points)
        else:
            points, earlier = clamped_points(exercise, max_points), min(before.get(exercise.exercise, 0.0), max_points)
            stands = earlier > points
            if stands:
                points = earlier
                exercise = replace(exercise, needs_person=exercise.needs_person if earlier < max_points else "")
            page, text = exercise_html(exercise, points, max_points), exercise_text(exercise, points, max_points)
        show_score(cell, points, page, text)
        return {
            "title": exercise.title if exercise else marks["grade_id"],
            "points": points,
            "max_points": max_points,
            "needs_person": problem or exercise.needs_person,
            "other_models": list(exercise.other_models) if exercise else [],
            "stands": stands,
            "criteria": _criteria(exercise),
            "trace": asdict(exercise.trace) if exercise and exercise.trace else None,
            "done": bool(exercise and exercise.done),
        }

    def _write_answer(
        self, cell: NotebookNode, exercise: ExerciseResult | None, max_points: float, problem: str
    ) -> dict:
        """Put the answer into the cell, after which its checksum differs and nbgrader asks for a person's mark."""
        typed = cell.source if utils.compute_checksum(cell) != cell.metadata.nbgrader.get("checksum") else ""
        answer = exercise.answer.strip() if exercise else ""
        if answer and exercise:
            cell.source = "\n\n".join(filter(None, (inert_text(answer), typed, marking_html(exercise))))
        reason = problem or ((exercise.needs_person or "a written answer to be marked") if answer or typed else "")
        return {
            "title": exercise.title if exercise else cell.metadata.nbgrader["grade_id"],
            "points": 0.0,
            "max_points": max_points,
            "needs_person": reason,
            "answered": bool(answer or typed),
        }


class AskForPerson(NbGraderPreprocessor):
    """Marks in the gradebook what the judge left to a person; runs after SaveAutoGrades, which clears that mark."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        names = resources["nbgrader"]
        exercises = nb.metadata.get(RECORD, {}).get("exercises", {})
        with Gradebook(names["db_url"]) as gradebook:
            for grade_id, found in exercises.items():
                if found["needs_person"]:
                    grade = gradebook.find_grade(grade_id, names["notebook"], names["assignment"], names["student"])
                    grade.needs_manual_grade = True
                    if found.get("other_models") and not found["points"]:
                        grade.auto_score = None  # nobody scored a nought
            gradebook.db.commit()
        return nb, resources


def _judged_alone(*arguments) -> LessonResult:
    """The verdict for nbgrader's own command, in a process of its own with the limits of a class run."""
    task = Task(*arguments)
    with JudgePool([task]) as pool:
        return pool.verdict(*arguments)


def shortened(sentence: str) -> str:
    """A sentence that may quote what was handed in, cut where it becomes a book."""
    if len(sentence) <= LONGEST_SENTENCE:
        return sentence
    half = LONGEST_SENTENCE // 2
    return f"{sentence[:half]} … {sentence[-half:]}"


def _strangers(found: Submission, wanted: str) -> list[str]:
    """A sentence that names notebooks of other names, for the hand-in whose own notebook is not there or illegible."""
    others = [name for name in found.files if name.endswith(".ipynb") and name != f"{wanted}.ipynb"]
    if not others:
        return []
    return [
        f"The folder holds {', '.join(others[:3])} and {wanted}.ipynb was wanted: if it was renamed, name it so "
        "and hand in again to have your notes on the page."
    ]


def _points_before(result: LessonResult, names: dict) -> dict[str, float]:
    """The points that the gradebook has of exercises with work which this edition cannot judge: an edition that could
    has given them, or a person will."""
    with_others = [one.exercise for one in result.exercises if one.other_models]
    before: dict[str, float] = {}
    if with_others:
        with Gradebook(names["db_url"]) as gradebook:
            for name in with_others:
                with contextlib.suppress(MissingEntry):
                    grade = gradebook.find_grade(name, names["notebook"], names["assignment"], names["student"])
                    before[name] = float(grade.auto_score or 0.0)
    return before


def _key(wanted: ToJudge, result: LessonResult) -> str:
    """The key of the verdict, or another one where nothing was judged, so that the next class run judges it."""
    return f"{wanted.key()} without a judge" if result.problem_kind in FAULTS_OF_OURS else wanted.key()


def _criteria(exercise: ExerciseResult | None) -> list[dict]:
    """What was found of each criterion, as the class report needs it."""
    return [
        {
            "criterion": one.criterion,
            "title": one.title,
            "outcome": one.outcome.value,
            "points": one.points,
            "max_points": one.max_points,
            "misconception": one.misconception or "",
        }
        for one in (exercise.criteria if exercise else ())
    ]


def _way_back(folder: Path) -> None:
    """Put what nbgrader's release_feedback reads into a judged folder whose hand-in did not come through the exchange.

    It stops the whole class at the first one that has no time and no secret; an empty time is none, and nobody but the
    instructor knows the secret.
    """
    for name, text in ((TIMESTAMP_NAME, ""), (SECRET_NAME, secrets.token_hex(20))):
        if folder.is_dir() and not (folder / name).exists():
            (folder / name).write_text(text, encoding="utf-8")


def clamped_points(exercise: ExerciseResult, max_points: float) -> float:
    """The exercise's points in the cell's own scale, between 0 and `max_points`. Raises nothing: NaN counts as 0."""
    scale = max_points / exercise.max_points if exercise.max_points else 0.0
    points = exercise.points * scale
    return round(min(max(points, 0.0), max_points), 4) if math.isfinite(points) else 0.0


def show_score(cell: NotebookNode, points: float, page: str, text: str) -> None:
    """Write a score as nbgrader reads it, the first output and a plain number, and the feedback as the second."""
    score = {
        "output_type": "execute_result",
        "metadata": {},
        "data": {"text/plain": repr(float(points))},
        "execution_count": None,
    }
    said = {"output_type": "display_data", "metadata": {}, "data": {"text/html": page, "text/plain": text}}
    cell.outputs, cell.execution_count = nbformat.from_dict([score, said]), None
