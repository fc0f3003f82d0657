"""A card of one's own engine: complete and consistent entries earn the points; nothing about the engine is right or
wrong."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar, Literal

from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.exercises.sentences import need_declared
from graders.outcome import CriterionOutcome
from graders.schema import AS_DECLARED, Criterion

from . import own_engine
from .common import (
    Parts,
    as_text,
    need,
    need_different,
    need_known,
    part_outcome,
    parts_of_criteria,
)
from .exercise import Exercise, ModelAnswer

OF_GROUP = {
    "engine_described": own_engine.ENGINE,
    "distributor_described": own_engine.SPARK,
    "label_described": own_engine.LABEL,
    "readings_entered": own_engine.READ,
}
SENTENCES = dict.fromkeys(OF_GROUP, ("whole", "part")) | {"consistent": ("whole", "conflict")}
FILLED = {"part": {"missing": str}, "conflict": {"conflicts": str}}  # what fills the braces of their sentences
UNTIL_IT_FITS = "This counts once no two entries contradict each other: look again at those that are named here."
IN_WORDS = "Nothing about the learner's own engine is right or wrong."


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class EngineCardExercise(Exercise):
    """The `criteria` ask for the entries of a group, or that no two entries contradict each other; a group counts where
    none do."""

    kind: Literal["engine_card"]
    criteria: tuple[Criterion, ...] = ()

    minutes: ClassVar[float] = 8.0

    def check(self) -> None:
        """Raise RubricError unless every criterion has a known check and its sentences."""
        need(bool(self.criteria), "criteria needs one criterion or more")
        need_different((criterion.id for criterion in self.criteria), "criteria")
        need_known((criterion.check for criterion in self.criteria), SENTENCES, "criteria.check")
        for criterion in self.criteria:
            need_declared(criterion, findings=SENTENCES[criterion.check], values=FILLED)

    def parts(self) -> Parts:
        """Every criterion, with its points."""
        return parts_of_criteria(self.criteria)

    def read(self, value: object, unit: str | None) -> own_engine.Answer:
        """The entries."""
        return own_engine.read_card(value)

    def judge(self, answer: own_engine.Answer, card: EngineCard | None) -> list[CriterionOutcome]:
        """Every criterion by itself."""
        return [_judged(criterion, answer) for criterion in self.criteria]

    def model_answer(self) -> ModelAnswer:
        """A complete card."""
        return ModelAnswer(as_text(own_engine.EXAMPLE))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """That there is none."""
        return IN_WORDS

    def tables_with_points(self) -> Sequence[Criterion]:
        """The criteria."""
        return self.criteria


def _judged(criterion: Criterion, card: own_engine.Answer) -> CriterionOutcome:
    """Entries that contradict each other describe no engine: then no group of them counts."""
    part = (criterion.id, criterion.title, criterion.points)
    found = own_engine.conflicts(card)
    if criterion.check == "consistent":
        said = criterion.sentences["conflict"].format(conflicts=" ".join(found)) if found else ""
        return part_outcome(part, float(not found), said or criterion.sentences["whole"])
    if found:
        return part_outcome(part, 0.0, UNTIL_IT_FITS)
    group = OF_GROUP[criterion.check]
    empty = own_engine.missing(card, group)
    if not empty:
        return part_outcome(part, 1.0, criterion.sentences["whole"])
    filled = own_engine.entered(card, group)
    share = filled / (filled + len(empty))
    return part_outcome(part, share, criterion.sentences["part"].format(missing=", ".join(empty)))
