"""The form for a live needle to name."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import traitlets

from course.widgets.bench.bench import NOBODY_WATCHED
from course.widgets.bench.engine_clock import EngineClock
from course.widgets.shared.front_end import module_text, style_text
from graders.exercises.kinds.exercise import Exercise

from .form_of_choices import STYLE_AT_AN_ENGINE, FormOfChoices
from .opening import opened

if TYPE_CHECKING:
    from engine_sim import Session

HELD_RPM = 2500.0
HANDS = {"hold": ("hold_speed", HELD_RPM), "let_go": ("hold_speed", 0.0), "snap": ("snap", None)}
DOES_NOT_RUN = "This engine does not run, so its needle cannot be watched: tell your instructor."
STOPPED = "The engine stopped by itself; it was started again and idles."


class NeedleForm(FormOfChoices):
    """The vacuum gauge of a running engine, and the patterns to choose from.

    `start()` returns the session of the engine, running and settled, or None where it does not run. The browser sends
    `{"hand": "hold"}`, `"let_go"` or `"snap"`, and `{"heartbeat": number}`, which is answered by `{"alive": number}`.
    The engine is started when somebody first watches, and switched off when nobody does.
    """

    _esm = module_text("forms/needle.js")
    _css = style_text(*STYLE_AT_AN_ENGINE, "forms/needle.css")
    kind = traitlets.Enum(("needle",), "needle").tag(sync=True)
    needle = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(self, record=None, judge=None, start: Callable[[], Session | None] | None = None, **traits):
        super().__init__(record, judge, **traits)
        self._start = start
        self.session: Session | None = None
        self.clock = EngineClock(self.step, self.leave)

    @classmethod
    def of_its_own(cls, at_work: Any, exercise: Exercise) -> dict:
        """The engine to watch."""
        return {"start": lambda: at_work.running_engine(exercise)}

    def watch(self) -> None:
        """Somebody watches: start the engine where it does not run."""
        with self._lock:
            if self.session is None and self._start is not None:
                self.session = self._start()
                if self.session is None:
                    self._start = None
                    self._say("wrong", DOES_NOT_RUN)
                self._show()

    def hand(self, hand: str) -> None:
        """Hold 2,500 rpm, let go, or snap the throttle."""
        self.watch()
        with self._lock:
            if self.session is not None and hand in HANDS:
                self.session.act(*HANDS[hand])
                self._show()

    def step(self, elapsed_s: float) -> None:
        """Let the engine run for `elapsed_s` seconds and show the needle."""
        with self._lock:
            if self.session is None:
                return
            self.session.advance(elapsed_s)
            if not self.session.running:
                self.session = None
                self.watch()
                self._say("note", STOPPED)
            self._show()

    def leave(self) -> None:
        """Switch the engine off because nobody watches it; it starts again when somebody comes back."""
        with self._lock:
            if self.session is not None:
                self.session = None
                self._show()
                self._say("note", NOBODY_WATCHED)

    def close(self) -> None:
        """Take the form away."""
        self.clock.close()
        super().close()

    def _heartbeat(self, number) -> None:
        self.clock.heartbeat()
        self.watch()
        super()._heartbeat(number)

    def _act_on(self, content: dict) -> None:
        if isinstance(content.get("hand"), str):
            self.hand(content["hand"])
        else:
            super()._act_on(content)

    def _show(self) -> None:
        if self.session is None:
            self.needle = {}
            return
        now = self.session.readings()
        vacuum = None if now.vacuum_inhg is None else round(float(now.vacuum_inhg), 3)
        held = bool(self.session.settings["hold_speed"])
        self.needle = {"vacuum_inhg": vacuum, "heard": now.idle_words, "held": held}


def needle(exercise_id: str) -> NeedleForm:
    """A live needle to name."""
    return opened(NeedleForm, exercise_id)
