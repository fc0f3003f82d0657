"""Checks of work at another altitude or in other weather: a reading that can be compared."""

from __future__ import annotations

from graders.bench.attempt import MISSING, Attempt, CheckFinding, check


@check(
    findings=("met", "read later", "not comparable", "missing"),
    tolerances=("coolant_c",),
    values={"met": {"vacuum": float}},
)
def read_at_warm_idle(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The gauges read at a warm idle before the timing was moved: manifold source, hose off and plugged."""
    moved = min((action.time_s for action in attempt.done if action.control == "distributor"), default=float("inf"))
    read = [action for action in attempt.done if action.control == "read_gauges" and action.running]
    if not read:
        return MISSING
    before = [action for action in read if action.time_s <= moved]
    if not before:
        return CheckFinding(0.5, "read later")
    fit = [
        action
        for action in before
        if action.settings["gauge_hose"] == "manifold"
        and action.settings["throttle"] == 0.0
        and action.coolant_c >= tolerances["coolant_c"]
    ]
    if any(action.settings["vacuum_hose"] == "off and plugged" for action in fit):
        return CheckFinding(1.0, "met", None, {"vacuum": fit[0].vacuum_inhg})
    return CheckFinding(0.5, "not comparable")
