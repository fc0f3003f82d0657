"""Compare a number with what was wanted: right, right in another unit, the wrong sign, a known mistake, or wrong."""

from __future__ import annotations

from dataclasses import dataclass

from .rubrics import ExerciseRubric, WrongNumber

# how many of the second unit make one of the first, for units that measure the same thing
_CONVERSIONS = {
    ("inHg", "kPa"): 3.386389,
    ("crank degrees", "distributor degrees"): 0.5,
}


@dataclass(frozen=True)
class Comparison:
    """`finding` is one of: right, wrong unit, wrong sign, known mistake, wrong; `mistake` is the known one."""

    finding: str
    mistake: WrongNumber | None = None


def compare(exercise: ExerciseRubric, value: float, unit: str | None) -> Comparison:
    """Compare a learner's number and unit with the exercise's; a right answer in another unit is right."""
    unit = unit or exercise.unit
    converted = _converted(value, unit, exercise.unit)
    if converted is not None and abs(converted - exercise.value) <= exercise.tolerance:
        return Comparison("right")
    if unit == exercise.unit and abs(value + exercise.value) <= exercise.tolerance and exercise.value:
        return Comparison("wrong sign")
    for mistake in exercise.wrong:
        if converted is not None and abs(converted - mistake.value) <= exercise.tolerance:
            return Comparison("known mistake", mistake)
    if any(_meant(value, other, exercise) for other in exercise.units if other != unit):
        return Comparison("wrong unit")
    return Comparison("wrong")


def _meant(value: float, unit: str, exercise: ExerciseRubric) -> bool:
    """Whether the number would have been right with that other unit beside it."""
    converted = _converted(value, unit, exercise.unit)
    return converted is not None and abs(converted - exercise.value) <= exercise.tolerance


def _converted(value: float, unit: str, wanted: str) -> float | None:
    """The value in the wanted unit; None where the two do not measure the same thing."""
    if unit == wanted:
        return value
    if (wanted, unit) in _CONVERSIONS:
        return value / _CONVERSIONS[wanted, unit]
    if (unit, wanted) in _CONVERSIONS:
        return value * _CONVERSIONS[unit, wanted]
    return None
