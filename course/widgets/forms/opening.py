"""Open the form of an exercise of the lesson at work: what a notebook's one-line cells call."""

from __future__ import annotations

from typing import TypeVar

from course.widgets.at_work import lesson_at_work
from engine_sim import TimingCourseError

from .form import Form

SomeForm = TypeVar("SomeForm", bound=Form)


def opened(form_class: type[SomeForm], exercise_id: str) -> SomeForm:
    """The form of one exercise with what was answered so far, or one that says why there is nothing to work on."""
    try:
        at_work = lesson_at_work()
        exercise = at_work.learners_exercise(exercise_id, form_class.kind.default_value)
        form = form_class.for_exercise(
            exercise,
            record=lambda value, unit: at_work.record(exercise_id, value, unit),
            judge=lambda: at_work.judge(exercise_id),
            given=at_work.answers(exercise_id),
            **form_class.of_its_own(at_work, exercise),
        )
        if at_work.begins_again(exercise_id):
            form.begin_again()
        return form
    except TimingCourseError as error:
        return form_class.with_problem(exercise_id, str(error))
