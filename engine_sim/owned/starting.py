"""The starting figure for an engine without papers, reasoned: common practice, which the simulation may only lower.

No base above 12 and no total above 36 crank degrees is given here, unless the maker's own figure was typed in: it is
then repeated as the maker's, and not as ours.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from engine_sim.sources import published

from .description import OwnedEngine
from .expect import end_band
from .nominal import compression_ratio
from .words_for import ALWAYS

HIGHEST_BASE_DEG = 12.0  # given or printed where the maker's own figure was not typed in; common practice, no source
HIGHEST_TOTAL_DEG = 36.0  # the same of the total without vacuum
TO_START_DEG = (6.0, 8.0)  # static; common practice
KICKS_START_DEG = (0.0, 4.0)  # static, where it kicks or drags; common practice
FIRST_RUNNING_DEG = 12.0  # at most, hose off and plugged, at 8.5 : 1 or less; common practice
TIGHT_FIRST_DEG = 8.0  # at most, above that compression or where it is not known
TIGHT_FROM = 8.5  # common practice
USABLE_DEG = (2.0, 12.0)  # crank degrees BTDC; the span of practice for a base; common practice
TOTAL_DEG = published("total_before_first_pull").value  # at most without vacuum at 3,000 rpm
UNKNOWN_TOTAL_DEG = 30.0  # in a chamber that is not known
STEP_DEG = 2.0
Progress = Callable[[str], None]


@dataclass(frozen=True)
class StartingFigure:
    """Crank degrees BTDC: to start it (low, high), the most to begin running with, and the most without vacuum at 3,000
    rpm before a wide-open pull; `by_maker` where the maker's figures were typed in. `reasons`, `to_go_on` and
    `stop_when` are sentences in the order of work."""

    to_start_deg: tuple[float, float]
    first_running_deg: float
    total_at_most_deg: float
    by_maker: bool
    reasons: tuple[str, ...]
    to_go_on: tuple[str, ...]
    stop_when: tuple[str, ...]


def starting_figure(engine: OwnedEngine, progress: Progress | None = None) -> StartingFigure:
    """The starting figure of an engine, with its grounds. Works without cylinders or size too, by practice alone."""
    reasons = []
    label = engine.label
    trusted = label.trusted is not False and engine.ignition.distributor_from != "another engine"
    by_maker = label.base_deg is not None and trusted
    kicks = engine.readings.cranks in ("kicks back", "cranks slowly")
    start = KICKS_START_DEG if kicks else TO_START_DEG
    if kicks:
        reasons.append("It kicks or drags: begin late, at 0 to 4 degrees by a test lamp at rest. Common practice.")
    else:
        reasons.append("To start it: 6 to 8 degrees by a test lamp at rest. Common practice.")
    if by_maker and label.base_deg is not None:
        first = label.base_deg
        reasons.append(f"First running figure: the maker's base of {first:g} degrees, which was typed in.")
    else:
        if progress:
            progress("The simulation is asked whether to begin lower …")
        first = _lowered(engine, _first(engine, reasons), reasons)
    total = _total(engine, by_maker, reasons)
    start = (min(start[0], first), min(start[1], first))
    return StartingFigure(
        to_start_deg=start,
        first_running_deg=first,
        total_at_most_deg=total,
        by_maker=by_maker,
        reasons=tuple(reasons),
        to_go_on=_to_go_on(total),
        stop_when=_stop_when(),
    )


def _first(engine: OwnedEngine, reasons: list[str]) -> float:
    ratio = compression_ratio(engine)
    if ratio is not None and ratio <= TIGHT_FROM:
        reasons.append(
            f"First running figure: up to {FIRST_RUNNING_DEG:g} degrees, hose off and plugged, since {ratio:.1f} : 1 "
            "is a low compression. Common practice."
        )
        return FIRST_RUNNING_DEG
    known = "is not known" if ratio is None else f"is {ratio:.1f} : 1"
    reasons.append(
        f"First running figure: up to {TIGHT_FIRST_DEG:g} degrees, hose off and plugged, since the compression "
        f"{known}. Common practice."
    )
    return TIGHT_FIRST_DEG


def _lowered(engine: OwnedEngine, first: float, reasons: list[str]) -> float:
    """The simulation may only lower: where drawn engines end below the figure, to the middle of their band."""
    if engine.lacking:
        reasons.append("Cylinders or size are not known, so that nothing was simulated: this is practice alone.")
        return first
    low, high, _ = end_band(engine)
    middle = max(round(0.5 * (low + high)), USABLE_DEG[0])
    if middle >= first:
        reasons.append("Engines drawn like yours end no lower on the whole: the simulation changes nothing.")
        return first
    reasons.append(
        f"Engines drawn like yours end lower, about the middle of {low:.0f} to {high:.0f}: so begin at {middle:g}, and "
        "let your own gauges decide. The simulation only lowers this figure."
    )
    return float(middle)


def _total(engine: OwnedEngine, by_maker: bool, reasons: list[str]) -> float:
    label = engine.label
    if label.total_deg is not None and by_maker:
        reasons.append(f"Total without vacuum: the maker's {label.total_deg:g} degrees, as typed in.")
        return label.total_deg
    known = compression_ratio(engine) is not None and engine.build.valve_gear is not None
    total = TOTAL_DEG if known else UNKNOWN_TOTAL_DEG
    why = "" if known else ", since compression or chamber is not known"
    reasons.append(f"Total without vacuum at 3,000 rpm: at most {total:g} degrees by the light{why}. Common practice.")
    return min(total, HIGHEST_TOTAL_DEG)


def _to_go_on(total: float) -> tuple[str, ...]:
    return (
        "It runs and is warm: hose off and plugged, base read by the light, and written down.",
        f"Total by the light at 3,000 rpm, hose off and plugged: at most {total:g} degrees, before any wide-open pull.",
        "Then the method by gauges, if the curve of this distributor suits the engine.",
        f"Then the road, within the law. It pings: throttle shut at once, {STEP_DEG:g} degrees back, drive again.",
    )


def _stop_when() -> tuple[str, ...]:
    return (
        "It kicks against the starter: stop, 4 degrees later.",
        "It pings at 6 degrees still: the curve or the fuel does not suit, and not the base. Stop there.",
        "The exhaust glows, the coolant boils, petrol drips, or a reading jumps: ignition off.",
        ALWAYS,
    )
