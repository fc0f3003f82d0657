"""What an attempt at the bench looked like: its speed and vacuum over the timing that was searched, or over time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from engine_sim import CLEAR_PING, OutsideValidity, ping_share
from engine_sim.physics.distributor import advance_sense, crank_deg
from graders.outcome import Trace
from graders.schema import Criterion

from .attempt import Attempt
from .reference import LATEST_TIMING_DEG, PULL_STEP_RPM, pull_rpm

ENDED = "where_it_ended"  # the check that judges the end of a search
MOST_POINTS = 240  # a line with more looks the same
FEWEST_POINTS = 2  # fewer make no line
PLACES = {"along": 2, "vacuum_inhg": 2, "speed_rpm": 0}  # decimals; finer than the eye sees in the picture
BEYOND_DEG = 4.0  # crank degrees of the engine's own curve beyond the search and the peak
EARLIEST_DEG = 58.0  # crank degrees BTDC up to which an idle can be worked out
CURVE_STEP_DEG = 2.0
PING_WITHIN_DEG = 18.0  # crank degrees about the method's setting, where ping is looked for
PING_STEP_DEG = 4.0
FOUND_WITHIN_DEG = 0.1  # crank degrees: closer than the picture shows
TIME_PLACES = 1  # decimals of a second at which an act is marked


def searches(criteria: Sequence[Criterion]) -> bool:
    """Whether these criteria of work at the bench are of a timing that is looked for and set."""
    return any(one.check == ENDED for one in criteria)


def trace_of(criteria: Sequence[Criterion], attempt: Attempt) -> Trace | None:
    """The trace of an attempt that is judged by these criteria, or None where the engine never ran."""
    if searches(criteria) and attempt.search:
        found_deg = attempt.trajectory.samples[0].base_timing_deg
        marks = {
            "peak": attempt.reference.method.peak_timing_deg,
            "method": attempt.reference.method.timing_deg,
            "left_at": attempt.final_timing_deg,
            "flat_from": attempt.reference.plateau_from_deg,
            "pings_from": pings_from_deg(attempt),
        }
        return _trace(
            "timing",
            attempt.search,
            lambda sample: sample.base_timing_deg - found_deg,
            own_line=engine_curve(attempt, found_deg),
            body_per_crank=advance_sense(attempt.engine.card.distributor.rotor_turns) / crank_deg(1.0),
            **{name: None if deg is None else round(deg - found_deg, PLACES["along"]) for name, deg in marks.items()},
        )
    running = [sample for sample in attempt.trajectory.samples if sample.running]
    if len(running) < FEWEST_POINTS:
        return None
    acts = tuple(
        round(one.time_s, TIME_PLACES) for one in attempt.done if running[0].time_s <= one.time_s <= running[-1].time_s
    )
    return _trace("time", running, lambda sample: sample.time_s, acts=acts)


def engine_curve(attempt: Attempt, found_deg: float) -> tuple[tuple[float, float, float], ...]:
    """Timing counted from `found_deg` [crank deg], vacuum [inHg] and speed [rpm] of this engine at a warm idle with the
    hose plugged and the idle screw as the search left it; nothing where it has no idle there."""
    timings = [*(sample.base_timing_deg for sample in attempt.search), attempt.reference.method.peak_timing_deg]
    earliest, latest = min(max(timings) + BEYOND_DEG, EARLIEST_DEG), max(min(timings) - BEYOND_DEG, LATEST_TIMING_DEG)
    across = np.arange(latest, earliest + CURVE_STEP_DEG / 2, CURVE_STEP_DEG)
    day, screw = attempt.conditions, attempt.search[-1].idle_screw
    try:
        state = attempt.engine.idle(across, screw, day.altitude_ft, ambient_c=day.ambient_c)
    except OutsideValidity:  # a screw so far in that the engine races: there is no curve to show
        return ()
    numbers = zip(across, state.manifold_vacuum_inhg, state.speed_rpm, state.stalls, strict=True)
    return tuple(
        (round(float(deg - found_deg), 2), round(float(vacuum), 2), float(round(speed)))
        for deg, vacuum, speed, stalls in numbers
        if not stalls
    )


def pings_from_deg(attempt: Attempt) -> float | None:
    """The base timing [crank deg BTDC] from which on this engine pings clearly on the full pull, on the fuel in its
    tank; None where it does nowhere near the method's setting."""
    lowest_rpm, highest_rpm = pull_rpm(attempt.engine.card, attempt.conditions)
    speed_rpm = np.arange(lowest_rpm, highest_rpm + 1.0, 3.0 * PULL_STEP_RPM)
    timings = attempt.reference.method.timing_deg + np.arange(-PING_WITHIN_DEG, PING_WITHIN_DEG + 1.0, PING_STEP_DEG)
    day = attempt.conditions
    pull = attempt.engine.full_throttle(
        speed_rpm,
        timings[:, np.newaxis],
        altitude_ft=day.altitude_ft,
        ambient_c=day.ambient_c,
        octane_ron=attempt.engine.fuel_octane(day, speed_rpm),
    )
    # The octane to spare falls nearly evenly over the timing, the share of cycles that ping does not.
    fine = np.arange(timings[0], timings[-1] + FOUND_WITHIN_DEG / 2, FOUND_WITHIN_DEG)
    margin = np.interp(fine, timings, pull.knock_margin_octane.min(axis=1))
    return next((float(deg) for deg, spare in zip(fine, margin, strict=True) if ping_share(spare) >= CLEAR_PING), None)


def _trace(over: str, samples: list, along, **marks) -> Trace:
    shown = [*samples[:: -(-len(samples) // MOST_POINTS)], samples[-1]]
    return Trace(
        over=over,
        along=tuple(round(along(one), PLACES["along"]) for one in shown),
        vacuum_inhg=tuple(round(one.vacuum_inhg, PLACES["vacuum_inhg"]) for one in shown),
        speed_rpm=tuple(float(round(one.speed_rpm, PLACES["speed_rpm"])) for one in shown),
        **marks,
    )
