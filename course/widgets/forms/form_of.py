"""The form that fits an exercise, filled from its rubric and from what was answered so far."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from engine_sim import Event
from graders.exercises.kinds.common import AnswerError
from graders.exercises.kinds.exercise import Exercise
from graders.outcome import ExerciseResult

from .engine_card_form import EngineCardForm
from .forms import Form
from .forms_at_an_engine import DiagnosisForm, NeedleForm
from .forms_of_parts import CurveForm, FormOfParts, HookUpForm, OrderForm, SeveralForm, SumForm

FORMS: dict[str, type[Form]] = {
    "choice": Form,
    "number": Form,
    "written": Form,
    "check": Form,
    "several": SeveralForm,
    "order": OrderForm,
    "sum": SumForm,
    "hook_up": HookUpForm,
    "curve": CurveForm,
    "needle": NeedleForm,
    "diagnosis": DiagnosisForm,
    "engine_card": EngineCardForm,
}
NO_LONGER_FITS = "Your last answer is kept, but does not fit this exercise as it is now: please answer once more."


def form_for(
    exercise: Exercise,
    record: Callable[..., int] | None = None,
    judge: Callable[[], ExerciseResult | None] | None = None,
    given: Sequence[Event] = (),
    **of_its_own,
) -> Form:
    """The form of an exercise as its learner has it; `given` are the answers so far, of which the last is shown,
    `of_its_own` what only this kind of form takes."""
    form_class = FORMS[exercise.kind]
    reader = {"read": lambda text: exercise.read(text, None)} if issubclass(form_class, FormOfParts) else {}
    form = form_class(
        record=record,
        judge=judge,
        **reader,
        **of_its_own,
        kind=exercise.kind,
        exercise=exercise.id,
        title=exercise.title,
        question=exercise.question,
        points=float(exercise.points),
        tries=len(given),
        **exercise.form_traits(),
    )
    if given:
        _show_again(form, exercise, given[-1])
    return form


def problem_form(kind: str, exercise_id: str, sentence: str) -> Form:
    """A form that says why there is nothing to work on."""
    return FORMS[kind](kind=kind, exercise=exercise_id, title=exercise_id, problem=sentence)


def _show_again(form: Form, exercise: Exercise, event: Event) -> None:
    """Show the last answer as it was given; where it is no answer to the exercise of today, say so."""
    try:
        exercise.read(event.value, event.unit)
    except AnswerError:
        form.said = {"number": 1, "kind": "note", "sentence": NO_LONGER_FITS}
        return
    text = f"{event.value:g}" if isinstance(event.value, int | float) else str(event.value)
    form.answer = form.shown(event.value, event.unit, text)
