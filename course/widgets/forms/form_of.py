"""The form that fits an exercise, filled from its rubric and from what was answered so far."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Sequence

from engine_sim import INSPECTIONS, Event
from graders.exercises.kinds import AnswerError, read
from graders.exercises.kinds.hook_up import PORTS
from graders.outcome import ExerciseResult
from graders.schema import ExerciseRubric

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
    exercise: ExerciseRubric,
    record: Callable[..., int] | None = None,
    judge: Callable[[], ExerciseResult | None] | None = None,
    given: Sequence[Event] = (),
    **of_its_own,
) -> Form:
    """The form of an exercise as its learner has it; `given` are the answers so far, of which the last is shown,
    `of_its_own` what only this kind of form takes."""
    form_class = FORMS[exercise.kind]
    reader = {"read": lambda text: read(exercise, text, None)} if issubclass(form_class, FormOfParts) else {}
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
        **_traits(exercise),
    )
    if given:
        _show_again(form, exercise, given[-1])
    return form


def problem_form(kind: str, exercise_id: str, sentence: str) -> Form:
    """A form that says why there is nothing to work on."""
    return FORMS[kind](kind=kind, exercise=exercise_id, title=exercise_id, problem=sentence)


def _traits(exercise: ExerciseRubric) -> dict:
    """What a form shows beside its title and question: never what is right."""
    traits = {
        "choice": lambda: {"choices": _pairs(exercise.choices)},
        "several": lambda: {"choices": _pairs(exercise.choices)},
        "needle": lambda: {"choices": _pairs(exercise.choices)},
        "diagnosis": lambda: {
            "choices": _pairs(exercise.choices),
            "budget": float(exercise.budget_minutes),
            "offered": [
                {"id": name, "title": INSPECTIONS[name].title, "minutes": INSPECTIONS[name].minutes}
                for name in exercise.inspections
            ],
        },
        "number": lambda: {"units": list(exercise.units or (exercise.unit,))},
        "order": lambda: {"steps": _pairs(exercise.steps)},
        "sum": lambda: {
            "fields": [
                {"id": line.id, "label": line.label, "sign": line.sign, "units": list(line.units or (line.unit,))}
                for line in exercise.fields
            ]
        },
        "hook_up": lambda: {
            "hoses": [{"id": hose.id, "label": hose.label, "start": hose.start} for hose in exercise.hoses],
            "ports": [[port, PORTS[port]] for port in exercise.ports],
        },
        "curve": lambda: {
            "axes": json.loads(json.dumps(dataclasses.asdict(exercise.axes))),
            "start": [list(point) for point in exercise.start],
        },
    }
    return traits.get(exercise.kind, dict)()


def _pairs(items) -> list[list[str]]:
    return [[item.id, item.text] for item in items]


def _show_again(form: Form, exercise: ExerciseRubric, event: Event) -> None:
    """Show the last answer as it was given; where it is no answer to the exercise of today, say so."""
    try:
        read(exercise, event.value, event.unit)
    except AnswerError:
        form.said = {"number": 1, "kind": "note", "sentence": NO_LONGER_FITS}
        return
    text = f"{event.value:g}" if isinstance(event.value, int | float) else str(event.value)
    form.answer = form.shown(event.value, event.unit, text)
