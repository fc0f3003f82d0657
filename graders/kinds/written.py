"""An answer in the learner's own words, which a person marks, and the work at the bench, which a replay judges."""

from __future__ import annotations

from ..exercise import ExerciseRubric
from ..outcome import CriterionOutcome, Outcome
from .common import AnswerError, Kind, Parts, need, need_different, whole

WAITS = "Your answer was handed in; a person reads and marks it."


def read_written(_exercise: ExerciseRubric, value, _unit: str | None) -> str:
    """The text."""
    if not isinstance(value, str):
        raise AnswerError(f"A text was wanted and '{str(value)[:40]}' was found.")
    return value


def judge_written(exercise: ExerciseRubric, _text: str, _card) -> list[CriterionOutcome]:
    """Nothing is earned before a person has read it."""
    return [CriterionOutcome(exercise.id, exercise.title, Outcome.NOT_YET, 0.0, exercise.points, WAITS)]


def check_bench(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless there is an engine, and criteria."""
    need(bool(exercise.engine), "engine is missing: name the engine card")
    need(bool(exercise.criteria), "criteria needs one criterion or more")
    need_different((criterion.id for criterion in exercise.criteria), "criteria")


def parts_of_bench(exercise: ExerciseRubric) -> Parts:
    """Every criterion, with its points."""
    return [(criterion.id, criterion.title, criterion.points) for criterion in exercise.criteria]


def _not_an_answer(*_):
    raise AnswerError("Work at the bench is not an answer; it is replayed.")


WRITTEN = Kind(frozenset(), lambda exercise: None, read_written, judge_written, whole)
BENCH = Kind(frozenset({"criteria"}), check_bench, _not_an_answer, _not_an_answer, parts_of_bench)
