"""The form for one answer to choose."""

from __future__ import annotations

import traitlets

from course.widgets.shared.front_end import module_text

from .form_of_choices import FormOfChoices
from .opening import opened


class ChoiceForm(FormOfChoices):
    """Choose one answer."""

    _esm = module_text("forms/choice.js")
    kind = traitlets.Enum(("choice",), "choice").tag(sync=True)


def choice(exercise_id: str) -> ChoiceForm:
    """A question with several answers to choose from."""
    return opened(ChoiceForm, exercise_id)
