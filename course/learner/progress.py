"""How far a learner is in each lesson, by the judge that the class run uses; kept until work, rubric or code change.

`python -m course.learner.progress FOLDER` judges whatever has changed and keeps it in the folder's `.progress.json`.
The judge replays whole evenings at a bench: a server runs this as a process of its own, so that no needle waits for it.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import json
import os
import sys
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import engine_sim
import graders
from course import ENGINES
from engine_sim import Event, Evidence, EvidenceError, TimingCourseError, read_evidence
from engine_sim.version import code_digest
from graders.exercises.kinds.written import WrittenExercise
from graders.exercises.loader import Rubric, cards_folder, rubric_for, rubric_path
from graders.judge import judge_lesson
from graders.submissions.verdict_key import verdict_code

from .lesson_folder import EVIDENCE_NAME, for_learners, learner_of

KEPT = ".progress.json"


@dataclass(frozen=True)
class LessonProgress:
    """What one lesson has earned: points, exercises worked on and in all, the exercise of the last act, and what is
    wrong with the work where it cannot be judged. `key` says what it was worked out from.

    `own_marks` of `own_most` are what somebody who learns alone gave their own written answers: never part of `points`.
    """

    key: str = ""
    points: float = 0.0
    max_points: float = 0.0
    tried: int = 0
    exercises: int = 0
    last: str = ""
    problem: str = ""
    own_marks: float = 0.0
    own_most: float = 0.0

    @property
    def complete(self) -> bool:
        """Whether there is nothing more to earn: all points, but those of answers that somebody alone has marked."""
        return self.max_points > 0 and self.points + self.own_most >= self.max_points


def begun(lesson: Path) -> bool:
    """Whether there is work in a lesson's folder."""
    evidence = lesson / EVIDENCE_NAME
    return evidence.is_file() and evidence.stat().st_size > 0


def progress_in(lesson: Path) -> LessonProgress:
    """Judge the work in a lesson's folder. A lesson without a rubric, with code of a class's own, has no points."""
    if not rubric_path(lesson.name, lesson).is_file():
        return LessonProgress(key=_key(lesson))
    rubric = rubric_for(lesson.name, lesson)
    in_all = sum(float(exercise.points) for exercise in rubric.exercises.values())
    nothing = LessonProgress(key=_key(lesson), max_points=in_all, exercises=len(rubric.exercises))
    if not begun(lesson):
        return nothing
    result = judge_lesson(lesson.name, lesson / EVIDENCE_NAME, ENGINES, learner_of(lesson), lesson, as_told=True)
    own = most = 0.0
    try:
        evidence = read_evidence(lesson / EVIDENCE_NAME)
    except EvidenceError:
        events: tuple[Event, ...] = ()
    else:
        events = evidence.events
        own, most = _marked_alone(rubric, evidence)
    touched = {event.exercise for event in events} & set(rubric.exercises)
    last = next((event.exercise for event in reversed(events) if event.exercise in touched), "")
    return replace(
        nothing,
        points=result.points,
        tried=len(touched),
        last=last,
        problem=for_learners(result.problem),
        own_marks=own,
        own_most=most,
    )


def _marked_alone(rubric: Rubric, evidence: Evidence) -> tuple[float, float]:
    """The marks that somebody who learns alone gave their written answers, and the most there were to give."""
    own = most = 0.0
    for exercise in rubric.exercises.values():
        if isinstance(exercise, WrittenExercise) and not evidence.header.class_id:
            marks = exercise.own_marks(evidence.of_exercise(exercise.id))
            own += sum(marks.values()) if marks else 0.0
            most += float(exercise.points) if marks else 0.0
    return own, most


def kept_progress(folder: Path) -> dict[str, LessonProgress]:
    """What was worked out before, by lesson, up to date or not; nothing where it cannot be read."""
    try:
        kept = json.loads((folder / KEPT).read_text(encoding="utf-8"))
        return {lesson: LessonProgress(**values) for lesson, values in kept.items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def bring_up_to_date(folder: Path) -> dict[str, LessonProgress]:
    """Judge the lessons of `folder` whose work, rubric, learner or judge changed, keep the results and return all."""
    found = kept_progress(folder)
    for notebook in sorted(folder.glob("*/*.ipynb")):
        lesson = notebook.parent
        if notebook.stem != lesson.name:
            continue
        before = found.get(lesson.name)
        if before is not None and before.key == _key(lesson):
            continue
        try:
            found[lesson.name] = progress_in(lesson)
        except TimingCourseError as error:
            found[lesson.name] = LessonProgress(key=_key(lesson), problem=for_learners(str(error)))
        _keep(folder, found)
    return found


def _keep(folder: Path, found: dict[str, LessonProgress]) -> None:
    part = folder / f"{KEPT}.part"
    part.write_text(json.dumps({lesson: asdict(one) for lesson, one in found.items()}), encoding="utf-8")
    os.replace(part, folder / KEPT)


def _key(lesson: Path) -> str:
    total = hashlib.sha256(f"{_judge_digest()}\n{learner_of(lesson)}\n".encode())
    cards = sorted(cards_folder(lesson).glob("*.toml"))
    for path in (rubric_path(lesson.name, lesson), *cards, lesson / "class.toml", lesson / EVIDENCE_NAME):
        total.update(path.read_bytes() if path.is_file() else b"none")
    return total.hexdigest()[:32]


@functools.cache
def _judge_digest() -> str:
    code = code_digest(verdict_code(Path(engine_sim.__file__).parent, Path(graders.__file__).parent))
    cards = b"".join(path.read_bytes() for path in sorted(ENGINES.glob("*.toml")))
    return code + hashlib.sha256(cards).hexdigest()


if __name__ == "__main__":
    with contextlib.suppress(OSError, AttributeError):  # Windows has no nice
        os.nice(10)
    bring_up_to_date(Path(sys.argv[1]))
