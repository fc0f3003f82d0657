"""Checks of lesson l01, at the test stand: early and late tried at every speed, the best read, the stand left well.

`rpm` of the tolerances is the speed that the brake holds, `less` the share of the best pull that counts as clearly less
or as still the best.
"""

from __future__ import annotations

from engine_sim.workshop.trajectory import Sample
from graders.bench.attempt import MISSING, Attempt, CheckFinding, check
from graders.bench.full_throttle import PullOverLead, pull_over_lead

WIDE_OPEN = 0.95  # of the throttle's travel: a foot on the floor, nearly or quite
HELD_WITHIN_RPM = 40.0  # of the brake's speed: the engine is held


def samples_at(attempt: Attempt, rpm: float, throttle: float = WIDE_OPEN) -> list[Sample]:
    """The samples of the running engine near a speed [rpm], with the throttle open at least so far (0 to 1)."""
    return [
        sample
        for sample in attempt.at_rest
        if sample.running and sample.throttle >= throttle and abs(sample.speed_rpm - rpm) <= HELD_WITHIN_RPM
    ]


def curve_of(attempt: Attempt, rpm: float) -> PullOverLead:
    """The torque of this engine over its total advance at a speed [rpm] on this day."""
    return pull_over_lead(attempt.engine, rpm, attempt.conditions.altitude_ft)


@check(findings=("met", "not open", "not early", "not late", "not turned", "missing"), tolerances=("rpm", "less"))
def tried_early_and_late(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """With the throttle wide open at `rpm`, leads on both sides of the best at which the pull was clearly less."""
    rpm = tolerances["rpm"]
    tried = [sample.advance_deg for sample in samples_at(attempt, rpm)]
    if not tried:
        return CheckFinding(0.0, "not open", "part_throttle_for_full") if _held(attempt, rpm) else MISSING
    late, early = curve_of(attempt, rpm).flat_top_deg(tolerances["less"])
    went_late, went_early = min(tried) <= late, max(tried) >= early
    if went_late and went_early:
        return CheckFinding(1.0, "met")
    if went_late:
        return CheckFinding(0.5, "not early", "first_rise_for_best")
    return CheckFinding(0.5 if went_early else 0.0, "not late" if went_early else "not turned", "first_rise_for_best")


def _held(attempt: Attempt, rpm: float) -> bool:
    return any(action.control == "load_brake" and action.value == rpm for action in attempt.done)


@check(
    findings=("met", "early", "late", "missing"),
    tolerances=("rpm", "less"),
    values={"met": {"lead": float}},
)
def read_at_best(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """The last reading at `rpm`, throttle wide open, was taken where the engine pulls within `less` of its best."""
    rpm = tolerances["rpm"]
    read = [
        action
        for action in attempt.done
        if action.control == "read_gauges"
        and action.running
        and action.settings["throttle"] >= WIDE_OPEN
        and abs(action.speed_rpm - rpm) <= HELD_WITHIN_RPM
    ]
    if not read:
        return MISSING
    lead = float(attempt.engine.advance_deg(read[-1].base_timing_deg, rpm, 0.0))
    curve = curve_of(attempt, rpm)
    if curve.share_of_best(lead) >= 1.0 - tolerances["less"]:
        return CheckFinding(1.0, "met", None, {"lead": lead})
    return CheckFinding(0.0, "early" if lead > curve.best_deg else "late", "first_rise_for_best")


@check(findings=("met", "loaded", "not put back", "loose", "missing"), tolerances=("within_deg",))
def stand_left_well(attempt: Attempt, tolerances: dict) -> CheckFinding:
    """At the end: throttle closed, brake off, the body within `within_deg` of where it was found, the clamp tight. A
    body that never was further away than that was not put back."""
    if not attempt.turned_away(tolerances["within_deg"]):
        return MISSING
    left, first = attempt.trajectory.settings, attempt.turns[0]
    if left["throttle"] > 0.0 or left["load_brake"] > 0.0:
        return CheckFinding(0.0, "loaded")
    if abs(attempt.final_timing_deg - first.base_timing_deg) > tolerances["within_deg"]:
        return CheckFinding(0.5, "not put back")
    return CheckFinding(1.0, "met") if left["clamp"] == "tight" else CheckFinding(0.5, "loose", "clamp_left_loose")
