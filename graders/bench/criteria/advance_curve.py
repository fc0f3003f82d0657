"""Criteria over the parts of the advance curve: springs, stop and canister, by the road and by the test stand."""

from __future__ import annotations

from itertools import pairwise

from engine_sim import CLEAR_PING, SPRING_STIFFNESS
from graders.bench.attempt import MISSING, Case, Finding, check
from graders.bench.full_throttle import earliest_silent_deg, lost_by_parts

from .road_check import CREEP_DEG, PULL

HILL = "up the hill"
FULL_LOAD_FROM_THROTTLE = 0.95
STEADY_S, SAMPLE_S = 3.0, 0.2  # a reading is one when the needle has stood for so long; samples are so far apart
HELD_WITHIN_RPM = 30.0
PARTS = ("distributor", "springs", "weights_stop", "canister_screw", "fuel")
STOPS_DEG = (16.0, 20.0, 24.0, 28.0, 32.0)


def setting_at(case: Case, control: str, time_s: float):
    """How a control stood at a time: as it was before the next act, or as the try was left."""
    after = next((moment for moment in case.trajectory.moments if moment.time_s >= time_s), None)
    return (after.settings if after else case.trajectory.settings)[control]


def driven_with(case: Case, route: str) -> list[tuple]:
    """Whole drives on a road, each with the canister's screw as it stood."""
    return [
        (drive, setting_at(case, "canister_screw", drive.time_s))
        for drive in case.trajectory.drives
        if drive.complete and drive.route == route
    ]


def last_change_s(case: Case) -> float:
    """When anything that moves the spark, or the fuel, was last changed."""
    return max((moment.time_s for moment in case.done if moment.control in PARTS), default=0.0)


@check
def canister_told_apart(case: Case, tolerances: dict) -> Finding:
    """The hill driven at two settings of the canister and one base timing, of which the softer pings more."""
    hill = driven_with(case, HILL)
    if not hill:
        return MISSING
    pairs = [
        (one, other)
        for place, (one, screw) in enumerate(hill)
        for other, other_screw in hill[place + 1 :]
        if screw != other_screw
    ]
    if not pairs:
        return Finding(0.0, "one setting")
    alike = [pair for pair in pairs if abs(pair[0].base_timing_deg - pair[1].base_timing_deg) <= CREEP_DEG]
    if not alike:
        return Finding(0.0, "base moved", "two_things_at_once")
    if max(abs(one.worst_ping - other.worst_ping) for one, other in alike) >= tolerances["ping_share"]:
        return Finding(1.0, "met")
    return Finding(0.5, "no difference")


@check
def pull_told_apart(case: Case, tolerances: dict) -> Finding:
    """The full pull driven with the vacuum advance on and off at one base timing: it pings alike."""
    pulls = driven_with(case, PULL)
    if not pulls:
        return MISSING
    on = [drive for drive, _ in pulls if drive.vacuum_hose == "on"]
    off = [drive for drive, _ in pulls if drive.vacuum_hose == "off and plugged"]
    if any(abs(one.base_timing_deg - other.base_timing_deg) <= CREEP_DEG for one in on for other in off):
        return Finding(1.0, "met")
    if on and off:
        return Finding(0.0, "base moved", "two_things_at_once")
    return Finding(0.0, "one way")


@check
def cured_on_both_roads(case: Case, tolerances: dict) -> Finding:
    """At the end both the full pull and the hill are silent, with the hose on and nothing changed afterwards."""
    last = last_change_s(case)
    kept = [
        drive
        for drive in case.trajectory.drives
        if drive.complete and drive.vacuum_hose == "on" and drive.time_s > last and drive.route in (PULL, HILL)
    ]
    if not kept:
        return MISSING
    pinging = {drive.route for drive in kept if drive.worst_ping >= CLEAR_PING}
    if PULL in pinging:
        screwed = case.trajectory.settings["canister_screw"] > 0.0
        return Finding(0.0, "pull pings", "vacuum_advance_at_full_throttle" if screwed else None)
    if HILL in pinging:
        return Finding(0.5, "hill pings")
    if {drive.route for drive in kept} == {PULL, HILL}:
        return Finding(1.0, "met")
    return Finding(0.5, "one road")


@check
def base_as_early_as_the_parts_allow(case: Case, tolerances: dict) -> Finding:
    """The base timing is left silent on the full pull with the springs and the stop that are fitted, and no later than
    that takes."""
    if not case.trajectory.drives:
        return MISSING
    limit = earliest_silent_deg(case.engine.card, case.conditions, case.trajectory.settings)
    late = limit - case.final_timing_deg
    if late < -CREEP_DEG:
        return Finding(0.0, "too early", None, {"late": late})
    if late <= tolerances["window_deg"]:
        return Finding(1.0, "met", None, {"late": late})
    share = 0.5 if late <= 2 * tolerances["window_deg"] else 0.0
    return Finding(share, "too late", "late_is_safe", {"late": late})


@check
def silent_as_left(case: Case, tolerances: dict) -> Finding:
    """The full pull driven to its end with everything as it is left, and silent."""
    last = last_change_s(case)
    pulls = [drive for drive in case.trajectory.drives if drive.complete and drive.route == PULL]
    kept = [drive for drive in pulls if drive.time_s > last]
    if not pulls:
        return MISSING
    if not kept:
        return Finding(0.5, "changed after")
    return Finding(1.0, "met") if kept[-1].worst_ping < CLEAR_PING else Finding(0.0, "pings")


@check
def measured_on_the_stand(case: Case, tolerances: dict) -> Finding:
    """Torque read at full load, at two speeds or more with each of two sets of springs or more."""
    speeds = speeds_read(case)
    enough = [springs for springs, read in speeds.items() if len(read) >= tolerances["speeds"]]
    if len(enough) >= tolerances["springs"]:
        return Finding(1.0, "met", None, {"count": len(enough)})
    if not speeds:
        return MISSING
    return Finding(0.5, "too few", None, {"count": len(speeds)})


def speeds_read(case: Case) -> dict[str, set[float]]:
    """Speeds [rpm] at which the brake of the test stand held the engine at full load long enough, by springs."""
    held: dict[tuple[str, float], int] = {}
    acts = [moment for moment in case.trajectory.moments if moment.kind == "done"]
    for before, after in pairwise([*acts, None]):
        settings = case.trajectory.settings if after is None else after.settings
        if not settings["load_brake"]:
            continue
        end = after.time_s if after else float("inf")
        steady = [
            sample
            for sample in case.at_rest
            if before.time_s <= sample.time_s <= end
            and sample.throttle >= FULL_LOAD_FROM_THROTTLE
            and abs(sample.speed_rpm - settings["load_brake"]) <= HELD_WITHIN_RPM
        ]
        key = (settings["springs"], settings["load_brake"])
        held[key] = held.get(key, 0) + len(steady)
    found: dict[str, set[float]] = {}
    for (springs, speed), count in held.items():
        if count * SAMPLE_S >= STEADY_S:
            found.setdefault(springs, set()).add(speed)
    return found


@check
def parts_suit_the_fuel(case: Case, tolerances: dict) -> Finding:
    """Springs and stop with which the engine, set as early as they allow, keeps nearly the torque of the best ones."""
    if not any(moment.control in ("springs", "weights_stop") for moment in case.done):
        return MISSING
    card, day, left = case.engine.card, case.conditions, case.trajectory.settings
    losses = {
        (springs, stop): lost_by_parts(card, day, {**left, "springs": springs, "weights_stop": stop})
        for springs in SPRING_STIFFNESS
        for stop in STOPS_DEG
    }
    best = min(losses.values())
    more = 100.0 * (lost_by_parts(card, day, left) - best)
    if more <= tolerances["percent"]:
        return Finding(1.0, "met", None, {"more": more})
    same_springs = min(loss for (springs, _), loss in losses.items() if springs == left["springs"])
    if 100.0 * (same_springs - best) <= tolerances["percent"]:
        return Finding(0.5, "stop too short", "stop_for_ping", {"more": more})
    stiff = left["springs"] == "stiffer pair"
    return Finding(0.0, "too slow", "stiff_springs_for_ping" if stiff else None, {"more": more})
