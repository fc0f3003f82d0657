"""Checks of lesson l02: both ports read, readings on both sides of where the timing was, everything put back."""

from __future__ import annotations

from itertools import pairwise

from engine_sim.workshop.trajectory import ActionRecord
from graders.bench.attempt import MISSING, Attempt, CheckFinding, check

STEADY_OVER_S = 1.0  # seconds before a reading in which the speed has to be steady: as long as a glance takes


def readings_of(attempt: Attempt) -> list[ActionRecord]:
    """The readings taken on the idling engine, throttle closed."""
    return [
        action
        for action in attempt.done
        if action.control == "read_gauges" and action.running and action.settings["throttle"] == 0.0
    ]


@check(
    findings=("met", "one port", "missing"),
    values={"met": {"manifold": float}},
)
def read_both_ports(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """A reading with the gauge on the manifold port and one on the ported fitting, at idle."""
    by_port = {action.settings["gauge_hose"]: action for action in readings_of(attempt)}
    ports = set(by_port) & {"manifold", "ported"}
    if not ports:
        return MISSING
    if len(ports) == 1:
        return CheckFinding(0.5, "one port")
    return CheckFinding(1.0, "met", None, {"manifold": by_port["manifold"].vacuum_inhg})


@check(
    findings=("met", "ported", "one way", "not waited", "missing"),
    tolerances=("moved_deg", "steady_rpm", "settled_s"),
    values={"met": {"early": float, "late": float}},
)
def read_early_and_late(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Readings at least `moved_deg` earlier and later than before the first turn, on the manifold port,
    each `settled_s` after the turn with the speed steady within `steady_rpm` over the last second."""
    if not attempt.turns:
        return MISSING
    found = attempt.turns[0].base_timing_deg
    away = [action for action in readings_of(attempt) if abs(action.base_timing_deg - found) >= tolerances["moved_deg"]]
    if not away:
        return MISSING
    if any(action.settings["gauge_hose"] != "manifold" for action in away):
        return CheckFinding(0.5, "ported", "ported_source")
    early, late = ([action for action in away if (action.base_timing_deg > found) is side] for side in (True, False))
    if not (early and late):
        return CheckFinding(0.5, "one way", "one_side_is_enough")
    if not all(any(_settled(attempt, action, tolerances) for action in side) for side in (early, late)):
        return CheckFinding(0.5, "not waited", "read_before_settled")
    return CheckFinding(1.0, "met", None, {"early": early[-1].vacuum_inhg, "late": late[-1].vacuum_inhg})


def _settled(attempt: Attempt, action, tolerances: dict) -> bool:
    turned = max((turn.time_s for turn in attempt.turns if turn.time_s < action.time_s), default=0.0)
    last = [
        sample.speed_rpm
        for sample in attempt.at_rest
        if action.time_s - STEADY_OVER_S <= sample.time_s <= action.time_s
    ]
    calm = all(abs(one - other) <= tolerances["steady_rpm"] for one, other in pairwise(last))
    return action.time_s - turned >= tolerances["settled_s"] and calm


@check(
    findings=("met", "timing moved", "loose", "hose off", "running", "missing"),
    tolerances=("within_deg",),
    values={"timing moved": {"off": float}},
)
def put_back_as_found(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the end: base timing within `within_deg` of where it was before the first turn, clamp tight, advance hose on,
    engine off. What never was further away than that was not put back."""
    if not attempt.turned_away(tolerances["within_deg"]):
        return MISSING
    off = abs(attempt.final_timing_deg - attempt.turns[0].base_timing_deg)
    if off > tolerances["within_deg"]:
        return CheckFinding(0.0, "timing moved", None, {"off": off})
    left = attempt.trajectory.settings
    if left["clamp"] != "tight":
        return CheckFinding(0.5, "loose", "clamp_left_loose")
    if left["vacuum_hose"] != "on":
        return CheckFinding(0.5, "hose off", "hose_not_reconnected")
    return CheckFinding(0.5, "running") if attempt.trajectory.samples[-1].running else CheckFinding(1.0, "met")
