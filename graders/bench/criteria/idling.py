"""Checks of the idle: in drive with a second person at the brake, and by the mixture screws."""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np

from engine_sim import CONTROLS
from engine_sim.physics.distributor import HOSE_ON, HOSE_OPEN, HOSE_PLUGGED
from engine_sim.workshop.trajectory import Sample
from graders.bench.attempt import MISSING, NEARLY, Attempt, CheckFinding, check

SETS_IDLE = ("idle_screw", "mixture_screw", "distributor", "vacuum_hose")
SETTLED_AFTER_S = 5.0  # seconds in drive, closed throttle, after which the idle has settled; calibration
HOSE_WORDS = {HOSE_ON: "connected", HOSE_PLUGGED: "plugged", HOSE_OPEN: "open"}
SCREW_STEP_TURNS = 0.125  # between the places of the mixture screws that are compared: one turn of a finger


@check(
    findings=("met", "off", "never in drive", "missing"),
    tolerances=("idle_rpm", "window_rpm"),
    values={"met": {"rpm": float}, "off": {"rpm": float}},
)
def idles_in_drive(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The idle in drive, settled after the last change that moves it, is the wanted one."""
    if not any(sample.running for sample in attempt.trajectory.samples):
        return MISSING
    changed_s = max((action.time_s for action in attempt.done if action.control in SETS_IDLE), default=0.0)
    settled = settled_in_drive(attempt, changed_s)
    if not settled:
        return CheckFinding(0.0, "never in drive")
    speed_rpm = settled[-1].speed_rpm
    off_rpm = abs(speed_rpm - tolerances["idle_rpm"])
    if off_rpm <= tolerances["window_rpm"]:
        return CheckFinding(1.0, "met", None, {"rpm": speed_rpm})
    share = 0.5 if off_rpm <= NEARLY * tolerances["window_rpm"] else 0.0
    return CheckFinding(share, "off", None, {"rpm": speed_rpm})


def settled_in_drive(attempt: Attempt, since_s: float = 0.0) -> list[Sample]:
    """The samples of the engine idling in drive, long enough to have settled, from a time on [s]."""
    settled, began_s = [], None
    for sample in attempt.trajectory.samples:
        if not (sample.running and sample.coupling == "drive" and not sample.on_road and sample.time_s >= since_s):
            began_s = None
            continue
        began_s = sample.time_s if began_s is None else began_s
        if sample.time_s - began_s >= SETTLED_AFTER_S:
            settled.append(sample)
    return settled


@check(findings=("met", "left in gear", "missing"))
def left_out_of_gear(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The vehicle was put in drive with the engine running, and is out of gear again or the engine off."""
    last = attempt.trajectory.samples[-1]
    if not any(sample.running and sample.coupling == "drive" for sample in attempt.trajectory.samples):
        return MISSING
    if last.running and last.coupling == "drive":
        return CheckFinding(0.0, "left in gear")
    return CheckFinding(1.0, "met")


@check(
    findings=("met", "lean", "rich", "missing"),
    tolerances=("window_inhg",),
    values={"met": {"turns": float}, "lean": {"turns": float}, "rich": {"turns": float}},
)
def mixture_at_the_highest_vacuum(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The mixture screws are left where the warm idle in neutral, timing and idle screw as they are left, draws its
    highest vacuum, or within what a needle tells from it."""
    if not any(action.control == "mixture_screw" for action in attempt.done):
        return MISSING
    vacuum_at = functools.cache(functools.partial(_vacuum_inhg, attempt))
    left = attempt.trajectory.settings["mixture_screw"]
    best = highest_place(vacuum_at, left if vacuum_at(left) else attempt.engine.card.mixture.mixture_screw_turns)
    off = float(left - best)
    if vacuum_at(left) and vacuum_at(left) >= vacuum_at(best) - tolerances["window_inhg"]:
        return CheckFinding(1.0, "met", None, {"turns": abs(off)})
    return CheckFinding(0.0, "rich" if off > 0.0 else "lean", None, {"turns": abs(off)})


def highest_place(vacuum_at: Callable[[float], float], begin: float) -> float:
    """The place of the mixture screws [turns], a whole number of steps from their stop, with the highest vacuum, found
    by going up from `begin` [turns]: the vacuum rises to one place and falls beyond it, to where turning changes
    nothing. Every mixture that is looked at costs the judge a map of the engine."""
    screw = CONTROLS["mixture_screw"]
    turns = np.arange(screw.low, screw.high + SCREW_STEP_TURNS / 2, SCREW_STEP_TURNS).tolist()
    place = int(np.argmin(np.abs(np.array(turns) - begin)))
    for step in (1, -1):
        while 0 <= place + step < len(turns) and vacuum_at(turns[place + step]) >= vacuum_at(turns[place]):
            place += step
    return turns[place]


def _vacuum_inhg(attempt: Attempt, mixture_screw: float) -> float:
    """Vacuum of the warm idle [inHg] at a place of the mixture screws; 0 where the engine stalls."""
    settings = attempt.trajectory.settings
    state = attempt.engine.idle(
        attempt.final_timing_deg,
        settings["idle_screw"],
        attempt.conditions.altitude_ft,
        HOSE_WORDS[settings["vacuum_hose"]],
        ambient_c=attempt.conditions.ambient_c,
        mixture_screw=mixture_screw,
    )
    return float(np.nan_to_num(state.manifold_vacuum_inhg))
