"""A vacuum gauge as handbooks have it read: watch it at idle, then hold the engine at 2,500 rpm and watch again.

The rule is fixed, and knows only what the needle shows and how high the place lies. Its words and bands are common
practice of the trade (keys idle_vacuum_healthy, idle_vacuum_leak, idle_vacuum_gross_leak); how wide
a flick or a drift must be to be seen is ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine_sim.physics.arrays import Numbers
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet
from engine_sim.sources import published

SAMPLE_S = 0.02  # between two looks at the needle
FALLS_INHG = 0.8
FLICK_INHG = 0.15
DROP_INHG = 0.55
DRIFT_INHG = 0.19
UNSURE_INHG = 0.5
CLEARLY_INHG = 2.5  # beyond the end of a band, and no longer a matter of the engine's kind
STANDS_STILL = "stands still"
FALLS, FLICKS, DROPS, DRIFTS = "falls when held at speed", "flicks in rhythm", "drops now and then", "drifts"


def at_sea_level_inhg(vacuum_inhg: float, altitude_ft: float) -> float:
    """What a gauge that shows so much at an altitude would show at sea level: the same share of the air outside.

    >>> from engine_sim.diagnosis.needle import at_sea_level_inhg
    >>> round(at_sea_level_inhg(15.0, 5000.0), 1)
    18.0
    """
    return vacuum_inhg / float(air_share(metres_from_feet(altitude_ft)))


def at_altitude_inhg(sea_level_inhg: float, altitude_ft: Numbers) -> Numbers:
    """What a gauge that would show so much at sea level shows at an altitude, or at several."""
    return sea_level_inhg * air_share(metres_from_feet(altitude_ft))


def healthy_vacuum_inhg(altitude_ft: Numbers) -> tuple[Numbers, Numbers]:
    """Band of a healthy warm idle at an altitude, or at several [inHg].

    Keys: idle_vacuum_healthy, us_standard_atmosphere_1976.

    >>> from engine_sim.diagnosis.needle import healthy_vacuum_inhg
    >>> [tuple(round(end, 1) for end in healthy_vacuum_inhg(altitude_ft)) for altitude_ft in (0.0, 5000.0, 8000.0)]
    [(17.0, 21.0), (14.1, 17.5), (12.6, 15.6)]
    """
    band = published("idle_vacuum_healthy")
    return at_altitude_inhg(band.low, altitude_ft), at_altitude_inhg(band.high, altitude_ft)


@dataclass(frozen=True)
class NeedleSeen:
    """What was seen: vacuum [inHg] and speed [rpm] at idle, vacuum while the speed was held; and the altitude [ft]."""

    idle_inhg: np.ndarray
    speed_rpm: float
    held_inhg: np.ndarray
    altitude_ft: float

    @property
    def mean_inhg(self) -> float:
        """Mean at idle, as it would be at sea level."""
        return at_sea_level_inhg(float(self.idle_inhg.mean()), self.altitude_ft)

    def _slow(self) -> np.ndarray:
        return np.convolve(self.idle_inhg, np.ones(50) / 50, "valid")

    def _quick(self) -> np.ndarray:
        return self.idle_inhg[25:-24] - self._slow()

    @property
    def flick_inhg(self) -> float:
        """Amplitude of the swing that repeats with every turn, or every half turn, of the camshaft."""
        quick, turn_hz = self._quick(), self.speed_rpm / 120.0
        time_s = SAMPLE_S * np.arange(quick.size)
        tried = [turn_hz * whole * np.linspace(0.97, 1.03, 25) for whole in (1, 2)]
        return max(2.0 * abs(np.mean(quick * np.exp(-2j * np.pi * hz * time_s))) for hz in np.concatenate(tried))

    @property
    def drop_inhg(self) -> float:
        """Deepest short drop below the course of the needle."""
        return float(-self._quick().min())

    @property
    def drift_inhg(self) -> float:
        """Standard deviation of the needle's slow course."""
        return float(self._slow().std())

    @property
    def falls_inhg(self) -> float:
        """How far the needle falls while the speed is held."""
        second = round(1.0 / SAMPLE_S)
        return float(self.held_inhg[:second].mean() - self.held_inhg[-2 * second :].mean())


def movement(needle: NeedleSeen) -> str:
    """What the needle does, however high it stands."""
    if needle.falls_inhg > FALLS_INHG:
        return FALLS
    if needle.flick_inhg > FLICK_INHG:
        return FLICKS
    if needle.drop_inhg > DROP_INHG:
        return DROPS
    return DRIFTS if needle.drift_inhg > DRIFT_INHG else STANDS_STILL


def read(needle: NeedleSeen) -> str:
    """The handbook's word for what the needle does."""
    healthy, leak, gross = (published(f"idle_vacuum_{key}") for key in ("healthy", "leak", "gross_leak"))
    if needle.falls_inhg > FALLS_INHG:
        return FALLS
    if needle.mean_inhg < gross.high + CLEARLY_INHG:
        return "very low"
    if needle.flick_inhg > FLICK_INHG:
        return FLICKS
    if needle.mean_inhg < leak.high + 0.5 * CLEARLY_INHG:
        return "steady and low"
    if needle.drop_inhg > DROP_INHG:
        return DROPS
    if needle.drift_inhg > DRIFT_INHG:
        return DRIFTS
    return "steady and low" if needle.mean_inhg < healthy.low - UNSURE_INHG else "steady and normal"
