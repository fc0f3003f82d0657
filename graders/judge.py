"""The judge: evidence in, verdicts out. The learner's own check and the class run both call this code."""

from __future__ import annotations

from pathlib import Path

from engine_sim import SEA_LEVEL_DAY, Event, Evidence, EvidenceError, TimingCourseError, read_evidence

from .compare import compare
from .criteria import CHECKS, Case, Finding
from .outcome import CriterionOutcome, ExerciseResult, LessonResult, Outcome
from .reference import reference_for
from .replay import engine_for, engine_of, tries
from .rubrics import Criterion, ExerciseRubric, Rubric, RubricError, load_rubric

TORN = "The last line of the evidence was cut off, as by a power cut; it was left out and all before it was judged."


def judge_lesson(lesson_id: str, evidence_path: Path, engines: Path, learner: str | None = None) -> LessonResult:
    """Judge one learner's lesson.

    `engines` is the folder of engine cards; `learner`, where given, is whom the hand-in is from. Never raises for
    anything that a learner handed in: `problem` then says in one sentence what is wrong. Raises RubricError for a
    lesson that has no rubric.
    """
    rubric = load_rubric(lesson_id)
    try:
        evidence = read_evidence(evidence_path)
        _check_belongs(evidence, rubric, Path(engines), learner, Path(evidence_path).name)
    except EvidenceError as error:
        return _not_judged(rubric, learner or "", error)
    results = tuple(judge_exercise(exercise, evidence, engines) for exercise in rubric.exercises)
    return LessonResult(lesson_id, evidence.header.learner, results, notes=(TORN,) if evidence.torn else ())


def judge_exercise(exercise_id: str, evidence: Evidence, engines: Path) -> ExerciseResult:
    """Judge one exercise from evidence that was read. Never raises for what the events hold: an exercise that cannot
    be replayed is `could not be judged` and asks for a person. Raises RubricError for an exercise that is not there."""
    rubric = load_rubric(evidence.header.lesson)
    if exercise_id not in rubric.exercises:
        raise RubricError(f"{rubric.lesson} has no exercise '{exercise_id}'; it has {', '.join(rubric.exercises)}.")
    exercise = rubric.exercises[exercise_id]
    events = evidence.of_exercise(exercise_id)
    if not events:
        return ExerciseResult(exercise_id, exercise.title, exercise.points, _all_missing(exercise))
    try:
        if exercise.kind == "bench":
            return _bench(exercise, evidence, Path(engines))
        return {"choice": _choice, "number": _number, "written": _written}[exercise.kind](exercise, events)
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
                for name, title, points in _parts(exercise)
            ),
        )
        for exercise in rubric.exercises.values()
    )
    return LessonResult(rubric.lesson, learner, results, str(error), error.kind)


def _parts(exercise: ExerciseRubric):
    if exercise.criteria:
        return [(criterion.id, criterion.title, criterion.points) for criterion in exercise.criteria]
    return [(exercise.id, exercise.title, exercise.points)]


def _all_missing(exercise: ExerciseRubric) -> tuple[CriterionOutcome, ...]:
    return tuple(
        CriterionOutcome(name, title, Outcome.MISSING, 0.0, points, "Nothing was done here yet.")
        for name, title, points in _parts(exercise)
    )


def _could_not(exercise: ExerciseRubric, sentence: str) -> ExerciseResult:
    criteria = tuple(
        CriterionOutcome(name, title, Outcome.COULD_NOT_BE_JUDGED, 0.0, points, sentence)
        for name, title, points in _parts(exercise)
    )
    return ExerciseResult(exercise.id, exercise.title, exercise.points, criteria, needs_person=sentence)


# ---- one exercise of each kind --------------------------------------------------------------------------------------


def _bench(exercise: ExerciseRubric, evidence: Evidence, engines: Path) -> ExerciseResult:
    """Every try is judged; the one with the most points counts, the earlier one where two are equal."""
    given = engine_of(evidence.header, engines, exercise.engine)
    engine, reference = engine_for(given.card), reference_for(given.card, SEA_LEVEL_DAY)
    judged = []
    for trajectory in tries(evidence, exercise.id, given):
        case = Case(trajectory, engine, SEA_LEVEL_DAY, reference)
        criteria = tuple(_criterion(criterion, case) for criterion in exercise.criteria)
        judged.append(ExerciseResult(exercise.id, exercise.title, exercise.points, criteria))
    return max(judged, key=lambda result: result.points)


def _criterion(criterion: Criterion, case: Case) -> CriterionOutcome:
    found: Finding = CHECKS[criterion.check](case, criterion.tolerances)
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


def _answers(events: tuple[Event, ...]) -> list[Event]:
    return [event for event in events if event.control == "answer"]


def _best(exercise: ExerciseRubric, outcomes: list[CriterionOutcome]) -> ExerciseResult:
    """The try with the most points counts; of equal ones the latest, whose feedback is the freshest."""
    if not outcomes:
        return ExerciseResult(exercise.id, exercise.title, exercise.points, _all_missing(exercise))
    best = max(reversed(outcomes), key=lambda outcome: outcome.points)
    return ExerciseResult(exercise.id, exercise.title, exercise.points, (best,))


def _answered(
    exercise: ExerciseRubric, right: bool, sentence: str, misconception: str | None = None
) -> CriterionOutcome:
    return CriterionOutcome(
        exercise.id,
        exercise.title,
        Outcome.MET if right else Outcome.NOT_YET,
        exercise.points if right else 0.0,
        exercise.points,
        sentence,
        misconception,
    )


def _choice(exercise: ExerciseRubric, events: tuple[Event, ...]) -> ExerciseResult:
    choices = {choice.id: choice for choice in exercise.choices}
    outcomes = []
    for event in _answers(events):
        choice = choices.get(event.value)
        if choice is None:
            return _could_not(
                exercise, f"The answer '{str(event.value)[:40]}' is none of the choices of this exercise."
            )
        outcomes.append(_answered(exercise, choice.right, choice.sentence, choice.misconception))
    return _best(exercise, outcomes)


def _number(exercise: ExerciseRubric, events: tuple[Event, ...]) -> ExerciseResult:
    outcomes = []
    for event in _answers(events):
        if isinstance(event.value, bool) or not isinstance(event.value, int | float):
            return _could_not(exercise, f"A number was wanted and '{str(event.value)[:40]}' was found.")
        found = compare(exercise, float(event.value), event.unit)
        if found.mistake is not None:
            outcomes.append(_answered(exercise, False, found.mistake.sentence, found.mistake.misconception))
        else:
            outcomes.append(_answered(exercise, found.finding == "right", exercise.sentences[found.finding]))
    return _best(exercise, outcomes)


def _written(exercise: ExerciseRubric, events: tuple[Event, ...]) -> ExerciseResult:
    """The latest text is what a person marks."""
    answers = [event for event in _answers(events) if isinstance(event.value, str) and event.value.strip()]
    if not answers:
        return ExerciseResult(exercise.id, exercise.title, exercise.points, _all_missing(exercise))
    waiting = CriterionOutcome(
        exercise.id,
        exercise.title,
        Outcome.NOT_YET,
        0.0,
        exercise.points,
        "Your answer was handed in; a person reads and marks it.",
    )
    return ExerciseResult(
        exercise.id,
        exercise.title,
        exercise.points,
        (waiting,),
        needs_person="A written answer waits to be marked.",
        answer=answers[-1].value,
    )
