"""The form for a fault to find by inspections."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import traitlets

from course.widgets.shared.front_end import module_text, style_text
from engine_sim import INSPECTIONS, Finding, TimingCourseError
from graders.exercises.kinds.diagnosis import MOST_LOOKS, TOO_MANY
from graders.exercises.kinds.exercise import Exercise

from .form import no_exercise
from .form_of_choices import STYLE_AT_AN_ENGINE, FormOfChoices
from .opening import opened


class DiagnosisForm(FormOfChoices):
    """Inspections that cost minutes, what they told, and the causes to choose from.

    `account` are the inspections of the account that is open: id, title, minutes, text, and what was seen on the
    vacuum gauge as [when, lowest, highest], in inHg. `note(control, value)` writes an event, `tell(inspection)` gives
    what an inspection finds; `looked` are those made so far. The browser sends `{"inspect": id}` and `{"begin": true}`.
    """

    _esm = module_text("forms/diagnosis.js")
    _css = style_text(*STYLE_AT_AN_ENGINE, "forms/diagnosis.css")
    kind = traitlets.Enum(("diagnosis",), "diagnosis").tag(sync=True)
    offered = traitlets.List(traitlets.Dict()).tag(sync=True)
    account = traitlets.List(traitlets.Dict()).tag(sync=True)
    budget = traitlets.Float(0.0).tag(sync=True)

    def __init__(
        self,
        record=None,
        judge=None,
        note: Callable[[str, str | None], None] | None = None,
        tell: Callable[[str], Finding] | None = None,
        looked: tuple[str, ...] = (),
        **traits,
    ):
        super().__init__(record, judge, **traits)
        self._note: Callable[[str, str | None], None] = note or no_exercise
        self._tell: Callable[[str], Finding] = tell or no_exercise
        self.account = [self._line(name) for name in looked]

    @classmethod
    def of_its_own(cls, at_work: Any, exercise: Exercise) -> dict:
        """Where inspections are written down, what they tell, and those that were made."""
        return {
            "note": lambda control, value: at_work.note(exercise.id, control, value),
            "tell": lambda inspection: at_work.finding(exercise, inspection),
            "looked": at_work.looked_at(exercise),
        }

    def inspect(self, inspection: str) -> None:
        """Make one inspection: it is written down first, then told."""
        with self._lock:
            if inspection not in [one["id"] for one in self.offered]:
                self._say("wrong", "This exercise does not offer that inspection: choose one of the list.")
                return
            if len(self.account) >= MOST_LOOKS:
                self._say("wrong", TOO_MANY)
                return
            try:
                line = self._line(inspection)
                self._note("inspect", inspection)
                self.account = [*self.account, line]
            except TimingCourseError as error:
                self._say("wrong", str(error))

    def begin(self) -> None:
        """Begin a new account: the same engine, no minutes used."""
        with self._lock:
            try:
                self._note("begin", None)
                self.account = []
                self._say("note", "A new account of the same engine: no minutes used, nothing looked at.")
            except TimingCourseError as error:
                self._say("wrong", str(error))

    def _line(self, inspection: str) -> dict:
        one, finding = INSPECTIONS[inspection], self._tell(inspection)
        seen = [[gauge.when, round(gauge.lowest_inhg, 2), round(gauge.highest_inhg, 2)] for gauge in finding.seen]
        return {"id": inspection, "title": one.title, "minutes": one.minutes, "text": finding.text, "seen": seen}

    def _act_on(self, content: dict) -> None:
        if isinstance(content.get("inspect"), str):
            self.inspect(content["inspect"])
        elif content.get("begin"):
            self.begin()
        else:
            super()._act_on(content)


def diagnosis(exercise_id: str) -> DiagnosisForm:
    """A fault to find by inspections that cost minutes."""
    return opened(DiagnosisForm, exercise_id)
