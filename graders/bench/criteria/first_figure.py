"""Checks of an engine without a figure: the static start, the first running figure, and the total before a pull."""

from __future__ import annotations

from engine_sim import CLEAR_PING
from engine_sim.physics.distributor import HOSE_PLUGGED
from engine_sim.workshop.trajectory import ActionRecord
from graders.bench.attempt import CREEP_DEG, MISSING, Attempt, CheckFinding, check
from graders.bench.full_throttle import earliest_silent_deg

from .base_timing import HAIR_DEG
from .road_check import PULL, all_in_deg, pulls_after_ping, pulls_by_fuel
from .starting import body_turns, starts

TIMING = {"timing": float}
TOTAL = {"total": float}


def pulls(attempt: Attempt) -> list[ActionRecord]:
    """The acts that began a pull with the throttle wide open."""
    return [action for action in attempt.done if action.control == "road_check" and action.settings["route"] == PULL]


@check(
    findings=("met", "off", "no lamp", "missing"),
    tolerances=("low_deg", "high_deg"),
    values={"met": TIMING, "off": TIMING},
)
def started_from_static(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The body was turned at rest under the lamp, and the first start after that found the spark between `low_deg`
    and `high_deg` [crank deg BTDC]."""
    at_rest = [turn for turn in body_turns(attempt) if not turn.running]
    if not at_rest:
        return MISSING
    start = next(
        (
            one
            for one in starts(attempt)
            if one.time_s > at_rest[0].time_s and one.settings["coil_lead"] == "in the cap"
        ),
        None,
    )
    if start is None:
        return MISSING
    last = [turn for turn in at_rest if turn.time_s < start.time_s][-1]
    if not last.settings["test_lamp"] == last.settings["ignition_switch"] == "on":
        return CheckFinding(0.0, "no lamp")
    values = {"timing": start.base_timing_deg}
    if tolerances["low_deg"] <= start.base_timing_deg <= tolerances["high_deg"]:
        return CheckFinding(1.0, "met", None, values)
    return CheckFinding(0.0, "off", None, values)


@check(findings=("met", "not seen", "hose on", "turned after", "missing"), tolerances=("from_rpm",))
def total_seen_before_pull(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Before the throttle was first opened wide on the road, the gauges were read with the timing light on at
    `from_rpm` or more, hose off and plugged, and the spark was not advanced after that."""
    driven = pulls(attempt)
    if not driven:
        return MISSING
    first = driven[0]
    seen = [
        action
        for action in attempt.done
        if action.control == "read_gauges"
        and action.time_s < first.time_s
        and action.running
        and action.settings["timing_light"] == "on"
        and action.speed_rpm >= tolerances["from_rpm"]
    ]
    if not seen:
        return CheckFinding(0.0, "not seen", "pulls_without_a_light")
    off = [action for action in seen if action.settings["vacuum_hose"] == HOSE_PLUGGED]
    if not off:
        return CheckFinding(0.0, "hose on", "total_with_vacuum")
    if first.base_timing_deg > off[-1].base_timing_deg + CREEP_DEG:
        return CheckFinding(0.0, "turned after", "pulls_without_a_light")
    return CheckFinding(1.0, "met")


@check(
    findings=("met", "too far", "missing"),
    tolerances=("most_deg",),
    values={"met": TOTAL, "too far": TOTAL},
)
def total_within(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At every pull with the throttle wide open, base and weights at 3,000 rpm came to `most_deg` at most; a hand's
    and a clamp's error are allowed for. An engine that was driven as it was found has been given no figure."""
    driven = pulls(attempt)
    found_deg = attempt.trajectory.samples[0].base_timing_deg
    if all(abs(pull.base_timing_deg - found_deg) <= HAIR_DEG for pull in driven):
        return MISSING
    total = max(action.base_timing_deg for action in driven) + all_in_deg(attempt)
    if total <= tolerances["most_deg"] + CREEP_DEG:
        return CheckFinding(1.0, "met", None, {"total": total})
    return CheckFinding(0.0, "too far", "total_not_limited", {"total": total})


@check(
    findings=("met", "too early", "too late", "missing"),
    tolerances=("first_deg", "most_deg", "window_deg"),
    values={"met": TIMING, "too early": TIMING, "too late": {"late": float}},
)
def first_figure_kept(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The base is left no earlier than `first_deg`, than the total `most_deg` allows, or than is silent on the full
    pull, and at most `window_deg` later than the first of these."""
    if not pulls(attempt):
        return MISSING
    limit, left = _limit_deg(attempt, tolerances), attempt.final_timing_deg
    if left > limit + CREEP_DEG:
        return CheckFinding(0.0, "too early", None, {"timing": left})
    if left < limit - tolerances["window_deg"]:
        return CheckFinding(0.0, "too late", "late_is_safe", {"late": limit - left})
    return CheckFinding(1.0, "met", None, {"timing": left})


def _limit_deg(attempt: Attempt, tolerances: dict) -> float:
    """How early the base may be left [crank deg BTDC]: by the first figure, the total, and the fuel."""
    return min(
        tolerances["first_deg"],
        tolerances["most_deg"] - all_in_deg(attempt),
        earliest_silent_deg(attempt.engine.card, attempt.conditions),
    )


@check(
    findings=("met", "large step", "missing"),
    tolerances=("step_deg", "first_deg", "most_deg", "window_deg"),
    values={"large step": {"largest": float}},
)
def small_steps_or_none_needed(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Every pull that pinged was followed by one at most `step_deg` later. Where none pinged, the first pull has to
    have stood no more than `window_deg` later than `first_figure_kept` allows: an engine that was driven far too late
    needed no step for ping, and shows nothing."""
    driven = pulls_by_fuel(attempt)
    after_ping = pulls_after_ping(driven)
    if not after_ping:
        drives = [drive for one_fuel in driven.values() for drive in one_fuel]
        least_deg = _limit_deg(attempt, tolerances) - tolerances["window_deg"]
        silent = bool(drives) and all(drive.worst_ping < CLEAR_PING for drive in drives)
        return CheckFinding(1.0, "met") if silent and drives[0].base_timing_deg >= least_deg else MISSING
    largest = max(before.base_timing_deg - after.base_timing_deg for before, after in after_ping)
    if largest <= tolerances["step_deg"] + CREEP_DEG:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "large step", "one_large_retard", {"largest": largest})
