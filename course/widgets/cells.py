"""What a notebook's one-line cells call: each returns the widget of one exercise, or one that says why it
cannot."""

from __future__ import annotations

from collections.abc import Callable

from course.widgets.bench.bench import Bench
from course.widgets.forms.form_of import form_for, problem_form
from course.widgets.forms.forms import Form
from engine_sim import TimingCourseError
from graders.outcome import ExerciseResult
from graders.schema import ExerciseRubric

from .at_work import LessonAtWork, lesson_at_work

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
            known[exercise_id] = _opened_bench(at_work, exercise_id)
        return known[exercise_id]
    except TimingCourseError as error:
        return Bench(exercise=exercise_id, title="Engine bench", problem=str(error))


def choice(exercise_id: str) -> Form:
    """A question with several answers to choose from."""
    return _question(exercise_id, "choice")


def number(exercise_id: str) -> Form:
    """A question whose answer is a number, with its unit."""
    return _question(exercise_id, "number")


def written(exercise_id: str) -> Form:
    """A question that is answered in the learner's own words and read by a person."""
    return _question(exercise_id, "written")


def several(exercise_id: str) -> Form:
    """A question with several right answers to tick."""
    return _question(exercise_id, "several")


def order(exercise_id: str) -> Form:
    """Steps to put in order."""
    return _question(exercise_id, "order")


def fill_sum(exercise_id: str) -> Form:
    """A sum with units to fill in."""
    return _question(exercise_id, "sum")


def hook_up(exercise_id: str) -> Form:
    """Hoses to put on their fittings."""
    return _question(exercise_id, "hook_up")


def curve(exercise_id: str) -> Form:
    """A curve of advance over speed to draw."""
    return _question(exercise_id, "curve")


def needle(exercise_id: str) -> Form:
    """A live needle to name."""
    return _question(exercise_id, "needle", lambda at_work, own: {"start": lambda: at_work.running_engine(own)})


def diagnosis(exercise_id: str) -> Form:
    """A fault to find by inspections that cost minutes."""
    return _question(
        exercise_id,
        "diagnosis",
        lambda at_work, own: {
            "note": lambda control, value: at_work.note(exercise_id, control, value),
            "tell": lambda inspection: at_work.told(own, inspection),
            "looked": at_work.looked_at(own),
        },
    )


def engine_card(exercise_id: str) -> Form:
    """A card of the learner's own engine, what follows from it, and a sheet to print."""
    return _question(exercise_id, "engine_card", lambda at_work, own: {"folder": at_work.folder.path})


def check(exercise_id: str) -> Form:
    """The learner's own check of one exercise: the judge of the class run, on what was done so far."""
    try:
        at_work = lesson_at_work()
        exercise = at_work.exercise(exercise_id)
    except TimingCourseError as error:
        return problem_form("check", exercise_id, str(error))
    form = Form(
        judge=lambda: at_work.judge(exercise_id),
        kind="check",
        exercise=exercise_id,
        title=exercise.title,
        points=float(exercise.points),
    )
    at_work.listen(exercise_id, form.show_result)
    return form


def _opened_bench(at_work: LessonAtWork, exercise_id: str) -> Bench:
    exercise = at_work.exercise(exercise_id, "bench")
    session = at_work.session(exercise)
    card = session.engine.card
    opened = Bench(
        session,
        exercise=exercise_id,
        title=card.title,
        task=exercise.title,
        nameplate=[list(pair) for pair in card.nameplate.items()],
        conditions=at_work.day_in_numbers(session),
    )
    if at_work.writer.torn:
        opened.say("note", TORN)
    return opened


def _question(
    exercise_id: str, kind: str, of_its_own: Callable[[LessonAtWork, ExerciseRubric], dict] = lambda _at_work, _own: {}
) -> Form:
    try:
        at_work = lesson_at_work()
        exercise = at_work.learners_exercise(exercise_id, kind)
        return form_for(
            exercise,
            record=lambda value, unit: at_work.record(exercise_id, value, unit),
            judge=lambda: _judged_here(at_work, exercise_id),
            given=at_work.answers(exercise_id),
            **of_its_own(at_work, exercise),
        )
    except TimingCourseError as error:
        return problem_form(kind, exercise_id, str(error))


def _judged_here(at_work: LessonAtWork, exercise_id: str) -> ExerciseResult | None:
    """What the judge says, unless a check on the page says it."""
    return None if at_work.has_listener(exercise_id) else at_work.judge(exercise_id)
