"""Work at the bench: what was done is replayed on the learner's own engine, and judged criterion by criterion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar, Literal

from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Evidence, Header, fault_named
from graders.bench.assignment import assignment_of, check_assignment
from graders.bench.attempt import Attempt, CheckFinding
from graders.bench.criteria import CHECKS
from graders.bench.reference import reference_for
from graders.bench.replay import attempts
from graders.bench.trace import searches, trace_of
from graders.exercises.units import in_unit
from graders.outcome import CriterionOutcome, ExerciseResult, Outcome
from graders.schema import AS_DECLARED, Criterion, EngineExercise

from .common import AnswerError, Parts, need, need_different, need_known, need_sentences, parts_of_criteria
from .exercise import Exercise


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

    def read(self, value, unit: str | None):
        """Raise AnswerError: nothing is answered here."""
        raise AnswerError("Work at the bench is not an answer; it is replayed.")

    def judge(self, answer: Attempt, card: EngineCard | None) -> list[CriterionOutcome]:
        """What one attempt earns, criterion by criterion."""
        return [_criterion(criterion, answer) for criterion in self.criteria]

    def judged_attempts(self, evidence: Evidence, engines: Path) -> list[tuple[Attempt, ExerciseResult]]:
        """Every attempt with its result, in their order. Raises TimingCourseError for forged events."""
        assignment, judged = assignment_of(self, evidence.header, engines), []
        for trajectory in attempts(evidence, self.id, assignment):
            attempt = Attempt(trajectory, assignment.engine, assignment.conditions, assignment.fault)
            judged.append((attempt, self.result(self.judge(attempt, assignment.card))))
        return judged

    def judge_evidence(self, evidence: Evidence, engines: Path) -> ExerciseResult:
        """The result of the attempt that counts, with its trace. Raises TimingCourseError for forged events."""
        attempt, result = best_attempt(self.judged_attempts(evidence, engines))
        return replace(result, trace=trace_of(self.criteria, attempt))

    def model_answer(self) -> None:
        """None: a faultless learner works at the bench itself (graders/model_answers)."""

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """What is wrong with the engine, how it was found, and where the method leads on it."""
        assignment = assignment_of(self, header, engines)
        method = reference_for(assignment.card, assignment.conditions).method
        wrong = fault_named(assignment.fault).title if assignment.fault else "nothing"
        return (
            f"Wrong with it: {wrong}. Found at {assignment.found.base_timing_deg:.1f} crank degrees before top centre. "
            f"On this engine, sound, the method has its peak at {method.peak_timing_deg:.0f} and ends at "
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
    """The attempt that counts: the one with the most points, the earlier one where two are equal."""
    return max(judged, key=lambda one: one[1].points)


def _check_criteria(exercise: BenchExercise) -> None:
    """Raise RubricError where a criterion at the bench is judged by a check that there is not, or cannot say that it
    was met or that there was nothing to judge."""
    for criterion in exercise.criteria:
        need_known([criterion.check], CHECKS, f"criteria.{criterion.id}.check")
        need_sentences(criterion.sentences, ("met", "missing"), f"criteria.{criterion.id}.sentences")


def _criterion(criterion: Criterion, attempt: Attempt) -> CriterionOutcome:
    found: CheckFinding = CHECKS[criterion.check](attempt, criterion.tolerances)
    sentence = criterion.sentences[found.name].format(**found.values)
    outcome = Outcome.MET if found.share == 1.0 else Outcome.MISSING if found.name == "missing" else Outcome.NOT_YET
    return CriterionOutcome(
        criterion.id,
        criterion.title,
        outcome,
        round(found.share * criterion.points, 2),
        criterion.points,
        sentence,
        found.misconception,
    )
