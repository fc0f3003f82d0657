"""The card of a learner's own check: the judge of the class run, on what was done so far."""

from __future__ import annotations

from collections.abc import Callable

import traitlets

from course.widgets.at_work import lesson_at_work
from course.widgets.shared.front_end import module_text
from engine_sim import TimingCourseError
from graders.outcome import ExerciseResult, Outcome

from .form import Form


class CheckCard(Form):
    """A button and what the judge says. The browser sends `{"check": true}`."""

    _esm = module_text("forms/check.js")
    kind = traitlets.Enum(("check",), "check").tag(sync=True)

    def __init__(self, debrief: Callable[[], None] = lambda: None, **more):
        super().__init__(**more)
        self._debrief = debrief

    def show_result(self) -> ExerciseResult | None:
        """Ask the judge about the evidence so far, show what it says, and speak the sum."""
        with self._lock:
            result = super().show_result()
            if result is not None:
                self._debrief()
                self._say("done", spoken_result(result))
            return result

    def _act_on(self, content: dict) -> None:
        if content.get("check"):
            self.show_result()


def check(exercise_id: str) -> CheckCard:
    """The learner's own check of one exercise."""
    try:
        at_work = lesson_at_work()
        exercise = at_work.exercise(exercise_id)
    except TimingCourseError as error:
        return CheckCard.with_problem(exercise_id, str(error))
    card = CheckCard(
        debrief=lambda: at_work.debrief(exercise_id),
        judge=lambda: at_work.judge(exercise_id),
        exercise=exercise_id,
        title=exercise.title,
        points=float(exercise.points),
    )
    at_work.listen(exercise_id, card.show_result)
    return card


def spoken_result(result: ExerciseResult) -> str:
    """A result in one sentence, for those who hear the page."""
    counted = [criterion for criterion in result.criteria if criterion.max_points]
    met = sum(criterion.outcome.value == "met" for criterion in counted)
    rest = "" if met == len(counted) else " The list below says what is missing."
    ours = any(criterion.outcome is Outcome.COULD_NOT_BE_JUDGED for criterion in counted)
    person = f" {result.needs_person}" if ours else ""
    return f"Checked: {met} of {len(counted)} met, {result.points:g} of {result.max_points:g} points.{rest}{person}"
