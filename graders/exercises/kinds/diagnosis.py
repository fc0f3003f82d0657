"""A fault to find: inspections cost minutes, and only what they tell is known; at the end a cause is named.

The evidence holds `inspect` events with the id of an inspection, `begin` for a new account of the same engine, and
`answer` with the id of a choice. Every answer is an attempt, with the inspections since the account was begun.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine_sim import INSPECTIONS, Event, fault_named
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import Choice, Criterion, ExerciseRubric

from .choices import read_choice
from .common import AnswerError, Kind, Parts, need, need_different, need_known, need_sentences, part_outcome
from .needle import NO_FAULT, need_no_right, need_set_by_label

SENTENCES = {  # what each check of a diagnosis can find
    "right_cause": ("right", "guessed"),
    "within_budget": ("within", "over", "not_found"),
    "looked_first": ("first", "late"),
}
MOST_LOOKS = 100  # in one account: nobody needs more, and a forged file must not cost a class its time
TOO_MANY = f"One account takes {MOST_LOOKS} inspections at most: begin a new account of the same engine."
GUESSED_SHARE = 0.5  # of the points of the cause, where nothing was looked at


@dataclass(frozen=True)
class DiagnosisAttempt:
    """One answer and the inspections before it, each as often as it was made."""

    cause: Choice
    looked: tuple[str, ...]

    @property
    def minutes(self) -> int:
        """Minutes that the inspections took."""
        return sum(INSPECTIONS[name].minutes for name in self.looked)


def check_diagnosis(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless every fault has its cause among the choices and an inspection that shows it."""
    need(bool(exercise.engine), "engine is missing: name the engine card")
    need(bool(exercise.faults), 'faults is missing: name the faults that may be drawn, "none" among them')
    need(not exercise.tools, "tools do not belong to a diagnosis: it has inspections")
    need_set_by_label(exercise)
    need(len(exercise.inspections) > 1, "inspections needs two or more")
    need_known(exercise.inspections, INSPECTIONS, "inspections")
    need_different(exercise.inspections, "inspections")
    need_known(exercise.first, exercise.inspections, "first")
    need(exercise.budget_minutes > 0, "budget_minutes is missing: say how many minutes the inspections may take")
    need_different((choice.id for choice in exercise.choices), "choices")
    causes = [choice.fault for choice in exercise.choices]
    need(all(causes), 'choices: every cause names the fault that it stands for, or fault = "none"')
    need_different(causes, "choices.fault")
    for fault in exercise.faults:
        need(fault in causes, f"choices has none with fault = '{fault}', which may be drawn: add it")
        _need_found(exercise, fault)
    need_no_right(exercise)
    _check_criteria(exercise)


def _need_found(exercise: ExerciseRubric, fault: str) -> None:
    if fault == NO_FAULT:
        return
    shows = fault_named(fault).found_by
    need(shows in exercise.inspections, f"inspections lacks '{shows}', which shows the fault '{fault}' for certain")
    minutes = INSPECTIONS[shows].minutes
    need(minutes <= exercise.budget_minutes, f"budget_minutes has to be {minutes} at least, which '{shows}' takes")


def _check_criteria(exercise: ExerciseRubric) -> None:
    need_different((criterion.id for criterion in exercise.criteria), "criteria")
    need_known((criterion.check for criterion in exercise.criteria), SENTENCES, "criteria.check")
    checks = [criterion.check for criterion in exercise.criteria]
    need("right_cause" in checks, "criteria needs one with check = 'right_cause'")
    need(bool(exercise.first) == ("looked_first" in checks), "first belongs to a criterion 'looked_first': give both")
    for criterion in exercise.criteria:
        need_sentences(criterion.sentences, SENTENCES[criterion.check], f"criteria.{criterion.id}.sentences")


def with_right_cause(exercise: ExerciseRubric, fault: str) -> ExerciseRubric:
    """The exercise with the choice marked that is right on an engine with this fault."""
    drawn = fault or NO_FAULT
    return replace(exercise, choices=tuple(replace(one, right=one.fault == drawn) for one in exercise.choices))


def attempts_of(exercise: ExerciseRubric, events: tuple[Event, ...]) -> list[DiagnosisAttempt]:
    """Every answer with what was looked at before it. Raises AnswerError where an event is none of this exercise."""
    looked: tuple[str, ...] = ()
    attempts: list[DiagnosisAttempt] = []
    for event in events:
        looked = _after(exercise, looked, event)
        if event.control == "answer":
            attempts.append(DiagnosisAttempt(read_choice(exercise, event.value, None), looked))
    return attempts


def looked_at(exercise: ExerciseRubric, events: tuple[Event, ...]) -> tuple[str, ...]:
    """The inspections of the account that is open, each as often as it was made."""
    looked: tuple[str, ...] = ()
    for event in events:
        looked = _after(exercise, looked, event)
    return looked


def _after(exercise: ExerciseRubric, looked: tuple[str, ...], event: Event) -> tuple[str, ...]:
    """The account after one event more."""
    if event.control == "begin":
        return ()
    if event.control != "inspect":
        return looked
    if len(looked) >= MOST_LOOKS:
        raise AnswerError(TOO_MANY)
    return (*looked, read_inspection(exercise, event.value))


def read_inspection(exercise: ExerciseRubric, value) -> str:
    """The id of an inspection that this exercise offers. Raises AnswerError."""
    if value not in exercise.inspections:
        raise AnswerError(f"'{str(value)[:40]}' is none of the inspections of this exercise.")
    return value


def judge_diagnosis(exercise: ExerciseRubric, events: tuple[Event, ...]) -> ExerciseResult | None:
    """Judge every attempt; the one with the most points counts, of equal ones the latest. None where none was made."""
    judged = [
        ExerciseResult(exercise.id, exercise.title, exercise.points, tuple(_judged(exercise, one)))
        for one in attempts_of(exercise, events)
    ]
    return max(reversed(judged), key=lambda result: result.points) if judged else None


def counted_attempt(exercise: ExerciseRubric, events: tuple[Event, ...]) -> DiagnosisAttempt | None:
    """The attempt that counts."""
    attempts = attempts_of(exercise, events)
    return (
        max(reversed(attempts), key=lambda one: sum(part.points for part in _judged(exercise, one)))
        if attempts
        else None
    )


def _judged(exercise: ExerciseRubric, one: DiagnosisAttempt) -> list[CriterionOutcome]:
    return [_CHECKS[criterion.check](exercise, criterion, one) for criterion in exercise.criteria]


def _part(criterion: Criterion) -> tuple[str, str, float]:
    return criterion.id, criterion.title, criterion.points


def _right_cause(_exercise, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    if not one.cause.right:
        return part_outcome(_part(criterion), 0.0, one.cause.sentence, one.cause.misconception)
    if not one.looked:
        return part_outcome(_part(criterion), GUESSED_SHARE, criterion.sentences["guessed"])
    return part_outcome(_part(criterion), 1.0, criterion.sentences["right"])


def _within_budget(exercise: ExerciseRubric, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    if not (one.cause.right and one.looked):
        return part_outcome(_part(criterion), 0.0, criterion.sentences["not_found"])
    within = one.minutes <= exercise.budget_minutes
    said = criterion.sentences["within" if within else "over"]
    filled = said.format(minutes=one.minutes, budget=f"{exercise.budget_minutes:g}")
    return part_outcome(_part(criterion), float(within), filled)


def _looked_first(exercise: ExerciseRubric, criterion: Criterion, one: DiagnosisAttempt) -> CriterionOutcome:
    apart = [place for place, name in enumerate(one.looked) if INSPECTIONS[name].takes_apart]
    before = set(one.looked[: apart[0]] if apart else one.looked)
    done = set(exercise.first) <= before
    return part_outcome(_part(criterion), float(done), criterion.sentences["first" if done else "late"])


_CHECKS = {"right_cause": _right_cause, "within_budget": _within_budget, "looked_first": _looked_first}


def parts_of_diagnosis(exercise: ExerciseRubric) -> Parts:
    """Every criterion, with its points."""
    return [_part(criterion) for criterion in exercise.criteria]


def judge_cause(exercise: ExerciseRubric, cause: Choice, _card) -> list[CriterionOutcome]:
    """A cause that is named without any inspection."""
    return _judged(exercise, DiagnosisAttempt(cause, ()))


DIAGNOSIS = Kind(
    frozenset({"choices", "shuffle", "criteria", "inspections", "budget_minutes", "first"}),
    check_diagnosis,
    read_choice,
    judge_cause,
    parts_of_diagnosis,
)
