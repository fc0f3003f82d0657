"""What a person perceives: gauge and tachometer with lag and wobble, and the ear. Noise is seeded and belongs to
the instruments alone: the engine does not feel it, and a judge who replays the evidence does not need it."""

from __future__ import annotations

import math

import numpy as np

from .dynamics import TICK_S, Motion
from .units import PA_PER_INHG

GAUGE_LAG_S, TACHOMETER_LAG_S = 0.25, 0.30  # common practice
GAUGE_WOBBLE_INHG, TACHOMETER_WOBBLE_RPM = 0.06, 3.0  # standard deviation on an even idle; common practice
UNEVEN_WOBBLE_INHG = 1.5  # added as the charge begins to go out
WOBBLE_MEMORY_S = 0.4
TACHOMETER_STEP_RPM = 5.0
NOISE_BLOCK = 2048
TRACE_OF_PING, CLEAR_PING, HEAVY_PING = 0.03, 0.15, 0.50  # share of cycles that ping; calibration of the ear


class Instruments:
    """Gauge, tachometer and ear of one bench. Call `follow` once a tick."""

    def __init__(self, seed: int):
        self.seed = seed
        self.vacuum_inhg = self.speed_rpm = self.ping = 0.0
        self._wobble = [0.0, 0.0]
        self._block, self._noise = -1, []

    def follow(self, motion: Motion, gauge_source_pa: float, ambient_pa: float, tick: int) -> None:
        """Let the needles move for one tick; `gauge_source_pa` is the pressure at the gauge's port."""
        vacuum = (ambient_pa - gauge_source_pa) / PA_PER_INHG
        self.vacuum_inhg += (vacuum - self.vacuum_inhg) * (TICK_S / GAUGE_LAG_S)
        self.speed_rpm += (motion.speed_rpm - self.speed_rpm) * (TICK_S / TACHOMETER_LAG_S)
        self.ping += (motion.ping_rate - self.ping) * (TICK_S / 0.3)
        first, second = self._draw(tick)
        keep = 1.0 - TICK_S / WOBBLE_MEMORY_S
        fresh = math.sqrt(1.0 - keep * keep)
        self._wobble[0] = keep * self._wobble[0] + fresh * first
        self._wobble[1] = keep * self._wobble[1] + fresh * second

    def _draw(self, tick: int) -> tuple[float, float]:
        block, place = divmod(tick, NOISE_BLOCK)
        if block != self._block:
            self._block = block
            self._noise = np.random.default_rng([self.seed, block]).standard_normal((NOISE_BLOCK, 2)).tolist()
        return self._noise[place]

    def vacuum_shown_inhg(self, motion: Motion) -> float:
        """What the needle of the vacuum gauge shows [inHg]."""
        if motion.speed_rad_s == 0.0:
            return max(self.vacuum_inhg, 0.0)
        wobble = GAUGE_WOBBLE_INHG + UNEVEN_WOBBLE_INHG * motion.misfire
        return max(self.vacuum_inhg + wobble * self._wobble[0] * min(self.vacuum_inhg / 5.0, 1.0), 0.0)

    def speed_shown_rpm(self, motion: Motion) -> float:
        """What the tachometer shows [rpm], in steps of 5."""
        wobble = TACHOMETER_WOBBLE_RPM * self._wobble[1] if motion.speed_rad_s else 0.0
        return max(TACHOMETER_STEP_RPM * round((self.speed_rpm + wobble) / TACHOMETER_STEP_RPM), 0.0)


def idle_words(motion: Motion, cranking: bool) -> str:
    """How the engine sounds, in words."""
    if motion.speed_rad_s == 0.0:
        return "silent"
    if cranking:
        return "cranking"
    if motion.speed_rpm < 480:
        return "labours and is close to stalling"
    return "stumbles" if motion.misfire > 0.25 else "runs unevenly" if motion.misfire > 0.02 else "runs evenly"


def ping_words(rate: float) -> str:
    """How much ping the ear makes out, from the share of cycles that ping."""
    if rate < TRACE_OF_PING:
        return "no ping"
    if rate < CLEAR_PING:
        return "a trace of ping"
    return "clear ping" if rate < HEAVY_PING else "heavy ping"
