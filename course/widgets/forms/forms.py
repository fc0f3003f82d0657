"""The forms with one answer (choice, number, written) and the learner's own check, as widgets over the evidence.

Forms whose answer has several parts stand in forms_of_parts.py; they have everything in common with these.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

import traitlets

from course.widgets.shared.base_widget import BaseWidget
from course.widgets.shared.front_end import module_text, style_text
from course.widgets.shared.number_text import number_in
from engine_sim import TimingCourseError
from graders.exercises.kinds import KINDS
from graders.exercises.kinds.common import AnswerError
from graders.outcome import ExerciseResult

LONGEST_ANSWER = 20_000  # characters, as much as the evidence format takes
FORM_KINDS = (*(kind for kind in KINDS if kind != "bench"), "check")


class Form(BaseWidget):
    """One form of a lesson.

    The browser sends `{"answer": {"value": ..., "unit": ...}}` or, from a check, `{"check": true}`; `{"heartbeat":
    number}` is answered by `{"alive": number}`, so that a page tells a kernel that is gone from one that has done it.
    `record(value, unit)` writes an answer as evidence and returns the number of tries; `judge()` returns the
    result of the exercise or None where another widget shows it. `problem` holds the one sentence to show
    where there is no exercise to work on.
    """

    _esm = module_text("forms/forms.js")
    _css = style_text("shared/palette.css", "forms/forms.css")

    kind = traitlets.Enum(FORM_KINDS, "choice").tag(sync=True)
    exercise = traitlets.Unicode("").tag(sync=True)
    title = traitlets.Unicode("").tag(sync=True)
    question = traitlets.Unicode("").tag(sync=True)
    points = traitlets.Float(0.0).tag(sync=True)
    choices = traitlets.List(traitlets.List(traitlets.Unicode(), minlen=2, maxlen=2)).tag(sync=True)
    units = traitlets.List(traitlets.Unicode()).tag(sync=True)
    longest = traitlets.Int(LONGEST_ANSWER).tag(sync=True)
    answer = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    tries = traitlets.Int(0).tag(sync=True)
    said = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    result = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        record: Callable[[str | float, str | None], int] | None = None,
        judge: Callable[[], ExerciseResult | None] | None = None,
        **traits,
    ):
        super().__init__(**traits)
        self._record, self._judge = record, judge
        self._lock = threading.RLock()
        self.on_msg(self._on_message)

    def submit(self, value, unit: str | None = None) -> None:
        """Record one answer and show what came of it; an answer that cannot be taken is said and not
        recorded."""
        with self._lock:
            try:
                checked, unit = self._checked(value, unit)
                if self.kind == "written" and checked == self.answer.get("value", ""):
                    self._say("done", "Saved." if checked else "There is nothing to save yet.")
                    return
                self.tries = self._record(checked, unit)
                self.answer = self.shown(checked, unit, str(value))
                self._say("done", "Saved." if self.kind == "written" else "Your answer is recorded.")
                if self.kind != "written":
                    self.show_result()
            except TimingCourseError as error:
                self._say("wrong", str(error))

    def show_result(self) -> None:
        """Ask the judge about the evidence so far and show what it says."""
        with self._lock:
            try:
                result = self._judge() if self._judge else None
            except TimingCourseError as error:
                self._say("wrong", str(error))
                return
            if result is not None:
                self.result = shown_result(result)
                if self.kind == "check":
                    self._say("done", spoken_result(result))

    def _on_message(self, _widget, content, _buffers) -> None:
        if not isinstance(content, dict):
            return
        try:
            if content.get("heartbeat"):
                self.send({"alive": content["heartbeat"]})
            elif content.get("check"):
                self.show_result()
            elif isinstance(content.get("answer"), dict):
                answer = content["answer"]
                self.submit(answer.get("value"), answer.get("unit"))
        except Exception as error:
            self._say(
                "wrong",
                f"This could not be done ({type(error).__name__}: {error}); what you did so "
                "far is kept: run this cell again and tell your instructor.",
            )
            raise

    def _checked(self, value, unit) -> tuple[str | float, str | None]:
        checks = {"choice": self._checked_choice, "number": self._checked_number, "written": self._checked_text}
        return checks[self.kind](value, unit)

    def _checked_choice(self, value, _unit):
        if value not in [choice for choice, _ in self.choices]:
            raise AnswerError("Choose one of the answers first, then record it.")
        return value, None

    def _checked_number(self, value, unit):
        number = number_in(str(value if value is not None else ""))
        if self.units and unit not in self.units:
            raise AnswerError(f"Choose the unit as well: {', '.join(self.units)}.")
        return number, unit if self.units else None

    def _checked_text(self, value, _unit):
        # Half of a character pair, as some keyboards leave behind, has no place in a UTF-8 file.
        text = str(value or "").encode("utf-8", "replace").decode("utf-8").strip()
        if len(text) > LONGEST_ANSWER:
            raise AnswerError(
                f"An answer may have {LONGEST_ANSWER} characters and yours has {len(text)}: "
                "shorten it and save again; nothing of it was lost."
            )
        return text, None

    def shown(self, value, unit, text: str) -> dict:
        """An answer as the browser shows it; `text` is how it was written."""
        return {"value": value, "unit": unit, "text": text}

    def _say(self, kind: str, sentence: str) -> None:
        self.said = {"number": self.said.get("number", 0) + 1, "kind": kind, "sentence": sentence}


def shown_result(result: ExerciseResult) -> dict:
    """A result as the browser draws it."""
    return {
        "points": result.points,
        "max_points": result.max_points,
        "needs_person": result.needs_person,
        "criteria": [
            {
                "title": criterion.title,
                "outcome": criterion.outcome.value,
                "points": criterion.points,
                "max_points": criterion.max_points,
                "sentence": criterion.sentence,
            }
            for criterion in result.criteria
        ],
    }


def spoken_result(result: ExerciseResult) -> str:
    """A result in one sentence, for those who hear the page."""
    counted = [criterion for criterion in result.criteria if criterion.max_points]
    met = sum(criterion.outcome.value == "met" for criterion in counted)
    rest = "" if met == len(counted) else " The list below says what is missing."
    return f"Checked: {met} of {len(counted)} met, {result.points:g} of {result.max_points:g} points.{rest}"
