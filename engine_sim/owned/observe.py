"""What an owner would read on a simulated engine with instruments that do not err: the fields of `Readings` as numbers
and words, so that a real reading can be set beside them."""

from __future__ import annotations

from copy import copy, deepcopy
from dataclasses import dataclass, field, replace

import numpy as np

from engine_sim.diagnosis.inspection import OnTheStand
from engine_sim.diagnosis.inspections import INSPECTIONS
from engine_sim.diagnosis.inspections_running import falls_without_each, least_fall_rpm
from engine_sim.diagnosis.needle import SAMPLE_S, NeedleSeen, movement
from engine_sim.model.conditions import Conditions
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics, Motion
from engine_sim.model.engine import Engine
from engine_sim.model.population import AsFound
from engine_sim.model.starting import RUNNING_FROM_RPM, under_way
from engine_sim.physics.distributor import HOSE_ON, HOSE_PLUGGED
from engine_sim.physics.units import PA_PER_INHG, rad_s_from_rpm
from engine_sim.workshop import adjustments
from engine_sim.workshop.controls import CONTROLS
from engine_sim.workshop.instruments import TIMING_LIGHT_SCATTER_DEG, idle_words
from engine_sim.workshop.session import Session

from .tables import WORDS

COLD_C = 5.0  # coolant of the start on a cold morning
MILD_C = 20.0  # coolant of the start on a mild morning
WARM_C = 85.0  # coolant of the warm engine, at its start and of every other reading
AT_ONCE_S = 2.6  # of cranking, up to which it is said to start at once; calibration
LONG_S = 12.0  # of cranking, after which a go is given up; calibration
STROKES = {COLD_C: (1, 2), MILD_C: (1, 2), WARM_C: (0,)}  # of the pedal before each go; common practice, no source
BETWEEN_S = 5.0  # two goes; a guess of what owners do, who should give the starter a longer rest
START_S = 7.0  # of cranking and running up, warm
SETTLE_S = 8.0  # of the idle before it is read
IDLE_S = 10.0  # over which the idle is read
HOLD_S = 5.0  # of each speed held for the light
REACHED_S = 4.0  # until 2,500 rpm are held steadily, as the needle rule has it
HELD_S = 18.0  # of 2,500 rpm held while the needle is watched, as the needle rule has it
TURNED_DEG = 8.0  # crank degrees by which the body is turned either way from where it stood
TURNED_S = 6.0  # until the idle has settled there
LOOKED_S = 2.0  # of that, over which it is read
CRANKED_S = 3.0  # of the starter, its vacuum read over the second half
HELD_RPM = {"1500": 1500.0, "2500": 2500.0, "3000": 3000.0}
HELPED_DEG = 12.0  # of the distributor towards advance, where it does not start by itself
WANDERS_DEG = 3.0  # twice the scatter of the mark, from which it is said to wander
MISSES_FROM = 0.06  # share of sparks or charges, from which a miss is felt; calibration
CRANKS_SLOWLY_RPM = 125.0  # of the starter, cold, below which it is said to turn slowly; calibration
STILL_CRANKING_RPM = 250.0  # below which the starter alone turns it; calibration
TURNS_FROM_S = 0.2  # of cranking, from which the starter's speed is heard; calibration
TURNS_TO_S = 1.2  # of cranking, up to which the starter's speed is heard; calibration
PULL_RPM = 3000.0  # at which its torque is compared with a sound engine's
PULL_S = 6.0  # of that pull, in which a blocked exhaust fills
FAILS_S = 1.5  # of a held speed, after which charges that fail are counted
WEAK_SHARE = 0.92  # of a sound engine's torque, below which it is said to pull weakly; calibration
UNDER_LOAD_RPM = (1400.0, 3000.0)  # at which a miss under load is looked for, throttle wide open
CRUISE_RPM = 2200.0  # at which a miss at a cruise is looked for
CRUISE_THROTTLE = 0.15  # share of the throttle's way at that cruise
NEAR_RPM = 150.0  # of a speed that counts as held
NEVER, DIES = "does not start", "starts and dies"
SMOKES = {"black and sooty": "black", "dark and oily": "blue", "white": "pops"}  # a plug's colour: the tailpipe's word
WORDS_AT_IDLE = {
    "runs evenly": "runs evenly",
    "runs unevenly": "runs unevenly",
    "stumbles": "stumbles",
    "labours and is close to stalling": "is close to stalling",
    "silent": "is close to stalling",
}


@dataclass(frozen=True)
class Observation:
    """`numbers` and `words` by the names of `OwnedReadings`, with `cold_start` at 5 °C and `mild_start` at 20 °C. An
    engine that never runs has words of starting alone."""

    numbers: dict[str, float] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)


def observed(engine: Engine, found: AsFound, conditions: Conditions, words: bool = True) -> Observation:
    """Everything of one engine; `words=False` leaves starting, needle and road out, which cost most of the time."""
    seen = _starts(engine, found, conditions) if words else {}
    session = _running(engine, found, conditions)
    if session is None:
        if words and seen["warm_start"] != NEVER:
            seen["warm_start"] = DIES
        return Observation({}, seen)
    numbers, course = _at_idle(session, conditions)
    numbers |= _turned(session) | _cranking(session) | _dwell(session)
    numbers["mark_wander_deg"] = 2.0 * (TIMING_LIGHT_SCATTER_DEG + engine.wear.shaft_play_deg)
    sounds = idle_words(session._motion, False, session._instruments.unevenness)
    held = _held(session, HELD_S if words else 1.0)
    numbers["held_2500_inhg"] = float(held[: round(1.0 / SAMPLE_S)].mean())
    if words:
        seen["runs"] = WORDS_AT_IDLE[sounds]
        seen["needle"] = movement(NeedleSeen(course, numbers["idle_rpm"], held, conditions.altitude_ft))
        seen["cut_out"] = _cut_out(engine, found, conditions)
        seen["smoke"] = _smoke(engine, found, conditions)
        seen["mark"] = "wanders" if numbers["mark_wander_deg"] >= WANDERS_DEG else "stands still"
        seen["pull"] = _pulls(engine, found, conditions)
        seen["misses"] = _misses(engine, found, conditions, seen["runs"])
    again = session if session.running else _running(engine, found, conditions)
    return Observation(numbers | _light(again) if again else numbers, seen)


# ---- starting ------------------------------------------------------------------------------------------------------


def _starts(engine: Engine, found: AsFound, conditions: Conditions) -> dict[str, str]:
    """How it starts at 5 and 20 °C and warm, and how the starter turns it: the worst of a cold and a warm start."""
    cold, mild, warm = (_start(engine, found, conditions, celsius) for celsius in (COLD_C, MILD_C, WARM_C))
    kicks = max(cold.kicks, warm.kicks) > 1
    cranks = "kicks back" if kicks else "cranks slowly" if cold.turns_rpm < CRANKS_SLOWLY_RPM else "cranks evenly"
    return {"cold_start": cold.word, "mild_start": mild.word, "warm_start": warm.word, "cranks": cranks}


@dataclass(frozen=True)
class _Start:
    """One start: its word, how often it kicked, and how fast the starter turned it at first [rpm]."""

    word: str
    kicks: int
    turns_rpm: float


def _start(engine: Engine, found: AsFound, conditions: Conditions, coolant_c: float) -> _Start:
    """The key held after a stroke of the pedal where the engine is cold; where that does not start it, once more after
    two strokes, as owners do before they say that it does not start."""
    dynamics = Dynamics(engine, conditions)
    motion = dynamics.at_rest(coolant_c, found.flood, found.bowl, found.battery)
    inputs = _inputs(engine, found, adjustments.settings_as_found(engine.card, found))
    turning: list[float] = []
    for go, strokes in enumerate(STROKES[coolant_c]):
        inputs.starter = False
        for _ in range(go * round(BETWEEN_S / TICK_S)):
            dynamics.tick(motion, inputs)
        for _ in range(strokes):
            motion.start.pump(1.0, coolant_c, runs=False)
        inputs.starter = True
        for tick in range(1, round(LONG_S / TICK_S) + 1):
            dynamics.tick(motion, inputs)
            if not go and TURNS_FROM_S < tick * TICK_S <= TURNS_TO_S and motion.speed_rpm < STILL_CRANKING_RPM:
                turning.append(motion.speed_rpm)
            if motion.start.kicks > 1:
                return _Start(NEVER if motion.start.kicks > 3 else "takes long", motion.start.kicks, 0.0)
            if motion.speed_rpm >= RUNNING_FROM_RPM:
                word = "starts at once" if not go and tick * TICK_S <= AT_ONCE_S else "takes long"
                return _Start(word, motion.start.kicks, _mean(turning))
    return _Start(NEVER, motion.start.kicks, _mean(turning))


def _mean(speeds: list[float]) -> float:
    return float(np.mean(speeds)) if speeds else CRANKS_SLOWLY_RPM


def _inputs(engine: Engine, found: AsFound, settings: dict) -> ControlInputs:
    inputs = ControlInputs(base_timing_deg=found.base_timing_deg, idle_screw=found.idle_screw, ignition=True)
    adjustments.set_inputs(inputs, engine.card, found, settings, 0.0)
    inputs.vacuum_hose = HOSE_PLUGGED
    return inputs


# ---- running -------------------------------------------------------------------------------------------------------


def _running(engine: Engine, found: AsFound, conditions: Conditions) -> Session | None:
    """The warm engine at its idle, hose off and plugged, helped to start where it needs help, its idle screw turned in
    until it keeps running; None where it does not."""
    most = CONTROLS["idle_screw"].high
    for helped_deg, screwed in ((0.0, 0.0), (HELPED_DEG, 0.0), (HELPED_DEG, 1.0), (HELPED_DEG, 2.0)):
        kept = replace(found, idle_screw=min(found.idle_screw + screwed, most))
        session = Session(engine, conditions=conditions, found=kept, tools=("hold_speed",))
        if helped_deg:
            sense = 1.0 if engine.card.distributor.rotor_turns == "anticlockwise" else -1.0
            session.act("clamp", "loose")
            session.act("distributor", sense * helped_deg)
        session.act("throttle", 0.1)
        session.act("starter")
        session._run(round(START_S / TICK_S))
        session.act("throttle", 0.0)
        if helped_deg:
            session.act("distributor", 0.0)
        session._run(round(SETTLE_S / TICK_S))
        if session.running:
            return session
    return None


def _at_idle(session: Session, conditions: Conditions) -> tuple[dict[str, float], np.ndarray]:
    """Vacuum, speed and spark at idle, and the course of the needle."""
    seen = []
    for _ in range(round(IDLE_S / SAMPLE_S)):
        session.advance(SAMPLE_S)
        shown = session._instruments
        seen.append((shown.vacuum_shown_inhg(session._motion), shown.speed_rpm))
    vacuum, speed = np.array(seen).T
    numbers = {"idle_inhg": float(vacuum.mean()), "idle_rpm": float(speed.mean())}
    numbers["light_idle_off_deg"] = session._motion.total_advance_deg + session.engine.wear.mark_slip_deg
    return numbers, vacuum


def _turned(session: Session) -> dict[str, float]:
    """Vacuum and speed at idle with the body turned either way; a place at which the engine stops is left out."""
    numbers: dict[str, float] = {}
    for way, deg in (("early", TURNED_DEG), ("late", -TURNED_DEG)):
        inputs, motion = copy(session._inputs), deepcopy(session._motion)
        inputs.base_timing_deg += deg
        motion.disturb()
        seen = []
        for _ in range(round(TURNED_S / TICK_S)):
            session._dynamics.tick(motion, inputs)
            seen.append((_shown_inhg(session, motion), motion.speed_rpm))
        if motion.speed_rpm:
            vacuum, speed = np.mean(seen[-round(LOOKED_S / TICK_S) :], axis=0)
            numbers |= {f"turned_{way}_inhg": float(vacuum), f"turned_{way}_rpm": float(speed)}
    return numbers


def _dwell(session: Session) -> dict[str, float]:
    """What a dwell meter shows, where there are points."""
    if session.engine.card.ignition.point_gap_mm is None:
        return {}
    return {"dwell_deg": adjustments.dwell_deg(session.engine.card, session.settings)}


def _cranking(session: Session) -> dict[str, float]:
    """Vacuum and speed while the starter turns the warm engine without a spark, throttle shut."""
    dynamics, inputs = session._dynamics, copy(session._inputs)
    motion = dynamics.at_rest(WARM_C, 0.0, session.found.bowl, session.found.battery)
    inputs.ignition, inputs.starter = False, True
    seen = []
    for _ in range(round(CRANKED_S / TICK_S)):
        dynamics.tick(motion, inputs)
        seen.append((_shown_inhg(session, motion), motion.speed_rpm))
    vacuum, speed = np.mean(seen[len(seen) // 2 :], axis=0)
    return {"cranking_inhg": float(vacuum), "cranking_rpm": float(speed)}


def _light(session: Session) -> dict[str, float]:
    """Where the marks stand at each speed, hose off and on, and the vacuum at 2,500 rpm with it on; a speed that the
    engine does not reach is left out."""
    numbers: dict[str, float] = {}
    slip = session.engine.wear.mark_slip_deg
    for hose, name in ((HOSE_PLUGGED, "off"), (HOSE_ON, "on")):
        session.act("vacuum_hose", hose)
        speeds = HELD_RPM if name == "off" else {"idle": 0.0} | HELD_RPM
        for speed, rpm in speeds.items():
            session.act("hold_speed", rpm)
            session._run(round(HOLD_S / TICK_S))
            if speed == "idle" and session.running:
                numbers |= {"idle_on_inhg": _vacuum_inhg(session), "idle_on_rpm": session._motion.speed_rpm}
            if session.running and (not rpm or abs(session._motion.speed_rpm - rpm) < NEAR_RPM):
                numbers[f"light_{speed}_{name}_deg"] = session._motion.total_advance_deg + slip
                if (speed, name) == ("2500", "on"):
                    numbers["held_2500_on_inhg"] = _vacuum_inhg(session)
        session.act("hold_speed", 0.0)
        session._run(round(HOLD_S / TICK_S))
    return numbers


def _held(session: Session, seconds: float) -> np.ndarray:
    """The needle while 2,500 rpm are held, from when the speed is reached."""
    session.act("hold_speed", HELD_RPM["2500"])
    session._run(round(REACHED_S / TICK_S))
    seen = []
    for _ in range(round(seconds / SAMPLE_S)):
        session._run(1)
        seen.append(_vacuum_inhg(session))
    return np.array(seen)


def _vacuum_inhg(session: Session) -> float:
    return _shown_inhg(session, session._motion)


def _shown_inhg(session: Session, motion: Motion) -> float:
    return (session.conditions.ambient_pa - motion.manifold_pa) / PA_PER_INHG


def _cut_out(engine: Engine, found: AsFound, conditions: Conditions) -> str:
    """How the idle speed falls with one plug lead after the other earthed."""
    _, falls = falls_without_each(OnTheStand(engine, found, conditions))
    least, words = least_fall_rpm(falls), WORDS["cut_out"]
    return words[min(sum(fall < least for fall in falls), len(words) - 1)]


def _smoke(engine: Engine, found: AsFound, conditions: Conditions) -> str:
    """What is seen or heard at the tailpipe at idle, from what the plugs would show."""
    looked = INSPECTIONS["look_at_plugs"].look(engine, found, conditions).text
    for sign, word in SMOKES.items():
        if sign in looked:
            return word
    return "none"


def _misses(engine: Engine, found: AsFound, conditions: Conditions, runs: str) -> str:
    """When a miss is felt: at idle, under load (throttle wide open), or at a cruise with the hose on alone."""
    idle = any(one.fires_share < 0.6 for _, one in engine.wear.cylinders) or runs in ("stumbles",)
    wide = max(_fails(engine, found, conditions, rpm, 1.0, HOSE_PLUGGED) for rpm in UNDER_LOAD_RPM)
    dead = any(one.fires_share < 0.6 for _, one in engine.wear.cylinders)
    load = dead or wide >= MISSES_FROM
    if idle or load:
        return "at idle and under load" if idle and load else "at idle" if idle else "under load"
    cruise = _fails(engine, found, conditions, CRUISE_RPM, CRUISE_THROTTLE, HOSE_ON)
    return "at a cruise, hose on" if cruise >= MISSES_FROM else "none"


def _pulls(engine: Engine, found: AsFound, conditions: Conditions) -> str:
    """How it pulls at 3,000 rpm, a blocked exhaust having filled, beside a sound engine set by its label."""
    label = replace(found, base_timing_deg=engine.card.setting.label_base_timing_deg, point_gap_mm=None, teeth_out=0)
    sound = replace(label, mixture_screw=None)
    own, usual = (
        _on_brake(one, kept, conditions, PULL_RPM, 1.0, HOSE_PLUGGED, PULL_S).torque_nm
        for one, kept in ((engine, found), (Engine(engine.card), sound))
    )
    return "pulls weakly" if own < WEAK_SHARE * usual else "pulls well"


def _fails(
    engine: Engine, found: AsFound, conditions: Conditions, brake_rpm: float, throttle: float, hose: str
) -> float:
    """Share of charges that fail with the speed held by a brake."""
    motion = _on_brake(engine, found, conditions, brake_rpm, throttle, hose, FAILS_S)
    return 1.0 - (1.0 - motion.missed) * (1.0 - motion.misfire)


def _on_brake(
    engine: Engine,
    found: AsFound,
    conditions: Conditions,
    brake_rpm: float,
    throttle: float,
    hose: str,
    seconds: float,
) -> Motion:
    """The warm engine after a while at a speed that a brake holds."""
    dynamics = Dynamics(engine, conditions)
    motion = dynamics.at_rest(WARM_C)
    inputs = _inputs(engine, found, adjustments.settings_as_found(engine.card, found))
    inputs.coupling, inputs.brake_rpm, inputs.throttle, inputs.vacuum_hose = "brake", brake_rpm, throttle, hose
    motion.start, motion.speed_rad_s = under_way(), rad_s_from_rpm(brake_rpm)
    for _ in range(round(seconds / TICK_S)):
        dynamics.tick(motion, inputs)
    return motion
