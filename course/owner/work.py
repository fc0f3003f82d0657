"""Everything that is worked out of one description: what to expect, how to start, the distributor, the comparison."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from engine_sim.owned.compare import OwnedComparison, compare
from engine_sim.owned.description import OwnedEngine
from engine_sim.owned.distributor import Suitability, suits
from engine_sim.owned.expect import Expected, expected
from engine_sim.owned.nominal import octane_ron
from engine_sim.owned.starting import StartingFigure, starting_figure
from engine_sim.physics.units import KPA_PER_INHG

from .band_picture import ShownBand

Progress = Callable[[str], None]
DRAWN = ("idle", "idle_beside_held", "end", "total", "octane")  # bands with a scale; evenness is a share


@dataclass(frozen=True)
class Worked:
    """The four answers about one engine."""

    expected: Expected
    start: StartingFigure
    suits: Suitability
    comparison: OwnedComparison


def work_out(engine: OwnedEngine, progress: Progress | None = None) -> Worked:
    """Work out all four; `progress` is told what is under way. Raises DescriptionError where cylinders or displacement
    are lacking."""
    return Worked(
        expected=expected(engine, progress),
        start=starting_figure(engine, progress),
        suits=suits(engine, progress),
        comparison=compare(engine, progress),
    )


def shown_bands(engine: OwnedEngine, worked: Worked, metric: bool = False) -> tuple[ShownBand, ...]:
    """The bands that have a scale, each with what was read of it, in the chosen system of units."""
    read = engine.readings
    idle = None if read.idle_inhg is None else read.idle_inhg - (read.gauge_error_inhg or 0.0)
    found = {
        "idle": idle,
        "idle_beside_held": idle,
        "total": read.light_3000_off_deg,
        "octane": octane_ron(engine),
    }
    return tuple(
        _in_units(ShownBand(one.title, one.unit, one.low, one.high, found.get(one.id)), metric)
        for one in worked.expected.bands
        if one.id in DRAWN
    )


def _in_units(band: ShownBand, metric: bool) -> ShownBand:
    """A band of vacuum in kPa, where the metric system was chosen."""
    if not metric or band.unit != "inHg":
        return band
    low, high = (round(end * KPA_PER_INHG, 1) for end in (band.low, band.high))
    return ShownBand(band.title, "kPa", low, high, None if band.read is None else band.read * KPA_PER_INHG)


def share_in_words(odds: float) -> str:
    """A share of drawn engines as a person says it."""
    return f"{100 * odds:.0f} %"
