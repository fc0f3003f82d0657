"""Criteria over work at another altitude or in other weather: a reading that can be compared."""

from __future__ import annotations

from graders.bench.attempt import MISSING, Case, Finding, check


@check
def read_at_warm_idle(case: Case, tolerances: dict) -> Finding:
    """The gauges read at a warm idle before the timing was moved: manifold source, hose off and plugged."""
    moved = min((moment.time_s for moment in case.done if moment.control == "distributor"), default=float("inf"))
    read = [moment for moment in case.done if moment.control == "read_gauges" and moment.running]
    if not read:
        return MISSING
    before = [moment for moment in read if moment.time_s <= moved]
    if not before:
        return Finding(0.5, "read later")
    fit = [
        moment
        for moment in before
        if moment.settings["gauge_hose"] == "manifold"
        and moment.settings["throttle"] == 0.0
        and moment.coolant_c >= tolerances["coolant_c"]
    ]
    if any(moment.settings["vacuum_hose"] == "off and plugged" for moment in fit):
        return Finding(1.0, "met", None, {"vacuum": fit[0].vacuum_inhg})
    return Finding(0.5, "not comparable")
