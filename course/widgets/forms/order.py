"""The form for steps to put in order."""

from __future__ import annotations

import traitlets

from course.widgets.shared.front_end import module_text, style_text

from .form import pairs
from .form_of_parts import STYLE_OF_PARTS, FormOfParts
from .opening import opened


class OrderForm(FormOfParts):
    """Put steps in order; the browser sends the list of all steps."""

    _esm = module_text("forms/order.js")
    _css = style_text(*STYLE_OF_PARTS, "forms/order.css")
    kind = traitlets.Enum(("order",), "order").tag(sync=True)
    steps = pairs()


def order(exercise_id: str) -> OrderForm:
    """Steps to put in order."""
    return opened(OrderForm, exercise_id)
