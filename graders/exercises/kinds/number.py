"""One number with its unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic import Field
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.exercises.filling import Drawn, filled_text
from graders.exercises.units import FINDINGS
from graders.outcome import CriterionOutcome
from graders.schema import AS_DECLARED, Number, WrongNumber, proven

from .common import misconceptions_in, need_sentences, whole
from .exercise import ModelAnswer, VariedExercise
from .number_with_unit import (
    NumberWithUnit,
    check_number,
    filled_number,
    judge_number,
    need_mistakes_apart,
    number_in_words,
    read_number,
    units_of,
    without_formula,
)
from .tries import TWICE_THEN_HALF


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class NumberExercise(VariedExercise):
    """A number is wanted: a `value` or a `formula`, in one of the `units`, within the `tolerance` in its own `unit`.
    `wrong` are the numbers that known mistakes lead to."""

    kind: Literal["number"]
    value: Number | None = None
    formula: str = ""
    unit: str = ""
    units: tuple[str, ...] = ()
    tolerance: Number = 0.0
    wrong: tuple[WrongNumber, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)

    answers_count: ClassVar[tuple[float, ...]] = TWICE_THEN_HALF

    def check(self) -> None:
        """Raise RubricError unless value, unit, tolerance and sentences are there."""
        check_number(self, "")
        need_sentences(self.sentences, FINDINGS)

    def read(self, value: object, unit: str | None) -> NumberWithUnit:
        """The number and its unit."""
        return read_number(value, unit)

    def judge(self, answer: NumberWithUnit, card: EngineCard | None) -> list[CriterionOutcome]:
        """Full points for a right number in any of its units."""
        return [judge_number(whole(self)[0], self, self.sentences, answer)]

    def model_answer(self) -> ModelAnswer:
        """The number in its own unit."""
        return ModelAnswer(proven(self.value, "the value of a number"), self.unit)

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The number with its unit."""
        return number_in_words(self)

    def form_traits(self) -> dict:
        """The units that are offered."""
        return {"units": list(units_of(self))}

    def misconceptions(self) -> set[str]:
        """Those behind the wrong numbers."""
        return misconceptions_in(self.wrong)

    def filled(self, numbers: Mapping[str, Drawn]) -> Self:
        """Worked out, with the learner's numbers in its texts."""
        question = filled_text(self.question, numbers, "question")
        return replace(self, question=question, **filled_number(self, numbers, ""))

    def without_formulas(self) -> Self:
        """Without its formula and those of its known mistakes."""
        return replace(self, **without_formula(self))

    def check_filled(self, drawn: Mapping[str, Drawn]) -> None:
        """Raise RubricError where a known mistake is as good as the right answer."""
        need_mistakes_apart(self, drawn, "")
