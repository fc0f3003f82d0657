"""The form for a curve of advance over speed to draw."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import traitlets

from course import ENGINES
from course.learner.number_text import named_number
from course.widgets.shared.front_end import module_text, style_text
from graders.bench.assignment import card_of
from graders.exercises.engine_answers import PulledCurve
from graders.exercises.kinds.common import AnswerError

from .form_of_parts import STYLE_OF_PARTS, FormOfParts
from .opening import opened


class CurveForm(FormOfParts):
    """Draw a curve; the browser sends speed and advance of every point as they are written.

    `axes` holds the sheet: rpm and degrees as [low, high], unit, rpm_step, degrees_step, fewest_points, most_points;
    `start` the points to begin with. `pulled(curve)` is a curve on the pull on which the judge has it, or None; `pull`
    shows it of the curve that was recorded last, by speed: rpm, degrees, pings, lost_percent.
    """

    _esm = module_text("forms/curve.js")
    _css = style_text(*STYLE_OF_PARTS, "forms/curve.css")
    kind = traitlets.Enum(("curve",), "curve").tag(sync=True)
    axes = traitlets.Dict().tag(sync=True)
    start = traitlets.List(traitlets.List(traitlets.Float(), minlen=2, maxlen=2)).tag(sync=True)
    pull = traitlets.Dict(value_trait=traitlets.List(), key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(
        self, record=None, judge=None, read=None, pulled: Callable[[Any], PulledCurve | None] | None = None, **traits
    ):
        super().__init__(record, judge, read, **traits)
        self._pulled = pulled

    @classmethod
    def of_its_own(cls, at_work: Any, exercise: Any) -> dict:
        """How the judge has a curve on the learner's own engine."""
        return {"pulled": lambda curve: exercise.pulled(curve, card_of(exercise, at_work.writer.header, ENGINES))}

    def shown(self, value: Any, unit: str | None, text: str) -> dict:
        """The points of an answer that is recorded, and what became of it on the pull."""
        pulled = self._pulled(self._read(value)) if self._pulled else None
        self.pull = {} if pulled is None else shown_pull(pulled)
        return super().shown(value, unit, text)

    def _cleaned(self, value):
        points = value if isinstance(value, list) else []
        return sorted(self._point(number, point) for number, point in enumerate(points, start=1))

    def _point(self, number: int, point) -> list[float]:
        if not isinstance(point, list) or len(point) != 2:
            raise AnswerError(f"Point {number} wants a speed and an advance.")
        names = (f"Point {number}, speed", f"Point {number}, advance")
        return [named_number(str(text), name) for text, name in zip(point, names, strict=True)]


def shown_pull(pulled: PulledCurve) -> dict:
    """A curve on its pull, as the browser draws it."""
    return {
        "rpm": [float(rpm) for rpm in pulled.speed_rpm],
        "degrees": [round(float(degrees), 2) for degrees in pulled.drawn_deg],
        "pings": [bool(over > 0.0) for over in pulled.over_deg],
        "lost_percent": [round(float(lost), 1) for lost in pulled.lost_percent],
    }


def curve(exercise_id: str) -> CurveForm:
    """A curve of advance over speed to draw."""
    return opened(CurveForm, exercise_id)
