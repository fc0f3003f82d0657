"""The bench: an engine, its gauges and what hands can move, as a widget over a session of the simulated
engine."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, Any

import traitlets

from course.widgets.shared.base_widget import BaseWidget
from course.widgets.shared.front_end import module_text, style_text
from course.widgets.shared.verdict import shown_verdict
from engine_sim import CLOSED, CONTROLS, FUELS, TICK_S, VERDICT, ControlError, TimingCourseError
from engine_sim.workshop.controls import SNUG
from graders.bench.method_steps import next_step, rail, steps_of

from .engine_clock import EngineClock
from .engine_sound import SoundTeller
from .own_readings import own_readings
from .recent_past import RecentPast
from .tool_readings import ToolReadings, said_of

if TYPE_CHECKING:
    from engine_sim import Session
    from graders.outcome import ExerciseResult

AT_HAND = ("stop", "starter", "read_gauges", "wait")  # in every phase: the key, to read, and to let time pass
WORK = (  # the phases with their controls, in the order of the work; tools are shown where an exercise offers them
    ("Make safe", ("brake", "chocks", "ventilation", "fan_area", "gear", "helper")),
    (
        "Hook up",
        (
            "tachometer",
            "gauge_hose",
            "vacuum_hose",
            "coil_lead",
            "timing_light",
            "dwell_meter",
            "test_lamp",
            "fuel_meter",
            "exhaust_probe",
        ),
    ),
    (
        "At rest",
        (
            "spanner",
            "crank_mark",
            "piston_stop",
            "turn_to_stop",
            "turn_back_to_stop",
            "centre_mark",
            "ignition_switch",
            "look_under_cap",
            "point_gap",
            "refit",
            "springs",
            "weights_stop",
            "fuel",
        ),
    ),
    ("Run", ("throttle", "snap", "hold_speed", "load_brake", "wait_until_warm")),
    ("Set", ("mark_body", "clamp", "back_to_mark", "distributor", "idle_screw", "mixture_screw", "canister_screw")),
    ("Drive", ("driver", "route", "road_check")),
)
STOPS = {  # what hands feel at the lower and at the upper end of a part's travel
    "distributor": (
        "The body is at its stop: it turns no further anticlockwise.",
        "The body is at its stop: it turns no further clockwise.",
    ),
    "idle_screw": ("The screw is fully out.", "The screw is fully in."),
    "mixture_screw": ("The screw is fully in.", "The screw is fully out."),
    "canister_screw": ("The screw is at its softest.", "The screw is at its stiffest."),
    "weights_stop": ("The stop is at its least.", "The stop is at its most."),
}
TURNS_WHERE_SNUG = 0.25  # share of a free turn that a hand gets out of a body whose clamp drags; calibration
NOTHING_NEXT = "Every step of the method has been done in this try. Whether it was done right, the check says."
IS_RECORDED = "You asked for this step: it is recorded, and earns nothing in this try."
LONGEST_RECORD = 300
RECORD_BLOCK = 100
COOLED_BY_C = 0.5  # of coolant beside a stopped engine: as much as is shown [°C]
NOBODY_WATCHED = (
    "Nobody watched the engine for two minutes, so it was switched off; "
    "what you did is kept, and you can start it again."
)


class Bench(BaseWidget):
    """One engine on the bench.

    The browser sends `{"control": name, "value": value}` (or `"by": step` for a turn from where a control
    stands); everything shown comes back in the traits. `{"heartbeat": number}` is answered by `{"alive": number}`,
    `{"history": true}` by `{"history": points}` of the last minutes, and `{"listen": true}` lets `{"sound": ...}`
    come for a while. `{"look_over": true}` has the judge say in `verdict` how good it was so far, and
    `{"close": true}` closes this try and shows what the engine does, too; `{"hint": true}` says what comes next.
    `problem` holds the one sentence to show where there is no engine to work on. Every act goes through `Session.act`,
    which writes the evidence as it happens.
    """

    _esm = module_text("bench/bench.js")
    _css = style_text(
        "shared/palette.css", "forms/forms.css", "bench/bench.css", "bench/verdict.css", "bench/scene/scene.css"
    )

    exercise = traitlets.Unicode("").tag(sync=True)
    title = traitlets.Unicode("").tag(sync=True)
    task = traitlets.Unicode("").tag(sync=True)  # the exercise's title
    nameplate = traitlets.List(traitlets.List(traitlets.Unicode(), minlen=2, maxlen=2)).tag(sync=True)
    conditions = traitlets.Dict(value_trait=traitlets.Float(), key_trait=traitlets.Unicode()).tag(sync=True)
    work = traitlets.List(traitlets.Dict()).tag(sync=True)
    at_hand = traitlets.List(traitlets.Dict()).tag(sync=True)
    rail = traitlets.List(traitlets.Dict()).tag(sync=True)  # as rail() of method_steps.py
    can_hint = traitlets.Bool(False).tag(sync=True)  # whether "What next?" is there
    phase = traitlets.Unicode(WORK[0][0]).tag(sync=True)  # of the last act, for a page that is opened
    readings = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    tools = traitlets.Dict(value_trait=traitlets.Dict(), key_trait=traitlets.Unicode()).tag(sync=True)
    settings = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    tries = traitlets.Int(1).tag(sync=True)
    record = traitlets.List(traitlets.List(minlen=2, maxlen=2)).tag(sync=True)
    own_readings: traitlets.List = traitlets.List().tag(sync=True)  # as OwnReading of own_readings.py
    said = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    closes = traitlets.Bool(False).tag(sync=True)  # whether a try can be closed to see what the engine does
    points = traitlets.Float(0.0).tag(sync=True)  # what the work is worth; 0 where nobody judges it
    verdict = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)  # as shown_result(), with words for the ear
    problem = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        session: Session | None = None,
        nameplate_of: Callable[[int], list[list[str]]] | None = None,
        guide: str = "none",
        checks: Collection[str] = (),
        judge: Callable[[], ExerciseResult] | None = None,
        guessable: bool = True,
        **traits,
    ):
        super().__init__(work=described_work(session), at_hand=described_at_hand(session), **traits)
        self.session = session
        self._guide, self._checks = guide, checks  # how much of the method is shown, and what the judge asks for
        self._judge, self._guessable = judge, guessable  # what says how good it was; whether it may be told early
        self.can_hint = session is not None and guide != "none" and bool(steps_of(checks, session.found.prepared))
        self._nameplate_of, self._plate_shown = nameplate_of, -1
        self._lock = threading.RLock()  # messages may come on another thread than the clock's steps
        self._recorded = (-1, "")
        self._heard = ""
        self._past = RecentPast(session.trajectories[-1], session.time_s) if session is not None else None
        self._sound = SoundTeller()
        self._tools = ToolReadings(session.tools if session is not None else ())
        self._day = dict(self.conditions)
        self._still: dict[str, Any] = {}  # what the gauges showed, but for what changes at an engine that stands
        self._at_rest = False
        self.clock = EngineClock(self.step, self.leave, at_rest=self.at_rest)
        self.on_msg(self._on_message)
        if session is not None:
            self._show()

    def act(self, control: str, value: Any = None, *, by: float | None = None) -> None:
        """Do one thing at the engine and show what came of it; a turn `by` a step starts from where the
        control stands."""
        with self._lock:
            if self.session is None:
                return
            # One message carries all that came of the act: the needle need not wait for a second one.
            with self.hold_sync():
                if self._at_rest and self.clock.running:  # what passed since the clock's last step was before the act
                    self._let_run(self.clock.elapsed_s(), only_new=True)
                    if self.session is None:
                        return
                shown_until_s = self.readings["time_s"]
                try:
                    act = self.session.act(control, self._turned(control, by) if by is not None else value)
                    self._heard = act.sentence
                    said = act.sentence + self._tools_read(control)
                    self.say(act.kind, said + self._at_its_stop(control, act.kind, by), control)
                except TimingCourseError as error:
                    self.say("not possible", str(error), control)
                if self._past.fill_in(self.session.trajectories[-1], shown_until_s, self.session.time_s):
                    self.send({"history": self._past.points})
                # One tick with what was just set: the needle need not wait for the clock's next step either.
                self._let_run(self.clock.elapsed_s(TICK_S) if self.clock.running else 0.0)
            self.clock.wake()

    def step(self, elapsed_s: float) -> None:
        """Let the engine run for `elapsed_s` seconds and show its gauges; where nothing moves but its clock, nothing is
        sent."""
        with self._lock:
            if self.session is None:
                return
            self._let_run(elapsed_s, only_new=True)

    def _let_run(self, elapsed_s: float, only_new: bool = False) -> None:
        try:
            if elapsed_s:
                self.session.advance(elapsed_s)
            self._show(only_new)
        except TimingCourseError as error:
            self._fail(str(error))

    def look_over(self, closes: bool = False) -> None:
        """Show what the judge says of the work so far; where that tells something of the engine, it is written down.
        `closes` ends the try at this engine, and what the engine does is shown, too."""
        with self._lock:
            if self.session is None or self._judge is None:
                return
            number = self.verdict.get("number", 0) + 1
            try:
                if not self._guessable:
                    self.session.debrief(CLOSED if closes and self.closes else VERDICT)
                self.verdict = {"number": number, **shown_verdict(self._judge())}
            except TimingCourseError as error:
                self.verdict = {"number": number, "sentence": str(error)}

    def hint(self) -> None:
        """Say what the method does next, and write down that the learner asked for it."""
        with self._lock:
            if self.session is None or not self.can_hint:
                return
            step = next_step(self._checks, self.session.trajectories[-1].actions, self.session.found.prepared)
            if step is None:
                self.say("note", NOTHING_NEXT)
                return
            try:
                self.session.hint(step.words)
                self.say("note", f"{step.hint} {IS_RECORDED}")
            except TimingCourseError as error:
                self.say("not possible", str(error))

    def leave(self) -> None:
        """Switch a running engine off because nobody watches it, and say so."""
        with self._lock:
            if self.session is not None and self.session.readings().running:
                self.act("stop")
                self.say("note", NOBODY_WATCHED, "stop")

    def close(self) -> None:
        """Take the bench away; what was done stays in the evidence."""
        self.clock.close()
        super().close()

    def _on_message(self, _widget, content, _buffers) -> None:
        if not isinstance(content, dict):
            return
        if content.get("heartbeat"):
            self.clock.heartbeat()
            self.send({"alive": content["heartbeat"]})
        if content.get("history") and self._past is not None:
            self.send({"history": self._past.points})
        if content.get("listen") and self.session is not None:
            self._sound.want(self.session.time_s)
        if content.get("look_over") or content.get("close"):
            self.look_over(closes=bool(content.get("close")))
        if content.get("hint"):
            self.hint()
        if isinstance(content.get("control"), str):
            self._act_on_message(content)

    def _act_on_message(self, content: dict) -> None:
        self.clock.heartbeat()  # somebody who does something is there
        try:
            self.act(content["control"], content.get("value"), by=content.get("by"))
        except Exception as error:
            sentence = (
                f"The bench could not do this ({type(error).__name__}: {error}); what you did so far "
                "is kept: run this cell again and tell your instructor."
            )
            self.say("not possible", sentence, content["control"])
            raise

    def _turned(self, control: str, by) -> float:
        wanted, number = CONTROLS.get(control), isinstance(by, int | float) and math.isfinite(by)
        if wanted is None or wanted.kind != "number" or not number:
            raise ControlError(f"'{control}' cannot be turned by '{by}': use the controls on the bench.")
        if control == "distributor" and self.session.settings["clamp"] == SNUG:
            by *= TURNS_WHERE_SNUG
        return round(min(max(self.session.settings[control] + by, wanted.low), wanted.high), 4)

    def _at_its_stop(self, control: str, kind: str, by: float | None) -> str:
        """A further sentence where a part was turned, by a step or to a place, and goes no further that way."""
        if kind != "done" or control not in STOPS:
            return ""
        low, high = STOPS[control]
        stands, ends = self.session.settings[control], CONTROLS[control]
        if stands <= ends.low and (by is None or by < 0):
            return f" {low}"
        return f" {high}" if stands >= ends.high and (by is None or by > 0) else ""

    def _tools_read(self, control: str) -> str:
        """What the connected tools show, where the gauges were read."""
        return said_of(self.tools) if control == "read_gauges" else ""

    def say(self, kind: str, sentence: str, control: str = "") -> None:
        number = self.said.get("number", 0) + 1
        self.said = {"number": number, "kind": kind, "sentence": sentence, "control": control}

    def _fail(self, sentence: str) -> None:
        self.problem = sentence
        self.session = None
        self.clock.close()

    def at_rest(self) -> bool:
        """Whether the engine stands, and nothing but time and coolant moves."""
        return self._at_rest

    def _show(self, only_new: bool = False) -> None:
        """Bring every trait up to date; a trait that did not change sends nothing, and with `only_new` neither does an
        engine at rest for its clock alone."""
        with self.hold_sync():
            readings = self.session.readings()
            shown = {**shown_readings(readings), "crept_deg": round(self.session.crept_deg, 3)}
            still = {name: value for name, value in shown.items() if name not in ("time_s", "coolant_c")}
            moves = readings.running or readings.cranking or readings.on_road
            self._at_rest, self._still = still == self._still and not moves, still
            if not (only_new and self._at_rest and abs(shown["coolant_c"] - self.readings["coolant_c"]) < COOLED_BY_C):
                self.readings = shown
                self._past.add(readings)
            sound = self._sound.tell(readings)
            if sound is not None:
                self.send({"sound": sound})
            if readings.sentence != self._heard:  # the engine has started, the drive is over: no act said it
                self._heard = readings.sentence
                self.say("done", readings.sentence)
            self.settings = dict(self.session.settings)
            self.tools = self._tools.tell(readings, self.session.settings)
            self.conditions = {**self._day, **filled_in(self.settings)}
            self.tries = len(self.session.trajectories)
            if self._nameplate_of is not None and self._plate_shown != self.session.engine_number:
                self._plate_shown = self.session.engine_number
                self.nameplate = self._nameplate_of(self._plate_shown)
            log = self.session.log
            newest = (len(log), log[-1].text if log else "")
            if newest != self._recorded:
                self._recorded = newest
                self.record = [[round(line.time_s, 1), line.text] for line in log[first_shown(len(log)) :]]
                if self.session is not None:
                    self.phase = phase_left_in(self.session)
                acts = self.session.trajectories[-1].actions
                self.own_readings = [list(reading) for reading in own_readings(log, acts)]
                if self._guide != "none":
                    self.rail = rail(self._guide, self._checks, acts, self.session.found.prepared)


def filled_in(settings: Mapping) -> dict[str, float]:
    """The octane numbers of a fuel that was filled in at the bench; empty where the tank is as found."""
    if settings.get("fuel") not in FUELS:
        return {}
    ron, mon = FUELS[settings["fuel"]]
    return {"octane_ron": float(ron), "octane_mon": float(mon)}


def first_shown(lines: int) -> int:
    """First line of a long record to show; it moves in blocks, so that lines are mostly added to the drawn."""
    return -(-max(lines - LONGEST_RECORD, 0) // RECORD_BLOCK) * RECORD_BLOCK


def shown_readings(readings: Any) -> dict:
    """The readings as the browser gets them, rounded below what an eye can tell, so that a still needle sends
    nothing."""

    def rounded(value: float | None, digits: int) -> float | None:
        return None if value is None else round(float(value), digits)

    return {
        "time_s": rounded(readings.time_s, 2),
        "running": bool(readings.running),
        "cranking": bool(readings.cranking),
        "warm": bool(readings.warm),
        "on_road": bool(readings.on_road),
        "speed_rpm": rounded(readings.speed_rpm, 1),
        "vacuum_inhg": rounded(readings.vacuum_inhg, 3),
        "coolant_c": rounded(readings.coolant_c, 1),
        "idle_words": readings.idle_words,
        "ping_words": readings.ping_words,
        "ping_level": rounded(readings.ping_level, 2),
        "beats": [round(float(beat), 1) for beat in readings.beats],
    }


def described_work(session: Session | None = None) -> list[dict]:
    """The groups and their controls as the browser draws them: the usual ones, and the tools of the exercise."""
    tools = session.tools if session is not None else frozenset()
    groups = [
        (title, [CONTROLS[name] for name in names if name in tools or not CONTROLS[name].tool]) for title, names in WORK
    ]
    return [
        {"title": title, "controls": [_described(control, session) for control in controls]}
        for title, controls in groups
        if controls
    ]


def phase_left_in(session: Session) -> str:
    """The phase of the last act of this try that belongs to one; the first phase where there is none."""
    phases = {name: title for title, names in WORK for name in names}
    return next(
        (phases[act.control] for act in reversed(session.trajectories[-1].actions) if act.control in phases), WORK[0][0]
    )


def described_at_hand(session: Session | None = None) -> list[dict]:
    """The controls that stand in every phase, as the browser draws them."""
    return [_described(CONTROLS[name], session) for name in AT_HAND]


def _described(control, session: Session | None) -> dict:
    choices = control.choices if session is None else session.choices(control.name)
    return {
        "name": control.name,
        "label": control.label,
        "kind": control.kind,
        "choices": list(choices),
        "low": control.low,
        "high": control.high,
        "step": control.step,
        "unit": control.unit,
        "turns": [list(turn) for turn in control.turns],
        "shows": control.shows,
    }
