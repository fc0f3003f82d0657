"""An answer in the learner's own words, which a person marks, and the work at the bench, which a replay judges."""

from __future__ import annotations

from graders.outcome import CriterionOutcome, Outcome
from graders.schema import ExerciseRubric

from .common import AnswerError, Kind, Parts, need, need_different, whole

WAITS = "Your answer was handed in; a person reads and marks it."


MARKED_FOR = "A person marks this. All points: {}"


def check_written(exercise: ExerciseRubric) -> None:
    """Raise RubricError where two things that a person marks for have one name, or one is worth nothing."""
    need_different((one.id for one in exercise.marking), "marking")
    for one in exercise.marking:
        need(one.points > 0, f"marking {one.id} is worth {one.points:g} points: give it more than none")
        need(all(one.levels), f"marking {one.id} needs three levels in words: for none, half and all of its points")


def read_written(_exercise: ExerciseRubric, value, _unit: str | None) -> str:
    """The text."""
    if not isinstance(value, str):
        raise AnswerError(f"A text was wanted and '{str(value)[:40]}' was found.")
    return value


def judge_written(exercise: ExerciseRubric, _text: str, _card) -> list[CriterionOutcome]:
    """Nothing is earned before a person has read it; what it will be marked for is said where the rubric says so."""
    if not exercise.marking:
        return [CriterionOutcome(exercise.id, exercise.title, Outcome.NOT_YET, 0.0, exercise.points, WAITS)]
    return [
        CriterionOutcome(one.id, one.title, Outcome.NOT_YET, 0.0, one.points, MARKED_FOR.format(one.levels[-1]))
        for one in exercise.marking
    ]


def parts_of_written(exercise: ExerciseRubric) -> Parts:
    """What a person marks for, with its points; else the answer as a whole."""
    return [(one.id, one.title, one.points) for one in exercise.marking] or whole(exercise)


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


WRITTEN = Kind(frozenset({"marking"}), check_written, read_written, judge_written, parts_of_written)
BENCH = Kind(frozenset({"criteria"}), check_bench, _not_an_answer, _not_an_answer, parts_of_bench)
