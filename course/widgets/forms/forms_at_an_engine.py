"""The forms that have an engine behind them: a live needle to name, and a fault to find by inspections."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import traitlets

from course.widgets.bench.bench import NOBODY_WATCHED
from course.widgets.bench.engine_clock import EngineClock
from course.widgets.shared.front_end import module_text, style_text
from engine_sim import INSPECTIONS, TimingCourseError
from graders.exercises.kinds.diagnosis import MOST_LOOKS, TOO_MANY

from .forms import Form

if TYPE_CHECKING:
    from engine_sim import Session

HELD_RPM = 2500.0
HANDS = {"hold": ("hold_speed", HELD_RPM), "let_go": ("hold_speed", 0.0), "snap": ("snap", None)}
DOES_NOT_RUN = "This engine does not run, so its needle cannot be watched: tell your instructor."
STOPPED = "The engine stopped by itself; it was started again and idles."
_STYLE = style_text(
    "shared/palette.css",
    "bench/bench.css",
    "forms/forms.css",
    "forms/forms_of_parts.css",
    "forms/forms_at_an_engine.css",
)


class NeedleForm(Form):
    """The vacuum gauge of a running engine, and the patterns to choose from.

    `start()` returns the session of the engine, running and settled, or None where it does not run. The browser sends
    `{"hand": "hold"}`, `"let_go"` or `"snap"`, and `{"heartbeat": number}`, which is answered by `{"alive": number}`.
    The engine is started when somebody first watches, and switched off when nobody does.
    """

    _esm = module_text("forms/form_needle.js")
    _css = _STYLE
    kind = traitlets.Enum(("needle",), "needle").tag(sync=True)
    needle = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(self, record=None, judge=None, start: Callable[[], Session | None] | None = None, **traits):
        super().__init__(record, judge, **traits)
        self._start, self.session = start, None
        self.clock = EngineClock(self.step, self.leave)

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
        """Switch the engine off because nobody watches it; it starts again for whoever comes back."""
        with self._lock:
            if self.session is not None:
                self.session = None
                self._show()
                self._say("note", NOBODY_WATCHED)

    def close(self) -> None:
        """Take the form away."""
        self.clock.close()
        super().close()

    def _on_message(self, widget, content, buffers) -> None:
        if isinstance(content, dict) and content.get("heartbeat"):
            self.clock.heartbeat()
            self.watch()
            super()._on_message(widget, content, buffers)
        elif isinstance(content, dict) and isinstance(content.get("hand"), str):
            self.hand(content["hand"])
        else:
            super()._on_message(widget, content, buffers)

    def _checked(self, value, unit):
        return self._checked_choice(value, unit)

    def _show(self) -> None:
        if self.session is None:
            self.needle = {}
            return
        now = self.session.readings()
        vacuum = None if now.vacuum_inhg is None else round(float(now.vacuum_inhg), 3)
        held = bool(self.session.settings["hold_speed"])
        self.needle = {"vacuum_inhg": vacuum, "heard": now.idle_words, "held": held}


class DiagnosisForm(Form):
    """Inspections that cost minutes, what they told, and the causes to choose from.

    `note(control, value)` writes an event, `tell(inspection)` says what an inspection tells; `looked` are those of the
    account that is open. The browser sends `{"inspect": id}` and `{"begin": true}`.
    """

    _esm = module_text("forms/form_diagnosis.js")
    _css = _STYLE
    kind = traitlets.Enum(("diagnosis",), "diagnosis").tag(sync=True)
    offered = traitlets.List(traitlets.Dict()).tag(sync=True)
    account = traitlets.List(traitlets.Dict()).tag(sync=True)
    budget = traitlets.Float(0.0).tag(sync=True)

    def __init__(
        self,
        record=None,
        judge=None,
        note: Callable[[str, str | None], None] | None = None,
        tell: Callable[[str], str] | None = None,
        looked: tuple[str, ...] = (),
        **traits,
    ):
        super().__init__(record, judge, **traits)
        self._note, self._tell = note, tell
        self.account = [self._line(name) for name in looked]

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
        one = INSPECTIONS[inspection]
        return {"title": one.title, "minutes": one.minutes, "text": self._tell(inspection)}

    def _on_message(self, widget, content, buffers) -> None:
        if isinstance(content, dict) and isinstance(content.get("inspect"), str):
            self.inspect(content["inspect"])
        elif isinstance(content, dict) and content.get("begin"):
            self.begin()
        else:
            super()._on_message(widget, content, buffers)

    def _checked(self, value, unit):
        return self._checked_choice(value, unit)
