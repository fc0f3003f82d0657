"""The judge: evidence in, verdicts out. The learner's own check and the class run both call this code."""

from __future__ import annotations

import logging
from dataclasses import replace
from pathlib import Path

from engine_sim import Evidence, EvidenceError, TimingCourseError, read_evidence, version
from graders.bench.assignment import engine_of
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import Rubric, rubric_for
from graders.outcome import CriterionOutcome, ExerciseResult, LessonResult, Outcome
from graders.schema import EngineExercise, RubricError

TORN = "The last line of the evidence was cut off, as by a power cut; it was left out and all before it was judged."
OTHER_MODEL = (
    "This was done on engine model {others}, and this edition of the course judges by model {here}. It is kept as it "
    "is and was not judged: do it once more on the engine of today, or let your instructor look at it."
)
MAY_BE_WORTH_MORE = (
    "A part of this was done on engine model {others}, which this edition of the course, with model {here}, cannot "
    "judge. It may be worth more."
)
NOT_LOOKED_OVER = (
    "'{title}' counts here as you last had it looked over: press 'Look it over' at its bench to count the rest."
)
_log = logging.getLogger(__name__)


def judge_lesson(
    lesson_id: str,
    evidence_path: Path,
    engines: Path,
    learner: str | None = None,
    rubrics: Path | None = None,
    as_told: bool = False,
) -> LessonResult:
    """Judge one learner's lesson.

    `engines` is the folder of engine cards; `learner`, where given, is whom the hand-in is from; `rubrics` the folder
    of a class that has rubrics of its own. With `as_told` work at an engine that cannot be guessed counts as the
    learner last had it looked over: on the way nothing is told of it. Never raises for anything that a learner handed
    in: `problem` then says in one sentence what is wrong. Raises RubricError for a lesson that has no rubric.
    """
    rubric = rubric_for(lesson_id, rubrics)
    try:
        evidence = read_evidence(evidence_path)
        _check_belongs(evidence, rubric, Path(engines), learner, Path(evidence_path).name)
    except EvidenceError as error:
        return _not_judged(rubric, learner or "", error)
    notes = (TORN,) if evidence.torn else ()
    if as_told:
        guarded = {one.id: one.title for one in rubric.exercises.values() if _guarded(one)}
        told = evidence.as_told(guarded)
        since = [title for name, title in guarded.items() if told.of_exercise(name) != evidence.of_exercise(name)]
        evidence, notes = told, (*notes, *(NOT_LOOKED_OVER.format(title=title) for title in since))
    results = tuple(judge_exercise(exercise, evidence, engines, rubrics) for exercise in rubric.exercises)
    return LessonResult(lesson_id, evidence.header.learner, results, notes=notes)


def judge_exercise(exercise_id: str, evidence: Evidence, engines: Path, rubrics: Path | None = None) -> ExerciseResult:
    """Judge one exercise from evidence that was read. Never raises for what the events hold: an exercise that cannot
    be replayed is `could not be judged` and asks for a person. Raises RubricError for an exercise that is not there."""
    rubric = rubric_for(evidence.header.lesson, rubrics)
    if exercise_id not in rubric.exercises:
        raise RubricError(f"{rubric.lesson} has no exercise '{exercise_id}'; it has {', '.join(rubric.exercises)}.")
    exercise = rubric.exercises[exercise_id]
    others = other_models(exercise, evidence)
    here = evidence.on_this_model() if exercise.by_engine_model else evidence
    if others and version.MODEL_VERSION not in evidence.models_of(exercise_id):
        sentence = OTHER_MODEL.format(others=" and ".join(others), here=version.MODEL_VERSION)
        held = _all_of(exercise, Outcome.COULD_NOT_BE_JUDGED, "")
        return replace(held, needs_person=sentence, other_models=others)
    if not here.of_exercise(exercise_id):
        return exercise.nothing_done()
    try:
        own = learners_exercise(exercise, here.header, Path(engines))
        return _beside_others(own.judge_evidence(here, Path(engines)), others)
    except TimingCourseError as error:
        return replace(_could_not(exercise, str(error)), other_models=others)
    except Exception as error:  # whatever else a forged event provokes: fail closed, and ask for a person
        _log.exception("%s of learner %r could not be replayed", exercise_id, evidence.header.learner)
        sentence = f"The evidence of this exercise could not be replayed ({type(error).__name__})."
        return replace(_could_not(exercise, sentence), other_models=others)


def _guarded(exercise: Exercise) -> bool:
    """Whether it is work at an engine that cannot be guessed."""
    return isinstance(exercise, EngineExercise) and exercise.at_the_bench and not exercise.guessable


def other_models(exercise: Exercise, evidence: Evidence) -> tuple[str, ...]:
    """The engine models, other than that of this edition, on which work was done that they alone can judge."""
    models = evidence.models_of(exercise.id) if exercise.by_engine_model else ()
    return tuple(model for model in models if model != version.MODEL_VERSION)


def needs_other_model(lesson_id: str, evidence_path: Path, rubrics: Path | None = None) -> bool:
    """Whether evidence holds work that this edition cannot judge; False where the evidence cannot be read. Raises
    RubricError for a lesson that has no rubric."""
    try:
        evidence = read_evidence(evidence_path)
    except EvidenceError:
        return False
    return any(other_models(exercise, evidence) for exercise in rubric_for(lesson_id, rubrics).exercises.values())


def _beside_others(result: ExerciseResult, others: tuple[str, ...]) -> ExerciseResult:
    """A result beside which stands work on other models, which a person is asked to look at where it may earn more."""
    if not others or result.points >= result.max_points:
        return result
    sentence = MAY_BE_WORTH_MORE.format(others=" and ".join(others), here=version.MODEL_VERSION)
    return replace(result, needs_person=result.needs_person or sentence, other_models=others)


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
    here = [one.engine for one, _ in evidence.parts() if one.model == version.MODEL_VERSION]
    strange = [engine for engine in here if engine not in cards]
    if cards and strange:
        raise EvidenceError(
            "another engine",
            f"{name} was made on an engine with digest {strange[0]}, which is not "
            f"the one that {header.learner} has in {rubric.lesson} in this edition of the course: use "
            "one edition for both.",
        )


def _not_judged(rubric: Rubric, learner: str, error: EvidenceError) -> LessonResult:
    outcome = Outcome.MISSING if error.kind in ("missing", "empty") else Outcome.COULD_NOT_BE_JUDGED
    results = tuple(_all_of(exercise, outcome, str(error)) for exercise in rubric.exercises.values())
    return LessonResult(rubric.lesson, learner, results, str(error), error.kind)


def _could_not(exercise: Exercise, sentence: str) -> ExerciseResult:
    return replace(_all_of(exercise, Outcome.COULD_NOT_BE_JUDGED, sentence), needs_person=sentence)


def _all_of(exercise: Exercise, outcome: Outcome, sentence: str) -> ExerciseResult:
    """The result in which every part of an exercise has the same outcome, without points."""
    return exercise.result(
        [
            CriterionOutcome(
                criterion=name, title=title, outcome=outcome, points=0.0, max_points=points, sentence=sentence
            )
            for name, title, points in exercise.parts()
        ]
    )
