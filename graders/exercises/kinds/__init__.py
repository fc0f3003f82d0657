"""The kinds of exercises: what a rubric has to say, how an answer is read, how it is judged."""

from __future__ import annotations

from collections.abc import Iterable

from engine_sim import EngineCard, Event
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import ExerciseRubric

from .choices import CHOICE, SEVERAL
from .common import AnswerError, Kind, Parts, missing_part, need
from .curve import CURVE
from .diagnosis import DIAGNOSIS, judge_diagnosis
from .engine_card import ENGINE_CARD
from .hook_up import HOOK_UP
from .needle import NEEDLE
from .numbers import NUMBER, SUM
from .order import ORDER
from .written import BENCH, WRITTEN

__all__ = ["KINDS", "AnswerError", "check", "judge_answers", "nothing_done", "parts", "read"]

KINDS: dict[str, Kind] = {
    "bench": BENCH,
    "choice": CHOICE,
    "curve": CURVE,
    "diagnosis": DIAGNOSIS,
    "engine_card": ENGINE_CARD,
    "hook_up": HOOK_UP,
    "needle": NEEDLE,
    "number": NUMBER,
    "order": ORDER,
    "several": SEVERAL,
    "sum": SUM,
    "written": WRITTEN,
}
OF_EVERY_KIND = frozenset({"id", "title", "kind", "objective", "points", "question", "engine"})
OF_VARIANTS = frozenset({"draw", "answer_from", "worked_out"})
VARIED = ("choice", "number", "sum", "written")
OF_AN_ENGINE = frozenset({"day", "found", "tools", "faults"})
AT_AN_ENGINE = ("bench", "needle", "diagnosis")


def check(exercise: ExerciseRubric, given: Iterable[str]) -> None:
    """Raise RubricError, without the name of the file, for an exercise that cannot be used; `given` are the fields
    that the rubric filled in."""
    need(exercise.kind in KINDS, f"is of kind '{exercise.kind}'; there are {', '.join(KINDS)}")
    kind = KINDS[exercise.kind]
    belonging = OF_EVERY_KIND | kind.fields
    belonging |= OF_VARIANTS if exercise.kind in VARIED else frozenset()
    belonging |= OF_AN_ENGINE if exercise.kind in AT_AN_ENGINE else frozenset()
    strange = sorted(set(given) - belonging)
    need(not strange, f"the field {', '.join(strange)} does not belong to kind '{exercise.kind}': take it out")
    kind.check(exercise)
    need(exercise.points > 0, f"is worth {exercise.points:g} points: give it more than none")


def parts(exercise: ExerciseRubric) -> Parts:
    """Id, title and points of everything in an exercise that earns points."""
    return KINDS[exercise.kind].parts(exercise)


def read(exercise: ExerciseRubric, value, unit: str | None):
    """An answer of the evidence as the judge takes it. Raises AnswerError where it is none of this exercise."""
    return KINDS[exercise.kind].read(exercise, value, unit)


def judge_answers(exercise: ExerciseRubric, events: tuple[Event, ...], card: EngineCard | None) -> ExerciseResult:
    """Judge every attempt; the one with the most points counts, of equal ones the latest.

    Raises AnswerError where an event holds an answer that no form writes.
    """
    if exercise.kind == "diagnosis":
        return judge_diagnosis(exercise, events) or nothing_done(exercise)
    answers = [event for event in events if event.control == "answer"]
    if exercise.kind == "written":
        return _latest_text(exercise, answers)
    attempts = [
        _result(exercise, KINDS[exercise.kind].judge(exercise, read(exercise, event.value, event.unit), card))
        for event in answers
    ]
    if not attempts:
        return nothing_done(exercise)
    return max(reversed(attempts), key=lambda result: result.points)


def nothing_done(exercise: ExerciseRubric) -> ExerciseResult:
    """The result of an exercise at which nobody worked."""
    return _result(exercise, [missing_part(part) for part in parts(exercise)])


def _result(exercise: ExerciseRubric, criteria: list[CriterionOutcome]) -> ExerciseResult:
    return ExerciseResult(exercise.id, exercise.title, exercise.points, tuple(criteria))


def _latest_text(exercise: ExerciseRubric, answers: list[Event]) -> ExerciseResult:
    """The latest text is what a person marks."""
    texts = [event.value for event in answers if isinstance(event.value, str) and event.value.strip()]
    if not texts:
        return nothing_done(exercise)
    waiting = tuple(KINDS["written"].judge(exercise, texts[-1], None))
    return ExerciseResult(
        exercise.id,
        exercise.title,
        exercise.points,
        waiting,
        needs_person="A written answer waits to be marked.",
        answer=texts[-1],
    )
