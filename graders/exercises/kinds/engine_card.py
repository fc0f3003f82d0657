"""A card of one's own engine: complete and consistent entries earn the points; nothing about the engine is right or
wrong."""

from __future__ import annotations

from graders.outcome import CriterionOutcome
from graders.schema import Criterion, ExerciseRubric

from . import own_engine
from .common import Kind, Parts, need, need_different, need_known, need_sentences, part_outcome

OF_GROUP = {
    "engine_described": own_engine.ENGINE,
    "distributor_described": own_engine.SPARK,
    "label_described": own_engine.LABEL,
    "readings_entered": own_engine.READ,
}
SENTENCES = dict.fromkeys(OF_GROUP, ("whole", "part")) | {"consistent": ("whole", "conflict")}


def check_engine_card(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless every criterion has a known check and its sentences."""
    need(bool(exercise.criteria), "criteria needs one criterion or more")
    need_different((criterion.id for criterion in exercise.criteria), "criteria")
    need_known((criterion.check for criterion in exercise.criteria), SENTENCES, "criteria.check")
    for criterion in exercise.criteria:
        need_sentences(criterion.sentences, SENTENCES[criterion.check], f"criteria.{criterion.id}.sentences")


def parts_of_card(exercise: ExerciseRubric) -> Parts:
    """Every criterion, with its points."""
    return [(criterion.id, criterion.title, criterion.points) for criterion in exercise.criteria]


def read_engine_card(_exercise: ExerciseRubric, value, _unit: str | None) -> own_engine.Answer:
    """The entries."""
    return own_engine.read_card(value)


def judge_engine_card(exercise: ExerciseRubric, card: own_engine.Answer, _card) -> list[CriterionOutcome]:
    """Every criterion by itself."""
    return [_judged(criterion, card) for criterion in exercise.criteria]


def _judged(criterion: Criterion, card: own_engine.Answer) -> CriterionOutcome:
    part = (criterion.id, criterion.title, criterion.points)
    if criterion.check == "consistent":
        found = own_engine.conflicts(card)
        said = criterion.sentences["conflict"].replace("{conflicts}", " ".join(found)) if found else ""
        return part_outcome(part, float(not found), said or criterion.sentences["whole"])
    group = OF_GROUP[criterion.check]
    empty = own_engine.missing(card, group)
    if not empty:
        return part_outcome(part, 1.0, criterion.sentences["whole"])
    filled = own_engine.entered(card, group)
    share = filled / (filled + len(empty))
    return part_outcome(part, share, criterion.sentences["part"].replace("{missing}", ", ".join(empty)))


ENGINE_CARD = Kind(frozenset({"criteria"}), check_engine_card, read_engine_card, judge_engine_card, parts_of_card)
