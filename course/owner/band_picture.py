"""The bands as a picture: a scale for each, the band on it, and what was read. It is HTML: letters keep their size."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

MARGIN = 0.45  # of the band's width, on each side of all that is shown
NARROWEST = 1e-6


@dataclass(frozen=True)
class ShownBand:
    """One band: its title, unit, lower and upper end, and what was read, where something was."""

    title: str
    unit: str
    low: float
    high: float
    read: float | None = None

    @property
    def words(self) -> str:
        """The same in words."""
        said = f"{self.title}: {self.shown(self.low)} to {self.shown(self.high)} {self.unit}"
        return said if self.read is None else f"{said}; read: {self.shown(self.read)}, {self.place}"

    def shown(self, value: float) -> str:
        """A value on the scale: vacuum to a tenth, degrees and octane numbers whole, as they are read."""
        return f"{value:.1f}" if self.unit in ("inHg", "kPa") else f"{value:.0f}"

    @property
    def place(self) -> str:
        """Where the reading lies; empty where nothing was read."""
        if self.read is None:
            return ""
        return "below it" if self.read < self.low else "above it" if self.read > self.high else "within it"


def band_picture(bands: Sequence[ShownBand]) -> str:
    """The picture as HTML that the pages style; its words are a list beside it."""
    return f'<div class="ow-bands" aria-hidden="true">{"".join(map(_row, bands))}</div>'


def _row(band: ShownBand) -> str:
    shown = [band.low, band.high, *([] if band.read is None else [band.read])]
    margin = MARGIN * max(band.high - band.low, NARROWEST)
    first, last = min(shown) - margin, max(shown) + margin

    def percent(value: float) -> str:
        return f"{100 * (value - first) / (last - first):.1f}%"

    share = f"{100 * (band.high - band.low) / (last - first):.1f}%"
    parts = [
        f'<span class="band" style="left:{percent(band.low)};width:{share}"></span>',
        f'<span class="end" style="left:{percent(band.low)}">{band.shown(band.low)}</span>',
        f'<span class="end" style="left:{percent(band.high)}">{band.shown(band.high)}</span>',
    ]
    if band.read is not None:
        parts.append(f'<span class="read" style="left:{percent(band.read)}"></span>')
        parts.append(f'<span class="said" style="left:{percent(band.read)}">read {band.shown(band.read)}</span>')
    title = f"{html.escape(band.title)}, {html.escape(band.unit)}"
    return f'<div><p>{title}</p><div class="scale">{"".join(parts)}</div></div>'
