"""The form for an answer in the learner's own words."""

from __future__ import annotations

import traitlets

from course.widgets.shared.front_end import module_text, style_text
from graders.exercises.kinds.common import AnswerError

from .form import STYLE, Form
from .opening import opened

LONGEST_ANSWER = 20_000  # characters, as much as the evidence format takes


class WrittenForm(Form):
    """Write a text. It is saved when the field is left and when Save is pressed; no judge speaks, since a person reads
    it."""

    _esm = module_text("forms/written.js")
    _css = style_text(*STYLE, "forms/written.css")
    kind = traitlets.Enum(("written",), "written").tag(sync=True)
    longest = traitlets.Int(LONGEST_ANSWER).tag(sync=True)

    def _checked(self, value, unit):
        # Half of a character pair, as some keyboards leave behind, has no place in a UTF-8 file.
        text = str(value or "").encode("utf-8", "replace").decode("utf-8").strip()
        if len(text) > LONGEST_ANSWER:
            raise AnswerError(
                f"An answer may have {LONGEST_ANSWER} characters and yours has {len(text)}: "
                "shorten it and save again; nothing of it was lost."
            )
        return text, None

    def _take(self, checked, unit, text: str) -> None:
        if checked == self.answer.get("value", ""):
            self._say("done", "Saved." if checked else "There is nothing to save yet.")
            return
        self._keep(checked, unit, text)
        self._say("done", "Saved.")


def written(exercise_id: str) -> WrittenForm:
    """A question that is answered in the learner's own words and read by a person."""
    return opened(WrittenForm, exercise_id)
