"""One answer to choose; or a prediction, which is recorded before something is tried at a bench."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic import StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Evidence, Header
from graders.exercises.filling import Drawn, filled_text
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import AS_DECLARED

from .choice_list import Choice, filled_choices, read_choice, right_choice, right_texts, shuffled_choices, texts_of
from .common import misconceptions_in, need, need_different, outcome_of, pairs
from .exercise import ModelAnswer, VariedExercise
from .tries import FIRST_THEN_HALF

SAID_BEFORE_A_PREDICTION = (
    "Record what you expect before you try it. A wrong prediction costs nothing. Afterwards it is compared with what "
    "you did."
)
RECORDED = "Your prediction is recorded. Now try it; then it is compared with what you did."
COMPARED = "You predicted: “{text}” {sentence}"
TRIED_FIRST = (
    "You had tried it before you recorded this, so it is no prediction. What you answered: “{text}” {sentence}"
)


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class ChoiceExercise(VariedExercise):
    """One of the `choices` is right; they are shown in the rubric's order unless `shuffle` is true. `predicts` names
    the bench at which it is tried: recorded before the first act there, any choice earns the points."""

    kind: Literal["choice"]
    choices: tuple[Choice, ...] = ()
    shuffle: StrictBool | None = None
    predicts: str = ""

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF

    minutes: ClassVar[float] = 1.0

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

    def judge_evidence(self, evidence: Evidence, engines: Path) -> ExerciseResult:
        """A question is judged by its answers; a prediction by whether it was recorded before the first act at its
        bench, and of several before it the last counts."""
        if not self.predicts:
            return super().judge_evidence(evidence, engines)
        answers = [event for event in evidence.events if event.exercise == self.id and event.control == "answer"]
        if not answers:
            return self.nothing_done()
        places = [place for place, event in enumerate(evidence.events) if event.exercise == self.predicts]
        before = [event for event in evidence.events[: places[0] if places else None] if event in answers]
        last = self.read((before or answers)[-1].value, None)
        if not places:
            return self.result([outcome_of(self, 1.0, RECORDED)])
        said = (COMPARED if before else TRIED_FIRST).format(text=last.text, sentence=last.sentence)
        return self.result([outcome_of(self, float(bool(before)), said, last.misconception)])

    @property
    def said_before(self) -> str:
        """What to read before the first answer."""
        return SAID_BEFORE_A_PREDICTION if self.predicts else super().said_before

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
