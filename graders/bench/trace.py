"""What an attempt at the bench looked like: its speed and vacuum over the timing that was searched, or over time."""

from __future__ import annotations

from collections.abc import Sequence

from graders.outcome import Trace
from graders.schema import Criterion

from .attempt import Attempt

ENDED = "where_it_ended"  # the check that judges the end of a search
MOST_POINTS = 240  # a line with more looks the same
FEWEST_POINTS = 2  # fewer make no line
PLACES = {"along": 2, "vacuum_inhg": 2, "speed_rpm": 0}  # decimals; finer than the eye sees in the picture
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
        }
        return _trace(
            "timing",
            attempt.search,
            lambda sample: sample.base_timing_deg - found_deg,
            **{name: round(deg - found_deg, PLACES["along"]) for name, deg in marks.items()},
        )
    running = [sample for sample in attempt.trajectory.samples if sample.running]
    if len(running) < FEWEST_POINTS:
        return None
    acts = tuple(
        round(one.time_s, TIME_PLACES) for one in attempt.done if running[0].time_s <= one.time_s <= running[-1].time_s
    )
    return _trace("time", running, lambda sample: sample.time_s, acts=acts)


def _trace(over: str, samples: list, along, **marks) -> Trace:
    shown = [*samples[:: -(-len(samples) // MOST_POINTS)], samples[-1]]
    return Trace(
        over=over,
        along=tuple(round(along(one), PLACES["along"]) for one in shown),
        vacuum_inhg=tuple(round(one.vacuum_inhg, PLACES["vacuum_inhg"]) for one in shown),
        speed_rpm=tuple(float(round(one.speed_rpm, PLACES["speed_rpm"])) for one in shown),
        **marks,
    )
