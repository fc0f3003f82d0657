"""The ways of a whole class at the bench, laid over each other: vacuum and speed over the base timing.

Every engine is another, so the timing is counted from where the method leads on the learner's own. The judge kept each
way with its verdict: nothing that a learner handed in is read or replayed again.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from engine_sim.physics.units import KPA_PER_INHG
from graders.bench.trace import ENDED
from graders.exercises.kinds.exercise import Exercise
from graders.nbgrader_bridge.trace_picture import read_trace
from graders.outcome import Outcome
from graders.palette import chart_style


@dataclass(frozen=True)
class Way:
    """One learner's search at the bench, by samples: timing [crank deg from where the method leads; advance is more],
    vacuum [inHg] and speed [rpm]; how far off it ended, how far the peak lies, and whether the end met the
    criterion."""

    learner: str
    off_deg: tuple[float, ...]
    vacuum_inhg: tuple[float, ...]
    speed_rpm: tuple[float, ...]
    ended_off_deg: float
    peak_off_deg: float
    as_wanted: bool

    @property
    def highest_vacuum_inhg(self) -> float:
        """The highest vacuum that was reached [inHg]."""
        return max(self.vacuum_inhg)

    @property
    def highest_vacuum_kpa(self) -> float:
        """The same [kPa]."""
        return self.highest_vacuum_inhg * KPA_PER_INHG


def way_of(exercise: Exercise, learner: str, found: Mapping) -> Way | None:
    """The way in the attempt that counts, from the judge's record of this exercise. None where the distributor was
    never turned on the running engine, where the work could not be judged, or where an edition of the course judged it
    that kept no such way."""
    trace = read_trace(found.get("trace"))
    if trace is None or trace.over != "timing":
        return None
    peak, method, left_at = trace.peak, trace.method, trace.left_at
    if peak is None or method is None or left_at is None:
        return None
    ended = next(one.id for one in exercise.tables_with_points() if one.check == ENDED)
    met = {one["criterion"] for one in found.get("criteria", ()) if one["outcome"] == Outcome.MET.value}
    return Way(
        learner=learner,
        off_deg=tuple(deg - method for deg in trace.along),
        vacuum_inhg=trace.vacuum_inhg,
        speed_rpm=trace.speed_rpm,
        ended_off_deg=left_at - method,
        peak_off_deg=peak - method,
        as_wanted=ended in met,
    )


def picture(ways: Sequence[Way], theme: Mapping[str, str]) -> bytes:
    """All ways laid over each other, as a PNG in the colours of a theme; the same ways give the same bytes."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context(chart_style(theme)):
        figure = Figure(figsize=(9.0, 7.0), layout="constrained")
        upper, lower = figure.subplots(2, 1, sharex=True)
        for axis, role, values in (
            (upper, "vacuum", lambda way: way.vacuum_inhg),
            (lower, "speed", lambda way: way.speed_rpm),
        ):
            _draw(axis, ways, values, theme[role], theme)
        upper.set_ylabel("vacuum, inHg")
        kilopascal = upper.secondary_yaxis(
            "right", functions=(lambda inhg: inhg * KPA_PER_INHG, lambda kpa: kpa / KPA_PER_INHG)
        )
        kilopascal.set_ylabel("kPa")
        lower.set(
            ylabel="speed, rpm", xlabel="base timing, crank degrees from where the method leads (later < 0 < earlier)"
        )
        upper.set_title("Everybody's search, hose off: ● ended as wanted, ◇ did not")
        drawn = io.BytesIO()
        figure.savefig(drawn, format="png", dpi=110, metadata={"Software": None})
    return drawn.getvalue()


def _draw(axis, ways: Sequence[Way], values, colour: str, theme: Mapping[str, str]) -> None:
    for way in ways:
        axis.plot(way.off_deg, values(way), color=colour, alpha=0.45, linewidth=1.0)
        axis.plot(
            way.off_deg[-1],
            values(way)[-1],
            "o" if way.as_wanted else "D",
            color=theme["ink"],
            markersize=6,
            markerfacecolor=theme["ink"] if way.as_wanted else theme["paper"],
            zorder=3,
        )
    peak = sum(way.peak_off_deg for way in ways) / len(ways)
    for place, words in ((0.0, "the method leads here"), (peak, "highest vacuum, on average")):
        axis.axvline(place, color=theme["edge"], linestyle=":", linewidth=1.2, zorder=0)
        axis.annotate(
            words,
            (place, 0.02),
            (4, 0),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            color=theme["quiet"],
            fontsize=9,
        )


def picture_address(ways: Sequence[Way], theme: Mapping[str, str]) -> str:
    """The picture as an address that holds it, so that the page needs nothing else."""
    return "data:image/png;base64," + base64.b64encode(picture(ways, theme)).decode()


def in_words(ways: Sequence[Way]) -> str:
    """The text alternative of the picture."""
    wanted = [way for way in ways if way.as_wanted]
    late = sum(way.ended_off_deg < 0 for way in ways if not way.as_wanted)
    early = len(ways) - len(wanted) - late
    short = sum(max(way.off_deg) < way.peak_off_deg - 4.0 for way in ways)
    return (
        f"Vacuum and speed over base timing for {len(ways)} learner(s), counted from where the method leads. "
        f"{len(wanted)} ended as wanted, {late} too late, {early} too early; {short} turned back more than 4 "
        "degrees before the highest vacuum. The table below has the figures."
    )
