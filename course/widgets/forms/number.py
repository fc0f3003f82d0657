"""The form for a number with its unit."""

from __future__ import annotations

import traitlets

from course.learner.number_text import number_in
from course.widgets.shared.front_end import module_text
from graders.exercises.kinds.common import AnswerError

from .form import Form
from .opening import opened


class NumberForm(Form):
    """Write a number and choose its unit, of `units`; the browser sends the text as it is written."""

    _esm = module_text("forms/number.js")
    kind = traitlets.Enum(("number",), "number").tag(sync=True)
    units = traitlets.List(traitlets.Unicode()).tag(sync=True)

    def _checked(self, value, unit):
        number = number_in(str(value if value is not None else ""))
        if self.units and unit not in self.units:
            raise AnswerError(f"Choose the unit as well: {', '.join(self.units)}.")
        return number, unit if self.units else None


def number(exercise_id: str) -> NumberForm:
    """A question whose answer is a number, with its unit."""
    return opened(NumberForm, exercise_id)
