"""Each learner's own engine: how it was found, drawn by a stable hash of class, learner and lesson."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

FOUND_LATE_DEG, FOUND_EARLY_DEG = (-3.0, 2.0), (14.0, 20.0)
FOUND_SPEED_SCREW_TURNS = (1.9, 2.7)
TIGHTEN_SHIFT_DEG = (0.2, 0.6)


@dataclass(frozen=True)
class AsFound:
    """How the engine stands when the learner walks up to it.

    `tighten_shift_deg` is how far the setting creeps (crank degrees) each time the clamp is tightened; `seed` feeds
    the wobble of the instruments.
    """

    base_timing_deg: float = 0.0
    idle_screw: float = 2.3
    tighten_shift_deg: float = 0.0
    seed: int = 0


def as_found(card, class_id: str, learner: str, lesson: str) -> AsFound:
    """Draw how this learner finds this engine; the same words always give the same engine."""
    draw = _Draw(f"{card.name}|{class_id}|{learner}|{lesson}")
    low, high = FOUND_LATE_DEG if draw.share() < 0.5 else FOUND_EARLY_DEG
    base = round(low + (high - low) * draw.share(), 2)
    screw = round(FOUND_SPEED_SCREW_TURNS[0] + (FOUND_SPEED_SCREW_TURNS[1] - FOUND_SPEED_SCREW_TURNS[0]) * draw.share(), 2)
    shift = TIGHTEN_SHIFT_DEG[0] + (TIGHTEN_SHIFT_DEG[1] - TIGHTEN_SHIFT_DEG[0]) * draw.share()
    sign = -1.0 if draw.share() < 0.5 else 1.0
    return AsFound(base, screw, round(sign * shift, 3), draw.integer())


class _Draw:
    """Numbers from a text, the same on every machine and for ever."""

    def __init__(self, text: str):
        self._text, self._count = text, 0

    def integer(self) -> int:
        self._count += 1
        return int.from_bytes(hashlib.sha256(f"{self._text}#{self._count}".encode()).digest()[:6], "big")

    def share(self) -> float:
        return self.integer() / 2**48
