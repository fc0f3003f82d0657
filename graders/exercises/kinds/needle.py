"""A live needle to watch and to name: which pattern is right depends on the engine that the learner was given."""

from __future__ import annotations

from dataclasses import replace

from engine_sim import PATTERNS, SOUND_PATTERN, fault_named
from graders.outcome import CriterionOutcome
from graders.schema import Choice, ExerciseRubric

from .choices import read_choice
from .common import Kind, need, need_different, need_known, need_sentences, outcome_of, whole

NO_FAULT = "none"
NEAR_LABEL_DEG = 3.0


def check_needle(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless every fault that may be drawn has a pattern, and every such pattern its choice."""
    need(bool(exercise.engine), "engine is missing: name the engine card")
    need(bool(exercise.faults), 'faults is missing: name the faults that may be drawn, "none" among them')
    need(not exercise.tools, "tools do not belong to a needle: it has its own hands")
    need_set_by_label(exercise)
    need_different((choice.id for choice in exercise.choices), "choices")
    patterns = [choice.pattern for choice in exercise.choices]
    need_known(patterns, PATTERNS, "choices.pattern")
    need_different(patterns, "choices.pattern")
    for fault in exercise.faults:
        shown = pattern_of(fault)
        need(bool(shown), f"faults names '{fault}', which the needle does not tell from others: take it out")
        need(shown in patterns, f"choices has none with pattern = '{shown}', which the fault '{fault}' shows: add it")
    need_no_right(exercise)
    need_sentences(exercise.sentences, ("right",))


def need_set_by_label(exercise: ExerciseRubric) -> None:
    """Raise RubricError where the engine's timing itself could be what is wrong beside the fault that is drawn."""
    by_label = exercise.found.set_by == "label" and abs(exercise.found.off_label_deg) <= NEAR_LABEL_DEG
    need(by_label, 'found needs set_by = "label", and at most 3 degrees off it: the fault alone is to be found')


def need_no_right(exercise: ExerciseRubric) -> None:
    """Raise RubricError where a choice says that it is right: the learner's engine decides that."""
    marked = [choice.id for choice in exercise.choices if choice.right]
    need(not marked, f"choices.{marked[0] if marked else ''}.right: the learner's engine decides that; take it out")


def pattern_of(fault: str) -> str:
    """Pattern of the needle on an engine with this fault; a sound one for "none" or nothing."""
    return SOUND_PATTERN if fault in ("", NO_FAULT) else fault_named(fault).pattern


def with_right_pattern(exercise: ExerciseRubric, fault: str) -> ExerciseRubric:
    """The exercise with the choice marked that is right on an engine with this fault."""
    shown = pattern_of(fault)
    return replace(exercise, choices=tuple(replace(one, right=one.pattern == shown) for one in exercise.choices))


def judge_needle(exercise: ExerciseRubric, choice: Choice, _card) -> list[CriterionOutcome]:
    """All or nothing, with the sentence of the choice that was taken."""
    if choice.right:
        return [outcome_of(exercise, 1.0, exercise.sentences["right"])]
    return [outcome_of(exercise, 0.0, choice.sentence, choice.misconception)]


NEEDLE = Kind(frozenset({"choices", "shuffle", "sentences"}), check_needle, read_choice, judge_needle, whole)
