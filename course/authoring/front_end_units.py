"""The conversions of the front end: engine_sim's own factors, written into one module that a browser reads.

`python -m course.authoring.build units` writes course/widgets/shared/generated_units.js.
"""

from __future__ import annotations

from pathlib import Path

from course import HERE
from engine_sim.physics import units

PAGE = HERE / "widgets" / "shared" / "generated_units.js"
GIVEN = ("KPA_PER_INHG", "METRES_PER_FOOT", "MM_PER_INCH", "FAHRENHEIT_PER_CELSIUS", "FAHRENHEIT_AT_ICE_POINT")
OPENING = """// Made by `python -m course.authoring.build units` from engine_sim/physics/units.py. Do not edit.

"""


def units_text() -> str:
    """The module in JavaScript: one exported constant a line, to the last digit of a number in Python."""
    return OPENING + "".join(f"export const {name} = {_digits(getattr(units, name))};\n" for name in GIVEN)


def _digits(value: float) -> str:
    """A number as JavaScript reads back the very same one, laid out as the formatter has it."""
    return repr(value).removesuffix(".0")


def write() -> Path:
    """Write the module; return it."""
    PAGE.write_text(units_text(), encoding="utf-8", newline="\n")
    return PAGE
