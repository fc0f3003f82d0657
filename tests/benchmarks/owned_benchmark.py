"""How often the comparison of an owner's readings names what is truly wrong, on hidden owners of engines that the
tables do not know.

`python -m tests.benchmarks.owned_benchmark FOLDER` (after `tests.benchmarks.hidden_owners FOLDER`) prints every figure.
Reading errors, gaps, misheard words and severities are guesses of ours: the figures hold for them alone.
"""

from __future__ import annotations

import sys
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from engine_sim.owned.causes import HEALTHY
from engine_sim.owned.description import OwnedEngine, owned_from
from engine_sim.owned.evidence import evidence_of
from engine_sim.owned.likelihood import odds
from engine_sim.owned.observe import Observation
from engine_sim.owned.tables import LIGHT, WORDS, Tables, load_tables
from tests.benchmarks.hidden_owners import hidden_engine, read_all

GAUGE, LIGHTS, SAID = "gauge and tachometer", "with the light", "with words"
LEVELS = (GAUGE, LIGHTS, SAID)
GAUGE_INHG, TACHOMETER_SHARE, LIGHT_COMMON_DEG = 0.4, 0.025, 1.0  # one standard deviation of each instrument
EYE_INHG, EYE_RPM, LIGHT_DEG = 0.25, 8.0, 0.8  # and of each reading
MISSING, MISHEARD = 0.08, 0.10
OF_LEVEL = {
    GAUGE: ("idle_inhg", "idle_rpm", "idle_on_inhg", "idle_on_rpm", "held_2500_inhg", "needle"),
    LIGHTS: (*(name for name in LIGHT if "3000" not in name), "mark"),
    SAID: ("runs", "misses", "smoke", "cold_start", "mild_start", "warm_start", "cranks"),
}


def reported(seen: Observation, said: OwnedEngine, level: str, name: str, errors: float = 1.0) -> OwnedEngine:
    """The description with what its owner reports at a level of readings; `errors` multiplies every error."""
    rng = np.random.default_rng([3, zlib.crc32(name.encode())])
    offset = {unit: errors * rng.normal() for unit in ("inhg", "rpm", "deg")}
    fields: dict = {}
    for of_level in LEVELS[: LEVELS.index(level) + 1]:
        for what in OF_LEVEL[of_level]:
            missing, error, other = rng.random() < MISSING, rng.normal(), rng.random()
            heard = WORDS[what][int(rng.integers(len(WORDS[what])))] if what in WORDS else None
            if missing:
                continue
            if what in seen.numbers:
                fields[what] = _read(what, seen.numbers[what], errors * error, offset)
            elif what in seen.words:
                fields[what] = heard if other < errors * MISHEARD else seen.words[what]
    _one_cold_start(fields, rng)
    return said.model_copy(update={"readings": owned_from({"readings": fields}).readings})


def _read(what: str, true: float, error: float, offset: dict[str, float]) -> float:
    """A reading with the instrument's own error and the eye's, rounded as a scale is read."""
    unit = what.rsplit("_", 1)[1]
    if unit == "inhg":
        return max(round(4.0 * (true + GAUGE_INHG * offset[unit] + EYE_INHG * error)) / 4.0, 0.0)
    if unit == "rpm":
        return max(10.0 * round((true * (1.0 + TACHOMETER_SHARE * offset[unit]) + EYE_RPM * error) / 10.0), 250.0)
    return float(np.clip(round(true + LIGHT_COMMON_DEG * offset[unit] + LIGHT_DEG * error), -30.0, 80.0))


def _one_cold_start(fields: dict, rng: np.random.Generator) -> None:
    """An owner tells of one cold start: of a cold morning or a mild one, and of its air in two cases of three."""
    cold, mild = fields.pop("cold_start", None), fields.pop("mild_start", None)
    on_cold_morning, tells_air = rng.random() < 0.5, rng.random() < 0.67
    word = cold if on_cold_morning else mild
    if word is not None:
        fields["cold_start"] = word
        if tells_air:
            fields["cold_start_air_c"] = 5.0 if on_cold_morning else 20.0


@dataclass
class Score:
    """Shares [%] of a set of owners, healthy counted as one of the hypotheses that are ranked."""

    said: str
    first: list[bool]
    in_three: list[bool]
    healthy_healthy: list[bool]
    faulty_healthy: list[bool]
    confidence: list[tuple[float, bool]]

    @classmethod
    def empty(cls, said: str) -> Score:
        """No owner yet."""
        return cls(said, [], [], [], [], [])

    def add(self, cause: str, shares: dict[str, float]) -> None:
        """One owner."""
        order = sorted(shares, key=lambda name: -shares[name])
        self.confidence += [(share, name == cause) for name, share in shares.items()]
        if cause == HEALTHY:
            self.healthy_healthy.append(order[0] == HEALTHY)
            return
        self.first.append(order[0] == cause)
        self.in_three.append(cause in order[:3])
        self.faulty_healthy.append(order[0] == HEALTHY)

    def figures(self) -> tuple[float, float, float, float]:
        """Right cause first, in three, healthy called healthy, faulty called healthy [%]."""
        parts = (self.first, self.in_three, self.healthy_healthy, self.faulty_healthy)
        return tuple(100.0 * float(np.mean(part)) if part else float("nan") for part in parts)  # type: ignore[return-value]

    def calibration(self) -> list[tuple[float, float, int]]:
        """By tenths of the odds: their mean, the share that was right [%], and how many."""
        pairs = np.array(self.confidence, float)
        told = []
        for low in np.arange(0.0, 1.0, 0.1):
            inside = (pairs[:, 0] >= low) & (pairs[:, 0] < low + 0.1 + (low > 0.85))
            if inside.sum():
                told.append((100 * pairs[inside, 0].mean(), 100 * pairs[inside, 1].mean(), int(inside.sum())))
        return told

    def line(self) -> str:
        """The figures as a line."""
        first, three, good, missed = self.figures()
        count = len(self.first) + len(self.healthy_healthy)
        shown = f"first {first:5.1f}  in three {three:5.1f}  healthy {good:5.1f}  faulty called healthy {missed:5.1f}"
        return f"{self.said:44s} {shown}  ({count})"


Owners = dict[str, tuple[str, Observation]]


def said_of(name: str) -> OwnedEngine:
    """The description of a hidden owner's engine."""
    kind, number, _ = name.split("|")
    return hidden_engine(kind, int(number))[2]


def scored(owners: Owners, tables: Tables, level: str, said: str = "", errors: float = 1.0, without: str = "") -> Score:
    """The figures of one level of readings; `without` leaves a cause out of the tables."""
    score = Score.empty(said or level)
    if without:
        kept = {name: one for name, one in tables.causes.items() if name != without}
        tables = Tables(tables.owners, tables.engines, kept, tables.pooled, tables.whole, tables.healthy)
    for name, (cause, seen) in owners.items():
        engine = reported(seen, said_of(name), level, name, errors)
        score.add(cause, odds(tables, evidence_of(engine)))
    return score


def main() -> int:
    """Print every figure."""
    owners = read_all(Path(sys.argv[1]) / "hidden.jsonl")
    tables = load_tables()
    for level in LEVELS:
        score = scored(owners, tables, level)
        print(score.line())
        print("   said and true:", ", ".join(f"{a:.0f}/{b:.0f} ({n})" for a, b, n in score.calibration()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
