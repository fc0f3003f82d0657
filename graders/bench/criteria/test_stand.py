"""Criteria of lesson l01, at the test stand: early and late tried at every speed, the best read, the stand left well.

`rpm` of the tolerances is the speed that the brake holds, `less` the share of the best pull that counts as clearly less
or as still the best.
"""

from __future__ import annotations

from graders.bench.attempt import MISSING, Case, Finding, check
from graders.bench.best_timing import PullOverLead, pull_over_lead

WIDE_OPEN, HELD_WITHIN_RPM = 0.95, 40.0


def samples_at(case: Case, rpm: float, throttle: float = WIDE_OPEN):
    """Samples of the running engine near that speed with the throttle opened at least so far."""
    return [
        sample
        for sample in case.at_rest
        if sample.running and sample.throttle >= throttle and abs(sample.speed_rpm - rpm) <= HELD_WITHIN_RPM
    ]


def curve_of(case: Case, rpm: float) -> PullOverLead:
    """How this engine pulls over its lead at that speed on this day."""
    return pull_over_lead(case.engine, rpm, case.conditions.altitude_ft)


@check
def tried_early_and_late(case: Case, tolerances: dict) -> Finding:
    """With the throttle wide open at `rpm`, leads on both sides of the best at which the pull was clearly less."""
    rpm = tolerances["rpm"]
    tried = [sample.advance_deg for sample in samples_at(case, rpm)]
    if not tried:
        return Finding(0.0, "not open", "part_throttle_for_full") if _held(case, rpm) else MISSING
    late, early = curve_of(case, rpm).flat_top_deg(tolerances["less"])
    went_late, went_early = min(tried) <= late, max(tried) >= early
    if went_late and went_early:
        return Finding(1.0, "met")
    if went_late:
        return Finding(0.5, "not early", "first_rise_for_best")
    return Finding(0.5 if went_early else 0.0, "not late" if went_early else "not turned", "first_rise_for_best")


def _held(case: Case, rpm: float) -> bool:
    return any(moment.control == "load_brake" and moment.value == rpm for moment in case.done)


@check
def read_at_best(case: Case, tolerances: dict) -> Finding:
    """The last reading at `rpm`, throttle wide open, was taken where the engine pulls within `less` of its best."""
    rpm = tolerances["rpm"]
    read = [
        moment
        for moment in case.done
        if moment.control == "read_gauges"
        and moment.running
        and moment.settings["throttle"] >= WIDE_OPEN
        and abs(moment.speed_rpm - rpm) <= HELD_WITHIN_RPM
    ]
    if not read:
        return MISSING
    lead = float(case.engine.advance_deg(read[-1].base_timing_deg, rpm, 0.0))
    curve = curve_of(case, rpm)
    if curve.share_of_best(lead) >= 1.0 - tolerances["less"]:
        return Finding(1.0, "met", None, {"lead": lead})
    return Finding(0.0, "early" if lead > curve.best_deg else "late", "first_rise_for_best")


@check
def stand_left_well(case: Case, tolerances: dict) -> Finding:
    """At the end: throttle closed, brake off, the body within `within_deg` of where it was found, the clamp tight."""
    if not case.turns:
        return MISSING
    left, first = case.trajectory.settings, case.turns[0]
    if left["throttle"] > 0.0 or left["load_brake"] > 0.0:
        return Finding(0.0, "loaded")
    if abs(case.final_timing_deg - first.base_timing_deg) > tolerances["within_deg"]:
        return Finding(0.5, "not put back")
    return Finding(1.0, "met") if left["clamp"] == "tight" else Finding(0.5, "loose", "clamp_left_loose")
