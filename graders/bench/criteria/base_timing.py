"""Checks of setting the base timing at the bench, and those that every bench exercise shares."""

from __future__ import annotations

from engine_sim import CLEAR_PING
from engine_sim.workshop.trajectory import ActionRecord, Sample
from graders.bench.attempt import CREEP_DEG, MISSING, NEARLY, OFF_BY, Attempt, CheckFinding, check
from graders.bench.reference import worst_ping_share

SETS_IDLE = ("idle_screw", "vacuum_hose")
SETTLED_AFTER_S = 5.0  # so long after a start or a drive a warm engine idles steadily; calibration
DROP_RPM = 25.0  # either way, to which a drop in speed can be read; common practice
FALL_INHG = 0.2  # a quarter of an inch, less what a needle can be read to; common practice
FULL_PULL, AS_FOUND = "full pull", "as found"  # the road that pings first, and the fuel that is in the tank
LABEL = {"label": str}  # a sentence on what the engine's label is worth
TURNED_DEG = 0.5  # crank degrees: a smaller difference is no turn towards advance
HAIR_DEG = 1.5  # crank degrees: a body that was never further from where it stood was not set; calibration
SCREWED_TURNS = 0.05  # of the idle screw, one step of its control: a smaller difference is no turn of it


def sees(action: ActionRecord) -> bool:
    """Whether there was a gauge to see the engine by at an act."""
    return action.settings["tachometer"] == "on" or action.settings["gauge_hose"] != "none"


def was_set(attempt: Attempt) -> bool:
    """Whether the timing was set on the running engine: what protects that work protects nothing without it."""
    return bool(attempt.setting) and attempt.turned_away(HAIR_DEG)


@check(
    findings=("met", "stopped", "missing"),
    tolerances=("few_stops",),
    values={"stopped": {"count": int}},
)
def made_safe(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Brake, chocks, selector, extraction and fan area before the first start, and nothing unsafe tried afterwards."""
    if not any(action.control == "starter" for action in attempt.done):
        return MISSING
    stopped = [action for action in attempt.trajectory.actions if action.kind == "stopped"]
    if not stopped:
        return CheckFinding(1.0, "met")
    return CheckFinding(
        0.5 if len(stopped) <= tolerances["few_stops"] else 0.0, "stopped", None, {"count": len(stopped)}
    )


@check(
    findings=("met", "cold", "missing"),
    tolerances=("coolant_c",),
    values={"cold": {"coldest": float}},
)
def was_warm(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The engine warm at every turn of the distributor that sets the timing."""
    if not was_set(attempt):
        return MISSING
    coldest = min(action.coolant_c for action in attempt.setting)
    if coldest >= tolerances["coolant_c"]:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "cold", "set_cold", {"coldest": coldest})


@check(findings=("met", "on", "open", "missing"))
def hose_off_and_plugged(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The vacuum advance hose off and plugged at every turn that sets the timing."""
    if not was_set(attempt):
        return MISSING
    states = {action.settings["vacuum_hose"] for action in attempt.setting}
    if states == {"off and plugged"}:
        return CheckFinding(1.0, "met")
    if "on" in states:
        return CheckFinding(0.0, "on", "advance_left_connected")
    return CheckFinding(0.5, "open", "hose_left_open")


@check(findings=("met", "ported", "not connected", "missing"))
def gauges_on(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The gauge on a manifold source and the tachometer connected at every turn that sets the timing."""
    if not was_set(attempt):
        return MISSING
    sources = {action.settings["gauge_hose"] for action in attempt.setting}
    tachometer = all(action.settings["tachometer"] == "on" for action in attempt.setting)
    if sources == {"manifold"} and tachometer:
        return CheckFinding(1.0, "met")
    if "ported" in sources:
        return CheckFinding(0.5 if tachometer else 0.0, "ported", "ported_source")
    return CheckFinding(0.5 if tachometer or sources == {"manifold"} else 0.0, "not connected")


@check(findings=("met", "wrong way", "stopped short", "missing"), tolerances=("nearly_deg",))
def found_peak(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The distributor turned towards advance until the vacuum was at its highest. Without a gauge to see it by, no peak
    was found."""
    if not any(map(sees, attempt.setting)):
        return MISSING
    if attempt.at_peak:
        return CheckFinding(1.0, "met")
    short = attempt.reference.plateau_from_deg - float(attempt.idle_lead_deg.max())
    first = attempt.setting[0].base_timing_deg
    if max(sample.base_timing_deg for sample in attempt.search) <= first + TURNED_DEG:
        return CheckFinding(0.0, "wrong way", "turned_wrong_way")
    return CheckFinding(0.5 if short <= tolerances["nearly_deg"] else 0.0, "stopped short", "wobble_for_peak")


@check(
    findings=("met", "speed off", "not searched again", "missing"),
    tolerances=("speed_rpm",),
    values={"speed off": {"speed": float, "wanted": float}, "not searched again": {"speed": float}},
)
def idle_brought_back(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the peak the idle was at its specified speed, and the peak was looked for again after the screw was moved."""
    if not attempt.at_peak:
        return MISSING
    wanted = attempt.engine.card.setting.idle_rpm
    left = attempt.departure or attempt.at_peak[-1]
    speed = left.speed_rpm
    if abs(speed - wanted) > tolerances["speed_rpm"]:
        return CheckFinding(0.0, "speed off", "idle_not_retrimmed", {"speed": speed, "wanted": wanted})
    screw = [
        action.time_s for action in attempt.done if action.control == "idle_screw" and action.time_s <= left.time_s
    ]
    again = [action for action in attempt.setting if screw and screw[-1] < action.time_s <= left.time_s]
    if again or not screw:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.5, "not searched again", None, {"speed": speed})


@check(
    findings=("met", "drop off", "screw", "peak kept", "missing"),
    tolerances=("drop_rpm", "fall_inhg"),
    values={"met": {"drop": float}, "drop off": {"drop": float, "wanted": float}},
    usual={"fall_inhg": FALL_INHG},
)
def backed_off(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """From the peak, the distributor was retarded until the speed had fallen by the specified drop, to within
    `drop_rpm`, or by less where the vacuum had fallen by `fall_inhg` at the least: a quarter to half an inch."""
    if not attempt.at_peak:
        return MISSING
    wanted = attempt.engine.card.setting.speed_drop_rpm
    if attempt.departure is None:
        return _peak_kept(attempt, tolerances)
    drop = attempt.departure.speed_rpm - attempt.search[-1].speed_rpm
    fall_inhg = attempt.departure.vacuum_inhg - attempt.search[-1].vacuum_inhg
    far_enough = drop >= wanted - tolerances["drop_rpm"] or fall_inhg >= tolerances["fall_inhg"]
    if far_enough and drop <= wanted + tolerances["drop_rpm"]:
        return CheckFinding(1.0, "met", None, {"drop": drop})
    near = abs(drop - wanted) <= NEARLY * tolerances["drop_rpm"]
    return CheckFinding(0.5 if near else 0.0, "drop off", None, {"drop": drop, "wanted": wanted})


def _peak_kept(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The finding where the peak was kept: everything left there, or the speed brought down with the idle screw."""
    wanted, last_turn = attempt.engine.card.setting.idle_rpm, attempt.setting[-1]
    with_screw = any(
        sample.time_s > last_turn.time_s
        and sample.running
        and sample.vacuum_hose != "on"
        and sample.idle_screw < last_turn.idle_screw - SCREWED_TURNS
        and sample.speed_rpm < wanted - tolerances["drop_rpm"]
        for sample in attempt.at_rest
    )
    if with_screw:
        return CheckFinding(0.0, "screw", "dropped_with_screw")
    return CheckFinding(0.0, "peak kept", "peak_is_setting")


@check(findings=("met", "loose", "not read", "missing"))
def clamped_and_read_again(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The clamp tight at the end, and the gauges read after it was tightened, where the distributor was turned."""
    tightened = [action.time_s for action in attempt.done if action.control == "clamp" and action.value == "tight"]
    loosened = any(action.control == "clamp" and action.value != "tight" for action in attempt.done)
    if not loosened or not was_set(attempt):
        return MISSING
    if attempt.trajectory.settings["clamp"] != "tight":
        return CheckFinding(0.0, "loose", "clamp_left_loose")
    read = [action for action in attempt.done if action.control == "read_gauges" and sees(action)]
    if any(action.time_s >= tightened[-1] for action in read):
        return CheckFinding(1.0, "met")
    return CheckFinding(0.5, "not read", "reading_not_repeated")


@check(
    findings=("met", "hose off", "idle off", "missing"),
    tolerances=("speed_rpm",),
    values={"met": {"speed": float}, "idle off": {"speed": float, "wanted": float}},
)
def reconnected(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the end the hose is on again and the idle stands at its specified speed. A hose that never came off was not
    put back."""
    came_off = any(action.control == "vacuum_hose" and action.value != "on" for action in attempt.done)
    if not was_set(attempt) or not came_off:
        return MISSING
    wanted = attempt.engine.card.setting.idle_rpm
    speed = _final_idle_rpm(attempt)
    if attempt.trajectory.settings["vacuum_hose"] != "on":
        return CheckFinding(0.0, "hose off", "hose_not_reconnected")
    if speed is None or abs(speed - wanted) > tolerances["speed_rpm"]:
        return CheckFinding(0.5, "idle off", None, {"speed": speed or 0.0, "wanted": wanted})
    return CheckFinding(1.0, "met", None, {"speed": speed})


def _final_idle_rpm(attempt: Attempt) -> float | None:
    """The speed [rpm] at the last settled idle in the workshop after screw and hose were last changed, throttle closed.

    After a start and after a drive an engine takes some seconds to settle; where it was never left to, the last speed
    at idle counts. None where it never idled after the change.
    """
    changed_s = max((action.time_s for action in attempt.done if action.control in SETS_IDLE), default=0.0)
    settled: list[Sample] = []
    hurried: list[Sample] = []
    began_s, slows_down = None, False
    for sample in attempt.trajectory.samples:
        if sample.coupling != "neutral" or sample.throttle > 0.0 or not sample.running:
            began_s, slows_down = None, sample.running  # what follows a load or an open throttle is no idle yet
            continue
        began_s = sample.time_s if began_s is None else began_s
        steady = sample.time_s - began_s >= SETTLED_AFTER_S
        if sample.time_s >= changed_s and (steady or not slows_down):
            (settled if steady else hurried).append(sample)
    last = (settled or hurried)[-1:]
    return last[0].speed_rpm if last else None


@check(findings=("met", "advanced", "changed after", "pings", "missing"), tolerances=("same_setting_deg",))
def road_checked(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """A drive at the final setting, and no ping left, or the spark retarded until it was gone."""
    told = [drive for drive in attempt.trajectory.drives if drive.told]
    if not told or not was_set(attempt):
        return MISSING
    last = told[-1]
    raised = [
        drive
        for drive in told[:-1]
        if drive.worst_ping >= CLEAR_PING and last.base_timing_deg > drive.base_timing_deg + TURNED_DEG
    ]
    if raised:
        return CheckFinding(0.0, "advanced", "advance_to_cure_ping")
    if abs(last.base_timing_deg - attempt.final_timing_deg) > tolerances["same_setting_deg"]:
        return CheckFinding(0.5, "changed after")
    if last.worst_ping >= CLEAR_PING:
        return CheckFinding(0.0, "pings")
    return CheckFinding(1.0, "met")


@check(
    findings=("met", "off", "pings", "missing"),
    tolerances=("drop_rpm", "fall_inhg", "retard_for_ping_deg"),
    values={"met": OFF_BY | LABEL, "off": OFF_BY | LABEL, "pings": OFF_BY | LABEL},
    retired=("window_deg",),
    usual={"drop_rpm": DROP_RPM, "fall_inhg": FALL_INHG},
    tells=True,
)
def where_it_ended(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The setting lies where backing off by what `backed_off` allows leads on this engine, or later where ping was
    heard; and it does not ping."""
    if not was_set(attempt):
        return MISSING
    reference, ended = attempt.reference, attempt.final_timing_deg
    off = ended - reference.method.timing_deg
    values = {"off": abs(off), "side": "early" if off > 0 else "late", "label": attempt.label.told}
    if _pings_at(attempt, ended):
        return CheckFinding(0.0, "pings", None, values)
    wanted, allowed = attempt.engine.card.setting.speed_drop_rpm, tolerances["drop_rpm"]
    # Who left the flat top at its late side counts the drop from there.
    left_deg = attempt.departure.base_timing_deg if attempt.departure else reference.method.peak_timing_deg
    begun_rpm = max(reference.speed_fall_at(left_deg), 0.0)
    late = reference.timing_at_speed_fall(begun_rpm + wanted + allowed) - CREEP_DEG
    early = max(
        reference.timing_at_vacuum_fall(tolerances["fall_inhg"]), reference.timing_at_speed_fall(wanted - allowed)
    )
    if any(drive.worst_ping >= CLEAR_PING for drive in attempt.trajectory.drives):
        late = min(late, reference.method.timing_deg - tolerances["retard_for_ping_deg"])
    if late <= ended <= early + CREEP_DEG:
        return CheckFinding(1.0, "met", None, values)
    nearly_late = reference.timing_at_speed_fall(begun_rpm + wanted + NEARLY * allowed) - CREEP_DEG
    nearly_early = reference.timing_at_speed_fall(wanted - NEARLY * allowed) + CREEP_DEG
    near = nearly_late <= ended <= nearly_early
    return CheckFinding(0.5 if near else 0.0, "off", None, values)


def _pings_at(attempt: Attempt, base_deg: float) -> bool:
    """Whether the engine pings clearly at a setting: by the full pulls that were driven there, else worked out."""
    driven = [
        drive.worst_ping
        for drive in attempt.trajectory.drives
        if (drive.told and drive.route == FULL_PULL and drive.fuel == AS_FOUND)
        and abs(drive.base_timing_deg - base_deg) <= TURNED_DEG
    ]
    heard = driven[-1] if driven else worst_ping_share(attempt.engine, base_deg, attempt.conditions)
    return heard >= CLEAR_PING
