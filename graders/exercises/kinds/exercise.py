"""What every kind of exercise answers to.

A kind is one class in one module of this folder, named as rubrics write it: the fields that it has beside those of
every exercise, and the methods below. Its form is course/widgets/forms/<kind>.py. To add a kind, write these two
modules, put its class into KINDS, in __init__.py, and its cell into course/widgets/__init__.py. Nothing else asks for
a kind by its name.
"""

from __future__ import annotations

import random
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass as plain_dataclass, replace
from pathlib import Path
from typing import Any, ClassVar, Self

from pydantic import Field
from pydantic.dataclasses import dataclass

from engine_sim import Draw, EngineCard, Event, Evidence, Header
from graders.bench.assignment import card_of
from graders.exercises.filling import Drawn
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import AS_DECLARED, ExerciseRubric, NumberDraw

from .common import Parts, missing_part, whole
from .tries import SAID_BEFORE, best_of, earned_as_a_whole


@plain_dataclass(frozen=True)
class ModelAnswer:
    """An answer that earns full marks, as the evidence holds it, and the inspections that are made before it."""

    value: str | float
    unit: str | None = None
    inspections: tuple[str, ...] = ()


class Exercise(ExerciseRubric, ABC):
    """One exercise of some kind. Every kind has the first five methods and those of the others that concern it.

    Methods that say "own" are for a learner's own form of the exercise, with its numbers, fault and order drawn.
    """

    marked_by_person: ClassVar[bool] = False
    minutes: ClassVar[float] = 2.0  # to think and to answer, beside reading; our own figure, as in every kind
    at_the_bench: ClassVar[bool] = False  # work that is replayed, in the place of answers that are read
    answers_count: ClassVar[tuple[float, ...]] = ()  # see tries.py; empty: the best of all answers counts in full

    # ---- every kind --------------------------------------------------------------------------------------------------

    @abstractmethod
    def check(self) -> None:
        """Raise RubricError, without the name of the file, for an exercise that cannot be used."""

    @abstractmethod
    def read(self, value: object, unit: str | None) -> Any:
        """An answer of the evidence as `judge` takes it. Raises AnswerError where it is none of this exercise."""

    @abstractmethod
    def judge(self, answer: Any, card: EngineCard | None) -> list[CriterionOutcome]:
        """Own: what one answer earns, part by part; `card` is the learner's engine where the exercise names one."""

    @abstractmethod
    def model_answer(self) -> ModelAnswer | None:
        """Own: an answer that earns full marks; None where a person marks it or it is work at the bench."""

    @abstractmethod
    def answer_in_words(self, header: Header, engines: Path) -> str:
        """Own: the answer for the instructor, as the learner of this header has it."""

    def parts(self) -> Parts:
        """Id, title and points of everything that earns points: here the exercise as a whole."""
        return whole(self)

    def form_traits(self) -> dict[str, Any]:
        """Own: what its form shows beside title and question, and never what is right."""
        return {}

    # ---- some kinds --------------------------------------------------------------------------------------------------

    def tables_with_points(self) -> Sequence[Any]:
        """The tables of the rubric that may have `points` of their own; the exercise is then worth their sum."""
        return ()

    def misconceptions(self) -> set[str]:
        """Ids of all misconceptions that an answer can show; of a learner's own form, those that are left in it."""
        return set()

    def texts(self) -> list[str]:
        """What a learner reads in it beside title and question."""
        return []

    def searches_timing(self) -> bool:
        """Whether it is work at the bench in which a timing is looked for and set."""
        return False

    def for_engine(self, card: EngineCard | None, draw: Draw) -> Self:
        """The exercise with those answers marked as right that are so on the engine and the fault of a learner."""
        return self

    def shuffled(self, dice: random.Random) -> Self:
        """The exercise with its parts in a learner's own order."""
        return self

    def attempts(self, events: Sequence[Event]) -> list[Any]:
        """Own: what was answered, in its order, each as `judge` takes it. Raises AnswerError where an event holds an
        answer that no form writes."""
        return [self.read(event.value, event.unit) for event in events if event.control == "answer"]

    def judge_events(self, events: Sequence[Event], card: EngineCard | None) -> ExerciseResult:
        """Own: judge every attempt. Shown is the latest, and beside it the one with the most points, of equal ones the
        latest; what these earn depends on how many different ones were made (tries.py)."""
        tries = [(one, self.result(self.judge(one, card))) for one in self.attempts(events)]
        if not tries:
            return self.nothing_done()
        best, latest = best_of(result for _, result in tries), tries[-1][1]
        counted = self.earned(tries) if self.answers_count else best
        return counted if best is latest else replace(counted, latest=latest)

    def earned(self, tries: Sequence[tuple[Any, ExerciseResult]]) -> ExerciseResult:
        """Own: what several answers, each with its own result, earn together."""
        return earned_as_a_whole(self, tries)

    @property
    def said_before(self) -> str:
        """How many answers count, in a sentence to read before one is given; empty where all do."""
        return SAID_BEFORE[self.answers_count]

    def judge_evidence(self, evidence: Evidence, engines: Path) -> ExerciseResult:
        """Own: the result of the evidence of this learner. Raises TimingCourseError for forged events."""
        return self.judge_events(evidence.of_exercise(self.id), card_of(self, evidence.header, engines))

    @property
    def by_engine_model(self) -> bool:
        """Whether its verdict is worked out with the engine model, so that work on another model cannot be judged."""
        return bool(self.engine) and not self.marked_by_person

    # ---- results -----------------------------------------------------------------------------------------------------

    def result(self, criteria: Sequence[CriterionOutcome]) -> ExerciseResult:
        """The result that these outcomes make."""
        return ExerciseResult(exercise=self.id, title=self.title, max_points=self.points, criteria=tuple(criteria))

    def nothing_done(self) -> ExerciseResult:
        """The result where nobody worked on it."""
        return self.result([missing_part(part) for part in self.parts()])


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class VariedExercise(Exercise):
    """An exercise with numbers of the learner's own.

    `draw`, `answer_from` and `worked_out` give names to numbers, in this order: drawn for the learner, told by a
    function of graders/exercises/engine_answers.py, and formulas over the names before. Texts hold them as {name}.
    """

    draw: dict[str, NumberDraw] = Field(default_factory=dict)
    answer_from: str = ""
    worked_out: dict[str, str] = Field(default_factory=dict)

    @abstractmethod
    def filled(self, numbers: Mapping[str, Drawn]) -> Self:
        """The exercise with these numbers in its texts, and its formulas worked out. Raises RubricError that names the
        field."""

    def without_formulas(self) -> Self:
        """The exercise with nothing to work out, so that its texts can be tried with any numbers."""
        return self

    def check_filled(self, drawn: Mapping[str, Drawn]) -> None:
        """Own: raise RubricError where a learner's numbers make a known mistake as good as the right answer."""
