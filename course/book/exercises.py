"""An exercise as the book prints it: what its form shows, with an example's numbers, and never what is right."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape
from typing import Any

from course import ENGINES
from engine_sim import TimingCourseError
from graders.bench.assignment import card_named
from graders.exercises.individualise import exercise_for
from graders.exercises.kinds.exercise import Exercise

EXAMPLE = (
    "an example"  # seeds the numbers, faults and orders that the book shows: nobody's, for a learner's begin apart
)
DONE_IN_THE_COURSE = "You do this in the course, where the engine and the numbers are your own and your work is judged."


class BookError(TimingCourseError):
    """The book cannot be made."""


def printed_exercise(exercise: Exercise) -> str:
    """An exercise as HTML: title, points, question, what there is to choose from or to fill in, and where it is done.

    Everything comes from the traits of its form, which hold nothing that is right. Raises BookError for a trait that
    cannot be printed, and TimingCourseError where the exercise's engine card or a formula cannot be used.
    """
    card = card_named(ENGINES, exercise.engine) if exercise.engine else None
    asked = exercise_for(exercise, f"{EXAMPLE}|{exercise.id}", card)
    engine = _paragraph(f"{'At the bench' if exercise.at_the_bench else 'Engine'}: {card.title}.") if card else ""
    question = "".join(_paragraph(part) for part in asked.question.split("\n\n") if part.strip())
    parts = "".join(_printed(name, value) for name, value in asked.form_traits().items())
    worth = f"{exercise.points:g} {'point' if exercise.points == 1 else 'points'}"
    return (
        f'<section class="exercise" id="{exercise.id}" aria-labelledby="{exercise.id}-title">\n'
        f'<p class="exercise-title" id="{exercise.id}-title"><span>Exercise</span> {escape(asked.title)} '
        f'<span class="exercise-points">{worth}</span></p>\n'
        f'{engine}{question}{parts}<p class="exercise-note">{escape(DONE_IN_THE_COURSE)}</p>\n</section>'
    )


def _printed(name: str, value: Any) -> str:
    if name not in PRINTED:
        raise BookError(f"A form shows '{name}', which the book cannot print: give it a line in PRINTED of {__name__}.")
    return PRINTED[name](value) if value else ""


def _paragraph(text: str) -> str:
    return f"<p>{escape(text)}</p>\n"


def _list(items: Iterable[str], kind: str = "choices") -> str:
    return f'<ul class="{kind}">' + "".join(f"<li>{escape(item)}</li>" for item in items) + "</ul>\n"


def _texts(pairs: Iterable[Any]) -> str:
    return _list(text for _, text in pairs)


def _steps(pairs: Iterable[Any]) -> str:
    return _paragraph("The steps, out of order:") + _texts(pairs)


def _fields(fields: Iterable[dict[str, Any]]) -> str:
    return _list((f"{one['label']}{_in_units(one['units'])}" for one in fields), "fields")


def _in_units(units: Iterable[str]) -> str:
    return f" [{' or '.join(units)}]" if units else ""


def _units(units: Iterable[str]) -> str:
    return _paragraph(f"The answer is a number in {' or '.join(units)}.")


def _hoses(hoses: Iterable[dict[str, Any]]) -> str:
    return _paragraph("To connect:") + _list(one["label"] for one in hoses)


def _ports(ports: Iterable[Any]) -> str:
    return _paragraph("Where they can go:") + _texts(ports)


def _axes(axes: dict[str, Any]) -> str:
    (slow, fast), (least, most) = axes["rpm"], axes["degrees"]
    return _paragraph(f"A sheet from {slow:g} to {fast:g} rpm, and from {least:g} to {most:g} {axes['unit']}.")


def _start(points: Iterable[Any]) -> str:
    told = "; ".join(f"{advance:g} at {rpm:g} rpm" for rpm, advance in points)
    return _paragraph(f"The curve begins as: {told}.")


def _budget(minutes: float) -> str:
    return _paragraph(f"There are {minutes:g} minutes for inspections.")


def _offered(offered: Iterable[dict[str, Any]]) -> str:
    return _paragraph("Inspections, each at the price of its minutes:") + _list(
        (f"{one['title']}: {one['minutes']:g} min" for one in offered), "fields"
    )


# By the trait of a form, whatever kind of exercise has it.
PRINTED: dict[str, Callable[[Any], str]] = {
    "choices": _texts,
    "steps": _steps,
    "fields": _fields,
    "units": _units,
    "hoses": _hoses,
    "ports": _ports,
    "axes": _axes,
    "start": _start,
    "budget": _budget,
    "offered": _offered,
}
