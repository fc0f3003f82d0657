"""A fault to find: inspections cost minutes, and only what they tell is known; at the end a cause is named.

The evidence holds `inspect` events with the id of an inspection, `begin` for a new account of the same engine, and
`answer` with the id of a choice. Every answer is an attempt, with the inspections since the account was begun. A cause
counts when what the inspections tell rules out every other one of the list; one that is named before is no try, and
nobody learns whether it was right.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass as plain_dataclass, replace
from pathlib import Path
from typing import ClassVar, Literal, Self

from pydantic import StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import (
    INSPECTIONS,
    Draw,
    EngineCard,
    Event,
    Evidence,
    Finding,
    Header,
    fault_named,
    inspection_named,
    tells_apart,
)
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
from .tries import FIRST_THEN_HALF, earned_as_a_whole

SENTENCES = {  # what each check of a diagnosis can find
    "right_cause": ("right",),
    "within_budget": ("within", "over", "not_found"),
    "looked_first": ("first", "late"),
}
RETIRED = ("guessed",)  # sentences of rubrics of classes, which are no longer said
TIMES = {"minutes": int, "budget": str}
FILLED = {"within": TIMES, "over": TIMES}  # what fills the braces of their sentences
MOST_LOOKS = 100  # in one account: nobody needs more, and a forged file must not cost a class its time
TOO_MANY = f"One account takes {MOST_LOOKS} inspections at most: begin a new account of the same engine."
NOT_SHOWN = (
    "Your tests do not show this yet: {left} of the {listed} causes on the list fit all that they told you. Test on "
    "until one is left, then name it. Naming it now used up none of your answers."
)
SAID_BEFORE_A_CAUSE = (
    "A cause counts once your tests rule out every other one on the list; naming it earlier uses up no answer."
)
LOOKS_COUNT_LATER = "This counts once the cause was shown by tests."
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

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF

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
            need_declared(criterion, findings=SENTENCES[criterion.check], values=FILLED, retired=RETIRED)

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

    def left(self, looked: Sequence[str]) -> list[Choice]:
        """Own: the causes that fit what these inspections tell of the learner's engine, the right one among them.
        What no inspection of the exercise tells from the right one need not be ruled out."""
        right = right_choice(self.choices)
        in_doubt = [one for one in self.choices if _ruled_out(one, right, self.inspections)]
        return [right, *(one for one in in_doubt if not _ruled_out(one, right, looked))]

    def shown(self, answer: DiagnosisAttempt) -> bool:
        """Own: whether an answer names the one cause that its inspections leave."""
        return answer.cause.right and len(self.left(answer.looked)) == 1

    def is_a_try(self, answer: DiagnosisAttempt) -> bool:
        """Own: a cause that still fits beside others is not named yet; one that was ruled out is named, wrongly."""
        left = self.left(answer.looked)
        return len(left) == 1 or answer.cause not in left

    @property
    def said_before(self) -> str:
        """When a cause counts, and how many answers do."""
        return f"{SAID_BEFORE_A_CAUSE} {super().said_before}"

    def judge(self, answer: DiagnosisAttempt, card: EngineCard | None) -> list[CriterionOutcome]:
        """Every criterion by itself."""
        return [_CHECKS[criterion.check](self, criterion, answer) for criterion in self.criteria]

    def earned(self, tries: Sequence[tuple[DiagnosisAttempt, ExerciseResult]]) -> ExerciseResult:
        """By the causes that were named when they were left alone, or ruled out; of others the latest is answered."""
        named = [(one, result) for one, result in tries if self.is_a_try(one)]
        latest = tries[-1]
        if not named or not (self.is_a_try(latest[0]) or any(result.points for _, result in named)):
            return latest[1]
        return earned_as_a_whole(self, named)

    def judge_evidence(self, evidence: Evidence, engines: Path) -> ExerciseResult:
        """The result; and where the cause is not found, what every inspection of the latest try meant. Never which one
        is right."""
        result = super().judge_evidence(evidence, engines)
        attempts = self.attempts(evidence.of_exercise(self.id))
        if not attempts or any(self.shown(one) for one in attempts):
            return result
        assignment, words = assignment_of(self, evidence.header, engines), seed_text(self, evidence.header)
        looked = dict.fromkeys(attempts[-1].looked)
        meanings = [self._meaning(name, reading_of(assignment, name, words)) for name in looked]
        latest = replace(result.shown, criteria=(*result.shown.criteria, *meanings))
        return replace(result, latest=latest) if result.latest else latest

    def _meaning(self, inspection: str, found: Finding) -> CriterionOutcome:
        said = IN_ORDER if found.in_order else NOT_IN_ORDER
        return remark(self, inspection, inspection_named(inspection).title, said, None)

    # ---- the answer --------------------------------------------------------------------------------------------------

    def model_answer(self) -> ModelAnswer:
        """The right cause, after the inspections that come first, the one that shows it, and those that rule out the
        most for their minutes until no other is left."""
        cause = right_choice(self.choices)
        shows = () if cause.fault == NO_FAULT else (fault_named(cause.fault).found_by,)
        looked = list(dict.fromkeys((*self.first, *shows)))
        while len(left := self.left(looked)) > 1:

            def worth(name: str, looked: list[str] = looked, left: list[Choice] = left) -> float:
                return (len(left) - len(self.left([*looked, name]))) / INSPECTIONS[name].minutes

            looked.append(max(self.inspections, key=worth))
        return ModelAnswer(cause.id, inspections=tuple(looked))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The right cause, and the inspections that it takes."""
        return f"{right_texts(self.choices)} It takes: {', '.join(self.model_answer().inspections)}."


def _part(criterion: Criterion) -> tuple[str, str, float]:
    return criterion.id, criterion.title, criterion.points


def _ruled_out(cause: Choice, right: Choice, looked: Sequence[str]) -> bool:
    """Whether one of these inspections reads clearly unlike with this cause and with the right one."""
    one, other = ("" if choice.fault == NO_FAULT else choice.fault for choice in (cause, right))
    return any(tells_apart(inspection, one, other) for inspection in looked)


def _right_cause(exercise: DiagnosisExercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    left = exercise.left(one.looked)
    if exercise.shown(one):
        return part_outcome(_part(criterion), 1.0, criterion.sentences["right"])
    if one.cause in left:
        return part_outcome(_part(criterion), 0.0, NOT_SHOWN.format(left=len(left), listed=len(exercise.choices)))
    return part_outcome(_part(criterion), 0.0, one.cause.sentence, one.cause.misconception)


def _within_budget(exercise: DiagnosisExercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    if not exercise.shown(one):
        return part_outcome(_part(criterion), 0.0, criterion.sentences["not_found"])
    within = one.minutes <= exercise.budget_minutes
    said = criterion.sentences["within" if within else "over"]
    filled = said.format(minutes=one.minutes, budget=f"{exercise.budget_minutes:g}")
    return part_outcome(_part(criterion), float(within), filled)


def _looked_first(exercise: DiagnosisExercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    if not exercise.shown(one):
        return part_outcome(_part(criterion), 0.0, LOOKS_COUNT_LATER)
    apart = [place for place, name in enumerate(one.looked) if INSPECTIONS[name].takes_apart]
    before = set(one.looked[: apart[0]] if apart else one.looked)
    done = set(exercise.first) <= before
    return part_outcome(_part(criterion), float(done), criterion.sentences["first" if done else "late"])


_CHECKS = {"right_cause": _right_cause, "within_budget": _within_budget, "looked_first": _looked_first}
