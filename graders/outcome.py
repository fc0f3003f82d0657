"""The vocabulary of the judge: an outcome for every criterion, a result for every exercise and lesson."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

NO_JUDGE = "no judge"  # the kind of problem that the next class run tries again: it is no fault of the work
UNFORESEEN = "unforeseen"  # the kind of problem that no hand-in should bring about
FAULTS_OF_OURS = (NO_JUDGE, UNFORESEEN)  # verdicts that the next class run does not accept
BROKE = "broke down"  # the judge did, on this work
COURSE_FAULT = "Because of a fault in the course"  # so begins why a person has to look, where the fault is ours


class Outcome(Enum):
    """What the judge can say of one criterion."""

    MET = "met"
    NOT_YET = "not yet"
    MISSING = "missing"
    COULD_NOT_BE_JUDGED = "could not be judged"


@dataclass(frozen=True)
class CriterionOutcome:
    """One criterion of one exercise: its outcome, its points and the sentence the learner reads."""

    criterion: str
    title: str
    outcome: Outcome
    points: float
    max_points: float
    sentence: str = ""
    misconception: str | None = None


@dataclass(frozen=True)
class Trace:
    """What was done at the bench in the attempt that counts, as points of a line.

    `over` says what `along` holds: "timing", the base timing counted from where it was found [crank deg, earlier is
    more], or "time" [s]. Beside each of them stand vacuum [inHg] and speed [rpm]. Over timing, `peak` is where the
    highest vacuum lies, `method` where the method leads, and `left_at` where the timing was left after the whole try;
    `own_line` is this very engine's own line, each point a timing with vacuum [inHg] and speed [rpm], warm, with hose
    plugged and the idle screw as the search left it; from `flat_from` on its vacuum is within a needle's wobble of the
    highest, from `pings_from` on it pings clearly on its fuel. `body_per_crank` turns all of these into turns of the
    distributor's body: its degrees clockwise for a crank degree earlier; None in records of earlier editions. Over
    time, `acts` are the times of what the controls did.
    """

    over: str
    along: tuple[float, ...]
    vacuum_inhg: tuple[float, ...]
    speed_rpm: tuple[float, ...]
    peak: float | None = None
    acts: tuple[float, ...] = ()
    method: float | None = None
    left_at: float | None = None
    own_line: tuple[tuple[float, float, float], ...] = ()
    flat_from: float | None = None
    pings_from: float | None = None
    body_per_crank: float | None = None

    def without_the_engine(self) -> Trace:
        """What was done alone, with nothing of what the engine itself does."""
        return replace(self, peak=None, method=None, own_line=(), flat_from=None, pings_from=None)


@dataclass(frozen=True)
class ExerciseResult:
    """One exercise: its criteria and what they add up to.

    `needs_person` holds the reason why a person must look at it (a written answer, evidence that could not be
    judged), or is empty. `answer` is the learner's own text where the exercise asks for one, `trace` what was done
    where it is work at the bench. `other_models` names the engine models of work that this edition could not judge.
    `latest` is the result of the latest try, where an earlier one counts; `closed` says that the learner closed the try
    to see what the engine does.
    """

    exercise: str
    title: str
    max_points: float
    criteria: tuple[CriterionOutcome, ...] = ()
    needs_person: str = ""
    answer: str = ""
    trace: Trace | None = None
    other_models: tuple[str, ...] = ()
    latest: ExerciseResult | None = None
    closed: bool = False

    @property
    def points(self) -> float:
        """Points earned, never below zero nor above the maximum."""
        return min(max(sum(criterion.points for criterion in self.criteria), 0.0), self.max_points)

    @property
    def shown(self) -> ExerciseResult:
        """The result of the latest try, of which a verdict speaks."""
        return self.latest or self

    @property
    def done(self) -> bool:
        """Whether this try can gain nothing more from what the engine does: closed, or with full marks."""
        return self.closed or self.points >= self.max_points

    @property
    def to_see(self) -> Trace | None:
        """What the engine does, where the latest try is done."""
        trace = self.shown.trace
        return trace if self.shown.done and trace and trace.own_line else None

    @property
    def better(self) -> ExerciseResult | None:
        """This result, where an earlier try earned more than the latest; None where it did not."""
        return self if self.points > self.shown.points else None


@dataclass(frozen=True)
class LessonResult:
    """One learner's lesson. `problem` is the one sentence that says why the evidence could not be judged."""

    lesson: str
    learner: str
    exercises: tuple[ExerciseResult, ...]
    problem: str = ""
    problem_kind: str = ""
    notes: tuple[str, ...] = ()

    @property
    def points(self) -> float:
        """Points earned in the whole lesson."""
        return sum(exercise.points for exercise in self.exercises)

    @property
    def max_points(self) -> float:
        """Points that the whole lesson offers."""
        return sum(exercise.max_points for exercise in self.exercises)

    def exercise(self, exercise_id: str) -> ExerciseResult | None:
        """The result of one exercise, or None where the lesson does not have it."""
        return next((result for result in self.exercises if result.exercise == exercise_id), None)
