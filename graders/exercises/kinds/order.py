"""Steps to put in order: every order that keeps the constraints is right."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

from graders.outcome import CriterionOutcome
from graders.schema import ExerciseRubric

from .common import (
    AnswerError,
    Kind,
    need,
    need_different,
    need_known,
    need_sentences,
    outcome_of,
    parts_in,
    remark,
    whole,
)

TOO_EARLY = "Too early: {}"


def check_order(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless some orders are right and others are not."""
    names = [step.id for step in exercise.steps]
    need(len(names) > 1, "steps needs two steps or more")
    need_different(names, "steps")
    need(bool(exercise.before), "before needs one constraint or more: without any, every order would be right")
    need_known((name for pair in exercise.before for name in (pair.first, pair.then)), names, "before")
    need_sentences(exercise.sentences, ("right", "wrong"))
    try:
        right_order(exercise)
    except CycleError as error:
        need(False, f"before goes round in a circle ({', '.join(error.args[1])}): no order could keep it")


def right_order(exercise: ExerciseRubric) -> list[str]:
    """One order that keeps every constraint; steps that are free stay as the rubric lists them. Raises CycleError."""
    sorter = TopologicalSorter({step.id: [] for step in exercise.steps})
    for pair in exercise.before:
        sorter.add(pair.then, pair.first)
    return list(sorter.static_order())


def read_order(exercise: ExerciseRubric, value, _unit: str | None) -> list[str]:
    """The ids of all steps, each once, in the order that was given."""
    order = parts_in(value, list, "A list of steps")
    names = [step.id for step in exercise.steps]
    if not all(isinstance(name, str) for name in order) or sorted(order) != sorted(names):
        raise AnswerError(f"Each of the {len(names)} steps was wanted once: put all of them in order.")
    return order


def judge_order(exercise: ExerciseRubric, order: list[str], _card) -> list[CriterionOutcome]:
    """Full points where every constraint is kept; where `partial` is true, else the share of those kept. Every broken
    constraint that has a sentence has its remark."""
    place = {name: number for number, name in enumerate(order)}
    broken = [pair for pair in exercise.before if place[pair.first] > place[pair.then]]
    if not broken:
        return [outcome_of(exercise, 1.0, exercise.sentences["right"])]
    share = 1.0 - len(broken) / len(exercise.before) if exercise.partial else 0.0
    texts = {step.id: step.text for step in exercise.steps}
    remarks = [
        remark(
            exercise, f"{pair.first}.{pair.then}", TOO_EARLY.format(texts[pair.then]), pair.sentence, pair.misconception
        )
        for pair in broken
        if pair.sentence
    ]
    return [outcome_of(exercise, share, exercise.sentences["wrong"]), *remarks]


ORDER = Kind(frozenset({"steps", "before", "partial", "sentences"}), check_order, read_order, judge_order, whole)
