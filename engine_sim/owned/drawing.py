"""Draws the owners from whom the stored tables are made: engines of several kinds round descriptions, each healthy
and with every cause, and what would be read on each beside the healthy engine of the description.

`python -m engine_sim.owned.drawing FOLDER` draws and keeps one line an owner in FOLDER/owners.jsonl; broken off, it
goes on where it stopped. `python -m engine_sim.owned.fitting FOLDER` then makes the tables.
"""

from __future__ import annotations

import json
import os
import sys
import time
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from engine_sim.diagnosis.faults import FAULTS
from engine_sim.diagnosis.inspections import INSPECTIONS
from engine_sim.errors import OutsideValidity
from engine_sim.model.conditions import Conditions
from engine_sim.model.engine import Engine
from engine_sim.model.population import AsFound, Draw

from .causes import CAUSES, HEALTHY, side_of, strength, with_cause
from .description import OwnedEngine, owned_from
from .healthy import nominal_observation
from .nominal import day_of
from .observe import observed
from .unknowns import DrawnEngine, as_kept, draw_of, drawn

SEED = 20  # of all that is drawn
ENGINES_A_KIND = 12  # of each kind: 60 engines, 1,860 owners; of 40 fewer causes were named first, of 90 as many
INSPECTED_A_KIND = 6  # of these, engines on which every inspection is made: 30 engines
HEALTHY_AN_ENGINE = 4  # healthy owners of each engine, beside one with each cause
ALTITUDES_FT = (0.0, 1000.0, 3000.0, 5500.0, 8000.0)  # of the engines of a kind, in turn
KINDS: dict[str, dict] = {  # as such engines are; of no maker
    "small four": {"cylinders": 4, "displacement_l": 1.3, "transmission": "manual"},
    "large four": {"cylinders": 4, "displacement_l": 2.2, "transmission": "manual"},
    "six": {"cylinders": 6, "displacement_l": 3.7, "transmission": "automatic"},
    "small eight": {"cylinders": 8, "displacement_l": 4.7, "transmission": "automatic"},
    "large eight": {"cylinders": 8, "displacement_l": 6.4, "transmission": "automatic"},
}
LEFT_OUT_INSPECTIONS = ("crankcase_valve",)  # its faults are left out too


def described(kind: str, number: int, rng: np.random.Generator) -> OwnedEngine:
    """What the owner of the engine of that number knows: nearly everything but its wear."""
    return owned_from(
        {
            "build": KINDS[kind] | {"compression_by": "paper", "compression_ratio": round(rng.uniform(7.2, 9.2), 1)},
            "ignition": {
                "hoses": 1,
                "source": ("manifold", "ported")[number % 2],
                "curve_by": "paper",
                "curve_in": "crank",
                "centrifugal_start_rpm": round(rng.uniform(750, 1150)),
                "centrifugal_full_rpm": round(rng.uniform(2200, 3200)),
                "centrifugal_deg": round(rng.uniform(18, 28)),
                "vacuum_start_inhg": round(rng.uniform(4, 7), 1),
                "vacuum_full_inhg": round(rng.uniform(11, 15), 1),
                "vacuum_deg": round(rng.uniform(11, 20)),
            },
            "label": {"base_deg": round(rng.uniform(5, 11)), "idle_rpm": 25 * round(rng.uniform(28, 35))},
            "place": {"altitude_ft": ALTITUDES_FT[number % len(ALTITUDES_FT)], "air_c": round(rng.uniform(5, 30))},
        }
    )


@dataclass(frozen=True)
class DrawnOwner:
    """One owner of an engine: what is wrong, the engine and how it is found, on the true day."""

    cause: str
    side: str
    share: float
    engine: Engine
    found: AsFound
    conditions: Conditions


def of_one_engine(kind: str, number: int, seed: int = SEED) -> tuple[OwnedEngine, DrawnEngine, Iterator[DrawnOwner]]:
    """The description, the healthy engine drawn round it, and its owners: healthy ones and one with each cause."""
    rng = np.random.default_rng([seed, zlib.crc32(f"{kind}|{number}".encode())])
    said = described(kind, number, rng)
    one = drawn(said, int(rng.integers(2**31)))

    def owners() -> Iterator[DrawnOwner]:
        causes = [HEALTHY] * HEALTHY_AN_ENGINE + [name for name in CAUSES if FAULTS[name].fits(one.card)]
        for place, cause in enumerate(causes):
            kept = as_kept(Engine(one.card), one.conditions, rng) if place else one.found
            share = strength(rng)
            engine, found = with_cause(one.card, kept, cause, draw_of(rng), share)
            yield DrawnOwner(cause, side_of(engine, found, kept, cause), share, engine, found, one.conditions)

    return said, one, owners()


def lines_of(kind: str, number: int) -> Iterator[dict]:
    """What is read on every owner's engine, as lines of the file."""
    said, _, owners = of_one_engine(kind, number)
    nominal = nominal_observation(said)[1]
    line = {"kind": kind, "engine": number, "altitude_ft": day_of(said).altitude_ft, "nominal": nominal.numbers}
    for owner in owners:
        seen = observed(owner.engine, owner.found, owner.conditions)
        rounded = {name: round(value, 2) for name, value in seen.numbers.items()}
        whose = {"cause": owner.cause, "side": owner.side, "share": round(owner.share, 2)}
        yield line | whose | {"numbers": rounded, "words": seen.words}


def inspected(kind: str, number: int) -> Iterator[dict]:
    """What every inspection finds on every owner's engine, as lines of the file."""
    _, _, owners = of_one_engine(kind, number)
    for place, owner in enumerate(owners):
        if 0 < place < HEALTHY_AN_ENGINE:
            continue
        looked = {}
        for name, one in INSPECTIONS.items():
            if name not in LEFT_OUT_INSPECTIONS:
                draw = Draw(f"{kind}|{number}|{place}|{name}")
                looked[name] = bool(one.look(owner.engine, owner.found, owner.conditions, draw).in_order)
        yield {"kind": kind, "engine": number, "cause": owner.cause, "in_order": looked}


def _done(path: Path) -> set[tuple[str, int]]:
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return {(line["kind"], line["engine"]) for line in map(json.loads, lines) if line.get("last")}


def draw_all(path: Path, make: Callable[[str, int], Iterator[dict]], every: list[tuple[str, int]]) -> None:
    """Append the lines of every engine that is not in the file yet, and say how far it is."""
    done, began = _done(path), time.monotonic()
    for place, (kind, number) in enumerate(every):
        if (kind, number) in done:
            continue
        try:
            made = list(make(kind, number))
        except OutsideValidity as error:
            print(f"{kind} {number} is left out: {error}")
            continue
        made[-1]["last"] = True
        with path.open("a", encoding="utf-8") as file:
            file.writelines(json.dumps(line) + "\n" for line in made)
        print(f"{path.name}: {place + 1} of {len(every)} engines, {time.monotonic() - began:.0f} s", flush=True)


def main() -> int:
    """Draw what is not in the files yet."""
    if len(sys.argv) != 2:
        print("Give a folder: python -m engine_sim.owned.drawing FOLDER")
        return 2
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["TIMING_COURSE_CACHE"] = str(folder / "maps")  # and not among a learner's own
    every = [(kind, number) for number in range(ENGINES_A_KIND) for kind in KINDS]
    draw_all(folder / "owners.jsonl", lines_of, every)
    draw_all(folder / "inspections.jsonl", inspected, [(kind, n) for n in range(INSPECTED_A_KIND) for kind in KINDS])
    return 0


if __name__ == "__main__":
    sys.exit(main())
