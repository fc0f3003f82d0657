"""The reference card: one page to print and take to the car, its figures filled in from the table of sources.

`python -m course.authoring.build card` writes course/authoring/reference_card.html from its template.
"""

from __future__ import annotations

from pathlib import Path

from course import AUTHORING
from engine_sim.physics.units import KPA_PER_INHG, fahrenheit_from_celsius
from graders.palette import LIGHT, css_variables

from .sourced_values import with_values

TEMPLATE, PAGE = AUTHORING / "reference_card.template.html", AUTHORING / "reference_card.html"
SHOWN_INHG = (5, 10, 12, 14, 15, 16, 17, 18, 19, 20, 21, 25)
SHOWN_CELSIUS = (-10, 0, 10, 20, 30, 40, 60, 80, 85, 90, 100, 110)


def card_text() -> str:
    """The page as HTML, which needs nothing beside it."""
    filled = {
        "palette": css_variables(LIGHT),
        "inhg": _cells(SHOWN_INHG),
        "kpa": _cells(round(inhg * KPA_PER_INHG) for inhg in SHOWN_INHG),
        "celsius": _cells(SHOWN_CELSIUS),
        "fahrenheit": _cells(round(fahrenheit_from_celsius(celsius)) for celsius in SHOWN_CELSIUS),
    }
    text = with_values(TEMPLATE.read_text(encoding="utf-8"))
    for name, content in filled.items():
        text = text.replace(f"{{{{{name}}}}}", content)
    return text


def _cells(numbers) -> str:
    return "".join(f"<td>{number}</td>".replace("-", "\u2212") for number in numbers)


def write() -> Path:
    """Write the page; return it."""
    PAGE.write_text(card_text(), encoding="utf-8", newline="\n")
    return PAGE
