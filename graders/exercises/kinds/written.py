"""An answer in the learner's own words, which a person marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Event, Header
from graders.exercises.filling import Drawn, filled_text
from graders.exercises.marking import ToMark, UnsafeLimit
from graders.outcome import CriterionOutcome, ExerciseResult, Outcome
from graders.schema import AS_DECLARED, Number

from .common import AnswerError, Parts, in_short, need, need_different, need_known, whole
from .exercise import VariedExercise

WAITS = "Your answer was handed in; a person reads and marks it."
MARKED_FOR = "A person marks this. All points: {}"
TO_BE_MARKED = "A written answer waits to be marked."
PERSON = "Read and marked by a person."


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class MarkedFor:
    """One thing that a person looks for in a written answer: its points, and what an answer is like that earns none of
    them, half, and all (`levels`, in this order). `comments` are sentences that are often wanted with a mark."""

    id: str
    title: str
    points: Number
    levels: tuple[str, str, str]
    comments: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class WrittenExercise(VariedExercise):
    """`marking` are the things that a person marks for; without any, the answer is marked as a whole. `unsafe` is what
    an answer that could hurt somebody still earns."""

    kind: Literal["written"]
    marking: tuple[MarkedFor, ...] = ()
    unsafe: UnsafeLimit | None = None

    marked_by_person: ClassVar[bool] = True

    def check(self) -> None:
        """Raise RubricError where two things that a person marks for have one name, or one is worth nothing."""
        need_different((one.id for one in self.marking), "marking")
        for one in self.marking:
            need(one.points > 0, f"marking {one.id} is worth {one.points:g} points: give it more than none")
            need(all(one.levels), f"marking {one.id} needs three levels in words: for none, half and all of its points")
        if self.unsafe is not None:
            known = {one.id for one in self.marking}
            if self.unsafe.nothing_for:
                need_known([self.unsafe.nothing_for], known, "unsafe.nothing_for")
            most = self.unsafe.most
            need(
                bool(self.unsafe.nothing_for or self.unsafe.points_off or most is not None),
                "unsafe needs at least one of nothing_for, points_off and most",
            )
            need(
                self.unsafe.points_off >= 0 and (most is None or 0 <= most <= self.points),
                "unsafe has a limit from 0 up to the exercise's points",
            )

    def to_mark(self) -> tuple[ToMark, ...]:
        """Own: the criteria with their levels; an answer that is marked as a whole is one, by whole points."""
        if not self.marking:
            steps = max(round(self.points), 1)
            words = tuple(f"{self.points * step / steps:g} of {self.points:g} points" for step in range(steps + 1))
            return (ToMark(self.id, self.title, self.points, words),)
        return tuple(ToMark(one.id, one.title, one.points, one.levels, one.comments) for one in self.marking)

    def parts(self) -> Parts:
        """What a person marks for, with its points; else the answer as a whole."""
        return [(one.id, one.title, one.points) for one in self.marking] or whole(self)

    def read(self, value: object, unit: str | None) -> str:
        """The text."""
        if not isinstance(value, str):
            raise AnswerError(f"A text was wanted and '{in_short(value)}' was found.")
        return value

    def judge(self, answer: str, card: EngineCard | None) -> list[CriterionOutcome]:
        """Nothing is earned before a person has read it; what it will be marked for is said where the rubric says
        so."""
        if not self.marking:
            return [
                CriterionOutcome(
                    criterion=self.id,
                    title=self.title,
                    outcome=Outcome.NOT_YET,
                    points=0.0,
                    max_points=self.points,
                    sentence=WAITS,
                )
            ]
        return [
            CriterionOutcome(
                criterion=one.id,
                title=one.title,
                outcome=Outcome.NOT_YET,
                points=0.0,
                max_points=one.points,
                sentence=MARKED_FOR.format(one.levels[-1]),
            )
            for one in self.marking
        ]

    def attempts(self, events: Sequence[Event]) -> list[str]:
        """Every text that is not empty."""
        answers = [event.value for event in events if event.control == "answer"]
        return [text for text in answers if isinstance(text, str) and text.strip()]

    def judge_events(self, events: Sequence[Event], card: EngineCard | None) -> ExerciseResult:
        """The latest text is what a person marks."""
        texts = self.attempts(events)
        if not texts:
            return self.nothing_done()
        return replace(self.result(self.judge(texts[-1], card)), needs_person=TO_BE_MARKED, answer=texts[-1])

    def model_answer(self) -> None:
        """None: a person marks it."""

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """Who marks it; and the question, where something in it is drawn, which the person who marks must know."""
        return f"{PERSON} Asked: {self.question}" if self.draw else PERSON

    def tables_with_points(self) -> Sequence[MarkedFor]:
        """What a person marks for."""
        return self.marking

    def filled(self, numbers: Mapping[str, Drawn]) -> Self:
        """Question and levels with what was drawn for the learner."""
        return replace(
            self,
            question=filled_text(self.question, numbers, "question"),
            marking=tuple(_filled_levels(one, numbers) for one in self.marking),
        )


def _filled_levels(one: MarkedFor, numbers: Mapping[str, Drawn]) -> MarkedFor:
    none, half, every = (filled_text(level, numbers, f"marking.{one.id}") for level in one.levels)
    return replace(one, levels=(none, half, every))
