"""The units that a learner chose, kept in their folder: every bench and form begins with them."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from pathlib import Path

KEPT = ".units.json"
UNITS = {"vacuum": ("inHg", "kPa"), "temperature": ("°F", "°C")}  # of each quantity the usual one first


def chosen_units(lesson: Path) -> dict[str, str]:
    """The unit of each quantity as it was chosen, for a lesson's folder; the usual one where none was."""
    found: object = None
    with contextlib.suppress(OSError, ValueError):
        found = json.loads((lesson.parent / KEPT).read_text(encoding="utf-8"))
    return _known(found)


def choose_units(lesson: Path, units: Mapping[str, object]) -> None:
    """Keep a choice for all lessons beside this one. Where the folder cannot be written it holds for the page alone."""
    with contextlib.suppress(OSError):
        (lesson.parent / KEPT).write_text(json.dumps(_known(units), ensure_ascii=False) + "\n", encoding="utf-8")


def _known(found: object) -> dict[str, str]:
    """Of what was found the units that there are."""
    given = found if isinstance(found, Mapping) else {}
    return {
        quantity: given[quantity] if given.get(quantity) in offered else offered[0]
        for quantity, offered in UNITS.items()
    }
