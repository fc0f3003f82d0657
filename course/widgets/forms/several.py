"""The form for several answers to tick."""

from __future__ import annotations

import traitlets

from course.widgets.shared.front_end import module_text
from graders.exercises.kinds.common import AnswerError

from .form import pairs
from .form_of_parts import FormOfParts
from .opening import opened


class SeveralForm(FormOfParts):
    """Tick all that apply; the browser sends the list of what is ticked."""

    _esm = module_text("forms/several.js")
    kind = traitlets.Enum(("several",), "several").tag(sync=True)
    choices = pairs()

    def _cleaned(self, value):
        if not value:
            raise AnswerError("Tick at least one answer first, then record.")
        return value


def several(exercise_id: str) -> SeveralForm:
    """A question with several right answers to tick."""
    return opened(SeveralForm, exercise_id)
