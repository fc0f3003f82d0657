"""A session at one engine: hands act, time passes, instruments are read, and everything done is written down.

Time runs in fixed ticks of 20 ms. An act takes effect at the tick at which it is made, and its evidence holds that
time, so that replaying the evidence passes through exactly the same states, however the session was advanced.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from engine_sim import version
from engine_sim.errors import ControlError
from engine_sim.model.conditions import SEA_LEVEL_DAY, Conditions
from engine_sim.model.damage import DAMAGES, NO_DOSES, Damage
from engine_sim.model.dynamics import CALM_TICKS, STRIDE, TICK_S, ControlInputs, Dynamics
from engine_sim.model.engine import Engine, most_turns_out
from engine_sim.model.population import AsFound
from engine_sim.model.starting import RUNNING_FROM_RPM
from engine_sim.physics import units
from engine_sim.physics.distributor import advance_sense, crank_deg, ported_share

from . import adjustments, safety_rules
from .controls import CONTROLS, SNUG, SWITCH_SIDE, control_named, with_needed
from .evidence import CLOSED, DEBRIEFED, HINTED, VERDICT, Event, EvidenceWriter
from .instruments import Instruments, exhaust_words, fuel_words, idle_words, ping_words
from .road_check import DRIVER, ROUTES, Drive
from .trajectory import Recorder, Trajectory

CRANK_AT_MOST_S = 10.0  # a starter that turns for longer gets too hot; common practice
SNAP_S = 0.5  # for which a snapped throttle is wide open; common practice
WAIT_S = 10.0  # of one press on "wait"
WARM_UP_AT_MOST_S = 1500.0  # after which waiting for a warm engine is given up
LONGEST_ENGINE_TIME_S = 12 * 3600.0  # that a replay goes through, all attempts together
BEGINNING_COUNTS_S = 120.0  # of that, for each new try: another engine and its judging take as long
AHEAD_AT_MOST_S = 60.0  # by which a session's clock may pass the next act's; its own writer leaves none
HELD_WITHIN_RPM = 4.0  # of the wanted speed: nearer, a hand leaves the throttle alone; calibration
AS_LEFT = "The vehicle stands as its driver left it. Make it safe before you start the engine."
READY = "A colleague has made the vehicle safe and hooked up the gauges. Look round before you start the engine."
KICKS_ENOUGH = 4  # thrown back so often, the starter is let go
FREE_REVS_TO_RPM = 3500.0  # without load, where a careful hand closes the throttle; common practice
SAME_PRESS_S = 2.0  # after that, in which an opening throttle is still the same movement
SECOND_PRESS_S = 20.0  # within which opening it again goes beyond
OVER_REVS = (
    "Stopped: 3,500 rpm with no load on the engine. A fan, a belt or a valve that breaks at such speeds can kill. The "
    "throttle is closed; opening it again goes beyond this limit."
)
RUNS_ON_HEARD_S = 1.0  # after the key is off, when a running-on engine is noticed
RUNS_ON = (
    "The engine runs on without a spark. Wait until it stands: a hot engine does so when its throttle stands too far "
    "open, its spark is late or its fuel has too low an octane number."
)
SHUTS_THE_THROTTLE = "If it pings, lift the foot: the throttle is shut, and the drive counts as driven."
LISTEN_FROM_THROTTLE = 0.3  # share of full travel from which ping is listened for
SMELLS_FROM_FLOOD = 0.3  # share of a flooded engine's wetness from which petrol is smelt; calibration
POPS_BELOW_DEG = -8.0  # so late a charge still burns as the exhaust valve opens; calibration
BEGUN_AGAIN = (
    "The course was updated since you were here, and the engine is now computed by model {here} and not by model "
    "{earlier}: it stands as it was found, and you begin again. All that you did before is kept in your record."
)
SAME_ENGINE = "A new try begins, with the engine as it was found."
ANOTHER_ENGINE = (
    "A new try begins, at another engine of the same kind: what was said of the last one would not help you here. Read "
    "the nameplate again."
)
NO_MARK = "There is no mark across body and block: one that is made before the clamp is loosened shows the way back."
MARK_READ_TO_DEG = 0.5  # crank degrees, on a damper at rest with a tape round it; common practice
MARK_MEETS_WITHIN_DEG = 0.25  # of the body, to which an eye brings both halves of a mark together; calibration
CREEPS_FROM = {"loose": 1.0, SNUG: 0.5}  # share of the creep as the clamp is tightened from there; calibration
FURTHER = {
    "clamp": {SNUG: " The body turns with effort, and stays where you let it go."},
    "tachometer": {SWITCH_SIDE: " No pulses of the coil come there: its needle will not move."},
}
NO_SPARK = "with the coil lead out of the cap it cannot fire"
AnotherEngine = Callable[[int], tuple[Engine, AsFound]]  # a learner's engine of that number, and how it is found


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
    timing_light_deg: float | None = None  # by the marks; None: not connected, or nothing to see
    dwell_deg: float | None = None  # distributor degrees
    lamp_lit: bool | None = None  # across the points; None: not connected
    firing_hz: float = 0.0
    beats: tuple[float, ...] = ()  # strength of each cylinder's last firing; 1 is even
    torque_nm: float | None = None  # at the brake of the test stand
    fuel_l_h: float | None = None
    fuel_words: str = ""
    exhaust_c: float | None = None  # of the exhaust's metal
    exhaust_words: str = ""
    pings: tuple[float, ...] = ()  # loudness of each ping since the readings before, 0 to 1


@dataclass(frozen=True)
class LogLine:
    """One line of the record that a person reads."""

    time_s: float
    text: str


class Session:
    """One learner at one engine.

    With `evidence`, every act is on the disk before it takes effect; a writer that already holds events of
    `exercise` is replayed first, so that the session goes on where the file ends; what was done on another engine
    model is kept and not replayed, and where the file ends on one the session begins again. `watch=False` leaves the
    instruments out, for a judge. `tools` names the controls beyond the usual ones that this exercise offers; those
    without which they would be dangerous come along. Where `another_engine` is given, a new attempt after the learner
    was shown what the judge says is at the learner's next engine; else at the same one.

    >>> import engine_sim
    >>> engine = engine_sim.Engine(engine_sim.load_card("course/engines/farm_runabout_four.toml"))
    >>> session = engine_sim.Session(engine)
    >>> session.act("starter").kind
    'stopped'
    >>> session.act("brake", "on").kind
    'done'
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
        tools: Iterable[str] = (),
        another_engine: AnotherEngine | None = None,
    ):
        self._another_engine, self.engine_number, self._debriefed = another_engine, 0, 0
        self._as_found_engine, self.conditions, self.found = engine, conditions, found or AsFound()
        self.exercise, self._watch, self.tools = exercise, watch, with_needed(tools)
        self._evidence: EvidenceWriter | None = None
        self._recorder = Recorder()
        self.trajectories: list[Trajectory] = []
        self._begin()
        if evidence is not None:
            so_far = evidence.so_far()
            self._replay(so_far.on_this_model().of_exercise(exercise))
            self._evidence = evidence
            earlier = so_far.left_on_model(exercise)
            if earlier and earlier != version.MODEL_VERSION:
                self._begin_again(earlier)

    # ---- what a caller uses -----------------------------------------------------------------------------------

    @property
    def time_s(self) -> float:
        """Seconds of engine time since this attempt began."""
        return round(self._tick * TICK_S, 2)

    @property
    def running(self) -> bool:
        """Whether the engine turns by its own strength."""
        return self._inputs.ignition and not self._inputs.starter and self._motion.speed_rad_s > 0.0

    @property
    def asleep(self) -> bool:
        """Whether the engine stands and nothing will change at it, nor at its gauges, until something is done."""
        return self._motion.asleep

    def act(self, control: str, value: str | float | None = None, unit: str | None = None) -> Act:
        """Do one thing. Raises ControlError for a control that does not exist or a value that it cannot take."""
        wanted = control_named(control)
        if wanted.tool and control not in self.tools:
            raise ControlError(f"{wanted.label} does not belong to this exercise: leave it as it is.")
        if control == "back_to_mark":
            return self._back_to_mark()
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
        self._say(outcome.sentence)
        return outcome

    def _back_to_mark(self) -> Act:
        """Turn the body until both halves of the mark meet, as well as an eye sees it: a turn as any other, so that
        the evidence holds where the hand left the body."""
        marked_at = self.settings["marked_at"]
        if marked_at is None:
            self._say(NO_MARK)
            return Act("not possible", NO_MARK)
        off = random.Random(self.found.seed + self._tick).choice((-MARK_MEETS_WITHIN_DEG, 0.0, MARK_MEETS_WITHIN_DEG))
        body = CONTROLS["distributor"]
        return self.act("distributor", min(max(marked_at + off, body.low), body.high))

    def debrief(self, shown: str = VERDICT) -> None:
        """Write down what the learner is shown of this attempt: a verdict, or, as the attempt is closed, the engine's
        own curve, and then nothing that is done after it belongs to an attempt. Where nothing was done, or nothing
        since the last verdict, there is nothing to write."""
        attempt = self.trajectories[-1]
        acts = len(attempt.actions)
        if attempt.closed or not acts or (shown != CLOSED and acts == self._debriefed):
            return
        if self._evidence is not None:
            self._evidence.append(Event(self.time_s, self.exercise, DEBRIEFED, shown))
        self._debriefed = acts
        if shown == VERDICT:
            self._recorder.verdict(self)
        if shown == CLOSED:
            self.end_attempt()
            attempt.closed = True
            self._recorder = Recorder()  # of what is done from now on, which belongs to no attempt

    def hint(self, step: str) -> None:
        """Write down that the learner asked what comes next and was told this step; once a step in each attempt."""
        hints = self._recorder.trajectory.hints
        if step in hints:
            return
        if self._evidence is not None:
            self._evidence.append(Event(self.time_s, self.exercise, HINTED, step))
        hints.append(step)

    def advance(self, seconds: float) -> None:
        """Let time pass [s]; parts of a tick are kept for the next call."""
        self._owed += max(seconds, 0.0)
        ticks = int(self._owed / TICK_S + 1e-9)
        self._owed -= ticks * TICK_S
        while ticks > 0:
            together = self._passed_over(ticks) if self.asleep else 0
            if not together:
                self._step()
            ticks -= together or 1

    def readings(self) -> Readings:
        """What can be perceived now. The pings since the readings before are told once."""
        motion, listen = self._motion, self._inputs.throttle > LISTEN_FROM_THROTTLE or self.on_road
        self._instruments.catch_up()
        shown, on, turning = self._instruments, self.settings, self._motion.speed_rad_s > 0.0
        pings = shown.ripple.take_pings()
        flashes = on["timing_light"] == "on" and turning and self._inputs.ignition
        return Readings(
            time_s=self.time_s,
            running=self.running,
            cranking=self._inputs.starter,
            warm=motion.coolant_c >= safety_rules.WARM_C,
            on_road=self.on_road,
            speed_rpm=shown.speed_shown_rpm(motion) if on["tachometer"] == "on" else None,
            vacuum_inhg=shown.vacuum_shown_inhg(motion) if on["gauge_hose"] != "none" else None,
            coolant_c=motion.coolant_c,
            idle_words=idle_words(motion, self._inputs.starter, shown.unevenness, self._inputs.ignition),
            ping_words=ping_words(shown.ping) if listen else "",
            ping_level=min(shown.ping, 1.0) if listen else 0.0,
            sentence=self.sentence,
            timing_light_deg=shown.timing_light_deg(motion) - on["centre_mark"] if flashes else None,
            dwell_deg=shown.dwell_shown_deg(self._dwell_deg) if on["dwell_meter"] == "on" and turning else None,
            lamp_lit=self._lamp_lit() if on["test_lamp"] == "on" and not turning else None,
            firing_hz=motion.speed_rpm * self.engine.cylinders / units.RPM_PER_CYCLE_HZ,
            beats=tuple(shown.ripple.beats) if turning else (),
            torque_nm=shown.torque_shown_nm() if on["load_brake"] and turning else None,
            **self._burned(shown.fuel_shown_l_h()),
            pings=pings if listen else (),
        )

    def _burned(self, fuel_l_h: float) -> dict[str, Any]:
        """What fuel meter and exhaust probe show, where they are on."""
        motion = self._motion
        shown: dict[str, Any] = {}
        if self.settings["fuel_meter"] == "on":
            speed_m_s = motion.shaft_rad_s * self._dynamics.top_metres_per_rad
            shown |= {"fuel_l_h": fuel_l_h, "fuel_words": fuel_words(fuel_l_h, speed_m_s)}
        if self.settings["exhaust_probe"] == "on":
            metal_c = units.celsius_from_kelvin(motion.exhaust_metal_k)
            shown |= {"exhaust_c": metal_c, "exhaust_words": exhaust_words(metal_c)}
        return shown

    def choices(self, control: str) -> tuple[str, ...]:
        """What a choice can be set to on this vehicle: a selector has the places of its own gearbox."""
        offered = control_named(control).choices
        if control != "gear":
            return offered
        return tuple(place for place in offered if not safety_rules.no_such_gear(place, self.engine.card))

    @property
    def _dwell_deg(self) -> float:
        return adjustments.dwell_deg(self.engine.card, self.settings)

    def _lamp_lit(self) -> bool:
        if self.settings["ignition_switch"] == "off":
            return False
        wear = self.engine.wear
        return adjustments.points_open(self.engine.card, self.found, self.settings, self._creep_deg, wear.mark_slip_deg)

    @property
    def on_road(self) -> bool:
        """Whether the road check is under way."""
        return self._drive is not None

    @property
    def base_timing_deg(self) -> float:
        """Where the base timing truly stands [crank deg BTDC]; for judges, never shown to the learner."""
        return self._inputs.base_timing_deg

    @property
    def crept_deg(self) -> float:
        """How far the clamp has moved the body as it was tightened [degrees of the body, clockwise], as an eye sees it
        beside the block."""
        sense = advance_sense(self.engine.card.distributor.rotor_turns)
        return sense * self._creep_deg / crank_deg(1.0)

    # ---- beginning ---------------------------------------------------------------------------------------------

    def _begin(self) -> None:
        found, self.engine = self.found, self._as_found_engine
        self.settings = adjustments.settings_as_found(self.engine.card, found)
        self._creep_deg = 0.0
        self._inputs = ControlInputs(base_timing_deg=found.base_timing_deg, idle_screw=found.idle_screw)
        self._dynamics = Dynamics(self.engine, self.conditions)
        coolant_c = self.conditions.ambient_c if found.coolant_c is None else found.coolant_c
        self._motion = self._dynamics.at_rest(coolant_c, found.flood, found.bowl, found.battery)
        self._instruments = Instruments(self._dynamics, found.seed)
        self._tick, self._owed = 0, 0.0
        self._crank_until = self._snap_until = self._off_at = -1
        self._cautioned_at: int | None = None
        self._beyond_caution = False
        self._doses, self._damaged = NO_DOSES, frozenset[Damage]()
        self._drive: Drive | None = None
        self._apply()
        self.sentence = READY if found.prepared else AS_LEFT
        self.log: list[LogLine] = []
        self._recorder = Recorder()
        self._recorder.trajectory.engine_number = self.engine_number
        self.trajectories.append(self._recorder.trajectory)

    def _begin_again(self, earlier: str) -> None:
        """Begin a new attempt because the file ends on an engine that is computed no more."""
        self.act("begin")
        as_found = READY if self.found.prepared else AS_LEFT
        self._say(f"{BEGUN_AGAIN.format(here=version.MODEL_VERSION, earlier=earlier)} {as_found}")

    def _replay(self, events: Iterable[Event]) -> None:
        events = tuple(events)
        if _asked_s(events) > LONGEST_ENGINE_TIME_S:
            raise ControlError(
                f"The evidence asks for more than {LONGEST_ENGINE_TIME_S / 3600:.0f} hours of engine time, where each "
                f"new try counts {BEGINNING_COUNTS_S:.0f} seconds: it is not what a bench writes."
            )
        for event in events:
            if self.time_s > event.time_s + AHEAD_AT_MOST_S:
                raise ControlError(
                    f"The evidence has '{event.control}' at {event.time_s:g} s, when the acts before it had already "
                    f"taken {self.time_s:.0f} s: it is not what a bench writes."
                )
            self._advance_to(event.time_s)
            if event.control == DEBRIEFED:
                self.debrief(str(event.value))
            elif event.control == HINTED:
                self.hint(str(event.value))
            else:
                self.act(event.control, event.value, event.unit)

    def _advance_to(self, time_s: float) -> None:
        self._run(round(time_s / TICK_S) - self._tick)

    def finish_drive(self) -> None:
        """Let a road check that is under way come to its end."""
        while self.on_road:
            self._step()

    def end_attempt(self) -> None:
        """Close the trajectory of the attempt that is under way, for a judge."""
        self._recorder.end(self)

    # ---- one act -----------------------------------------------------------------------------------------------

    def _judge_act(self, control: str, value) -> Act | None:
        """An act that is stopped or cannot be done; None where it may go on."""
        if control == "begin":
            return None
        turning, card = self._motion.speed_rad_s > 0.0, self.engine.card
        reason = safety_rules.impossible(
            control, value, self.settings, turning, self._motion.coolant_c, self.on_road, card
        )
        if reason:
            return Act("not possible", reason)
        reason = safety_rules.unsafe(control, value, self.settings, turning)
        return Act("stopped", reason) if reason else None

    def _do(self, control: str, value) -> str:
        if CONTROLS[control].kind == "press":
            return getattr(self, f"_press_{control}")()
        before, self.settings[control] = self.settings[control], value
        if control == "throttle":
            self._open_throttle(value - before)
        if control == "clamp" and value == "tight":
            self._creep_deg += CREEPS_FROM.get(before, 0.0) * self.found.tighten_shift_deg
        self._apply()
        return f"{CONTROLS[control].label}: {_in_words(control, value)}.{self._at_its_end(control, value)}"

    def _at_its_end(self, control: str, value) -> str:
        """A further sentence where the new setting does something that its name does not say."""
        if control in FURTHER:
            return FURTHER[control].get(value, "")
        if control != "mixture_screw" or value <= most_turns_out(self.engine.card):
            return ""
        return " So far out it changes nothing more: the idle jet meters the fuel, and not the screw."

    def _apply(self) -> None:
        """Carry the settings over to what the engine feels."""
        card, settings, inputs = self.engine.card, self.settings, self._inputs
        self._switch_ignition(settings["ignition_switch"] == "on")
        adjustments.set_inputs(inputs, card, self.found, settings, self._creep_deg)
        weights = adjustments.weights_from(self.engine, settings)
        if weights != self._dynamics.weights:  # the same ones keep their table
            self._dynamics.weights = weights
        if settings["fuel"] in adjustments.FUELS:
            self._dynamics.ron, self._dynamics.mon = adjustments.FUELS[settings["fuel"]]
        if self.on_road:
            return
        if settings["load_brake"]:
            inputs.coupling, inputs.brake_rpm, inputs.throttle = "brake", settings["load_brake"], settings["throttle"]
            return
        in_drive = settings["gear"] in ("drive", "reverse") and card.drive.transmission == "automatic"
        inputs.coupling = "drive" if in_drive else "neutral"
        if self._snap_until < 0 and not settings["hold_speed"]:
            inputs.throttle = settings["throttle"]

    def _press_begin(self) -> str:
        self.end_attempt()
        another = self._another_engine if self._debriefed else None
        self._debriefed = 0
        if another is not None:
            self.engine_number += 1
            self._as_found_engine, self.found = another(self.engine_number)
        self._begin()
        return SAME_ENGINE if another is None else ANOTHER_ENGINE

    @property
    def _lead_out(self) -> bool:
        return self.settings["coil_lead"] != "in the cap"

    def _switch_ignition(self, on: bool) -> None:
        """Turn the key; without the coil lead in the cap no spark comes of it."""
        self.settings["ignition_switch"] = "on" if on else "off"
        self._inputs.ignition = on and not self._lead_out

    def _let_go_of_key(self) -> None:
        self._inputs.starter = False
        self._switch_ignition(False)

    def _press_starter(self) -> str:
        self._switch_ignition(True)
        self._inputs.starter = True
        self.settings["crank_mark"] = CONTROLS["crank_mark"].low  # it comes to rest past its marks
        self._crank_until = self._tick + round(CRANK_AT_MOST_S / TICK_S)
        return "The starter turns the engine" + (f"; {NO_SPARK}." if self._lead_out else ".")

    def _press_stop(self) -> str:
        self._off_at = self._tick if self.running else -1
        self._let_go_of_key()
        if self._drive is None:
            return "Ignition off."
        heard = self._drive.heard()
        self._record_drive(self._drive)
        self._end_drive()
        return f"Throttle shut, drive broken off: {heard}. The vehicle is back in the workshop. Ignition off."

    def _press_snap(self) -> str:
        self._inputs.throttle = 1.0
        self._snap_until = self._tick + round(SNAP_S / TICK_S)
        return "The throttle is snapped open and let go."

    def _press_wait(self) -> str:
        self._run(round(WAIT_S / TICK_S))
        return "Ten seconds pass."

    def _press_wait_until_warm(self) -> str:
        for _ in range(round(WARM_UP_AT_MOST_S / TICK_S / STRIDE)):
            if self._motion.coolant_c >= safety_rules.WARM_C or not self.running:
                break
            self._run(STRIDE)
        if self._motion.coolant_c >= safety_rules.WARM_C:
            return "The engine is warm: the choke is off and the coolant has reached its working temperature."
        if self.running:
            return f"After {WARM_UP_AT_MOST_S / 60.0:.0f} minutes the engine is not warm yet."
        return "The engine stopped before it was warm."

    def _press_read_gauges(self) -> str:
        now = self.readings()
        vacuum = "no gauge connected"
        if now.vacuum_inhg is not None:
            kilopascal = now.vacuum_inhg * units.KPA_PER_INHG
            vacuum = f"{now.vacuum_inhg:.1f} inHg ({kilopascal:.0f} kPa) below the air outside"
        speed = "no tachometer connected" if now.speed_rpm is None else f"{now.speed_rpm:.0f} rpm"
        coolant = f"coolant {now.coolant_c:.0f} °C ({units.fahrenheit_from_celsius(now.coolant_c):.0f} °F)"
        told = "; ".join([vacuum, speed, coolant, *_tools_in_words(now)])
        return f"Read: {told}; engine {now.idle_words}."

    def _press_mark_body(self) -> str:
        self.settings["marked_at"] = self.settings["distributor"]
        return "One stroke of paint across body and block: it shows how far the body has been turned, and the way back."

    def _press_turn_to_stop(self) -> str:
        return self._touch("forwards", 1.0)

    def _press_turn_back_to_stop(self) -> str:
        return self._touch("backwards", -1.0)

    def _touch(self, way: str, side: float) -> str:
        """Turn the crank until the piston meets the stop, and read the old mark to half a degree."""
        true_deg = side * adjustments.stop_touches_deg(self.engine.card, self.found)
        shown_deg = MARK_READ_TO_DEG * round((true_deg + self.engine.wear.mark_slip_deg) / MARK_READ_TO_DEG)
        self.settings["touches"] = {**self.settings["touches"], way: shown_deg}
        return f"The piston meets the stop: turned {way}, the old mark stands at {_place_of_crank(shown_deg)}."

    def _press_look_under_cap(self) -> str:
        return adjustments.rotor_words(self.found, self.settings)

    def _press_road_check(self) -> str:
        route = ROUTES[self.settings["route"]]
        vehicle = self.engine.card.drive
        self._drive = Drive(route, vehicle, self._tick + round(route.seconds / TICK_S))
        self._drive.set_off(self._motion, self._inputs)
        return f"{route.told_to(vehicle)} {SHUTS_THE_THROTTLE}"

    # ---- one tick ----------------------------------------------------------------------------------------------

    def _run(self, ticks: int) -> None:
        """Take ticks that nobody follows: those that leave a calm engine as it is are taken together."""
        while ticks > 0:
            together = self._passed_over(ticks)
            if not together:
                self._step(followed=False)
            ticks -= together or 1

    def _passed_over(self, most: int) -> int:
        """Take together the next ticks, up to `most`, that a calm engine does not notice; return how many they were."""
        if self._motion.calm < CALM_TICKS or self._inputs.starter or self._off_at >= 0:
            return 0
        if self._snap_until >= 0 or self._holding or self._motion.speed_rpm > FREE_REVS_TO_RPM:
            return 0
        if self._drive is not None:
            most = min(most, self._drive.until_tick - self._tick)
        together = self._dynamics.pass_over(self._motion, self._inputs, most)
        if together:
            self._tick += together
            if self._watch:
                self._instruments.pass_over(self._motion, self._inputs, self._gauge_share(), self._tick, together)
            self._recorder.pass_over(self, together)
            if self._drive is not None:
                self._drive_on(self._drive, together)
        return together

    def _step(self, followed: bool = True) -> None:
        """Take one tick; unless it is followed, needles and ear catch up when somebody looks."""
        self._tick += 1
        turned = self._motion.speed_rad_s > 0.0
        self._dynamics.tick(self._motion, self._inputs)
        if turned and self._motion.speed_rad_s == 0.0 and self.settings["ignition_switch"] == "on":
            self._say("The engine has died. The ignition is still on: switch it off.")
        if self._watch and followed:
            self._instruments.catch_up()
            self._instruments.follow(self._motion, self._inputs, self._gauge_share(), self._tick)
        elif self._watch:
            self._instruments.pass_over(self._motion, self._inputs, self._gauge_share(), self._tick, 1)
        self._recorder.sample(self)
        if self._inputs.starter:
            self._crank()
        if self._off_at >= 0 and self._tick - self._off_at >= RUNS_ON_HEARD_S / TICK_S:
            self._off_at = -1
            if self._motion.burning:
                self._say(RUNS_ON)
        if self._motion.speed_rpm > FREE_REVS_TO_RPM and self._inputs.coupling == "neutral":
            self._rev_free()
        if self._motion.doses is not self._doses:
            self._overload()
        if 0 <= self._snap_until <= self._tick:
            self._snap_until = -1
            self._motion.disturb()
            self._inputs.throttle = self.settings["throttle"]
        if self._holding:
            self._hold()
        if self._drive is not None:
            self._drive_on(self._drive, 1)

    @property
    def _holding(self) -> bool:
        """Whether a hand on the throttle holds a speed."""
        if not self.settings["hold_speed"]:
            return False
        return self.running and not self.on_road and self._snap_until < 0 and not self.settings["load_brake"]

    def _hold(self) -> None:
        wanted = self.settings["hold_speed"]
        if abs(wanted - self._motion.speed_rpm) > HELD_WITHIN_RPM:
            self._motion.disturb()
            motion = self._motion
            throttle, speed = self._inputs.throttle, motion.speed_rad_s
            self._inputs.throttle = DRIVER.throttle(throttle, wanted, speed, motion.acceleration, 1)

    def _open_throttle(self, opened: float) -> None:
        """The accelerator pump squirts; soon after the caution about the engine's speed, this is the second press."""
        if opened <= 0.0:
            self._beyond_caution = self._beyond_caution and self.settings["throttle"] > 0.0
            return
        self._motion.start.pump(opened, self._motion.coolant_c, self.running)
        if self._cautioned_at is not None:
            since_s = (self._tick - self._cautioned_at) * TICK_S
            self._beyond_caution = self._beyond_caution or SAME_PRESS_S <= since_s <= SECOND_PRESS_S

    def _rev_free(self) -> None:
        """Without load and fast: a snap ends, and an opened throttle is closed with a caution, once."""
        if self._snap_until >= 0:
            self._snap_until = self._tick
        elif self.settings["throttle"] > 0.0 and not self._beyond_caution:
            self.settings["throttle"] = self._inputs.throttle = 0.0
            self._cautioned_at = self._tick
            self._motion.disturb()
            self._say(OVER_REVS)

    def _overload(self) -> None:
        """The engine bears what it does not stand for long: say what can be noticed of it, and damage what has had its
        dose."""
        before, self._doses = self._doses, self._motion.doses
        for damage, had, has in zip(DAMAGES, before, self._doses, strict=True):
            if has > had == 0.0 and damage.sets_in:
                self._say(damage.sets_in)
            if has >= damage.dose and damage not in self._damaged:
                self._damaged |= {damage}
                self._give_way(damage)

    def _give_way(self, damage: Damage) -> None:
        """Damage cylinders, neighbours where there are two, for the rest of this attempt."""
        count = self.engine.cylinders
        places = [(self.found.seed + one * max(count // 3, 1)) % count for one in range(damage.cylinders)]
        self.engine = copy.copy(self.engine)
        self.engine.wear = self.engine.wear.with_cylinders(damage.wear, *places)
        self._dynamics.wear_out(self.engine)
        self._instruments.ripple.wear = dict(self.engine.wear.cylinders)
        self._motion.disturb()
        self._say(damage.sentence)

    def _crank(self) -> None:
        if self._motion.speed_rpm >= RUNNING_FROM_RPM:
            self._inputs.starter = False
            self._say("The engine has started.")
        elif self._motion.start.kicks >= KICKS_ENOUGH:
            self._let_go_of_key()
            self._say("The engine kicks back against the starter, which would break it: the key is let go.")
        elif self._tick >= self._crank_until:
            self._let_go_of_key()
            self._say(f"The starter has turned the engine for ten seconds and it has not started{self._smelt()}.")

    def _smelt(self) -> str:
        """What eye, nose and ear add."""
        if self._lead_out:
            return f": {NO_SPARK}"
        if not self._inputs.fires:
            return "; it spits back through the carburettor"
        if self._motion.start.flood > SMELLS_FROM_FLOOD:
            return "; it smells of petrol"
        return "; it pops in the exhaust" if self._inputs.base_timing_deg < POPS_BELOW_DEG else ""

    def _drive_on(self, drive: Drive, ticks: int) -> None:
        motion = self._motion
        drive.follow(motion, self._inputs, ticks)
        if drive.over(motion, self._tick):
            self._record_drive(drive)
            used = f"; it used {drive.used()}" if self.settings["fuel_meter"] == "on" and drive.way_m else ""
            self._end_drive()
            self._say(
                f"Back from the road: {drive.heard()}{used}. Parking brake on, out of gear. Switch off first, then put "
                "the chocks back."
            )

    def _record_drive(self, drive: Drive) -> None:
        record = drive.record(self.time_s, self._motion, self._inputs, self.settings, self._tick)
        self._recorder.trajectory.drives.append(record)

    def _end_drive(self) -> None:
        self._drive = None
        self._inputs.coupling, self._inputs.throttle = "neutral", self.settings["throttle"]
        self._inputs.grade, self._inputs.gear_ratio = 0.0, 1.0
        self._motion.acceleration, self._motion.shaft_rad_s, self._motion.shaft_rad_s2 = None, 0.0, 0.0
        self._motion.disturb()

    def _say(self, sentence: str) -> None:
        self.sentence = sentence
        self.log.append(LogLine(self.time_s, sentence))

    def _gauge_share(self) -> float:
        """Share of the manifold's vacuum at the port that the gauge hose is on."""
        source = self.settings["gauge_hose"]
        if source == "none":
            return 0.0
        return 1.0 if source == "manifold" else float(ported_share(self._dynamics.plate_travel(self._inputs)))


def _asked_s(events: Iterable[Event]) -> float:
    """Engine time [s] that events ask for: each try up to its last act, and what a new try counts for. Waiting and
    drives are part of it, since an act after them has a later time."""
    total = latest = 0.0
    for event in events:
        total += max(event.time_s - latest, 0.0)
        latest = event.time_s
        if event.control == "begin":
            total, latest = total + BEGINNING_COUNTS_S, 0.0
    return total


def _in_words(control: str, value) -> str:
    """A setting as a person would say it."""
    if control == "distributor":
        side = "clockwise" if value > 0 else "anticlockwise"
        return f"{abs(value):g}° {side} of where it was found" if value else "where it was found"
    if control == "throttle":
        return f"{100 * value:.0f} % open" if value else "closed"
    if control == "crank_mark":
        return _by_the_marks(value)
    if control == "centre_mark":
        return f"{_place_of_crank(value)} by the old mark"
    if control in ("hold_speed", "load_brake"):
        return f"{value:g} rpm" if value else "let go"
    return f"{value:g} {CONTROLS[control].unit}" if isinstance(value, float) else value


def _by_the_marks(deg: float) -> str:
    """A place of the crank [deg before top centre] as a person would say it."""
    return f"{_place_of_crank(deg)} by the marks"


def _place_of_crank(deg: float) -> str:
    return f"{abs(deg):g}° {'before' if deg >= 0 else 'after'} top centre"


def _tools_in_words(now: Readings) -> list[str]:
    """What the tools show, for the record."""
    told = []
    if now.timing_light_deg is not None:
        told.append(f"timing light {_by_the_marks(now.timing_light_deg)}")
    if now.dwell_deg is not None:
        told.append(f"dwell {now.dwell_deg:g}°")
    if now.lamp_lit is not None:
        told.append("test lamp lit" if now.lamp_lit else "test lamp dark")
    if now.torque_nm is not None:
        told.append(f"brake {now.torque_nm:.1f} N m ({now.torque_nm / units.NEWTON_METRES_PER_POUND_FOOT:.1f} lbf ft)")
    if now.fuel_words:
        told.append(f"fuel meter {now.fuel_words}")
    if now.exhaust_words:
        told.append(f"exhaust manifold {now.exhaust_words}")
    return told


def replay(
    events: Iterable[Event],
    engine: Engine,
    *,
    conditions: Conditions = SEA_LEVEL_DAY,
    found: AsFound | None = None,
    exercise: str = "",
    tools: Iterable[str] = (),
    another_engine: AnotherEngine | None = None,
) -> list[Trajectory]:
    """Do again what the events of one exercise say, in a fresh engine; one trajectory for each attempt.

    Raises ControlError where an event could not have been written by a session.
    """
    session = Session(
        engine,
        conditions=conditions,
        found=found,
        exercise=exercise,
        watch=False,
        tools=tools,
        another_engine=another_engine,
    )
    session._replay(event for event in events if event.exercise == exercise)
    session.finish_drive()
    session.end_attempt()
    return session.trajectories
