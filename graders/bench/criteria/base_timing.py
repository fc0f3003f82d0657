"""Criteria over setting the base timing at the bench, and those that every work at the bench shares.

Criteria of further lessons stand in modules named criteria_<lesson>.py; `graders.bench.criteria` loads them all.
"""

from __future__ import annotations

from engine_sim import CLEAR_PING
from graders.bench.attempt import MISSING, Case, Finding, check
from graders.bench.reference import worst_ping_share

SETS_IDLE = ("idle_screw", "vacuum_hose")
SETTLED_AFTER_S = 5.0  # a warm engine idles steadily so long after a start or a drive; calibration


@check
def made_safe(case: Case, tolerances: dict) -> Finding:
    """Brake, chocks, selector, extraction and fan area before the first start, and nothing unsafe tried afterwards."""
    if not any(moment.control == "starter" for moment in case.done):
        return MISSING
    stopped = [moment for moment in case.trajectory.moments if moment.kind == "stopped"]
    if not stopped:
        return Finding(1.0, "met")
    return Finding(0.5 if len(stopped) <= tolerances["few_stops"] else 0.0, "stopped", None, {"count": len(stopped)})


@check
def was_warm(case: Case, tolerances: dict) -> Finding:
    """The engine warm at every turn of the distributor that sets the timing."""
    if not case.setting:
        return MISSING
    coldest = min(moment.coolant_c for moment in case.setting)
    if coldest >= tolerances["coolant_c"]:
        return Finding(1.0, "met")
    return Finding(0.0, "cold", "set_cold", {"coldest": coldest})


@check
def hose_off_and_plugged(case: Case, tolerances: dict) -> Finding:
    """The vacuum advance hose off and plugged at every turn that sets the timing."""
    if not case.setting:
        return MISSING
    states = {moment.settings["vacuum_hose"] for moment in case.setting}
    if states == {"off and plugged"}:
        return Finding(1.0, "met")
    if "on" in states:
        return Finding(0.0, "on", "advance_left_connected")
    return Finding(0.5, "open", "hose_left_open")


@check
def gauges_on(case: Case, tolerances: dict) -> Finding:
    """The gauge on a manifold source and the tachometer connected at every turn that sets the timing."""
    if not case.setting:
        return MISSING
    sources = {moment.settings["gauge_hose"] for moment in case.setting}
    tachometer = all(moment.settings["tachometer"] == "on" for moment in case.setting)
    if sources == {"manifold"} and tachometer:
        return Finding(1.0, "met")
    if "ported" in sources:
        return Finding(0.5 if tachometer else 0.0, "ported", "ported_source")
    return Finding(0.5 if tachometer or sources == {"manifold"} else 0.0, "not connected")


@check
def found_peak(case: Case, tolerances: dict) -> Finding:
    """The distributor turned towards advance until the vacuum was at its highest."""
    if not case.setting:
        return MISSING
    if case.at_peak:
        return Finding(1.0, "met")
    short = case.reference.plateau_from_deg - float(case.idle_lead_deg.max())
    first = case.setting[0].base_timing_deg
    if max(sample.base_timing_deg for sample in case.search) <= first + 0.5:
        return Finding(0.0, "wrong way", "turned_wrong_way")
    return Finding(0.5 if short <= tolerances["nearly_deg"] else 0.0, "stopped short", "wobble_for_peak")


@check
def idle_brought_back(case: Case, tolerances: dict) -> Finding:
    """At the peak the idle was at its specified speed, and the peak was looked for again after the screw was moved."""
    if not case.at_peak:
        return MISSING
    wanted = case.engine.card.setting.idle_rpm
    left = case.departure or case.at_peak[-1]
    speed = left.speed_rpm
    if abs(speed - wanted) > tolerances["speed_rpm"]:
        return Finding(0.0, "speed off", "idle_not_retrimmed", {"speed": speed, "wanted": wanted})
    screw = [moment.time_s for moment in case.done if moment.control == "idle_screw" and moment.time_s <= left.time_s]
    again = [moment for moment in case.setting if screw and screw[-1] < moment.time_s <= left.time_s]
    if again or not screw:
        return Finding(1.0, "met")
    return Finding(0.5, "not searched again", None, {"speed": speed})


@check
def backed_off(case: Case, tolerances: dict) -> Finding:
    """From the peak, the distributor was retarded until the speed had fallen by the specified drop."""
    if not case.at_peak:
        return MISSING
    wanted = case.engine.card.setting.speed_drop_rpm
    if case.departure is None:
        return _peak_kept(case, tolerances)
    drop = case.departure.speed_rpm - case.search[-1].speed_rpm
    if abs(drop - wanted) <= tolerances["drop_rpm"]:
        return Finding(1.0, "met", None, {"drop": drop})
    near = abs(drop - wanted) <= 2 * tolerances["drop_rpm"]
    return Finding(0.5 if near else 0.0, "drop off", None, {"drop": drop, "wanted": wanted})


def _peak_kept(case: Case, tolerances: dict) -> Finding:
    """Tell who left everything at the peak from who brought the speed down with the screw instead."""
    wanted, last_turn = case.engine.card.setting.idle_rpm, case.setting[-1]
    with_screw = any(
        sample.time_s > last_turn.time_s
        and sample.running
        and sample.vacuum_hose != "on"
        and sample.idle_screw < last_turn.idle_screw - 0.05
        and sample.speed_rpm < wanted - tolerances["drop_rpm"]
        for sample in case.at_rest
    )
    if with_screw:
        return Finding(0.0, "screw", "dropped_with_screw")
    return Finding(0.0, "peak kept", "peak_is_setting")


@check
def clamped_and_read_again(case: Case, tolerances: dict) -> Finding:
    """The clamp tight at the end, and the gauges read after it was tightened."""
    tightened = [moment.time_s for moment in case.done if moment.control == "clamp" and moment.value == "tight"]
    loosened = any(moment.control == "clamp" and moment.value == "loose" for moment in case.done)
    if not loosened:
        return MISSING
    if case.trajectory.settings["clamp"] != "tight":
        return Finding(0.0, "loose", "clamp_left_loose")
    if any(moment.control == "read_gauges" and moment.time_s >= tightened[-1] for moment in case.done):
        return Finding(1.0, "met")
    return Finding(0.5, "not read", "reading_not_repeated")


@check
def reconnected(case: Case, tolerances: dict) -> Finding:
    """At the end the hose is on again and the idle stands at its specified speed."""
    if not case.setting:
        return MISSING
    wanted = case.engine.card.setting.idle_rpm
    speed = _final_idle_rpm(case)
    if case.trajectory.settings["vacuum_hose"] != "on":
        return Finding(0.0, "hose off", "hose_not_reconnected")
    if speed is None or abs(speed - wanted) > tolerances["speed_rpm"]:
        return Finding(0.5, "idle off", None, {"speed": speed or 0.0, "wanted": wanted})
    return Finding(1.0, "met", None, {"speed": speed})


def _final_idle_rpm(case: Case) -> float | None:
    """Speed at the last settled idle in the workshop after screw and hose were last changed, throttle closed.

    After a start and after a drive an engine takes some seconds to settle; where it was never left to, the last speed
    at idle counts. None where it never idled after the change.
    """
    changed_s = max((moment.time_s for moment in case.done if moment.control in SETS_IDLE), default=0.0)
    settled, hurried, began_s, slows_down = [], [], None, False
    for sample in case.trajectory.samples:
        if sample.on_road or sample.throttle > 0.0 or not sample.running:
            began_s, slows_down = None, sample.running  # what follows a drive or an open throttle is no idle yet
            continue
        began_s = sample.time_s if began_s is None else began_s
        steady = sample.time_s - began_s >= SETTLED_AFTER_S
        if sample.time_s >= changed_s and (steady or not slows_down):
            (settled if steady else hurried).append(sample)
    last = (settled or hurried)[-1:]
    return last[0].speed_rpm if last else None


@check
def road_checked(case: Case, tolerances: dict) -> Finding:
    """A whole drive at the final setting, and no ping left, or the spark retarded until it was gone."""
    whole = [drive for drive in case.trajectory.drives if drive.complete]
    if not whole:
        return MISSING
    last = whole[-1]
    raised = [
        drive
        for drive in whole[:-1]
        if drive.worst_ping >= CLEAR_PING and last.base_timing_deg > drive.base_timing_deg + 0.5
    ]
    if raised:
        return Finding(0.0, "advanced", "advance_to_cure_ping")
    if abs(last.base_timing_deg - case.final_timing_deg) > tolerances["same_setting_deg"]:
        return Finding(0.5, "changed after")
    if last.worst_ping >= CLEAR_PING:
        return Finding(0.0, "pings")
    return Finding(1.0, "met")


@check
def where_it_ended(case: Case, tolerances: dict) -> Finding:
    """The setting lies where the method leads on this engine, or later where ping was heard; and it does not ping."""
    if not case.setting:
        return MISSING
    off = case.final_timing_deg - case.reference.method.timing_deg
    values = {"off": abs(off), "side": "early" if off > 0 else "late"}
    if worst_ping_share(case.engine, case.final_timing_deg, case.conditions) >= CLEAR_PING:
        return Finding(0.0, "pings", None, values)
    heard = any(drive.worst_ping >= CLEAR_PING for drive in case.trajectory.drives)
    low = -tolerances["retard_for_ping_deg"] if heard else -tolerances["window_deg"]
    if low <= off <= tolerances["window_deg"]:
        return Finding(1.0, "met", None, values)
    near = abs(off) <= 2 * tolerances["window_deg"]
    return Finding(0.5 if near else 0.0, "off", None, values)
