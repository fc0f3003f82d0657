"""A sum to fill in: several lines, each a number with its unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar, Literal, Self

from pydantic import Field
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.exercises.filling import Drawn, filled_sentences, filled_text
from graders.exercises.units import FINDINGS
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import AS_DECLARED, NumberField

from .common import (
    AnswerError,
    Parts,
    as_text,
    misconceptions_in,
    missing_part,
    need,
    need_different,
    need_sentences,
    shared_out,
    table_in,
)
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
from .tries import TWICE_THEN_HALF, earned_by_part

NOT_ENTERED = "No number was entered here."
SIGNS = ("", "+", "-", "×", "=")


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class SumExercise(VariedExercise):
    """`fields` are the lines of the sum; `sentences` go for every line that has none of its own."""

    kind: Literal["sum"]
    fields: tuple[NumberField, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)

    answers_count: ClassVar[tuple[float, ...]] = TWICE_THEN_HALF
    minutes: ClassVar[float] = 3.0

    def check(self) -> None:
        """Raise RubricError unless every line of the sum can be judged."""
        need(len(self.fields) > 1, "fields needs two lines or more")
        need_different((line.id for line in self.fields), "fields")
        for line in self.fields:
            where = f"fields.{line.id}."
            check_number(line, where)
            need(line.sign in SIGNS, f"{where}sign is one of + - × =; '{line.sign}' was found")
            need_sentences(self.sentences | line.sentences, FINDINGS, f"{where}sentences")
            need(line.points is None or line.points > 0, f"{where}points has to be more than none")
        have = [line.points is not None for line in self.fields]
        need(all(have) or not any(have), "fields: give points to every line or to none")

    def parts(self) -> Parts:
        """Every line, with its own points or an equal share."""
        shares = shared_out(self.points, len(self.fields))
        return [
            (f"{self.id}.{line.id}", line.label, share if line.points is None else line.points)
            for line, share in zip(self.fields, shares, strict=True)
        ]

    def read(self, value: object, unit: str | None) -> dict[str, NumberWithUnit | None]:
        """The lines that were filled in; None for an empty one."""
        lines = {line.id: line for line in self.fields}
        found = table_in(value, lines, "A table of numbers", "lines")
        answer = {name: None if entry is None else _read_line(lines[name], entry) for name, entry in found.items()}
        if not any(answer.values()):
            raise AnswerError("No line is filled in yet: enter at least one number.")
        return answer

    def judge(self, answer: dict[str, NumberWithUnit | None], card: EngineCard | None) -> list[CriterionOutcome]:
        """Every line by itself."""
        judged = []
        for part, line in zip(self.parts(), self.fields, strict=True):
            given, said = answer[line.id], self.sentences | line.sentences
            judged.append(missing_part(part, NOT_ENTERED) if given is None else judge_number(part, line, said, given))
        return judged

    def earned(self, tries: Sequence[tuple[Any, ExerciseResult]]) -> ExerciseResult:
        """Every line by itself."""
        return earned_by_part(self, (line.id for line in self.fields), tries)

    def model_answer(self) -> ModelAnswer:
        """Every line in its own unit."""
        return ModelAnswer(as_text({line.id: [line.value, line.unit] for line in self.fields}))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """Every line with its number and unit."""
        return "; ".join(f"{line.label}: {number_in_words(line)}" for line in self.fields)

    def form_traits(self) -> dict:
        """The lines without their numbers."""
        return {
            "fields": [
                {"id": line.id, "label": line.label, "sign": line.sign, "units": list(units_of(line))}
                for line in self.fields
            ]
        }

    def tables_with_points(self) -> Sequence[NumberField]:
        """The lines."""
        return self.fields

    def misconceptions(self) -> set[str]:
        """Those behind the wrong numbers of every line."""
        return misconceptions_in(wrong for line in self.fields for wrong in line.wrong)

    def texts(self) -> list[str]:
        """The labels of the lines."""
        return [line.label for line in self.fields]

    def filled(self, numbers: Mapping[str, Drawn]) -> Self:
        """Every line worked out, with the learner's numbers in its texts."""
        return replace(
            self,
            sentences=filled_sentences(self.sentences, numbers, "sentences"),
            question=filled_text(self.question, numbers, "question"),
            fields=tuple(_filled_line(line, numbers) for line in self.fields),
        )

    def without_formulas(self) -> Self:
        """Every line without its formula and those of its known mistakes."""
        return replace(self, fields=tuple(replace(line, **without_formula(line)) for line in self.fields))

    def check_filled(self, drawn: Mapping[str, Drawn]) -> None:
        """Raise RubricError where a known mistake of a line is as good as its right answer."""
        for line in self.fields:
            need_mistakes_apart(line, drawn, f"fields.{line.id}.")


def _read_line(line: NumberField, entry) -> NumberWithUnit:
    units = units_of(line)
    if not isinstance(entry, list) or len(entry) != 2 or entry[1] not in units:
        raise AnswerError(f"'{line.label}' wants a number and one of the units {', '.join(units)}.")
    return read_number(entry[0], entry[1])


def _filled_line(line: NumberField, numbers: Mapping[str, Drawn]) -> NumberField:
    where = f"fields.{line.id}."
    label = filled_text(line.label, numbers, f"{where}label")
    return replace(line, label=label, **filled_number(line, numbers, where))
