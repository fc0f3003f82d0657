"""What the browser's sound is made of: firings and pings as the engine has them, a few times a second."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine_sim import Readings

TOLD_EVERY_S = 0.12
WANTED_FOR_S = 15.0  # a page that listens says so again with every heartbeat


class SoundTeller:
    """Gathers readings and gives out what to sound, at most once in `TOLD_EVERY_S` seconds of engine time.

    It is silent unless a page asked for it within the last `WANTED_FOR_S` seconds of engine time.
    """

    def __init__(self):
        self._wanted_until_s = float("-inf")
        self._told_s = float("-inf")
        self._pings: list[float] = []

    def want(self, now_s: float) -> None:
        """A page listens, at `now_s` on the engine's clock."""
        self._wanted_until_s = now_s + WANTED_FOR_S

    def tell(self, readings: Readings) -> dict | None:
        """The message for the browser, or None where nothing is due: `firing_hz` [1/s], `beats` (the strength of
        each cylinder's last firing, 1 is even), `pings` (loudness 0 to 1 of each) within the last `span_s` [s]."""
        if readings.time_s > self._wanted_until_s:
            self._pings.clear()
            return None
        self._pings.extend(readings.pings)
        span_s = readings.time_s - self._told_s
        if 0.0 <= span_s < TOLD_EVERY_S:
            return None
        self._told_s, pings = readings.time_s, self._pings[:]
        self._pings.clear()
        return {
            "firing_hz": round(float(readings.firing_hz), 2),
            "cranking": bool(readings.cranking),
            "beats": [round(float(beat), 2) for beat in readings.beats],
            "pings": [round(float(ping), 2) for ping in pings],
            "span_s": min(max(span_s, TOLD_EVERY_S), 0.5),
        }
