"""Work at the bench: what was done is replayed on the learner's own engine, and judged criterion by criterion."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal, NoReturn

from pydantic.dataclasses import dataclass

from engine_sim import SOUND, EngineCard, Evidence, Header, fault_named
from graders.bench.assignment import assignment_of, check_assignment
from graders.bench.attempt import Attempt
from graders.bench.criteria import CHECKS
from graders.bench.method_steps import told_away
from graders.bench.reference import reference_for
from graders.bench.replay import attempts
from graders.bench.trace import searches, trace_of
from graders.exercises.sentences import need_declared
from graders.exercises.units import in_unit
from graders.outcome import COURSE_FAULT, CriterionOutcome, ExerciseResult, Outcome
from graders.schema import AS_DECLARED, Criterion, EngineExercise

from .common import AnswerError, Parts, need, need_different, need_known, parts_of_criteria
from .exercise import Exercise

OURS = "This could not be judged, because of a fault in the course. It is not your fault; your other points stand."
IN_PART = f"{COURSE_FAULT}, this could not be judged: {{}}. A person gives the points for it."
TOLD = "You asked 'What next?' at this step, so it earns nothing in this try and counts again in a later one. "
TOLD_BEFORE = (
    " This counts as it stood at the first verdict, which told you the figure. A new try is at another engine."
)
OTHER_ATTEMPT = f"{COURSE_FAULT}, another attempt could be judged only in part. It may be worth more."
_log = logging.getLogger("graders.judge")  # the judge's log, wherever its parts lie


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class BenchExercise(EngineExercise, Exercise):
    """The `criteria` name functions of graders/bench/criteria/, each of which looks at a whole attempt."""

    kind: Literal["bench"]
    criteria: tuple[Criterion, ...] = ()

    at_the_bench: ClassVar[bool] = True

    def check(self) -> None:
        """Raise RubricError unless there is an engine, and criteria that can be judged."""
        need(bool(self.engine), "engine is missing: name the engine card")
        need(bool(self.criteria), "criteria needs one criterion or more")
        need_different((criterion.id for criterion in self.criteria), "criteria")
        check_assignment(self)
        _check_criteria(self)

    def parts(self) -> Parts:
        """Every criterion, with its points."""
        return parts_of_criteria(self.criteria)

    def read(self, value: object, unit: str | None) -> NoReturn:
        """Raise AnswerError: nothing is answered here."""
        raise AnswerError("Work at the bench is not an answer; it is replayed.")

    def judge(self, answer: Attempt, card: EngineCard | None) -> list[CriterionOutcome]:
        """What one attempt earns, criterion by criterion."""
        return self._outcomes(answer, self.id)

    def judged_attempts(self, evidence: Evidence, engines: Path) -> list[tuple[Attempt, ExerciseResult]]:
        """Every attempt with its result, in their order. Raises TimingCourseError for forged events."""
        judged = []
        for trajectory, given in attempts(self, evidence, engines):
            attempt = Attempt(trajectory, given.engine, given.conditions, given.fault, given.label)
            result = self.result(self._outcomes(attempt, f"{self.id} of learner {evidence.header.learner!r}"))
            judged.append((attempt, replace(result, needs_person=_person_for(result))))
        return judged

    def judge_evidence(self, evidence: Evidence, engines: Path) -> ExerciseResult:
        """The result of the attempt that counts, with its trace. Raises TimingCourseError for forged events."""
        judged = self.judged_attempts(evidence, engines)
        attempt, result = best_attempt(judged)
        result = self._traced(attempt, result)
        if judged[-1][0] is attempt:
            return result
        return replace(result, latest=self._traced(*judged[-1]))

    def _traced(self, attempt: Attempt, result: ExerciseResult) -> ExerciseResult:
        result = replace(result, closed=attempt.trajectory.closed)
        try:
            return replace(result, trace=trace_of(self.criteria, attempt))
        except Exception:  # a picture that cannot be drawn costs no points
            _log.exception("The trace of an attempt at %s could not be made", self.id)
            return result

    def _outcomes(self, attempt: Attempt, whose: str) -> list[CriterionOutcome]:
        away = told_away(attempt.trajectory.hints)
        outcomes = [_criterion(criterion, attempt, whose) for criterion in self.criteria]
        return [
            _as_told(outcome) if criterion.check in away else outcome
            for criterion, outcome in zip(self.criteria, outcomes, strict=True)
        ]

    def model_answer(self) -> None:
        """None: a faultless learner works at the bench itself (graders/model_answers)."""

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """What is wrong with the engine, how it was found, what its label is worth, and where the method leads on
        it."""
        assignment = assignment_of(self, header, engines)
        wear = SOUND if assignment.fault else assignment.engine.wear
        method = reference_for(assignment.card, assignment.conditions, wear).method
        label = f"{assignment.label.told} " if assignment.label.told else ""
        wrong = fault_named(assignment.fault).title if assignment.fault else "nothing"
        return (
            f"Wrong with it: {wrong}. Found at {assignment.found.base_timing_deg:.1f} crank degrees before top centre. "
            f"{label}On this engine, sound, the method has its peak at {method.peak_timing_deg:.0f} and ends at "
            f"{method.timing_deg:.1f}, at {method.speed_rpm:.0f} rpm and {method.vacuum_inhg:.1f} inHg "
            f"({in_unit(method.vacuum_inhg, 'inHg', 'kPa'):.0f} kPa), or later where it pings."
        )

    def searches_timing(self) -> bool:
        """Whether a timing is looked for and set."""
        return searches(self.criteria)

    def tables_with_points(self) -> Sequence[Criterion]:
        """The criteria."""
        return self.criteria


def best_attempt(judged: list[tuple[Attempt, ExerciseResult]]) -> tuple[Attempt, ExerciseResult]:
    """The attempt that counts: the one with the most points, the earlier one where two are equal.

    A criterion that could not be judged counts nothing here. Where it, or one of another attempt, might have earned
    more than the attempt that counts, a person is asked to look.
    """
    attempt, result = max(judged, key=lambda one: one[1].points)
    if not result.needs_person and any(_at_most(other) > result.points for _, other in judged):
        result = replace(result, needs_person=OTHER_ATTEMPT)
    return attempt, result


def _at_most(result: ExerciseResult) -> float:
    """The points of an attempt if everything that could not be judged were met."""
    could_not = (one.max_points for one in result.criteria if one.outcome is Outcome.COULD_NOT_BE_JUDGED)
    return result.points + sum(could_not)


def _person_for(result: ExerciseResult) -> str:
    """Why a person has to look at an attempt: the criteria that could not be judged; empty where there is none."""
    failed = [one.title for one in result.criteria if one.outcome is Outcome.COULD_NOT_BE_JUDGED]
    return IN_PART.format(", ".join(f"'{title}'" for title in failed)) if failed else ""


def _as_told(outcome: CriterionOutcome) -> CriterionOutcome:
    """The outcome of a criterion whose step the learner asked for: what would earn something earns nothing."""
    if not outcome.points:
        return outcome
    return replace(outcome, outcome=Outcome.NOT_YET, points=0.0, sentence=TOLD + outcome.sentence)


def _check_criteria(exercise: BenchExercise) -> None:
    """Raise RubricError where a criterion at the bench is judged by a check that there is not, or does not fit what
    that check declares."""
    for criterion in exercise.criteria:
        need_known([criterion.check], CHECKS, f"criteria.{criterion.id}.check")
        declared = CHECKS[criterion.check]
        need_declared(
            criterion,
            findings=declared.findings,
            tolerances=[name for name in declared.tolerances if name not in declared.usual],
            values=declared.values,
            retired=(*declared.retired, *declared.usual),
        )


def _criterion(criterion: Criterion, attempt: Attempt, whose: str) -> CriterionOutcome:
    """The outcome of one criterion; `could not be judged` where its check or its sentence fails, which is never the
    learner's fault. The log then names `whose` work it was."""
    try:
        found, held = CHECKS[criterion.check].counted(attempt, criterion.tolerances)
        sentence = criterion.sentences[found.name].format(**found.values).strip() + (TOLD_BEFORE if held else "")
        outcome = Outcome.MET if found.share == 1.0 else Outcome.MISSING if found.name == "missing" else Outcome.NOT_YET
        points, misconception = round(found.share * criterion.points, 2), found.misconception
    except Exception:  # the other criteria keep their points
        _log.exception("The check '%s' failed on criterion '%s', %s", criterion.check, criterion.id, whose)
        outcome, points, sentence, misconception = Outcome.COULD_NOT_BE_JUDGED, 0.0, OURS, None
    return CriterionOutcome(
        criterion=criterion.id,
        title=criterion.title,
        outcome=outcome,
        points=points,
        max_points=criterion.points,
        sentence=sentence,
        misconception=misconception,
    )
