"""Compare a number with what was wanted: right, right in another unit, the wrong sign, a known mistake, or wrong."""

from __future__ import annotations

from dataclasses import dataclass

from engine_sim.physics.distributor import CRANK_DEG_PER_DISTRIBUTOR_DEG
from engine_sim.physics.units import (
    FAHRENHEIT_AT_ICE_POINT,
    FAHRENHEIT_PER_CELSIUS,
    KPA_PER_INHG,
    METRES_PER_FOOT,
    MM_PER_INCH,
    SECONDS_PER_MINUTE,
)
from graders.schema import NumberWanted, WrongNumber, proven

# Unit: what it measures, how many of the first unit of that quantity it is, and where its zero lies in that unit.
_UNITS = {
    "kPa": ("pressure", 1.0, 0.0),
    "inHg": ("pressure", KPA_PER_INHG, 0.0),
    "mbar": ("pressure", 0.1, 0.0),
    "crank degrees": ("angle", 1.0, 0.0),
    "distributor degrees": ("angle", CRANK_DEG_PER_DISTRIBUTOR_DEG, 0.0),
    "crank rpm": ("speed", 1.0, 0.0),
    "distributor rpm": ("speed", CRANK_DEG_PER_DISTRIBUTOR_DEG, 0.0),
    "°C": ("temperature", 1.0, 0.0),
    "°F": ("temperature", 1.0 / FAHRENHEIT_PER_CELSIUS, -FAHRENHEIT_AT_ICE_POINT / FAHRENHEIT_PER_CELSIUS),
    "m": ("height", 1.0, 0.0),
    "ft": ("height", METRES_PER_FOOT, 0.0),
    "mm": ("length", 1.0, 0.0),
    "in": ("length", MM_PER_INCH, 0.0),
    "seconds": ("time", 1.0, 0.0),
    "minutes": ("time", SECONDS_PER_MINUTE, 0.0),
}
FINDINGS = ("right", "wrong sign", "wrong unit", "wrong")


@dataclass(frozen=True)
class Comparison:
    """`finding` is one of: right, wrong unit, wrong sign, known mistake, wrong; `mistake` is the known one."""

    finding: str
    mistake: WrongNumber | None = None


def compare(wanted: NumberWanted, value: float, unit: str | None) -> Comparison:
    """Compare a learner's number and unit with the wanted ones; a right answer in another unit is right."""
    unit, right = unit or wanted.unit, proven(wanted.value, "the value of a number")
    converted = in_unit(value, unit, wanted.unit)
    if _near(converted, right, wanted):
        return Comparison("right")
    if right and unit == wanted.unit and _near(-value, right, wanted):
        return Comparison("wrong sign")
    for mistake in wanted.wrong:
        if _near(converted, proven(mistake.value, "the value of a known mistake"), wanted):
            return Comparison("known mistake", mistake)
    if any(_near(in_unit(value, other, wanted.unit), right, wanted) for other in wanted.units if other != unit):
        return Comparison("wrong unit")
    return Comparison("wrong")


def in_unit(value: float, unit: str, wanted: str) -> float | None:
    """The value in the wanted unit; None where the two do not measure the same thing."""
    if unit == wanted:
        return value
    if unit not in _UNITS or wanted not in _UNITS or _UNITS[unit][0] != _UNITS[wanted][0]:
        return None
    (_, size, zero), (_, wanted_size, wanted_zero) = _UNITS[unit], _UNITS[wanted]
    return (value * size + zero - wanted_zero) / wanted_size


def _near(value: float | None, other: float, wanted: NumberWanted) -> bool:
    # A hair beyond the tolerance, so that 13.2 is within 0.8 of 14 also in binary numbers.
    return value is not None and abs(value - other) <= wanted.tolerance * (1.0 + 1e-9) + 1e-12
