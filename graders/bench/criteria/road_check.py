"""Checks of the road check: the total seen by the light before it, drives on one fuel or another, the spark retarded in
small steps, a hot restart."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from engine_sim import CLEAR_PING, published
from engine_sim.physics.distributor import HOSE_PLUGGED
from engine_sim.workshop.trajectory import DriveRecord, Sample
from graders.bench.attempt import CREEP_DEG, MISSING, NEARLY, SAMPLE_S, Attempt, CheckFinding, check
from graders.bench.full_throttle import earliest_silent_deg, weights_deg, with_fuel

PULL = "full pull"
NEAR_DEG = 2.75  # crank degrees later than the earliest silent timing: as near as ears and hands come; calibration
LOOKED_S = 3.0  # seconds at a speed in which a person has read the light
TOTAL_RPM = published("total_seen_at").value
TOTAL_DEG = published("total_before_first_pull").value  # base and weights
RAN_ON_S = 1.0  # seconds: an engine that still runs so long after the starter has been started


def all_in_deg(attempt: Attempt, settings: Mapping | None = None) -> float:
    """What the weights add where the total is looked at [crank deg], with the springs and the stop of these settings,
    or as the card has them."""
    return float(weights_deg(attempt.engine.card, settings, np.array([TOTAL_RPM]))[0])


def octane_of(attempt: Attempt, fuel: str) -> float:
    """The RON of a fuel, as the bench calls it, on this day."""
    return float(attempt.engine.fuel(with_fuel(attempt.conditions, fuel))[0])


def pulls_by_fuel(attempt: Attempt) -> dict[float, list]:
    """The drives with the throttle wide open that told something, by the RON of the fuel in the tank."""
    found: dict[float, list] = {}
    for drive in attempt.trajectory.drives:
        if drive.told and drive.route == PULL:
            found.setdefault(octane_of(attempt, drive.fuel), []).append(drive)
    return found


def pulls_after_ping(pulls: dict[float, list]) -> list[tuple]:
    """Every pull that pinged with the next one on the same fuel."""
    pairs = (pair for drives in pulls.values() for pair in pairwise(drives))
    return [(before, after) for before, after in pairs if before.worst_ping >= CLEAR_PING]


def late_deg(attempt: Attempt, drive: DriveRecord, most_deg: float = TOTAL_DEG) -> float:
    """By how much the spark of a drive was later [crank deg] than its fuel, and base and weights at `most_deg` in all,
    allow."""
    silent_deg = earliest_silent_deg(attempt.engine.card, with_fuel(attempt.conditions, drive.fuel))
    return min(silent_deg, most_deg - all_in_deg(attempt)) - drive.base_timing_deg


@check(
    findings=("met", "hose on", "too slow", "missing"),
    tolerances=("rpm",),
    values={"met": {"total": float}, "too slow": {"rpm": float}},
)
def saw_the_total(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The timing light on, at `rpm` or faster, the vacuum hose off and plugged, long enough to be read, before the
    first drive."""
    first_drive = next((action.time_s for action in attempt.done if action.control == "road_check"), float("inf"))
    lit = [one for one in _under_the_light(attempt) if one[0].time_s < first_drive]
    if not lit:
        return MISSING
    fast = [(sample, hose) for sample, hose in lit if sample.speed_rpm >= tolerances["rpm"]]
    seen = [sample for sample, hose in fast if hose == HOSE_PLUGGED]
    if len(seen) * SAMPLE_S >= LOOKED_S:
        return CheckFinding(1.0, "met", None, {"total": seen[-1].advance_deg})
    if len(fast) * SAMPLE_S >= LOOKED_S:
        return CheckFinding(0.5, "hose on")
    return CheckFinding(0.0, "too slow", None, {"rpm": max(sample.speed_rpm for sample, _ in lit)})


def _under_the_light(attempt: Attempt) -> list[tuple[Sample, str]]:
    """The samples of the running engine with the timing light on, each with the state of the vacuum hose."""
    found, acts = [], attempt.done
    for before, after in zip(acts, [*acts[1:], None], strict=True):
        settings = attempt.trajectory.settings if after is None else after.settings
        if settings.get("timing_light") != "on":
            continue
        end = after.time_s if after else float("inf")
        found += [
            (sample, settings["vacuum_hose"])
            for sample in attempt.at_rest
            if sample.running and before.time_s <= sample.time_s < end
        ]
    return found


@check(
    findings=("met", "changed between", "roads left out", "missing"),
    tolerances=("roads",),
    values={"met": {"count": int}, "roads left out": {"count": int}},
)
def drove_every_road(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Every road of the bench driven to its end, or until it pinged, with nothing about the distributor changed between
    them."""
    told = [drive for drive in attempt.trajectory.drives if drive.told]
    if not told:
        return MISSING
    wanted = int(tolerances["roads"])
    by_setting: dict[float, set[str]] = {}
    for drive in told:
        by_setting.setdefault(round(drive.base_timing_deg, 1), set()).add(drive.route)
    most = max(len(roads) for roads in by_setting.values())
    if most >= wanted:
        return CheckFinding(1.0, "met", None, {"count": most})
    if len({drive.route for drive in told}) >= wanted:
        return CheckFinding(0.5, "changed between", "two_things_at_once")
    return CheckFinding(most / wanted / 2, "roads left out", None, {"count": most})


@check(findings=("met", "hose off", "missing"))
def drove_as_it_is_used(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The vacuum advance hose on for every drive, as the vehicle is used."""
    if not attempt.trajectory.drives:
        return MISSING
    if all(drive.vacuum_hose == "on" for drive in attempt.trajectory.drives):
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "hose off", "hose_not_reconnected")


@check(
    findings=("met", "light load", "one fuel", "missing"),
    tolerances=("fuels",),
    values={"met": {"count": int}, "one fuel": {"count": int}},
)
def pulled_on_every_fuel(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At least one pull at full throttle on `fuels` fuels or more, to its end or until it pinged."""
    if not attempt.trajectory.drives:
        return MISSING
    pulls, wanted = pulls_by_fuel(attempt), int(tolerances["fuels"])
    if len(pulls) >= wanted:
        return CheckFinding(1.0, "met", None, {"count": len(pulls)})
    if not pulls:
        return CheckFinding(0.0, "light load", "light_load_for_road_check")
    return CheckFinding(0.5, "one fuel", None, {"count": len(pulls)})


def silent_at_the_limit(attempt: Attempt, pulls: dict[float, list], near_deg: float) -> bool:
    """Whether no pull pinged although on every fuel the last one stood at most `near_deg` later than this engine
    allows. Further from ping, a drive shows nothing of how somebody meets it."""
    if not pulls or any(drive.worst_ping >= CLEAR_PING for drives in pulls.values() for drive in drives):
        return False
    return all(late_deg(attempt, drives[-1]) <= near_deg for drives in pulls.values())


@check(
    findings=("met", "large step", "missing"),
    tolerances=("step_deg", "near_deg"),
    values={"met": {"largest": float}, "large step": {"largest": float}},
    usual={"near_deg": NEAR_DEG},
)
def small_steps(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """After a pull that pinged, the next one on the same fuel stands a small step later; or none pinged, as early as
    this engine allows. Where a ping was left as it was, or the spark stood far too late to ping, there is no step to
    judge."""
    pulls = pulls_by_fuel(attempt)
    after_ping = pulls_after_ping(pulls)
    if not after_ping and not silent_at_the_limit(attempt, pulls, tolerances["near_deg"]):
        return MISSING
    largest = max((before.base_timing_deg - after.base_timing_deg for before, after in after_ping), default=0.0)
    if largest <= tolerances["step_deg"] + CREEP_DEG:
        return CheckFinding(1.0, "met", None, {"largest": largest})
    return CheckFinding(0.0, "large step", "one_large_retard", {"largest": largest})


@check(findings=("met", "advanced", "missing"), tolerances=("near_deg",), usual={"near_deg": NEAR_DEG})
def never_advanced_for_ping(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """A pull that pinged was followed by another one on the same fuel, and none by one with an earlier spark; or none
    pinged, as early as this engine allows. Elsewhere nothing was done against ping."""
    pulls = pulls_by_fuel(attempt)
    after_ping = pulls_after_ping(pulls)
    if not after_ping and not silent_at_the_limit(attempt, pulls, tolerances["near_deg"]):
        return MISSING
    if any(after.base_timing_deg > before.base_timing_deg + CREEP_DEG for before, after in after_ping):
        return CheckFinding(0.0, "advanced", "advance_to_cure_ping")
    return CheckFinding(1.0, "met")


@check(
    findings=("met", "pings", "too late", "missing"),
    tolerances=("ron", "window_deg", "most_deg"),
    values={"met": {"late": float}, "pings": {"timing": float}, "too late": {"late": float}},
    usual={"most_deg": TOTAL_DEG},
)
def earliest_without_ping(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The last pull on the fuel of `ron` did not ping, and its spark was no later than that took on this engine, or
    than base and weights at `most_deg` in all. Silent pulls at nothing but the setting that was found do not show that
    it is the earliest, unless its total is at that ceiling, or no more than `window_deg` below it: nobody advances to
    reach one."""
    pulls = pulls_by_fuel(attempt)
    drives, found_deg = pulls.get(tolerances["ron"], []), attempt.trajectory.samples[0].base_timing_deg
    every = [drive for one_fuel in pulls.values() for drive in one_fuel]
    room_deg = tolerances["most_deg"] - found_deg - all_in_deg(attempt)
    at_ceiling = -CREEP_DEG <= room_deg <= tolerances["window_deg"]
    as_found = all(
        drive.worst_ping < CLEAR_PING and abs(drive.base_timing_deg - found_deg) <= CREEP_DEG for drive in every
    )
    if not drives or (as_found and not at_ceiling):
        return MISSING
    last = drives[-1]
    if last.worst_ping >= CLEAR_PING:
        return CheckFinding(0.0, "pings", None, {"timing": last.base_timing_deg})
    late = late_deg(attempt, last, tolerances["most_deg"])
    if late <= tolerances["window_deg"]:
        return CheckFinding(1.0, "met", None, {"late": late})
    share = 0.5 if late <= NEARLY * tolerances["window_deg"] else 0.0
    return CheckFinding(share, "too late", "late_is_safe", {"late": late})


@check(findings=("met", "loose", "one fuel", "good fuel only", "changed after", "missing"), tolerances=("fuels",))
def left_for_the_poorest_fuel(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The vehicle is left as it was driven last on the poorest fuel: clamp tight, the same timing, and no ping."""
    pulls = pulls_by_fuel(attempt)
    if not pulls:
        return MISSING
    if attempt.trajectory.settings["clamp"] != "tight":
        return CheckFinding(0.0, "loose", "clamp_left_loose")
    if len(pulls) < tolerances["fuels"]:
        return CheckFinding(0.0, "one fuel")
    poorest = pulls[min(pulls)][-1]
    if attempt.final_timing_deg > poorest.base_timing_deg + CREEP_DEG or poorest.worst_ping >= CLEAR_PING:
        return CheckFinding(0.0, "good fuel only", "set_for_the_best_fuel")
    if abs(attempt.final_timing_deg - poorest.base_timing_deg) > CREEP_DEG:
        return CheckFinding(0.5, "changed after")
    return CheckFinding(1.0, "met")


@check(findings=("met", "missing"), tolerances=("coolant_c",))
def restarted_hot(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """After the last change of the timing, the engine was started hot, above `coolant_c`, after it had run before."""
    last_moved_s = max((action.time_s for action in attempt.done if action.control == "distributor"), default=0.0)
    ran_from_s = next((sample.time_s for sample in attempt.trajectory.samples if sample.running), float("inf"))
    hot = [
        action.time_s
        for action in attempt.done
        if action.control == "starter"
        and action.time_s > max(last_moved_s, ran_from_s)
        and action.coolant_c >= tolerances["coolant_c"]
    ]
    if hot and any(sample.running and sample.time_s > hot[0] + RAN_ON_S for sample in attempt.trajectory.samples):
        return CheckFinding(1.0, "met")
    return CheckFinding(0.0, "missing")
