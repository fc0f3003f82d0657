"""The forms whose answer has several parts: several ticks, an order, a sum, a hook-up, a curve, an engine card.

The evidence keeps such an answer as one line of JSON; the judge's own reader decides what is an answer.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, Self

from course.widgets.shared.front_end import style_text
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.exercise import Exercise

from .form import STYLE, Form, Judge, Record, no_exercise

STYLE_OF_PARTS = (*STYLE, "forms/form_of_parts.css")


class FormOfParts(Form):
    """A form whose answer has several parts.

    `read(text)` is the judge's reader of an answer; it raises AnswerError with what was wanted instead.
    """

    _css = style_text(*STYLE_OF_PARTS)

    def __init__(
        self,
        record: Record | None = None,
        judge: Judge | None = None,
        read: Callable[[str], Any] | None = None,
        **traits,
    ):
        super().__init__(record, judge, **traits)
        self._read: Callable[[str], Any] = read or no_exercise

    @classmethod
    def for_exercise(cls, exercise: Exercise, *given, **of_its_own) -> Self:
        """The form of an exercise; the judge's own reader decides what is an answer."""
        return super().for_exercise(exercise, *given, read=lambda text: exercise.read(text, None), **of_its_own)

    def _checked(self, value, unit):
        text = as_text(self._cleaned(value))
        self._read(text)
        return text, None

    def _cleaned(self, value):
        """The answer as the evidence keeps it, from what the browser sent."""
        return value

    def shown(self, value: Any, unit: str | None, text: str) -> dict:
        """The parts of an answer."""
        return {"value": json.loads(value)}
