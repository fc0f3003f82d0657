"""Checks of the parts of the advance curve: springs, stop and vacuum unit, on the road and on the test stand."""

from __future__ import annotations

from engine_sim import CLEAR_PING, SPRING_STIFFNESS
from engine_sim.physics.distributor import HOSE_ON
from engine_sim.workshop.adjustments import CANISTER_INHG_PER_TURN
from graders.bench.attempt import CREEP_DEG, MISSING, NEARLY, SAMPLE_S, Attempt, CheckFinding, check
from graders.bench.full_throttle import earliest_silent_deg, lost_by_parts

from .idling import settled_in_drive
from .road_check import PULL, TOTAL_DEG, all_in_deg

HILL = "up the hill"
FULL_LOAD_FROM_THROTTLE = 0.95  # of the throttle's travel: a foot on the floor, nearly or quite
STEADY_S = 3.0  # seconds for which the brake has to hold the engine before its torque is read
HELD_WITHIN_RPM = 30.0  # of the brake's speed: the engine is held
PARTS = ("distributor", "springs", "weights_stop", "canister_screw", "fuel")
STOPS_DEG = (16.0, 20.0, 24.0, 28.0, 32.0)  # crank degrees: the stops of the weights that are compared


def setting_at(attempt: Attempt, control: str, time_s: float) -> str | float | None:
    """The setting of a control at a time: as it was before the next act, or as the attempt was left."""
    after = next((action for action in attempt.trajectory.actions if action.time_s >= time_s), None)
    return (after.settings if after else attempt.trajectory.settings)[control]


def driven_with(attempt: Attempt, route: str) -> list[tuple]:
    """The drives on a road, to its end or until they pinged, each with the setting of the vacuum unit's screw."""
    return [
        (drive, setting_at(attempt, "canister_screw", drive.time_s))
        for drive in attempt.trajectory.drives
        if drive.told and drive.route == route
    ]


def last_change_s(attempt: Attempt) -> float:
    """When anything that moves the spark, or the fuel, was last changed [s]; 0 where nothing was."""
    return max((action.time_s for action in attempt.done if action.control in PARTS), default=0.0)


@check(findings=("met", "one setting", "base moved", "no difference", "missing"), tolerances=("ping_share",))
def canister_told_apart(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The hill driven at two settings of the vacuum unit and one base timing, of which the softer pings more."""
    hill = driven_with(attempt, HILL)
    if not hill:
        return MISSING
    pairs = [
        (one, other)
        for place, (one, screw) in enumerate(hill)
        for other, other_screw in hill[place + 1 :]
        if screw != other_screw
    ]
    if not pairs:
        return CheckFinding(0.0, "one setting")
    alike = [pair for pair in pairs if abs(pair[0].base_timing_deg - pair[1].base_timing_deg) <= CREEP_DEG]
    if not alike:
        return CheckFinding(0.0, "base moved", "two_things_at_once")
    if max(abs(one.worst_ping - other.worst_ping) for one, other in alike) >= tolerances["ping_share"]:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.5, "no difference")


@check(findings=("met", "base moved", "one way", "missing"))
def pull_told_apart(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The full pull driven with the vacuum advance on and off at one base timing: it pings alike."""
    pulls = driven_with(attempt, PULL)
    if not pulls:
        return MISSING
    on = [drive for drive, _ in pulls if drive.vacuum_hose == "on"]
    off = [drive for drive, _ in pulls if drive.vacuum_hose == "off and plugged"]
    if any(abs(one.base_timing_deg - other.base_timing_deg) <= CREEP_DEG for one in on for other in off):
        return CheckFinding(1.0, "met")
    if on and off:
        return CheckFinding(0.0, "base moved", "two_things_at_once")
    return CheckFinding(0.0, "one way")


@check(
    findings=("met", "too stiff", "too soft", "never in drive", "missing"),
    tolerances=("margin_inhg", "most_inhg"),
    values={name: {"vacuum": float, "margin": float} for name in ("met", "too stiff", "too soft")},
)
def unit_all_in_below_the_idle(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The vacuum unit, as its screw is left, is at full travel by `margin_inhg` or more below the vacuum that the idle
    in drive drew with the hose on, and by no more than `most_inhg`."""
    if not any(sample.running for sample in attempt.trajectory.samples):
        return MISSING
    idled = [sample for sample in settled_in_drive(attempt) if sample.vacuum_hose == HOSE_ON]
    if not idled:
        return CheckFinding(0.0, "never in drive")
    stiffer_inhg = CANISTER_INHG_PER_TURN * attempt.trajectory.settings["canister_screw"]
    vacuum_inhg = idled[-1].vacuum_inhg
    margin_inhg = vacuum_inhg - (attempt.engine.card.vacuum_advance.full_inhg + stiffer_inhg)
    values = {"vacuum": vacuum_inhg, "margin": margin_inhg}
    if margin_inhg < tolerances["margin_inhg"]:
        return CheckFinding(0.0, "too stiff", "unit_on_its_slope", values)
    if margin_inhg > tolerances["most_inhg"]:
        return CheckFinding(0.5, "too soft", "softest_unit", values)
    return CheckFinding(1.0, "met", None, values)


@check(findings=("met", "pull pings", "hill pings", "one road", "missing"))
def cured_on_both_roads(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the end both the full pull and the hill are silent, with the hose on and nothing changed afterwards."""
    last = last_change_s(attempt)
    kept = [
        drive
        for drive in attempt.trajectory.drives
        if drive.told and drive.vacuum_hose == "on" and drive.time_s > last and drive.route in (PULL, HILL)
    ]
    if not kept:
        return MISSING
    pinging = {drive.route for drive in kept if drive.worst_ping >= CLEAR_PING}
    if PULL in pinging:
        screwed = attempt.trajectory.settings["canister_screw"] > 0.0
        return CheckFinding(0.0, "pull pings", "vacuum_advance_at_full_throttle" if screwed else None)
    if HILL in pinging:
        return CheckFinding(0.5, "hill pings")
    if {drive.route for drive in kept} == {PULL, HILL}:
        return CheckFinding(1.0, "met")
    return CheckFinding(0.5, "one road")


@check(
    findings=("met", "too early", "too late", "missing"),
    tolerances=("window_deg", "most_deg"),
    values={"met": {"late": float}, "too early": {"late": float}, "too late": {"late": float}},
    usual={"most_deg": TOTAL_DEG},
)
def base_as_early_as_the_parts_allow(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The base timing is left silent on the full pull with the springs and the stop that are fitted, and no later than
    that takes, or than base and weights at `most_deg` in all."""
    if not attempt.trajectory.drives:
        return MISSING
    left, ended = attempt.trajectory.settings, attempt.final_timing_deg
    limit = earliest_silent_deg(attempt.engine.card, attempt.conditions, left)
    if ended > limit + CREEP_DEG:
        return CheckFinding(0.0, "too early", None, {"late": limit - ended})
    late = min(limit, tolerances["most_deg"] - all_in_deg(attempt, left)) - ended
    if late <= tolerances["window_deg"]:
        return CheckFinding(1.0, "met", None, {"late": late})
    share = 0.5 if late <= NEARLY * tolerances["window_deg"] else 0.0
    return CheckFinding(share, "too late", "late_is_safe", {"late": late})


@check(findings=("met", "changed after", "pings", "missing"))
def silent_as_left(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The full pull driven with everything as it is left, to its end and silent."""
    last = last_change_s(attempt)
    pulls = [drive for drive in attempt.trajectory.drives if drive.told and drive.route == PULL]
    kept = [drive for drive in pulls if drive.time_s > last]
    if not pulls:
        return MISSING
    if not kept:
        return CheckFinding(0.5, "changed after")
    return CheckFinding(1.0, "met") if kept[-1].worst_ping < CLEAR_PING else CheckFinding(0.0, "pings")


@check(
    findings=("met", "too few", "missing"),
    tolerances=("speeds", "springs"),
    values={"met": {"count": int}, "too few": {"count": int}},
)
def measured_on_the_stand(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Torque read at full load, at two speeds or more with each of two sets of springs or more."""
    speeds = speeds_read(attempt)
    enough = [springs for springs, read in speeds.items() if len(read) >= tolerances["speeds"]]
    if len(enough) >= tolerances["springs"]:
        return CheckFinding(1.0, "met", None, {"count": len(enough)})
    if not speeds:
        return MISSING
    return CheckFinding(0.5, "too few", None, {"count": len(speeds)})


def speeds_read(attempt: Attempt) -> dict[str, set[float]]:
    """The speeds [rpm] at which the brake of the test stand held the engine at full load long enough, by springs."""
    held: dict[tuple[str, float], int] = {}
    acts = [action for action in attempt.trajectory.actions if action.kind == "done"]
    for before, after in zip(acts, [*acts[1:], None], strict=False):
        settings = attempt.trajectory.settings if after is None else after.settings
        if not settings["load_brake"]:
            continue
        end = after.time_s if after else float("inf")
        steady = [
            sample
            for sample in attempt.at_rest
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


@check(
    findings=("met", "stop too short", "too quick", "too slow", "missing"),
    tolerances=("percent",),
    values={name: {"more": float} for name in ("met", "stop too short", "too quick", "too slow")},
)
def parts_suit_the_fuel(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """Springs and stop with which the engine, set as early as they allow, keeps nearly the torque of the best ones."""
    if not any(action.control in ("springs", "weights_stop") for action in attempt.done):
        return MISSING
    card, day, left = attempt.engine.card, attempt.conditions, attempt.trajectory.settings
    losses = {
        (springs, stop): lost_by_parts(card, day, {**left, "springs": springs, "weights_stop": stop})
        for springs in SPRING_STIFFNESS
        for stop in STOPS_DEG
    }
    best_parts = min(losses, key=losses.__getitem__)
    best = losses[best_parts]
    more = 100.0 * (lost_by_parts(card, day, left) - best)
    if more <= tolerances["percent"]:
        return CheckFinding(1.0, "met", None, {"more": more})
    same_springs = min(loss for (springs, _), loss in losses.items() if springs == left["springs"])
    if 100.0 * (same_springs - best) <= tolerances["percent"]:
        return CheckFinding(0.5, "stop too short", "stop_for_ping", {"more": more})
    springs, stop = best_parts
    best_base = earliest_silent_deg(card, day, {**left, "springs": springs, "weights_stop": stop})
    if earliest_silent_deg(card, day, left) < best_base:  # what the weights give early has to be taken from the base
        return CheckFinding(0.0, "too quick", "softer_is_better", {"more": more})
    stiff = left["springs"] == "stiffer pair"
    return CheckFinding(0.0, "too slow", "stiff_springs_for_ping" if stiff else None, {"more": more})
