"""Checks of lesson l00: hooking up at rest, reading cold and warm, and leaving an engine as it should be."""

from __future__ import annotations

from engine_sim.workshop.trajectory import ActionRecord
from graders.bench.attempt import MISSING, Attempt, CheckFinding, check

YOURS = {"tachometer": "off", "gauge_hose": "none", "timing_light": "off", "dwell_meter": "off", "test_lamp": "off"}
HOLDS = {"brake": "on", "chocks": "in place"}
ONE_READING = 0.25  # share of the points: the task is the comparison of two
ADJUSTMENTS = ("clamp", "distributor", "idle_screw", "throttle", "vacuum_hose", "mixture_screw")


def first_start(attempt: Attempt) -> ActionRecord | None:
    """The first act of the starter that took effect; None where there was none."""
    return next((action for action in attempt.done if action.control == "starter"), None)


@check(findings=("met", "late", "ported", "missing"))
def hooked_up_at_rest(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Tachometer lead on and gauge hose on a manifold source before the starter was first used."""
    started = first_start(attempt)
    if started is None:
        return MISSING
    at_start = started.settings
    if at_start["tachometer"] != "on" or at_start["gauge_hose"] == "none":
        return CheckFinding(0.0, "late", "leads_on_running")
    return CheckFinding(1.0, "met") if at_start["gauge_hose"] == "manifold" else CheckFinding(0.5, "ported")


@check(
    findings=("met", "not warm", "not cold", "missing"),
    tolerances=("cold_c", "warm_c"),
    values={"met": {"cold": float, "warm": float}},
)
def read_cold_and_warm(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The gauges read on the running engine, both connected, once below `cold_c` and once above `warm_c`."""
    read = [
        action
        for action in attempt.done
        if action.control == "read_gauges"
        and action.running
        and action.settings["tachometer"] == "on"
        and action.settings["gauge_hose"] != "none"
    ]
    if not read:
        return MISSING
    cold = [action for action in read if action.coolant_c < tolerances["cold_c"]]
    warm = [action for action in read if action.coolant_c >= tolerances["warm_c"]]
    if not warm:
        return CheckFinding(ONE_READING, "not warm", "reads_cold_only")
    if not cold:
        return CheckFinding(ONE_READING, "not cold")
    return CheckFinding(1.0, "met", None, {"cold": cold[-1].speed_rpm, "warm": warm[-1].speed_rpm})


@check(findings=("met", "running", "connected", "rolls", "changed", "missing"))
def left_as_it_should_be(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the end: engine off, own leads off again, brake and chocks on, and every adjustment as it was found."""
    connected = any(action.settings[name] != away for action in attempt.done for name, away in YOURS.items())
    if first_start(attempt) is None or not connected:
        return MISSING
    left, found = attempt.trajectory.settings, attempt.trajectory.actions[0].settings
    if attempt.trajectory.samples[-1].running:
        return CheckFinding(0.0, "running", "walks_away")
    if any(left[name] != away for name, away in YOURS.items()):
        return CheckFinding(0.0, "connected", "walks_away")
    if any(left[name] != held for name, held in HOLDS.items()):
        return CheckFinding(0.0, "rolls")
    # Turned and turned back is still turned: the clamp creeps, and nobody asked for it.
    turned = {action.control for action in attempt.done} & {"distributor", "idle_screw", "clamp"}
    if turned or any(left[name] != found[name] for name in ADJUSTMENTS):
        return CheckFinding(0.0, "changed", "sets_while_looking")
    return CheckFinding(1.0, "met")
