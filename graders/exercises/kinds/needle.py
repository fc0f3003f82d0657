"""A live needle to watch and to name: which pattern is right depends on the engine that the learner was given."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic import Field, StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import PATTERNS, SOUND_PATTERN, Draw, EngineCard, Header, fault_named
from graders.bench.assignment import NO_FAULT, fault_of
from graders.outcome import CriterionOutcome
from graders.schema import AS_DECLARED, EngineExercise, proven

from .choice_list import (
    Choice,
    need_no_right,
    read_choice,
    right_choice,
    right_texts,
    shuffled_choices,
    still_wrong,
    texts_of,
)
from .common import misconceptions_in, need, need_different, need_known, need_sentences, outcome_of, pairs
from .engine_set_by_label import need_set_by_label
from .exercise import Exercise, ModelAnswer
from .tries import FIRST_THEN_HALF


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class NeedleExercise(EngineExercise, Exercise):
    """Each of the `choices` names a `pattern`; right is that which the learner's engine shows."""

    kind: Literal["needle"]
    choices: tuple[Choice, ...] = ()
    shuffle: StrictBool | None = None
    sentences: dict[str, str] = Field(default_factory=dict)

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF
    minutes: ClassVar[float] = 3.0

    def check(self) -> None:
        """Raise RubricError unless every fault that may be drawn has a pattern, and every such pattern its choice."""
        need(bool(self.engine), "engine is missing: name the engine card")
        need(bool(self.faults), 'faults is missing: name the faults that may be drawn, "none" among them')
        need(not self.tools, "tools do not belong to a needle: it has its own hands")
        need_set_by_label(self.found)
        need_different((choice.id for choice in self.choices), "choices")
        patterns = [choice.pattern for choice in self.choices]
        need_known(patterns, PATTERNS, "choices.pattern")
        need_different(patterns, "choices.pattern")
        for fault in self.faults:
            shown = pattern_of(fault)
            need(bool(shown), f"faults names '{fault}', which the needle does not tell from others: take it out")
            here = shown in patterns
            need(here, f"choices has none with pattern = '{shown}', which the fault '{fault}' shows: add it")
        need_no_right(self.choices)
        need_sentences(self.sentences, ("right",))

    def read(self, value: object, unit: str | None) -> Choice:
        """The choice that was taken."""
        return read_choice(self.choices, value)

    def judge(self, answer: Choice, card: EngineCard | None) -> list[CriterionOutcome]:
        """All or nothing, with the sentence of the choice that was taken."""
        if answer.right:
            return [outcome_of(self, 1.0, self.sentences["right"])]
        return [outcome_of(self, 0.0, answer.sentence, answer.misconception)]

    def model_answer(self) -> ModelAnswer:
        """The pattern of the learner's engine."""
        return ModelAnswer(right_choice(self.choices).id)

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The pattern of the learner's engine."""
        return right_texts(self.choices)

    def form_traits(self) -> dict:
        """The choices by id and text."""
        return {"choices": pairs(self.choices)}

    def misconceptions(self) -> set[str]:
        """Those of the choices that are wrong on the learner's engine."""
        return misconceptions_in(still_wrong(self.choices))

    def texts(self) -> list[str]:
        """The choices."""
        return texts_of(self.choices)

    def for_engine(self, card: EngineCard | None, draw: Draw) -> Self:
        """The choice is right that names the pattern of the fault drawn."""
        shown = pattern_of(fault_of(self, proven(card, "the engine"), draw))
        return replace(self, choices=tuple(replace(one, right=one.pattern == shown) for one in self.choices))

    def shuffled(self, dice: random.Random) -> Self:
        """In a learner's own order where the rubric wants it."""
        return replace(self, choices=shuffled_choices(self.choices, dice, bool(self.shuffle)))


def pattern_of(fault: str) -> str:
    """Pattern of the needle on an engine with this fault; a sound one for "none" or nothing."""
    return SOUND_PATTERN if fault in ("", NO_FAULT) else fault_named(fault).pattern
