"""The bench of an exercise: the widget that stands in the place of a form."""

from __future__ import annotations

from typing import cast

from course.widgets.at_work import LessonAtWork, lesson_at_work
from course.widgets.bench.bench import Bench
from engine_sim import TimingCourseError
from graders.exercises.kinds.bench import BenchExercise

KIND = "bench"
WITHOUT_GUIDE = ("l09_answer_the_letter",)  # here the way is the learner's own
TORN = (
    "The last line of your record was cut off, as by a power cut, and was dropped; look at the bench and "
    "the last step again."
)


def bench(exercise_id: str) -> Bench:
    """The bench of one exercise: the engine as it was found, or as it was left. A cell run again shows the
    same bench."""
    try:
        at_work = lesson_at_work()
        known = at_work.benches
        if exercise_id not in known or known[exercise_id].problem:
            known[exercise_id] = _opened(at_work, exercise_id)
        return known[exercise_id]
    except TimingCourseError as error:
        return Bench(exercise=exercise_id, title="Engine bench", problem=str(error))


def guide_of(lesson: str, guessable: bool) -> str:
    """How much of the method the bench shows: every step in practice, its phases where each attempt is at another
    engine, and nothing in the letter."""
    if lesson in WITHOUT_GUIDE:
        return "none"
    return "steps" if guessable else "phases"


def _opened(at_work: LessonAtWork, exercise_id: str) -> Bench:
    exercise = cast(BenchExercise, at_work.exercise(exercise_id, KIND))
    session = at_work.session(exercise)
    card = session.engine.card
    shown = Bench(
        session,
        exercise=exercise_id,
        title=card.title,
        task=exercise.title,
        nameplate_of=lambda engine_number: at_work.nameplate(exercise, engine_number),
        conditions=at_work.day_in_numbers(session),
        guide=guide_of(at_work.rubric.lesson, exercise.guessable),
        checks={criterion.check for criterion in exercise.criteria},
        judge=lambda: at_work.judge(exercise_id),
        guessable=exercise.guessable,
        points=float(exercise.points),
        closes=exercise.searches_timing() and not exercise.guessable,
    )
    if at_work.writer.torn:
        shown.say("note", TORN)
    return shown
