"""A session at one engine: hands act, time passes, instruments are read, and everything done is written down.

Time runs in fixed ticks of 20 ms. An act takes effect at the tick at which it is made, and its evidence holds that
time, so that replaying the evidence passes through exactly the same states, however the session was advanced.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from . import rules, units
from .controls import CONTROLS, control_named
from .distributor import advance_sense, crank_deg, ported_share
from .dynamics import STRIDE, TICK_S, Dynamics, Hands
from .engine import SEA_LEVEL_DAY, Conditions, Engine
from .errors import ControlError
from .evidence import Event, EvidenceWriter
from .instruments import CLEAR_PING, TRACE_OF_PING, Instruments, idle_words, ping_words
from .population import AsFound
from .trajectory import Drive, Recorder, Trajectory

SETTINGS_AS_FOUND = {
    "brake": "off",
    "chocks": "away",
    "ventilation": "off",
    "fan_area": "not checked",
    "gear": "park",
    "tachometer": "off",
    "gauge_hose": "none",
    "vacuum_hose": "on",
    "clamp": "tight",
    "distributor": 0.0,
    "throttle": 0.0,
}
CRANK_AT_MOST_S, RUNNING_FROM_RPM = 6.0, 450.0
SNAP_S = 0.5
WAIT_S, WARM_UP_AT_MOST_S = 10.0, 1500.0
LONGEST_ENGINE_TIME_S = 12 * 3600.0  # that a replay goes through, all tries together
PULL_FROM_RPM, PULL_TO_RPM, PULL_AT_MOST_S = 1100.0, 2400.0, 40.0
LISTEN_FROM_THROTTLE = 0.3


@dataclass(frozen=True)
class Act:
    """What came of an act: done, stopped (unsafe: nothing was changed) or not possible; and the sentence for it."""

    kind: str
    sentence: str


@dataclass(frozen=True)
class Readings:
    """What a person perceives at this moment, and nothing more."""

    time_s: float
    running: bool
    cranking: bool
    warm: bool
    on_road: bool
    speed_rpm: float | None
    vacuum_inhg: float | None
    coolant_c: float
    idle_words: str
    ping_words: str
    ping_level: float
    sentence: str


@dataclass(frozen=True)
class LogLine:
    """One line of the record that a person reads."""

    time_s: float
    text: str


class Session:
    """One learner at one engine.

    With `evidence`, every act is on the disk before it takes effect; a writer that already holds events of
    `exercise` is replayed first, so that the session goes on where the file ends. `watch=False` leaves the
    instruments out, for a judge.
    """

    def __init__(
        self,
        engine: Engine,
        *,
        conditions: Conditions = SEA_LEVEL_DAY,
        found: AsFound | None = None,
        evidence: EvidenceWriter | None = None,
        exercise: str = "",
        watch: bool = True,
    ):
        self.engine, self.conditions, self.found = engine, conditions, found or AsFound()
        self.exercise, self._watch = exercise, watch
        self._dynamics = Dynamics(engine, conditions)
        self._evidence = None
        self.trajectories: list[Trajectory] = []
        self._begin()
        if evidence is not None:
            self._replay(event for event in evidence.events if event.exercise == exercise)
            self._evidence = evidence

    # ---- what a caller uses -----------------------------------------------------------------------------------

    @property
    def time_s(self) -> float:
        """Seconds of engine time since this try began."""
        return round(self._tick * TICK_S, 2)

    @property
    def running(self) -> bool:
        """Whether the engine turns by its own strength."""
        return self._hands.ignition and not self._hands.starter and self._motion.speed_rad_s > 0.0

    def act(self, control: str, value=None, unit: str | None = None) -> Act:
        """Do one thing. Raises ControlError for a control that does not exist or a value that it cannot take."""
        wanted = control_named(control)
        value = wanted.checked(value, unit)
        if self._evidence is not None:
            self._evidence.append(Event(self.time_s, self.exercise, control, value, wanted.unit or None))
        outcome = self._judge_act(control, value)
        if outcome is None:
            self._motion.disturb()
            self._recorder.act(self, control, value, "done")
            outcome = Act("done", self._do(control, value))
        else:
            self._recorder.act(self, control, value, outcome.kind)
        self.sentence = outcome.sentence
        self.log.append(LogLine(self.time_s, outcome.sentence))
        return outcome

    def advance(self, seconds: float) -> None:
        """Let time pass [s]; parts of a tick are kept for the next call."""
        self._owed += max(seconds, 0.0)
        ticks = int(self._owed / TICK_S + 1e-9)
        self._owed -= ticks * TICK_S
        for _ in range(ticks):
            self._step()

    def readings(self) -> Readings:
        """What can be perceived now."""
        motion, listen = self._motion, self._hands.throttle > LISTEN_FROM_THROTTLE or self.on_road
        shown = self._instruments
        return Readings(
            self.time_s,
            self.running,
            self._hands.starter,
            motion.coolant_c >= rules.WARM_C,
            self.on_road,
            shown.speed_shown_rpm(motion) if self.settings["tachometer"] == "on" else None,
            shown.vacuum_shown_inhg(motion) if self.settings["gauge_hose"] != "none" else None,
            motion.coolant_c,
            idle_words(motion, self._hands.starter),
            ping_words(shown.ping) if listen else "",
            min(shown.ping, 1.0) if listen else 0.0,
            self.sentence,
        )

    @property
    def on_road(self) -> bool:
        """Whether the road check is under way."""
        return self._hands.coupling == "road"

    @property
    def base_timing_deg(self) -> float:
        """Where the base timing truly stands [crank deg BTDC]; for judges, never shown to the learner."""
        return self._hands.base_timing_deg

    # ---- beginning ---------------------------------------------------------------------------------------------

    def _begin(self) -> None:
        self.settings = {**SETTINGS_AS_FOUND, "idle_screw": self.found.idle_screw}
        self._creep_deg = 0.0
        self._hands = Hands(self.found.base_timing_deg, self.found.idle_screw)
        self._motion = self._dynamics.at_rest(self.conditions.ambient_c)
        self._instruments = Instruments(self.found.seed)
        self._tick, self._owed = 0, 0.0
        self._crank_until = self._snap_until = self._pull_until = -1
        self._pinged_rpm: list[float] = []
        self._worst_ping = 0.0
        self.sentence = "The vehicle stands as its driver left it. Make it safe before you start the engine."
        self.log: list[LogLine] = []
        self._recorder = Recorder()
        self.trajectories.append(self._recorder.trajectory)

    def _replay(self, events: Iterable[Event]) -> None:
        engine_time_s = 0.0
        for event in events:
            engine_time_s += max(event.time_s - self.time_s, 0.0)
            if engine_time_s > LONGEST_ENGINE_TIME_S:
                raise ControlError(
                    f"The evidence asks for more than {LONGEST_ENGINE_TIME_S / 3600:.0f} hours of engine "
                    "time: it is not what a bench writes."
                )
            self._advance_to(event.time_s)
            self.act(event.control, event.value, event.unit)

    def _advance_to(self, time_s: float) -> None:
        self._run(round(time_s / TICK_S) - self._tick)

    def finish_drive(self) -> None:
        """Let a road check that is under way come to its end."""
        while self.on_road:
            self._step()

    def end_try(self) -> None:
        """Close the trajectory of the try that is under way, for a judge."""
        self._recorder.end(self)

    # ---- one act -----------------------------------------------------------------------------------------------

    def _judge_act(self, control: str, value) -> Act | None:
        """An act that is stopped or cannot be done; None where it may go on."""
        if control == "begin":
            return None
        turning = self._motion.speed_rad_s > 0.0
        reason = rules.impossible(control, value, self.settings, turning, self._motion.coolant_c, self.on_road)
        if reason:
            return Act("not possible", reason)
        reason = rules.unsafe(control, value, self.settings, turning)
        return Act("stopped", reason) if reason else None

    def _do(self, control: str, value) -> str:
        if CONTROLS[control].kind == "press":
            return getattr(self, f"_press_{control}")()
        before, self.settings[control] = self.settings[control], value
        if control == "clamp" and (before, value) == ("loose", "tight"):
            self._creep_deg += self.found.tighten_shift_deg
        self._apply()
        return f"{CONTROLS[control].label}: {_in_words(control, value)}."

    def _apply(self) -> None:
        """Carry the settings over to what the engine feels."""
        sense = advance_sense(self.engine.card.distributor.rotor_turns)
        turned = sense * crank_deg(self.settings["distributor"])
        self._hands.base_timing_deg = self.found.base_timing_deg + turned + self._creep_deg
        self._hands.idle_screw = self.settings["idle_screw"]
        self._hands.vacuum_hose = self.settings["vacuum_hose"]
        if not self.on_road and self._snap_until < 0:
            self._hands.throttle = self.settings["throttle"]

    def _press_begin(self) -> str:
        self.end_try()
        self._begin()
        return "A new try begins, with the engine as it was found."

    def _press_starter(self) -> str:
        self._hands.ignition = self._hands.starter = True
        self._crank_until = self._tick + round(CRANK_AT_MOST_S / TICK_S)
        return "The starter turns the engine."

    def _press_stop(self) -> str:
        self._hands.ignition = self._hands.starter = False
        self._end_drive("The drive was broken off and the vehicle is back in the workshop." if self.on_road else "")
        return "Ignition off."

    def _press_snap(self) -> str:
        self._hands.throttle = 1.0
        self._snap_until = self._tick + round(SNAP_S / TICK_S)
        return "The throttle is snapped open and let go."

    def _press_wait(self) -> str:
        self._run(round(WAIT_S / TICK_S))
        return "Ten seconds pass."

    def _press_wait_until_warm(self) -> str:
        for _ in range(round(WARM_UP_AT_MOST_S / TICK_S / STRIDE)):
            if self._motion.coolant_c >= rules.WARM_C or not self.running:
                break
            self._run(STRIDE)
        if self._motion.coolant_c >= rules.WARM_C:
            return "The engine is warm: the choke is off and the coolant has reached its working temperature."
        return "The engine stopped before it was warm."

    def _press_read_gauges(self) -> str:
        now = self.readings()
        vacuum = "no gauge connected"
        if now.vacuum_inhg is not None:
            kilopascal = now.vacuum_inhg * units.PA_PER_INHG / 1000
            vacuum = f"{now.vacuum_inhg:.1f} inHg ({kilopascal:.0f} kPa) below the air outside"
        speed = "no tachometer connected" if now.speed_rpm is None else f"{now.speed_rpm:.0f} rpm"
        coolant = f"coolant {now.coolant_c:.0f} °C ({now.coolant_c * 1.8 + 32:.0f} °F)"
        return f"Read: {vacuum}; {speed}; {coolant}; engine {now.idle_words}."

    def _press_road_check(self) -> str:
        self._hands.coupling, self._hands.throttle = "road", 1.0
        self._motion.speed_rad_s = units.rad_s_from_rpm(PULL_FROM_RPM)
        self._motion.acceleration = None
        self._pull_until = self._tick + round(PULL_AT_MOST_S / TICK_S)
        self._pinged_rpm, self._worst_ping = [], 0.0
        return (
            f"On a quiet road, within the law: top gear from {PULL_FROM_RPM:.0f} rpm, throttle wide open, "
            f"listening up to {PULL_TO_RPM:.0f} rpm."
        )

    # ---- one tick ----------------------------------------------------------------------------------------------

    def _run(self, ticks: int) -> None:
        """Take ticks; where nobody watches, those that leave a calm engine as it is are taken together."""
        while ticks > 0:
            together = 0
            if not (self._watch or self._hands.starter or self.on_road or self._snap_until >= 0):
                together = self._dynamics.pass_over(self._motion, ticks)
            if together:
                self._tick += together
                self._recorder.pass_over(self, together)
            else:
                self._step()
            ticks -= together or 1

    def _step(self) -> None:
        self._tick += 1
        self._dynamics.tick(self._motion, self._hands)
        if self._watch:
            self._instruments.follow(self._motion, self._gauge_pa(), self.conditions.ambient_pa, self._tick)
        self._recorder.sample(self)
        if self._hands.starter:
            self._crank()
        if 0 <= self._snap_until <= self._tick:
            self._snap_until = -1
            self._motion.disturb()
            self._hands.throttle = self.settings["throttle"]
        if self.on_road:
            self._pull()

    def _crank(self) -> None:
        if self._motion.speed_rpm >= RUNNING_FROM_RPM:
            self._hands.starter = False
            self._say("The engine has started.")
        elif self._tick >= self._crank_until:
            self._hands.starter = self._hands.ignition = False
            self._say("The starter has turned the engine for six seconds and it has not started.")

    def _pull(self) -> None:
        motion = self._motion
        if motion.ping_rate >= TRACE_OF_PING:
            self._pinged_rpm.append(motion.speed_rpm)
            self._worst_ping = max(self._worst_ping, motion.ping_rate)
        if motion.speed_rpm >= PULL_TO_RPM or self._tick >= self._pull_until or motion.speed_rad_s == 0.0:
            self._recorder.trajectory.drives.append(self._drive())
            self._end_drive(f"Back from the road: {self._heard()}. Brake on, selector in park.")

    def _drive(self):
        return Drive(
            self.time_s,
            self.settings["vacuum_hose"],
            self._hands.base_timing_deg,
            self._worst_ping,
            self._motion.speed_rpm >= PULL_TO_RPM,
        )

    def _heard(self) -> str:
        if not self._pinged_rpm:
            return "no ping was heard"
        low, high = min(self._pinged_rpm), max(self._pinged_rpm)
        strength = "a trace of ping" if self._worst_ping < CLEAR_PING else ping_words(self._worst_ping)
        return f"{strength} was heard from {low:.0f} to {high:.0f} rpm"

    def _end_drive(self, sentence: str) -> None:
        if not self.on_road:
            return
        self._hands.coupling, self._hands.throttle, self._pull_until = "neutral", self.settings["throttle"], -1
        self._motion.acceleration = None
        self._motion.disturb()
        self._say(sentence)

    def _say(self, sentence: str) -> None:
        self.sentence = sentence
        self.log.append(LogLine(self.time_s, sentence))

    def _gauge_pa(self) -> float:
        """Pressure at the port that the gauge hose is on."""
        ambient, source = self.conditions.ambient_pa, self.settings["gauge_hose"]
        if source == "none":
            return ambient
        share = 1.0 if source == "manifold" else float(ported_share(self._hands.throttle))
        return ambient - share * (ambient - self._motion.manifold_pa)


def _in_words(control: str, value) -> str:
    """A setting as a person would say it."""
    if control == "distributor":
        side = "clockwise" if value > 0 else "anticlockwise"
        return f"{abs(value):g}° {side} of where it was found" if value else "where it was found"
    if control == "throttle":
        return f"{100 * value:.0f} % open" if value else "closed"
    return f"{value:g} {CONTROLS[control].unit}" if isinstance(value, float) else value


def replay(
    events: Iterable[Event],
    engine: Engine,
    *,
    conditions: Conditions = SEA_LEVEL_DAY,
    found: AsFound | None = None,
    exercise: str = "",
) -> list[Trajectory]:
    """Do again what the events of one exercise say, in a fresh engine; one trajectory for each try.

    Raises ControlError where an event could not have been written by a session.
    """
    session = Session(engine, conditions=conditions, found=found, exercise=exercise, watch=False)
    session._replay(event for event in events if event.exercise == exercise)
    session.finish_drive()
    session.end_try()
    return session.trajectories
