"""Steps to put in order: every order that keeps the constraints is right."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import Annotated, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.outcome import CriterionOutcome
from graders.schema import AS_DECLARED

from .common import (
    AnswerError,
    as_text,
    misconceptions_in,
    mixed,
    need,
    need_different,
    need_known,
    need_sentences,
    outcome_of,
    pairs,
    parts_in,
    remark,
)
from .exercise import Exercise, ModelAnswer
from .tries import FIRST_THEN_HALF

MOST_REMARKS = 2  # on one answer: more would sort the list for somebody who put it in any order
TOO_EARLY = "Too early: {}"
SHUFFLES_TRIED = 100


@dataclass(frozen=True, config=AS_DECLARED)
class Step:
    """One step to put in its place."""

    id: str
    text: str


@dataclass(frozen=True, config=AS_DECLARED)
class Before:
    """`first` has to come before `then`; `sentence` and `misconception` are for an order in which it does not."""

    first: str
    then: str
    sentence: str = ""
    misconception: str | None = None


def _from_pair(given):
    return dict(zip(("first", "then"), given, strict=False)) if isinstance(given, list) else given


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class OrderExercise(Exercise):
    """`steps` to put in order, and what has to come `before` what; a bare pair of ids will do where it has no sentence
    of its own. `partial` gives a share of the points, by how many constraints are kept beyond the half that any order
    keeps on average."""

    kind: Literal["order"]
    steps: tuple[Step, ...] = ()
    before: tuple[Annotated[Before, BeforeValidator(_from_pair)], ...] = ()
    partial: StrictBool = True
    sentences: dict[str, str] = Field(default_factory=dict)

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF

    def check(self) -> None:
        """Raise RubricError unless some orders are right and others are not."""
        names = [step.id for step in self.steps]
        need(len(names) > 1, "steps needs two steps or more")
        need_different(names, "steps")
        need(bool(self.before), "before needs one constraint or more: without any, every order would be right")
        need_known((name for pair in self.before for name in (pair.first, pair.then)), names, "before")
        need_sentences(self.sentences, ("right", "wrong"))
        try:
            self.right_order()
        except CycleError as error:
            need(False, f"before goes round in a circle ({', '.join(error.args[1])}): no order could keep it")

    def right_order(self) -> list[str]:
        """One order that keeps every constraint; steps that are free stay as the rubric lists them. Raises
        CycleError."""
        sorter = TopologicalSorter({step.id: [] for step in self.steps})
        for pair in self.before:
            sorter.add(pair.then, pair.first)
        return list(sorter.static_order())

    def read(self, value: object, unit: str | None) -> list[str]:
        """The ids of all steps, each once, in the order that was given."""
        order = parts_in(value, list, "A list of steps")
        names = [step.id for step in self.steps]
        if not all(isinstance(name, str) for name in order) or sorted(order) != sorted(names):
            raise AnswerError(f"Each of the {len(names)} steps was wanted once: put all of them in order.")
        return order

    def judge(self, answer: list[str], card: EngineCard | None) -> list[CriterionOutcome]:
        """Full points where every constraint is kept; where `partial` is true, else a share: those kept less
        those broken, of all, never below nothing. The first of those that have a sentence have their remark."""
        place = {name: number for number, name in enumerate(answer)}
        broken = [pair for pair in self.before if place[pair.first] > place[pair.then]]
        if not broken:
            return [outcome_of(self, 1.0, self.sentences["right"])]
        share = max(1.0 - 2.0 * len(broken) / len(self.before), 0.0) if self.partial else 0.0
        texts = {step.id: step.text for step in self.steps}
        remarks = [
            remark(
                self, f"{pair.first}.{pair.then}", TOO_EARLY.format(texts[pair.then]), pair.sentence, pair.misconception
            )
            for pair in broken
            if pair.sentence
        ][:MOST_REMARKS]
        return [outcome_of(self, share, self.sentences["wrong"]), *remarks]

    def model_answer(self) -> ModelAnswer:
        """One order that keeps every constraint."""
        return ModelAnswer(as_text(self.right_order()))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """One right order of several."""
        texts = {step.id: step.text for step in self.steps}
        numbered = (f"{number}. {texts[name]}" for number, name in enumerate(self.right_order(), start=1))
        return "For example: " + " ".join(numbered)

    def form_traits(self) -> dict:
        """The steps by id and text."""
        return {"steps": pairs(self.steps)}

    def misconceptions(self) -> set[str]:
        """Those behind the constraints that are broken."""
        return misconceptions_in(self.before)

    def texts(self) -> list[str]:
        """The steps."""
        return [step.text for step in self.steps]

    def shuffled(self, dice: random.Random) -> Self:
        """The steps in an order that keeps at most half of the constraints, or the fewest of many shuffles: never
        all."""
        return replace(self, steps=tuple(self._out_of_order(dice)))

    def _out_of_order(self, dice: random.Random) -> Sequence[Step]:
        best: Sequence[Step] | None = None
        fewest = len(self.before)
        for _ in range(SHUFFLES_TRIED):
            steps = mixed(self.steps, dice)
            kept = self._kept(steps)
            if kept < fewest:
                best, fewest = steps, kept
            if best is not None and fewest <= len(self.before) / 2:
                return best
        pair = self.before[0]  # a rare draw for very few steps: one constraint is broken by hand
        return best or sorted(self.steps, key=lambda step: (step.id != pair.then, step.id == pair.first))

    def _kept(self, steps: Sequence[Step]) -> int:
        place = {step.id: number for number, step in enumerate(steps)}
        return sum(place[pair.first] < place[pair.then] for pair in self.before)
