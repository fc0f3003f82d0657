"""Criteria of lesson l02: both ports read, readings on both sides of where the timing stood, everything put back."""

from __future__ import annotations

from itertools import pairwise

from graders.bench.attempt import MISSING, Case, Finding, check


def readings_of(case: Case):
    """Readings taken on the idling engine, throttle shut."""
    return [
        moment
        for moment in case.done
        if moment.control == "read_gauges" and moment.running and moment.settings["throttle"] == 0.0
    ]


@check
def read_both_ports(case: Case, tolerances: dict) -> Finding:
    """A reading with the gauge on the manifold port and one on the ported fitting, at idle."""
    by_port = {moment.settings["gauge_hose"]: moment for moment in readings_of(case)}
    ports = set(by_port) & {"manifold", "ported"}
    if not ports:
        return MISSING
    if len(ports) == 1:
        return Finding(0.5, "one port")
    return Finding(1.0, "met", None, {"manifold": by_port["manifold"].vacuum_inhg})


@check
def read_early_and_late(case: Case, tolerances: dict) -> Finding:
    """Readings at least `moved_deg` earlier and later than before the first turn, on the manifold port,
    each `settled_s` after the turn with the speed steady within `steady_rpm` over the last second."""
    if not case.turns:
        return MISSING
    found = case.turns[0].base_timing_deg
    away = [moment for moment in readings_of(case) if abs(moment.base_timing_deg - found) >= tolerances["moved_deg"]]
    if not away:
        return MISSING
    if any(moment.settings["gauge_hose"] != "manifold" for moment in away):
        return Finding(0.5, "ported", "ported_source")
    early, late = ([moment for moment in away if (moment.base_timing_deg > found) is side] for side in (True, False))
    if not (early and late):
        return Finding(0.5, "one way", "one_side_is_enough")
    if not all(any(_settled(case, moment, tolerances) for moment in side) for side in (early, late)):
        return Finding(0.5, "not waited", "read_before_settled")
    return Finding(1.0, "met", None, {"early": early[-1].vacuum_inhg, "late": late[-1].vacuum_inhg})


def _settled(case: Case, moment, tolerances: dict) -> bool:
    turned = max((turn.time_s for turn in case.turns if turn.time_s < moment.time_s), default=0.0)
    last = [sample.speed_rpm for sample in case.at_rest if moment.time_s - 1.0 <= sample.time_s <= moment.time_s]
    calm = all(abs(one - other) <= tolerances["steady_rpm"] for one, other in pairwise(last))
    return moment.time_s - turned >= tolerances["settled_s"] and calm


@check
def put_back_as_found(case: Case, tolerances: dict) -> Finding:
    """At the end: base timing within `within_deg` of where it was before the first turn, clamp tight, advance hose on,
    engine off."""
    if not case.turns:
        return MISSING
    off = abs(case.final_timing_deg - case.turns[0].base_timing_deg)
    if off > tolerances["within_deg"]:
        return Finding(0.0, "timing moved", None, {"off": off})
    left = case.trajectory.settings
    if left["clamp"] != "tight":
        return Finding(0.5, "loose", "clamp_left_loose")
    if left["vacuum_hose"] != "on":
        return Finding(0.5, "hose off", "hose_not_reconnected")
    return Finding(0.5, "running") if case.trajectory.samples[-1].running else Finding(1.0, "met")
