"""An answer in the learner's own words, which a person marks."""

from __future__ import annotations

import contextlib
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

from .common import AnswerError, Parts, in_short, need, need_different, need_known, table_in, whole
from .exercise import VariedExercise

WAITS = "Your answer was handed in; a person reads and marks it."
MARKED_FOR = "Marked by a person. For all points: {}"
TO_BE_MARKED = "A written answer waits to be marked."
PERSON = "Read and marked by a person."
SELF_MARKED = "self_marked"  # the control of an event: what somebody who learns alone gave their own answer


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
class MarkedSample:
    """An answer by somebody invented, the marks that it got by the id of what it was marked for, and why. `to` says
    what it answers, where that is drawn."""

    to: str
    text: str
    marks: dict[str, Number]
    why: str


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class WrittenExercise(VariedExercise):
    """`marking` are the things that a person marks for; without any, the answer is marked as a whole. `unsafe` is what
    an answer that could hurt somebody still earns. `samples` are shown, with the marking, to somebody who learns alone,
    once their own answer is saved, and to the person who marks: those to what was drawn, where there are some."""

    kind: Literal["written"]
    marking: tuple[MarkedFor, ...] = ()
    unsafe: UnsafeLimit | None = None
    samples: tuple[MarkedSample, ...] = ()

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
        points = {one.id: one.points for one in self.marking}
        for sample in self.samples:
            need(set(sample.marks) == set(points), f"samples: marks are wanted for {', '.join(points)}")
            over = [name for name, mark in sample.marks.items() if not 0 <= mark <= points[name]]
            need(not over, f"samples: the mark for {over[0] if over else ''} lies outside its points")

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

    # ---- for somebody who learns alone -----------------------------------------------------------------------------

    def read_own_marks(self, value: object) -> dict[str, float]:
        """The marks that somebody gave their own answer: for each thing none, half or all of its points. Raises
        AnswerError."""
        points = {one.id: float(one.points) for one in self.marking}
        marks = table_in(value, points, "A table of marks", "marks")
        for name, mark in marks.items():
            if isinstance(mark, bool) or mark not in (0, points[name] / 2, points[name]):
                raise AnswerError(
                    f"A mark for {name} is 0, {points[name] / 2:g} or {points[name]:g}: choose one of these."
                )
        return {name: float(marks[name]) for name in points}

    def own_marks(self, events: Sequence[Event]) -> dict[str, float] | None:
        """The last marks that were given to the latest text; None where there are none, or where they belong to
        an older marking table. Nothing is earned by them."""
        found = None
        for event in events:
            if event.control == "answer":
                found = None
            elif event.control == SELF_MARKED:
                with contextlib.suppress(AnswerError):
                    found = self.read_own_marks(event.value)
        return found

    def shown_marking(self) -> list[dict]:
        """What a person marks for, as a form shows it."""
        return [
            {"id": one.id, "title": one.title, "points": float(one.points), "levels": list(one.levels)}
            for one in self.marking
        ]

    def shown_samples(self) -> list[dict]:
        """The samples, as a form shows them: the marks in words."""
        titles = {one.id: (one.title, one.points) for one in self.marking}
        return [
            {
                "to": sample.to,
                "text": sample.text,
                "marks": "; ".join(
                    f"{titles[name][0]}: {mark:g} of {titles[name][1]:g}" for name, mark in sample.marks.items()
                ),
                "why": sample.why,
                "points": self._sum_in_words(sample),
            }
            for sample in self.samples
        ]

    def _sum_in_words(self, sample: MarkedSample) -> str:
        """What a sample earned in all, and whether it is one that could hurt somebody."""
        earned = f"{sum(sample.marks.values()):g} of {self.points:g} points"
        never = self.unsafe is not None and self.unsafe.nothing_for and sample.marks[self.unsafe.nothing_for] == 0
        return f"{earned}, must never be sent" if never else earned

    def model_answer(self) -> None:
        """None: a person marks it."""

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """Who marks it; and the question, where something in it is drawn, which the person who marks must know."""
        return f"{PERSON} Asked: {self.question}" if self.draw else PERSON

    def tables_with_points(self) -> Sequence[MarkedFor]:
        """What a person marks for."""
        return self.marking

    def filled(self, numbers: Mapping[str, Drawn]) -> Self:
        """Question and levels with what was drawn for the learner, and the samples to that; all of them where there are
        none."""
        to_it = tuple(sample for sample in self.samples if sample.to in numbers.values())
        return replace(
            self,
            question=filled_text(self.question, numbers, "question"),
            marking=tuple(_filled_levels(one, numbers) for one in self.marking),
            samples=to_it or self.samples,
        )


def _filled_levels(one: MarkedFor, numbers: Mapping[str, Drawn]) -> MarkedFor:
    none, half, every = (filled_text(level, numbers, f"marking.{one.id}") for level in one.levels)
    return replace(one, levels=(none, half, every))
