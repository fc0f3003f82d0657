"""Checks of lesson l03: points and static timing at rest, and an engine that does not start."""

from __future__ import annotations

from bisect import bisect_left

from engine_sim import CRANK_AT_MOST_S
from engine_sim.workshop.trajectory import ActionRecord
from graders.bench.attempt import MISSING, OFF_BY, SAMPLE_S, Attempt, CheckFinding, check

HALF_A_TURN = "half a turn round"
RUNS_FROM_RPM = 450.0  # between cranking, near 180, and the slowest idle of the course, 800
OPEN_TO_CLEAR = 0.7  # of the throttle's travel, at which a flooded engine gets air enough; calibration
APPROACH_DEG = 4.0  # crank degrees forwards that take up the slack in a distributor's drive; calibration
CRANKED_AT_MOST_S = 10.5  # ten seconds by common practice, no source, and what a sample adds
STARTER_ENGAGES_S = 0.5  # seconds after the key in which the engine may still stand; calibration


def starts(attempt: Attempt) -> list[ActionRecord]:
    """The acts of the starter that took effect."""
    return [action for action in attempt.done if action.control == "starter"]


def body_turns(attempt: Attempt) -> list[ActionRecord]:
    """The turns of the distributor's body, at rest or running."""
    return [action for action in attempt.done if action.control == "distributor"]


def last_gap_s(attempt: Attempt) -> float | None:
    """When the gap of the points was last changed [s]; None where it never was."""
    return max((action.time_s for action in attempt.done if action.control == "point_gap"), default=None)


# ---- points and static timing ----------------------------------------------------------------------------------------


@check(findings=("met", "wide", "narrow", "missing"), tolerances=("gap_mm",))
def points_set(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The gap left within `gap_mm` of the nameplate's, which is the same as the right dwell."""
    if last_gap_s(attempt) is None:
        return MISSING
    off = attempt.trajectory.settings["point_gap"] - attempt.engine.card.ignition.point_gap_mm
    if abs(off) <= tolerances["gap_mm"]:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "wide" if off > 0 else "narrow")


@check(findings=("met", "not read", "missing"))
def dwell_read(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The dwell meter on while the engine turned, after the last change of the gap."""
    changed = last_gap_s(attempt)
    if changed is None:
        return MISSING
    turned = [action for action in starts(attempt) if action.time_s > changed]
    read = any(action.settings["dwell_meter"] == "on" for action in turned)
    return CheckFinding(1.0, "met") if read else CheckFinding(0.0, "not read")


@check(findings=("met", "timing first", "missing"))
def dwell_before_timing(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The last change of the gap came before the body was turned for the timing."""
    changed, turns = last_gap_s(attempt), body_turns(attempt)
    if changed is None or not turns:
        return MISSING
    if changed > turns[-1].time_s:
        return CheckFinding(0.0, "timing first", "timing_before_dwell")
    return CheckFinding(1.0, "met")


@check(
    findings=("met", "no lamp", "wrong mark", "missing"),
    tolerances=("mark_deg",),
    retired=("backwards",),
)
def set_with_lamp(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """When the body was last turned, the engine stood, the lamp and the ignition were on, and the crank was at the
    label's mark within `mark_deg`."""
    turns = body_turns(attempt)
    if not turns:
        return MISSING
    last, label = turns[-1], attempt.engine.card.setting.label_base_timing_deg
    if last.running or last.settings["test_lamp"] != "on" or last.settings["ignition_switch"] != "on":
        return CheckFinding(0.0, "no lamp")
    off = last.settings["crank_mark"] - label
    if abs(off) <= tolerances["mark_deg"]:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "wrong mark", "top_centre_for_mark" if last.settings["crank_mark"] == 0.0 else None)


@check(findings=("met", "backwards", "missing"))
def came_to_the_mark_forwards(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Before the body was last turned the crank came to its place in the running direction (to fewer degrees before top
    centre), by `APPROACH_DEG` at the least, in one or more moves. What the starter turned is no approach."""
    turns = body_turns(attempt)
    if not turns or not any(action.control == "crank_mark" for action in attempt.done):
        return MISSING
    last = turns[-1]
    place_deg = from_deg = last.settings["crank_mark"]
    for action in reversed([action for action in attempt.done if action.time_s <= last.time_s]):
        if action.control == "starter" or (action.control == "crank_mark" and action.settings["crank_mark"] < from_deg):
            break
        if action.control == "crank_mark":
            from_deg = action.settings["crank_mark"]
    if from_deg - place_deg >= APPROACH_DEG:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "backwards", "mark_from_behind")


@check(
    findings=("met", "left on", "missing"),
    tolerances=("look_s",),
    values={"left on": {"seconds": float}},
)
def ignition_on_to_look(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The lamp was looked at with the ignition on. At rest the ignition was on for no longer than `look_s` at a time,
    after a look or a stall, and off when the engine was left."""
    if not any(_looks_at_lamp(action.settings) and action.speed_rpm == 0.0 for action in attempt.done):
        return MISSING
    longest_s = last_s = 0.0
    for sample in attempt.trajectory.samples:
        on = sample.speed_rpm == 0.0 and _settings_at(attempt, sample.time_s)["ignition_switch"] == "on"
        last_s = last_s + SAMPLE_S if on else 0.0
        longest_s = max(longest_s, last_s)
    left_on = attempt.trajectory.settings["ignition_switch"] == "on" and attempt.trajectory.samples[-1].speed_rpm == 0.0
    if left_on or longest_s > tolerances["look_s"]:
        return CheckFinding(0.0, "left on", "ignition_left_on", {"seconds": longest_s})
    return CheckFinding(1.0, "met")


def _looks_at_lamp(settings: dict) -> bool:
    return settings["test_lamp"] == settings["ignition_switch"] == "on"


def _settings_at(attempt: Attempt, time_s: float) -> dict:
    """The settings at a time: those that the next act found, or those that were left."""
    actions = attempt.trajectory.actions
    place = bisect_left(actions, time_s, key=lambda action: action.time_s)
    return actions[place].settings if place < len(actions) else attempt.trajectory.settings


@check(
    findings=("met", "off", "missing"),
    tolerances=("window_deg",),
    values={"met": OFF_BY, "off": OFF_BY},
)
def static_timing(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The base timing left within `window_deg` of the label's figure."""
    if not body_turns(attempt):
        return MISSING
    off = attempt.final_timing_deg - attempt.engine.card.setting.label_base_timing_deg
    values = {"off": abs(off), "side": "early" if off > 0 else "late"}
    met = abs(off) <= tolerances["window_deg"]
    return CheckFinding(1.0, "met", None, values) if met else CheckFinding(0.0, "off", None, values)


# ---- running, and how it came to run ---------------------------------------------------------------------------------


@check(findings=("met", "not running", "racing", "loose", "missing"), tolerances=("racing_rpm", "racing_s"))
def runs_at_last(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the last act the engine runs by itself, throttle closed and clamp tight; it raced above `racing_rpm` for no
    longer than `racing_s` in all."""
    if not starts(attempt):
        return MISSING
    last = attempt.trajectory.samples[-1]
    if not last.running or last.speed_rpm < RUNS_FROM_RPM:
        return CheckFinding(0.0, "not running")
    fast = [sample for sample in attempt.at_rest if sample.running and sample.speed_rpm > tolerances["racing_rpm"]]
    if last.throttle > 0.0 or SAMPLE_S * len(fast) > tolerances["racing_s"]:
        return CheckFinding(0.5, "racing", "throttle_left_open")
    return (
        CheckFinding(1.0, "met")
        if attempt.trajectory.settings["clamp"] == "tight"
        else CheckFinding(0.5, "loose", "clamp_left_loose")
    )


@check(findings=("met", "lifted blind", "kept cranking", "missing"), tolerances=("blind_starts",))
def looked_before_lifting(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """A look under the cap before the distributor was lifted; and no more than `blind_starts` tries of the starter
    before anything was looked at: under the cap, at the lamp, or what air does with the throttle held open."""
    if not starts(attempt):
        return MISSING
    lifted = _first(attempt, lambda action: action.control == "refit")
    looked = _first(attempt, lambda action: action.control == "look_under_cap")
    if lifted < looked:
        return CheckFinding(0.0, "lifted blind", "parts_before_looking")
    acted = min(
        looked,
        _first(attempt, lambda action: action.control == "throttle" and action.value >= OPEN_TO_CLEAR),
        _first(attempt, lambda action: action.control == "test_lamp"),
    )
    blind = [action for action in starts(attempt) if action.time_s < acted]
    runs = attempt.trajectory.samples[-1].running and acted == float("inf")
    if len(blind) > tolerances["blind_starts"] or runs:
        return CheckFinding(0.0, "kept cranking", "cranks_and_hopes")
    return MISSING if acted == float("inf") else CheckFinding(1.0, "met")


def _first(attempt: Attempt, wanted) -> float:
    return next((action.time_s for action in attempt.done if wanted(action)), float("inf"))


@check(findings=("met", "lifted for nothing", "not put right", "by trial", "missing"), tolerances=("window_deg",))
def right_cure(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """What was wrong was put right and nothing else was moved: a tooth by a tooth, half a turn by half a turn, fuel by
    air; `window_deg` is how near to the label's figure a distributor set in by a tooth has to stand."""
    if not starts(attempt):
        return MISSING
    left = attempt.trajectory.settings["refit"]
    lifted = [action.value for action in attempt.done if action.control == "refit"]
    if attempt.fault == "flooded":
        return CheckFinding(0.0, "lifted for nothing", "distributor_for_fuel") if lifted else _cleared(attempt)
    if not lifted:
        return CheckFinding(0.0, "not put right", "turns_for_a_tooth" if body_turns(attempt) else None)
    if attempt.fault == "half_turn":
        right = left == HALF_A_TURN
    else:
        label = attempt.engine.card.setting.label_base_timing_deg
        right = abs(attempt.final_timing_deg - label) <= tolerances["window_deg"]
    if not right:
        return CheckFinding(0.0, "not put right")
    return CheckFinding(1.0, "met") if len(lifted) == 1 else CheckFinding(0.5, "by trial", "parts_before_looking")


def _cleared(attempt: Attempt) -> CheckFinding:
    """A flooded engine is cleared by cranking with the throttle held open."""
    opened = [action for action in starts(attempt) if action.settings["throttle"] >= OPEN_TO_CLEAR]
    return CheckFinding(1.0, "met") if opened else CheckFinding(0.0, "not put right")


@check(
    findings=("met", "too often", "no rest", "missing"),
    tolerances=("most", "rest_s"),
    values={"too often": {"count": int}},
    retired=("crank_s",),
)
def starter_rested(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The starter turned the engine for no more than `CRANKED_AT_MOST_S` in all before it had a rest of `rest_s`, and
    was used no more than `most` times."""
    presses = [action.time_s for action in starts(attempt)]
    if not presses:
        return MISSING
    if len(presses) > tolerances["most"]:
        return CheckFinding(0.0, "too often", "cranks_and_hopes", {"count": len(presses)})
    cranked_s, let_go_s = 0.0, float("-inf")
    for press_s in presses:
        rested = press_s - let_go_s >= tolerances["rest_s"]
        let_go_s = _let_go_s(attempt, press_s)
        cranked_s = (0.0 if rested else cranked_s) + let_go_s - press_s
        if cranked_s > CRANKED_AT_MOST_S:
            return CheckFinding(0.0, "no rest", "starter_needs_no_rest")
    return CheckFinding(1.0, "met")


def _let_go_s(attempt: Attempt, press_s: float) -> float:
    """When the key was let go after a press [s]: the engine caught, was switched off or thrown back, or time was up."""
    stops = [action.time_s for action in attempt.done if action.control == "stop" and action.time_s > press_s]
    ends = [
        sample.time_s
        for sample in attempt.trajectory.samples
        if sample.time_s > press_s + STARTER_ENGAGES_S and (sample.running or sample.speed_rpm == 0.0)
    ]
    return min([press_s + CRANK_AT_MOST_S, *stops[:1], *ends[:1]])
