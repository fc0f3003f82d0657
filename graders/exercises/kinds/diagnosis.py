"""A fault to find: inspections cost minutes, and only what they tell is known; at the end a cause is named.

The evidence holds `inspect` events with the id of an inspection, `begin` for a new account of the same engine, and
`answer` with the id of a choice. Every answer is an attempt, with the inspections since the account was begun.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass as plain_dataclass, replace
from pathlib import Path
from typing import Literal, Self

from pydantic import StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import INSPECTIONS, Draw, EngineCard, Event, Evidence, Finding, Header, fault_named, inspection_named
from graders.bench.assignment import NO_FAULT, assignment_of, fault_of, reading_of, seed_text
from graders.exercises.sentences import need_declared
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import AS_DECLARED, Criterion, EngineExercise, Number, proven

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
from .common import (
    AnswerError,
    Parts,
    in_short,
    misconceptions_in,
    need,
    need_different,
    need_known,
    pairs,
    part_outcome,
    parts_of_criteria,
    remark,
)
from .engine_set_by_label import need_set_by_label
from .exercise import Exercise, ModelAnswer

SENTENCES = {  # what each check of a diagnosis can find
    "right_cause": ("right", "guessed"),
    "within_budget": ("within", "over", "not_found"),
    "looked_first": ("first", "late"),
}
TIMES = {"minutes": int, "budget": str}
FILLED = {"within": TIMES, "over": TIMES}  # what fills the braces of their sentences
MOST_LOOKS = 100  # in one account: nobody needs more, and a forged file must not cost a class its time
TOO_MANY = f"One account takes {MOST_LOOKS} inspections at most: begin a new account of the same engine."
GUESSED_SHARE = 0.5  # of the points of the cause, where nothing was looked at
IN_ORDER = "This was in order: whatever would show here is not the cause."
NOT_IN_ORDER = "This was not in order: read it again, and name a cause that explains it and everything else you found."


@plain_dataclass(frozen=True)
class DiagnosisAttempt:
    """One answer and the inspections before it, each as often as it was made."""

    cause: Choice
    looked: tuple[str, ...] = ()

    @property
    def minutes(self) -> int:
        """Minutes that the inspections took."""
        return sum(INSPECTIONS[name].minutes for name in self.looked)


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class DiagnosisExercise(EngineExercise, Exercise):
    """Each of the `choices` is a cause and names its `fault`; right is that of the learner's engine. `inspections` are
    what is offered, `budget_minutes` what they may take together, `first` those that come before parts come off."""

    kind: Literal["diagnosis"]
    choices: tuple[Choice, ...] = ()
    shuffle: StrictBool | None = None
    criteria: tuple[Criterion, ...] = ()
    inspections: tuple[str, ...] = ()
    budget_minutes: Number = 0.0
    first: tuple[str, ...] = ()

    # ---- what a rubric has to say ------------------------------------------------------------------------------------

    def check(self) -> None:
        """Raise RubricError unless every fault has its cause among the choices and an inspection that shows it."""
        need(bool(self.engine), "engine is missing: name the engine card")
        need(bool(self.faults), 'faults is missing: name the faults that may be drawn, "none" among them')
        need(not self.tools, "tools do not belong to a diagnosis: it has inspections")
        need_set_by_label(self.found)
        need(len(self.inspections) > 1, "inspections needs two or more")
        need_known(self.inspections, INSPECTIONS, "inspections")
        need_different(self.inspections, "inspections")
        need_known(self.first, self.inspections, "first")
        need(self.budget_minutes > 0, "budget_minutes is missing: say how many minutes the inspections may take")
        need_different((choice.id for choice in self.choices), "choices")
        causes = [choice.fault for choice in self.choices]
        need(all(causes), 'choices: every cause names the fault that it stands for, or fault = "none"')
        need_different(causes, "choices.fault")
        for fault in self.faults:
            need(fault in causes, f"choices has none with fault = '{fault}', which may be drawn: add it")
            self._need_found(fault)
        need_no_right(self.choices)
        self._check_criteria()

    def _need_found(self, fault: str) -> None:
        if fault == NO_FAULT:
            return
        shows = fault_named(fault).found_by
        need(shows in self.inspections, f"inspections lacks '{shows}', which shows the fault '{fault}' for certain")
        minutes = INSPECTIONS[shows].minutes
        need(minutes <= self.budget_minutes, f"budget_minutes has to be {minutes} at least, which '{shows}' takes")

    def _check_criteria(self) -> None:
        need_different((criterion.id for criterion in self.criteria), "criteria")
        need_known((criterion.check for criterion in self.criteria), SENTENCES, "criteria.check")
        checks = [criterion.check for criterion in self.criteria]
        need("right_cause" in checks, "criteria needs one with check = 'right_cause'")
        need(bool(self.first) == ("looked_first" in checks), "first belongs to a criterion 'looked_first': give both")
        for criterion in self.criteria:
            need_declared(criterion, findings=SENTENCES[criterion.check], values=FILLED)

    def parts(self) -> Parts:
        """Every criterion, with its points."""
        return parts_of_criteria(self.criteria)

    def tables_with_points(self) -> Sequence[Criterion]:
        """The criteria."""
        return self.criteria

    def for_engine(self, card: EngineCard | None, draw: Draw) -> Self:
        """The cause is right that stands for the fault drawn."""
        drawn = fault_of(self, proven(card, "the engine"), draw) or NO_FAULT
        return replace(self, choices=tuple(replace(one, right=one.fault == drawn) for one in self.choices))

    def shuffled(self, dice: random.Random) -> Self:
        """The causes in a learner's own order where the rubric wants it."""
        return replace(self, choices=shuffled_choices(self.choices, dice, bool(self.shuffle)))

    def misconceptions(self) -> set[str]:
        """Those of the causes that are wrong on the learner's engine."""
        return misconceptions_in(still_wrong(self.choices))

    def texts(self) -> list[str]:
        """The causes."""
        return texts_of(self.choices)

    def form_traits(self) -> dict:
        """The causes, the minutes, and the inspections that are offered."""
        return {
            "choices": pairs(self.choices),
            "budget": float(self.budget_minutes),
            "offered": [
                {"id": name, "title": INSPECTIONS[name].title, "minutes": INSPECTIONS[name].minutes}
                for name in self.inspections
            ],
        }

    # ---- reading -----------------------------------------------------------------------------------------------------

    def read(self, value: object, unit: str | None) -> DiagnosisAttempt:
        """A cause by itself, named without any inspection."""
        return DiagnosisAttempt(read_choice(self.choices, value))

    def read_inspection(self, value: object) -> str:
        """The id of an inspection that this exercise offers. Raises AnswerError."""
        if value not in self.inspections:
            raise AnswerError(f"'{in_short(value)}' is none of the inspections of this exercise.")
        return value

    def attempts(self, events: Sequence[Event]) -> list[DiagnosisAttempt]:
        """Every answer with what was looked at before it. Raises AnswerError where an event is none of this
        exercise."""
        looked: tuple[str, ...] = ()
        attempts: list[DiagnosisAttempt] = []
        for event in events:
            looked = self._after(looked, event)
            if event.control == "answer":
                attempts.append(replace(self.read(event.value, event.unit), looked=looked))
        return attempts

    def looked_at(self, events: Sequence[Event]) -> tuple[str, ...]:
        """The inspections of the account that is open, each as often as it was made."""
        looked: tuple[str, ...] = ()
        for event in events:
            looked = self._after(looked, event)
        return looked

    def _after(self, looked: tuple[str, ...], event: Event) -> tuple[str, ...]:
        """The account after one event more."""
        if event.control == "begin":
            return ()
        if event.control != "inspect":
            return looked
        if len(looked) >= MOST_LOOKS:
            raise AnswerError(TOO_MANY)
        return (*looked, self.read_inspection(event.value))

    # ---- judging -----------------------------------------------------------------------------------------------------

    def judge(self, answer: DiagnosisAttempt, card: EngineCard | None) -> list[CriterionOutcome]:
        """Every criterion by itself."""
        return [_CHECKS[criterion.check](self, criterion, answer) for criterion in self.criteria]

    def judge_evidence(self, evidence: Evidence, engines: Path) -> ExerciseResult:
        """The result; and after a wrong cause, what every inspection meant for the causes that are left. Never which
        one is right."""
        result = super().judge_evidence(evidence, engines)
        one = self._counted_attempt(evidence.of_exercise(self.id))
        if one is None or one.cause.right:
            return result
        assignment, words = assignment_of(self, evidence.header, engines), seed_text(self, evidence.header)
        meanings = [self._meaning(name, reading_of(assignment, name, words)) for name in dict.fromkeys(one.looked)]
        return replace(result, criteria=(*result.criteria, *meanings))

    def _counted_attempt(self, events: Sequence[Event]) -> DiagnosisAttempt | None:
        attempts = self.attempts(events)
        if not attempts:
            return None
        return max(reversed(attempts), key=lambda one: self.result(self.judge(one, None)).points)

    def _meaning(self, inspection: str, found: Finding) -> CriterionOutcome:
        said = IN_ORDER if found.in_order else NOT_IN_ORDER
        return remark(self, inspection, inspection_named(inspection).title, said, None)

    # ---- the answer --------------------------------------------------------------------------------------------------

    def model_answer(self) -> ModelAnswer:
        """The right cause, after the inspections that come first and the one that shows it; on a sound engine the
        shortest."""
        cause = right_choice(self.choices)
        shortest = min(self.inspections, key=lambda name: INSPECTIONS[name].minutes)
        shows = shortest if cause.fault == NO_FAULT else fault_named(cause.fault).found_by
        return ModelAnswer(cause.id, inspections=tuple(dict.fromkeys((*self.first, shows))))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The right cause, and the inspections that it takes."""
        return f"{right_texts(self.choices)} It takes: {', '.join(self.model_answer().inspections)}."


def _part(criterion: Criterion) -> tuple[str, str, float]:
    return criterion.id, criterion.title, criterion.points


def _right_cause(_exercise: DiagnosisExercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    if not one.cause.right:
        return part_outcome(_part(criterion), 0.0, one.cause.sentence, one.cause.misconception)
    if not one.looked:
        return part_outcome(_part(criterion), GUESSED_SHARE, criterion.sentences["guessed"])
    return part_outcome(_part(criterion), 1.0, criterion.sentences["right"])


def _within_budget(exercise: DiagnosisExercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    if not (one.cause.right and one.looked):
        return part_outcome(_part(criterion), 0.0, criterion.sentences["not_found"])
    within = one.minutes <= exercise.budget_minutes
    said = criterion.sentences["within" if within else "over"]
    filled = said.format(minutes=one.minutes, budget=f"{exercise.budget_minutes:g}")
    return part_outcome(_part(criterion), float(within), filled)


def _looked_first(exercise: DiagnosisExercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    apart = [place for place, name in enumerate(one.looked) if INSPECTIONS[name].takes_apart]
    before = set(one.looked[: apart[0]] if apart else one.looked)
    done = set(exercise.first) <= before
    return part_outcome(_part(criterion), float(done), criterion.sentences["first" if done else "late"])


_CHECKS = {"right_cause": _right_cause, "within_budget": _within_budget, "looked_first": _looked_first}
