"""The judge: evidence in, verdicts out. The learner's own check and the class run both call this code."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from engine_sim import Evidence, EvidenceError, Finding, TimingCourseError, inspection_named, read_evidence
from graders.bench.assignment import assignment_of, engine_of, reading_of, seed_text
from graders.bench.attempt import Attempt, CheckFinding
from graders.bench.criteria import CHECKS
from graders.bench.replay import attempts
from graders.bench.trace import trace_of
from graders.exercises.individualise import card_of, exercise_for
from graders.exercises.kinds.common import remark
from graders.exercises.kinds.diagnosis import counted_attempt
from graders.exercises.loader import Rubric, rubric_for

from .exercises import kinds
from .outcome import CriterionOutcome, ExerciseResult, LessonResult, Outcome
from .schema import Criterion, ExerciseRubric, RubricError

IN_ORDER = "This was in order: whatever would show here is not the cause."
NOT_IN_ORDER = "This was not in order: read it again, and name a cause that explains it and everything else you found."
TORN = "The last line of the evidence was cut off, as by a power cut; it was left out and all before it was judged."


def judge_lesson(
    lesson_id: str, evidence_path: Path, engines: Path, learner: str | None = None, rubrics: Path | None = None
) -> LessonResult:
    """Judge one learner's lesson.

    `engines` is the folder of engine cards; `learner`, where given, is whom the hand-in is from; `rubrics` the folder
    of a class that has rubrics of its own. Never raises for anything that a learner handed in: `problem` then says in
    one sentence what is wrong. Raises RubricError for a lesson that has no rubric.
    """
    rubric = rubric_for(lesson_id, rubrics)
    try:
        evidence = read_evidence(evidence_path)
        _check_belongs(evidence, rubric, Path(engines), learner, Path(evidence_path).name)
    except EvidenceError as error:
        return _not_judged(rubric, learner or "", error)
    results = tuple(judge_exercise(exercise, evidence, engines, rubrics) for exercise in rubric.exercises)
    return LessonResult(lesson_id, evidence.header.learner, results, notes=(TORN,) if evidence.torn else ())


def judge_exercise(exercise_id: str, evidence: Evidence, engines: Path, rubrics: Path | None = None) -> ExerciseResult:
    """Judge one exercise from evidence that was read. Never raises for what the events hold: an exercise that cannot
    be replayed is `could not be judged` and asks for a person. Raises RubricError for an exercise that is not there."""
    rubric = rubric_for(evidence.header.lesson, rubrics)
    if exercise_id not in rubric.exercises:
        raise RubricError(f"{rubric.lesson} has no exercise '{exercise_id}'; it has {', '.join(rubric.exercises)}.")
    exercise = rubric.exercises[exercise_id]
    events = evidence.of_exercise(exercise_id)
    if not events:
        return kinds.nothing_done(exercise)
    try:
        if exercise.kind == "bench":
            return _bench(exercise, evidence, Path(engines))
        card = card_of(exercise, evidence.header, Path(engines))
        own = exercise_for(exercise, seed_text(exercise, evidence.header), card)
        result = kinds.judge_answers(own, events, card)
        return _with_meanings(result, own, evidence, Path(engines)) if own.kind == "diagnosis" else result
    except TimingCourseError as error:
        return _could_not(exercise, str(error))
    except Exception as error:  # whatever else a forged event provokes: fail closed, and ask for a person
        return _could_not(exercise, f"The evidence of this exercise could not be replayed ({type(error).__name__}).")


def _check_belongs(evidence: Evidence, rubric: Rubric, engines: Path, learner: str | None, name: str) -> None:
    header = evidence.header
    if header.lesson != rubric.lesson:
        raise EvidenceError(
            "another lesson",
            f"{name} belongs to lesson '{header.lesson}' and '{rubric.lesson}' was "
            "wanted: hand in the file that stands beside this lesson's notebook.",
        )
    if learner is not None and header.learner != learner:
        raise EvidenceError(
            "another learner",
            f"{name} was written by '{header.learner}' and handed in by '{learner}': "
            "if both are the same person, an instructor can say so; else hand in your own work.",
        )
    cards = {
        engine_of(header, engines, exercise.engine).card.digest
        for exercise in rubric.exercises.values()
        if exercise.engine
    }
    if cards and header.engine not in cards:
        raise EvidenceError(
            "another engine",
            f"{name} was made on an engine with digest {header.engine}, which is not "
            f"the one that {header.learner} has in {rubric.lesson} in this edition of the course: use "
            "one edition for both.",
        )


def _not_judged(rubric: Rubric, learner: str, error: EvidenceError) -> LessonResult:
    outcome = Outcome.MISSING if error.kind in ("missing", "empty") else Outcome.COULD_NOT_BE_JUDGED
    results = tuple(
        ExerciseResult(
            exercise.id,
            exercise.title,
            exercise.points,
            tuple(
                CriterionOutcome(name, title, outcome, 0.0, points, str(error))
                for name, title, points in kinds.parts(exercise)
            ),
        )
        for exercise in rubric.exercises.values()
    )
    return LessonResult(rubric.lesson, learner, results, str(error), error.kind)


def _could_not(exercise: ExerciseRubric, sentence: str) -> ExerciseResult:
    criteria = tuple(
        CriterionOutcome(name, title, Outcome.COULD_NOT_BE_JUDGED, 0.0, points, sentence)
        for name, title, points in kinds.parts(exercise)
    )
    return ExerciseResult(exercise.id, exercise.title, exercise.points, criteria, needs_person=sentence)


# ---- a fault to find ----------------------------------------------------------------------------------------------


def _with_meanings(result: ExerciseResult, own: ExerciseRubric, evidence: Evidence, engines: Path) -> ExerciseResult:
    """After a wrong cause, what every inspection meant for the causes that are left; never which one is right."""
    one = counted_attempt(own, evidence.of_exercise(own.id))
    if one is None or one.cause.right:
        return result
    assignment, words = assignment_of(own, evidence.header, engines), seed_text(own, evidence.header)
    remarks = [_meaning(own, name, reading_of(assignment, name, words)) for name in dict.fromkeys(one.looked)]
    return replace(result, criteria=(*result.criteria, *remarks))


def _meaning(own: ExerciseRubric, inspection: str, found: Finding) -> CriterionOutcome:
    return remark(
        own, inspection, inspection_named(inspection).title, IN_ORDER if found.in_order else NOT_IN_ORDER, None
    )


# ---- work at the bench ----------------------------------------------------------------------------------------------


def judged_attempts(
    exercise: ExerciseRubric, evidence: Evidence, engines: Path
) -> list[tuple[Attempt, ExerciseResult]]:
    """Every attempt of a bench exercise with its result, in their order. Raises TimingCourseError for forged events."""
    assignment, judged = assignment_of(exercise, evidence.header, engines), []
    for trajectory in attempts(evidence, exercise.id, assignment):
        attempt = Attempt(trajectory, assignment.engine, assignment.conditions, assignment.fault)
        criteria = tuple(_criterion(criterion, attempt) for criterion in exercise.criteria)
        judged.append((attempt, ExerciseResult(exercise.id, exercise.title, exercise.points, criteria)))
    return judged


def best_attempt(judged: list[tuple[Attempt, ExerciseResult]]) -> tuple[Attempt, ExerciseResult]:
    """The attempt that counts: the one with the most points, the earlier one where two are equal."""
    return max(judged, key=lambda one: one[1].points)


def _bench(exercise: ExerciseRubric, evidence: Evidence, engines: Path) -> ExerciseResult:
    attempt, result = best_attempt(judged_attempts(exercise, evidence, engines))
    return replace(result, trace=trace_of(exercise, attempt))


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
