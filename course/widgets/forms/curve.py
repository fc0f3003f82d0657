"""The form for a curve of advance over speed to draw."""

from __future__ import annotations

import traitlets

from course.widgets.shared.front_end import module_text, style_text
from course.widgets.shared.number_text import named_number
from graders.exercises.kinds.common import AnswerError

from .form_of_parts import STYLE_OF_PARTS, FormOfParts
from .opening import opened


class CurveForm(FormOfParts):
    """Draw a curve; the browser sends speed and advance of every point as they are written.

    `axes` holds the sheet: rpm and degrees as [low, high], unit, rpm_step, degrees_step, fewest_points, most_points;
    `start` the points to begin with.
    """

    _esm = module_text("forms/curve.js")
    _css = style_text(*STYLE_OF_PARTS, "forms/curve.css")
    kind = traitlets.Enum(("curve",), "curve").tag(sync=True)
    axes = traitlets.Dict().tag(sync=True)
    start = traitlets.List(traitlets.List(traitlets.Float(), minlen=2, maxlen=2)).tag(sync=True)

    def _cleaned(self, value):
        points = value if isinstance(value, list) else []
        return sorted(self._point(number, point) for number, point in enumerate(points, start=1))

    def _point(self, number: int, point) -> list[float]:
        if not isinstance(point, list) or len(point) != 2:
            raise AnswerError(f"Point {number} wants a speed and an advance.")
        names = (f"Point {number}, speed", f"Point {number}, advance")
        return [named_number(str(text), name) for text, name in zip(point, names, strict=True)]


def curve(exercise_id: str) -> CurveForm:
    """A curve of advance over speed to draw."""
    return opened(CurveForm, exercise_id)
