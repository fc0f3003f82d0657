"""The forms whose answer has several parts: several ticks, an order, a sum, a hook-up, a curve.

The evidence keeps such an answer as one line of JSON; the judge's own reader decides what is an answer.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import traitlets

from course.widgets.shared.front_end import module_text, style_text
from course.widgets.shared.number_text import NumberTextError, number_in
from graders.exercises.kinds.common import AnswerError, as_text
from graders.outcome import ExerciseResult

from .forms import Form

_PAIR = {"minlen": 2, "maxlen": 2}
_STYLE = style_text("shared/palette.css", "forms/forms.css", "forms/forms_of_parts.css")


class FormOfParts(Form):
    """A form whose answer has several parts.

    `read(text)` is the judge's reader of an answer; it raises AnswerError with what was wanted instead.
    """

    _css = _STYLE

    def __init__(
        self,
        record: Callable[[str, str | None], int] | None = None,
        judge: Callable[[], ExerciseResult | None] | None = None,
        read: Callable[[str], Any] | None = None,
        **traits,
    ):
        super().__init__(record, judge, **traits)
        self._read = read

    def _checked(self, value, _unit):
        text = as_text(self._cleaned(value))
        self._read(text)
        return text, None

    def _cleaned(self, value):
        """The answer as the evidence keeps it, from what the browser sent."""
        return value

    def shown(self, value, unit, text):
        """The parts of an answer."""
        return {"value": json.loads(value)}


class SeveralForm(FormOfParts):
    """Tick all that apply; the browser sends the list of what is ticked."""

    _esm = module_text("forms/form_several.js")
    kind = traitlets.Enum(("several",), "several").tag(sync=True)

    def _cleaned(self, value):
        if not value:
            raise AnswerError("Tick at least one answer first, then record.")
        return value


class OrderForm(FormOfParts):
    """Put steps in order; the browser sends the list of all steps."""

    _esm = module_text("forms/form_order.js")
    kind = traitlets.Enum(("order",), "order").tag(sync=True)
    steps = traitlets.List(traitlets.List(traitlets.Unicode(), **_PAIR)).tag(sync=True)


class SumForm(FormOfParts):
    """Fill in a sum; the browser sends text and unit of every line: `{"line": {"text": ..., "unit": ...}}`.

    `fields` are tables of id, label, sign and units.
    """

    _esm = module_text("forms/form_sum.js")
    kind = traitlets.Enum(("sum",), "sum").tag(sync=True)
    fields = traitlets.List(traitlets.Dict()).tag(sync=True)

    def _cleaned(self, value):
        entries = value if isinstance(value, dict) else {}
        return {field["id"]: self._line(field, entries.get(field["id"])) for field in self.fields}

    def _line(self, field: dict, entry) -> list | None:
        text = str(entry.get("text") or "") if isinstance(entry, dict) else ""
        if not text.strip():
            return None
        number = _named_number(text, field["label"])
        if entry.get("unit") not in field["units"]:
            raise AnswerError(f"{field['label']}: choose the unit as well, {' or '.join(field['units'])}.")
        return [number, entry["unit"]]


class HookUpForm(FormOfParts):
    """Connect hoses; the browser sends the port of every hose: `{"hose": "port" or null}`.

    `hoses` are tables of id, label and start; `ports` pairs of id and name.
    """

    _esm = module_text("forms/form_hook_up.js")
    kind = traitlets.Enum(("hook_up",), "hook_up").tag(sync=True)
    hoses = traitlets.List(traitlets.Dict()).tag(sync=True)
    ports = traitlets.List(traitlets.List(traitlets.Unicode(), **_PAIR)).tag(sync=True)


class CurveForm(FormOfParts):
    """Draw a curve; the browser sends speed and advance of every point as they are written.

    `axes` holds the sheet: rpm and degrees as [low, high], unit, rpm_step, degrees_step, fewest_points, most_points;
    `start` the points to begin with.
    """

    _esm = module_text("forms/form_curve.js")
    kind = traitlets.Enum(("curve",), "curve").tag(sync=True)
    axes = traitlets.Dict().tag(sync=True)
    start = traitlets.List(traitlets.List(traitlets.Float(), **_PAIR)).tag(sync=True)

    def _cleaned(self, value):
        points = value if isinstance(value, list) else []
        return sorted(self._point(number, point) for number, point in enumerate(points, start=1))

    def _point(self, number: int, point) -> list[float]:
        if not isinstance(point, list) or len(point) != 2:
            raise AnswerError(f"Point {number} wants a speed and an advance.")
        names = (f"Point {number}, speed", f"Point {number}, advance")
        return [_named_number(str(text), name) for text, name in zip(point, names, strict=True)]


def _named_number(text: str, name: str) -> float:
    try:
        return number_in(text)
    except NumberTextError as error:
        raise NumberTextError(f"{name}: {error}") from None
