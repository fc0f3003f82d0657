"""Checks of lesson l08 at the bench: true top centre found with a piston stop, marked, and used."""

from __future__ import annotations

from engine_sim import STOP_IN
from engine_sim.physics.distributor import HOSE_PLUGGED
from graders.bench.attempt import MISSING, Attempt, CheckFinding, check

TOUCHES = ("turn_to_stop", "turn_back_to_stop")


@check(findings=("met", "one side", "missing"))
def touched_both_ways(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The crank was turned up against the stop forwards and backwards."""
    ways = {action.control for action in attempt.done} & set(TOUCHES)
    if not ways:
        return MISSING
    return CheckFinding(1.0, "met") if len(ways) == len(TOUCHES) else CheckFinding(0.5, "one side")


@check(
    findings=("met", "guessed", "whole difference", "wrong way", "off", "missing"),
    tolerances=("within_deg",),
)
def marked_true_centre(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The new mark was last painted after both touches, within `within_deg` [crank deg] of the middle between them."""
    painted = [action.time_s for action in attempt.done if action.control == "centre_mark"]
    if not painted:
        return MISSING
    if any(all(one.control != way or one.time_s > painted[-1] for one in attempt.done) for way in TOUCHES):
        return CheckFinding(0.0, "guessed")
    slip_deg, within_deg = attempt.engine.wear.mark_slip_deg, tolerances["within_deg"]
    mark_deg = attempt.trajectory.settings["centre_mark"]
    if abs(mark_deg - slip_deg) <= within_deg:
        return CheckFinding(1.0, "met")
    if abs(mark_deg + slip_deg) <= within_deg:
        return CheckFinding(0.0, "wrong way", "corrected_the_wrong_way")
    if abs(mark_deg - 2.0 * slip_deg) <= within_deg:
        return CheckFinding(0.0, "whole difference", "sides_mixed_up")
    return CheckFinding(0.0, "off")


@check(findings=("met", "hose on", "missing"))
def read_by_the_new_mark(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """With the mark as it was left, the gauges were read on the running engine, light on, hose off and plugged."""
    left = attempt.trajectory.settings["centre_mark"]
    read = [
        action
        for action in attempt.done
        if action.control == "read_gauges"
        and action.running
        and action.settings["timing_light"] == "on"
        and left == action.settings["centre_mark"] != 0.0
    ]
    if not read:
        return MISSING
    plugged = any(action.settings["vacuum_hose"] == HOSE_PLUGGED for action in read)
    return CheckFinding(1.0, "met") if plugged else CheckFinding(0.0, "hose on", "advance_left_connected")


@check(findings=("met", "left in", "body turned", "running", "missing"))
def stop_taken_out(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the end stop and spanner are off the engine, which stands, and the distributor was left alone."""
    if not any(action.control == "piston_stop" and action.value == STOP_IN for action in attempt.done):
        return MISSING
    left = attempt.trajectory.settings
    if left["piston_stop"] == STOP_IN or left["spanner"] == "on":
        return CheckFinding(0.0, "left in")
    if any(action.control in ("distributor", "clamp") for action in attempt.done):
        return CheckFinding(0.0, "body turned", "marks_never_lie")
    return CheckFinding(0.0, "running") if attempt.trajectory.samples[-1].running else CheckFinding(1.0, "met")
