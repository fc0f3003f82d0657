"""Criteria of lesson l03: points and static timing at rest, and an engine that does not start."""

from __future__ import annotations

from bisect import bisect_left

from engine_sim import CRANK_AT_MOST_S, SAMPLE_EVERY_TICKS, TICK_S
from graders.bench.attempt import MISSING, Case, Finding, check

HALF_A_TURN = "half a turn round"
RUNS_FROM_RPM, OPEN_TO_CLEAR = 450.0, 0.7
SAMPLE_S = SAMPLE_EVERY_TICKS * TICK_S
APPROACH_DEG = 4.0  # so far forwards takes up the slack in a distributor's drive; calibration
CRANKED_AT_MOST_S = 10.5  # ten seconds by common practice, and what a sample adds
STARTER_ENGAGES_S = 0.5


def starts(case: Case):
    """Acts of the starter that took effect."""
    return [moment for moment in case.done if moment.control == "starter"]


def body_turns(case: Case):
    """Turns of the distributor's body, at rest or running."""
    return [moment for moment in case.done if moment.control == "distributor"]


def last_gap_s(case: Case) -> float | None:
    """When the gap of the points was last changed [s]; None where it never was."""
    return max((moment.time_s for moment in case.done if moment.control == "point_gap"), default=None)


# ---- points and static timing ----------------------------------------------------------------------------------------


@check
def points_set(case: Case, tolerances: dict) -> Finding:
    """The gap left within `gap_mm` of the nameplate's, which is the same as the right dwell."""
    if last_gap_s(case) is None:
        return MISSING
    off = case.trajectory.settings["point_gap"] - case.engine.card.ignition.point_gap_mm
    if abs(off) <= tolerances["gap_mm"]:
        return Finding(1.0, "met")
    return Finding(0.0, "wide" if off > 0 else "narrow")


@check
def dwell_read(case: Case, tolerances: dict) -> Finding:
    """The dwell meter on while the engine turned, after the last change of the gap."""
    changed = last_gap_s(case)
    if changed is None:
        return MISSING
    turned = [moment for moment in starts(case) if moment.time_s > changed]
    read = any(moment.settings["dwell_meter"] == "on" for moment in turned)
    return Finding(1.0, "met") if read else Finding(0.0, "not read")


@check
def dwell_before_timing(case: Case, tolerances: dict) -> Finding:
    """The last change of the gap came before the body was turned for the timing."""
    changed, turns = last_gap_s(case), body_turns(case)
    if changed is None or not turns:
        return MISSING
    if changed > turns[-1].time_s:
        return Finding(0.0, "timing first", "timing_before_dwell")
    return Finding(1.0, "met")


@check
def set_with_lamp(case: Case, tolerances: dict) -> Finding:
    """When the body was last turned, the engine stood, the lamp and the ignition were on, and the crank was at the
    label's mark within `mark_deg`."""
    turns = body_turns(case)
    if not turns:
        return MISSING
    last, label = turns[-1], case.engine.card.setting.label_base_timing_deg
    if last.running or last.settings["test_lamp"] != "on" or last.settings["ignition_switch"] != "on":
        return Finding(0.0, "no lamp")
    off = last.settings["crank_mark"] - label
    if abs(off) <= tolerances["mark_deg"]:
        return Finding(1.0, "met")
    return Finding(0.0, "wrong mark", "top_centre_for_mark" if last.settings["crank_mark"] == 0.0 else None)


@check
def came_to_the_mark_forwards(case: Case, tolerances: dict) -> Finding:
    """Before the body was last turned the crank came to its place in the running direction (to fewer degrees before top
    centre), by `APPROACH_DEG` at the least, in one or more moves. What the starter turned is no approach."""
    turns = body_turns(case)
    if not turns or not any(moment.control == "crank_mark" for moment in case.done):
        return MISSING
    last = turns[-1]
    place_deg = from_deg = last.settings["crank_mark"]
    for moment in reversed([moment for moment in case.done if moment.time_s <= last.time_s]):
        if moment.control == "starter" or (moment.control == "crank_mark" and moment.settings["crank_mark"] < from_deg):
            break
        if moment.control == "crank_mark":
            from_deg = moment.settings["crank_mark"]
    if from_deg - place_deg >= APPROACH_DEG:
        return Finding(1.0, "met")
    return Finding(0.0, "backwards", "mark_from_behind")


@check
def ignition_on_to_look(case: Case, tolerances: dict) -> Finding:
    """The lamp was looked at with the ignition on. At rest the ignition was on for no longer than `look_s` at a time,
    after a look or a stall, and off when the engine was left."""
    if not any(_looks_at_lamp(moment.settings) and moment.speed_rpm == 0.0 for moment in case.done):
        return MISSING
    longest_s = last_s = 0.0
    for sample in case.trajectory.samples:
        on = sample.speed_rpm == 0.0 and _settings_at(case, sample.time_s)["ignition_switch"] == "on"
        last_s = last_s + SAMPLE_S if on else 0.0
        longest_s = max(longest_s, last_s)
    left_on = case.trajectory.settings["ignition_switch"] == "on" and case.trajectory.samples[-1].speed_rpm == 0.0
    if left_on or longest_s > tolerances["look_s"]:
        return Finding(0.0, "left on", "ignition_left_on", {"seconds": longest_s})
    return Finding(1.0, "met")


def _looks_at_lamp(settings: dict) -> bool:
    return settings["test_lamp"] == settings["ignition_switch"] == "on"


def _settings_at(case: Case, time_s: float) -> dict:
    """The settings at a time: those that the next act found, or those that were left."""
    moments = case.trajectory.moments
    place = bisect_left(moments, time_s, key=lambda moment: moment.time_s)
    return moments[place].settings if place < len(moments) else case.trajectory.settings


@check
def static_timing(case: Case, tolerances: dict) -> Finding:
    """The base timing left within `window_deg` of the label's figure."""
    if not body_turns(case):
        return MISSING
    off = case.final_timing_deg - case.engine.card.setting.label_base_timing_deg
    values = {"off": abs(off), "side": "early" if off > 0 else "late"}
    met = abs(off) <= tolerances["window_deg"]
    return Finding(1.0, "met", None, values) if met else Finding(0.0, "off", None, values)


# ---- running, and how it came to run ---------------------------------------------------------------------------------


@check
def runs_at_last(case: Case, tolerances: dict) -> Finding:
    """At the last act the engine runs by itself, throttle closed and clamp tight; it raced above `racing_rpm` for no
    longer than `racing_s` in all."""
    if not starts(case):
        return MISSING
    last = case.trajectory.samples[-1]
    if not last.running or last.speed_rpm < RUNS_FROM_RPM:
        return Finding(0.0, "not running")
    fast = [sample for sample in case.at_rest if sample.running and sample.speed_rpm > tolerances["racing_rpm"]]
    if last.throttle > 0.0 or SAMPLE_S * len(fast) > tolerances["racing_s"]:
        return Finding(0.5, "racing", "throttle_left_open")
    return (
        Finding(1.0, "met")
        if case.trajectory.settings["clamp"] == "tight"
        else Finding(0.5, "loose", "clamp_left_loose")
    )


@check
def looked_before_lifting(case: Case, tolerances: dict) -> Finding:
    """A look under the cap before the distributor was lifted; and no more than `blind_starts` tries of the starter
    before anything was looked at: under the cap, at the lamp, or what air does with the throttle held open."""
    if not starts(case):
        return MISSING
    lifted = _first(case, lambda moment: moment.control == "refit")
    looked = _first(case, lambda moment: moment.control == "look_under_cap")
    if lifted < looked:
        return Finding(0.0, "lifted blind", "parts_before_looking")
    acted = min(
        looked,
        _first(case, lambda moment: moment.control == "throttle" and moment.value >= OPEN_TO_CLEAR),
        _first(case, lambda moment: moment.control == "test_lamp"),
    )
    blind = [moment for moment in starts(case) if moment.time_s < acted]
    runs = case.trajectory.samples[-1].running and acted == float("inf")
    if len(blind) > tolerances["blind_starts"] or runs:
        return Finding(0.0, "kept cranking", "cranks_and_hopes")
    return Finding(1.0, "met")


def _first(case: Case, wanted) -> float:
    return next((moment.time_s for moment in case.done if wanted(moment)), float("inf"))


@check
def right_cure(case: Case, tolerances: dict) -> Finding:
    """What was wrong was put right and nothing else was moved: a tooth by a tooth, half a turn by half a turn, fuel by
    air; `window_deg` is how near to the label's figure a distributor set in by a tooth has to stand."""
    if not starts(case):
        return MISSING
    left = case.trajectory.settings["refit"]
    lifted = [moment.value for moment in case.done if moment.control == "refit"]
    if case.fault == "flooded":
        return Finding(0.0, "lifted for nothing", "distributor_for_fuel") if lifted else _cleared(case)
    if not lifted:
        return Finding(0.0, "not put right", "turns_for_a_tooth" if body_turns(case) else None)
    if case.fault == "half_turn":
        right = left == HALF_A_TURN
    else:
        label = case.engine.card.setting.label_base_timing_deg
        right = abs(case.final_timing_deg - label) <= tolerances["window_deg"]
    if not right:
        return Finding(0.0, "not put right")
    return Finding(1.0, "met") if len(lifted) == 1 else Finding(0.5, "by trial", "parts_before_looking")


def _cleared(case: Case) -> Finding:
    """A flooded engine is cleared by cranking with the throttle held open."""
    opened = [moment for moment in starts(case) if moment.settings["throttle"] >= OPEN_TO_CLEAR]
    return Finding(1.0, "met") if opened else Finding(0.0, "not put right")


@check
def starter_rested(case: Case, tolerances: dict) -> Finding:
    """The starter turned the engine for no more than `CRANKED_AT_MOST_S` in all before it had a rest of `rest_s`, and
    was used no more than `most` times."""
    presses = [moment.time_s for moment in starts(case)]
    if not presses:
        return MISSING
    if len(presses) > tolerances["most"]:
        return Finding(0.0, "too often", "cranks_and_hopes", {"count": len(presses)})
    cranked_s, let_go_s = 0.0, float("-inf")
    for press_s in presses:
        rested = press_s - let_go_s >= tolerances["rest_s"]
        let_go_s = _let_go_s(case, press_s)
        cranked_s = (0.0 if rested else cranked_s) + let_go_s - press_s
        if cranked_s > CRANKED_AT_MOST_S:
            return Finding(0.0, "no rest", "starter_needs_no_rest")
    return Finding(1.0, "met")


def _let_go_s(case: Case, press_s: float) -> float:
    """When the key was let go after a press: it caught, it was switched off, it was thrown back, or time was up."""
    stops = [moment.time_s for moment in case.done if moment.control == "stop" and moment.time_s > press_s]
    ends = [
        sample.time_s
        for sample in case.trajectory.samples
        if sample.time_s > press_s + STARTER_ENGAGES_S and (sample.running or sample.speed_rpm == 0.0)
    ]
    return min([press_s + CRANK_AT_MOST_S, *stops[:1], *ends[:1]])
