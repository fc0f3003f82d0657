"""Several answers to tick."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic import Field, StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.outcome import CriterionOutcome
from graders.schema import AS_DECLARED

from .choice_list import Choice, right_texts, shuffled_choices, texts_of
from .common import (
    AnswerError,
    as_text,
    in_short,
    misconceptions_in,
    need,
    need_different,
    need_sentences,
    outcome_of,
    pairs,
    parts_in,
    remark,
)
from .exercise import Exercise, ModelAnswer
from .tries import FIRST_THEN_HALF

MOST_REMARKS = 2  # on one answer: more would sort the list for somebody who ticked everything
LEFT_OUT = "Something that belongs here was left out"


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class SeveralExercise(Exercise):
    """Some of the `choices` are right; they are shown in a learner's own order unless `shuffle` is false. `sentences`
    has one for all right ("right") and one for anything else ("wrong"); `partial` gives a share of the points."""

    kind: Literal["several"]
    choices: tuple[Choice, ...] = ()
    shuffle: StrictBool | None = None
    partial: StrictBool = True
    sentences: dict[str, str] = Field(default_factory=dict)

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF
    minutes: ClassVar[float] = 1.5

    def check(self) -> None:
        """Raise RubricError unless there are at least one right and one wrong choice, and the sentences."""
        need_different((choice.id for choice in self.choices), "choices")
        both = {choice.right for choice in self.choices} == {True, False}
        need(both, "choices needs at least one with right = true and one with right = false")
        need_sentences(self.sentences, ("right", "wrong"))

    def read(self, value: object, unit: str | None) -> frozenset[str]:
        """The ids that were ticked: at least one, each once."""
        ticked = parts_in(value, list, "A list of choices")
        known = [choice.id for choice in self.choices]
        for name in ticked:
            if name not in known:
                raise AnswerError(f"'{in_short(name)}' is none of the choices of this exercise.")
        if not ticked or len(set(ticked)) != len(ticked):
            raise AnswerError("At least one tick was wanted, and each choice once: tick all that apply.")
        return frozenset(ticked)

    def judge(self, answer: frozenset[str], card: EngineCard | None) -> list[CriterionOutcome]:
        """Full points for exactly the right ones; where `partial` is true, else the share of the right ones that were
        ticked less the share of the wrong ones, never below nothing: ticks at random earn nothing on average, nor does
        ticking everything. The first choices that were judged wrongly have a remark, unless everything was ticked: that
        is no answer yet."""
        missed = [choice for choice in self.choices if choice.right != (choice.id in answer)]
        if not missed:
            return [outcome_of(self, 1.0, self.sentences["right"])]
        share = max(self._share_ticked(answer, True) - self._share_ticked(answer, False), 0.0) if self.partial else 0.0
        remarks = [
            remark(self, choice.id, _about(choice), choice.sentence, choice.misconception)
            for choice in missed[: MOST_REMARKS if len(answer) < len(self.choices) else 0]
        ]
        return [outcome_of(self, share, self.sentences["wrong"]), *remarks]

    def model_answer(self) -> ModelAnswer:
        """All that are right."""
        return ModelAnswer(as_text(self._right()))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The texts of all that are right."""
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

    def shuffled(self, dice: random.Random) -> Self:
        """In a learner's own order, unless the rubric keeps its own."""
        return replace(self, choices=shuffled_choices(self.choices, dice, self.shuffle is not False))

    def _share_ticked(self, answer: frozenset[str], right: bool) -> float:
        ids = {choice.id for choice in self.choices if choice.right is right}
        return len(ids & answer) / len(ids)

    def _right(self) -> list[str]:
        return [choice.id for choice in self.choices if choice.right]


def _about(choice: Choice) -> str:
    # What was left out is not named: that would be the answer.
    return LEFT_OUT if choice.right else f"You ticked: {choice.text}"
