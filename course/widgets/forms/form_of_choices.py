"""The forms in which one answer is chosen."""

from __future__ import annotations

from graders.exercises.kinds.common import AnswerError

from .form import Form, pairs
from .form_of_parts import STYLE_OF_PARTS

STYLE_AT_AN_ENGINE = (*STYLE_OF_PARTS[:1], "bench/bench.css", *STYLE_OF_PARTS[1:])


class FormOfChoices(Form):
    """A form in which one answer is chosen; the browser sends its id. `choices` are pairs of id and text."""

    choices = pairs()

    def _checked(self, value, unit):
        if value not in [choice for choice, _ in self.choices]:
            raise AnswerError("Choose one of the answers first, then record it.")
        return value, None
