"""One answer to choose."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic import StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.exercises.filling import Drawn, filled_text
from graders.outcome import CriterionOutcome
from graders.schema import AS_DECLARED

from .choice_list import Choice, filled_choices, read_choice, right_choice, right_texts, shuffled_choices, texts_of
from .common import misconceptions_in, need, need_different, outcome_of, pairs
from .exercise import ModelAnswer, VariedExercise
from .tries import FIRST_THEN_HALF


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class ChoiceExercise(VariedExercise):
    """One of the `choices` is right; they are shown in the rubric's order unless `shuffle` is true."""

    kind: Literal["choice"]
    choices: tuple[Choice, ...] = ()
    shuffle: StrictBool | None = None

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF

    def check(self) -> None:
        """Raise RubricError unless exactly one choice is right."""
        need_different((choice.id for choice in self.choices), "choices")
        need(sum(choice.right for choice in self.choices) == 1, "choices needs exactly one choice with right = true")

    def read(self, value: object, unit: str | None) -> Choice:
        """The choice that was taken."""
        return read_choice(self.choices, value)

    def judge(self, answer: Choice, card: EngineCard | None) -> list[CriterionOutcome]:
        """All or nothing, with the sentence of the choice that was taken."""
        return [outcome_of(self, float(answer.right), answer.sentence, answer.misconception)]

    def model_answer(self) -> ModelAnswer:
        """The right choice."""
        return ModelAnswer(right_choice(self.choices).id)

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The text of the right choice."""
        return right_texts(self.choices)

    def form_traits(self) -> dict:
        """The choices by id and text."""
        return {"choices": pairs(self.choices)}

    def misconceptions(self) -> set[str]:
        """Those of the choices."""
        return misconceptions_in(self.choices)

    def texts(self) -> list[str]:
        """The choices."""
        return texts_of(self.choices)

    def filled(self, numbers: Mapping[str, Drawn]) -> Self:
        """Question and choices with the learner's numbers."""
        question = filled_text(self.question, numbers, "question")
        return replace(self, question=question, choices=filled_choices(self.choices, numbers))

    def shuffled(self, dice: random.Random) -> Self:
        """In a learner's own order where the rubric wants it."""
        return replace(self, choices=shuffled_choices(self.choices, dice, bool(self.shuffle)))
