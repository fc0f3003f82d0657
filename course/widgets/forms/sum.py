"""The form for a sum with units to fill in."""

from __future__ import annotations

import traitlets

from course.learner.number_text import named_number
from course.widgets.shared.front_end import module_text, style_text
from graders.exercises.kinds.common import AnswerError

from .form_of_parts import STYLE_OF_PARTS, FormOfParts
from .opening import opened


class SumForm(FormOfParts):
    """Fill in a sum; the browser sends text and unit of every line: `{"line": {"text": ..., "unit": ...}}`.

    `fields` are tables of id, label, sign and units.
    """

    _esm = module_text("forms/sum.js")
    _css = style_text(*STYLE_OF_PARTS, "forms/sum.css")
    kind = traitlets.Enum(("sum",), "sum").tag(sync=True)
    fields = traitlets.List(traitlets.Dict()).tag(sync=True)

    def _cleaned(self, value):
        entries = value if isinstance(value, dict) else {}
        return {field["id"]: self._line(field, entries.get(field["id"])) for field in self.fields}

    def _line(self, field: dict, entry) -> list | None:
        text = str(entry.get("text") or "") if isinstance(entry, dict) else ""
        if not text.strip():
            return None
        number = named_number(text, field["label"])
        if entry.get("unit") not in field["units"]:
            raise AnswerError(f"{field['label']}: choose the unit as well, {' or '.join(field['units'])}.")
        return [number, entry["unit"]]


def fill_sum(exercise_id: str) -> SumForm:
    """A sum with units to fill in."""
    return opened(SumForm, exercise_id)
