"""Owners of engines that the tables do not know: what is truly wrong, and what a perfect reader would read.

Cards lie outside the drawn kinds (the workshop's own three, a side-valve four, a long-stroke six, a small high-revving
four), with wider spreads than the tables', and the owner's description rounded, incomplete and beside the truth.
`python -m tests.benchmarks.hidden_owners FOLDER` reads all of them into FOLDER/hidden.jsonl and goes on where it
stopped; `tests.benchmarks.owned_benchmark` compares them.
"""

from __future__ import annotations

import functools
import json
import os
import sys
import time
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from course import ENGINES
from engine_sim import FAULTS, AsFound, Conditions, Engine, EngineCard, load_card
from engine_sim.errors import OutsideValidity
from engine_sim.model.card import card_from
from engine_sim.owned.causes import CAUSES, HEALTHY, strength, with_cause
from engine_sim.owned.description import OwnedEngine, owned_from
from engine_sim.owned.observe import Observation, observed
from engine_sim.owned.unknowns import ALTITUDE_FT, as_kept, draw_of, drawn_card

SEED = 47  # drawn once, after all was chosen: shares, weights, NAMED_FROM and HEALTHY_FROM with seeds 7 to 43
WIDER = 1.1  # spreads over those of the tables' engines
ENGINES_A_KIND = 10  # of each kind
HEALTHY_AN_ENGINE = 8  # healthy owners of each engine, beside one with each cause
ALTITUDES_FT = (0.0, 8000.0, 2000.0, 5000.0, 500.0)  # of the engines of a kind, in turn
CHANGED = {  # of the workshop's card that comes nearest: kinds that no card of the course is
    "delivery_truck_six": ("delivery_truck_six", {}),
    "farm_runabout_four": ("farm_runabout_four", {}),
    "hill_hauler_eight": ("hill_hauler_eight", {}),
    "side_valve_four": (
        "farm_runabout_four",
        {
            "block": {"compression_ratio": 6.3, "bore_mm": 85.0, "stroke_mm": 97.0, "rod_length_mm": 180.0},
            "burn": {"development_constant": 8700.0, "rapid_constant": 2150.0},
            "breathing": {
                "closed_throttle_area_mm2": 6.4,
                "idle_screw_area_mm2_per_turn": 2.7,
                "manifold_volume_l": 2.0,
            },
            "setting": {"label_base_timing_deg": 6.0, "idle_rpm": 700.0},
            "losses": {"accessories_nm": 2.0},
        },
    ),
    "long_stroke_six": (
        "delivery_truck_six",
        {
            "block": {"compression_ratio": 8.9, "bore_mm": 88.0, "stroke_mm": 112.0, "rod_length_mm": 200.0},
            "valves": {"overlap_factor_deg_m": 0.46, "intake_closes_deg_abdc": 57.0},
            "setting": {"label_base_timing_deg": 10.0, "idle_rpm": 750.0},
            "ignition": {"trigger": "electronic", "point_gap_mm": None},
        },
    ),
    "quick_small_four": (
        "farm_runabout_four",
        {
            "block": {"compression_ratio": 9.2, "bore_mm": 72.0, "stroke_mm": 66.0, "rod_length_mm": 120.0},
            "valves": {"overlap_factor_deg_m": 0.47, "intake_closes_deg_abdc": 57.0},
            "breathing": {
                "closed_throttle_area_mm2": 3.4,
                "idle_screw_area_mm2_per_turn": 1.4,
                "manifold_volume_l": 0.9,
            },
            "vacuum_advance": {"source": "manifold"},
            "setting": {"label_base_timing_deg": 9.0, "idle_rpm": 900.0},
            "losses": {"accessories_nm": 1.2},
        },
    ),
}


@dataclass(frozen=True)
class Hidden:
    """One owner: the kind, what is truly wrong, the engine, how it is found, the true day, and the description."""

    kind: str
    number: int
    place: int
    cause: str
    share: float
    engine: Engine
    found: AsFound
    conditions: Conditions
    said: OwnedEngine

    @property
    def name(self) -> str:
        """Tells this owner from all others."""
        return f"{self.kind}|{self.number}|{self.place}"


def card_of(kind: str) -> EngineCard:
    """The card of a kind."""
    base, changes = CHANGED[kind]
    content = load_card(ENGINES / f"{base}.toml").model_dump()
    for section, fields in changes.items():
        content[section] |= fields
    return card_from(content, kind)


def _knows_dwell(kind: str, altitude_ft: float) -> bool:
    """Whether the owner of the engine of a kind at a height knows the maker's dwell: seven of ten do."""
    return np.random.default_rng([9, SEED, zlib.crc32(kind.encode()), round(altitude_ft)]).random() < 0.7


def _said(kind: str, card: EngineCard, altitude_ft: float, rng: np.random.Generator) -> OwnedEngine:
    """What the owner knows: rounded, incomplete."""
    block, own, unit = card.block, card.distributor.weights, card.vacuum_advance
    build = {"cylinders": block.cylinders, "displacement_l": round(card.displacement_l, 1)}
    build["transmission"] = card.drive.transmission
    build["valve_gear"] = "side valves" if kind == "side_valve_four" else "overhead valves"
    known = rng.random()
    if known < 0.6:
        build |= {
            "compression_by": "paper",
            "compression_ratio": round(block.compression_ratio + 0.1 * rng.normal(), 1),
        }
    ignition: dict = {"hoses": 1, "trigger": card.ignition.trigger}
    if rng.random() < 0.95:
        ignition["source"] = unit.source
    if rng.random() < 0.8:
        halves = 2.0 if rng.random() < 0.4 else 1.0
        ignition |= {
            "curve_by": "paper",
            "curve_in": "distributor" if halves == 2.0 else "crank",
            "centrifugal_start_rpm": 50 * round(own.start_rpm / halves / 50),
            "centrifugal_full_rpm": 50 * round(own.full_rpm / halves / 50),
            "centrifugal_deg": round(own.stop_deg / halves),
            "vacuum_start_inhg": round(unit.start_inhg),
            "vacuum_full_inhg": round(unit.full_inhg),
            "vacuum_deg": round(unit.degrees / halves),
        }
    if card.ignition.trigger == "breaker points" and _knows_dwell(kind, altitude_ft):
        ignition["dwell_deg"] = round(card.ignition.dwell_deg)
    label = {"base_deg": card.setting.label_base_timing_deg} if rng.random() < 0.95 else {}
    if rng.random() < 0.95:
        label["idle_rpm"] = card.setting.idle_rpm
    place = {"altitude_ft": altitude_ft, "air_c": round(rng.uniform(5, 30))}
    return owned_from({"build": build, "ignition": ignition, "label": label, "place": place})


@functools.lru_cache(maxsize=64)
def hidden_engine(kind: str, number: int) -> tuple[EngineCard, Conditions, OwnedEngine]:
    """The true card and day of one engine, and its owner's description."""
    rng = np.random.default_rng([SEED, zlib.crc32(kind.encode()), number])
    usual, altitude = card_of(kind), ALTITUDES_FT[number % len(ALTITUDES_FT)]
    usual = card_from(usual.model_dump() | {"mixture": usual.mixture.model_dump() | {"jetted_altitude_ft": altitude}})
    said = _said(kind, usual, altitude, rng)
    for _ in range(20):
        card = drawn_card(usual, said, rng, WIDER)
        day = Conditions(max(altitude + WIDER * ALTITUDE_FT * rng.normal(), 0.0), (said.place.air_c or 20.0))
        try:
            as_kept(Engine(card), day, np.random.default_rng(1), WIDER)
        except OutsideValidity:
            continue
        return card, day, said
    raise OutsideValidity(f"No {kind} idles.")


def causes_of(kind: str, number: int) -> list[str]:
    """What is wrong with the owners of one engine, by their place."""
    card, _, _ = hidden_engine(kind, number)
    return [HEALTHY] * HEALTHY_AN_ENGINE + [name for name in CAUSES if FAULTS[name].fits(card)]


def hidden(kind: str, number: int, place: int, cause: str | None = None) -> Hidden:
    """One owner; `cause` puts another fault in that owner's engine."""
    card, day, said = hidden_engine(kind, number)
    rng = np.random.default_rng([SEED, zlib.crc32(kind.encode()), number, place])
    kept = as_kept(Engine(card), day, rng, WIDER)
    what = causes_of(kind, number)[place] if cause is None else cause
    share = strength(rng)
    engine, found = with_cause(card, kept, what, draw_of(rng), share)
    return Hidden(kind, number, place, what, share, engine, found, day, said)


def every() -> list[tuple[str, int, int]]:
    """Kind, number and place of all hidden owners."""
    return [
        (kind, number, place)
        for number in range(ENGINES_A_KIND)
        for kind in CHANGED
        for place in range(len(causes_of(kind, number)))
    ]


def read_all(path: Path) -> dict[str, tuple[str, Observation]]:
    """Cause and perfect readings of the owners that were read, by name."""
    lines = map(json.loads, path.read_text(encoding="utf-8").splitlines())
    return {line["name"]: (line["cause"], Observation(line["numbers"], line["words"])) for line in lines}


def main() -> int:
    """Read what is not in the file yet."""
    path = Path(sys.argv[1]) / "hidden.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    os.environ["TIMING_COURSE_CACHE"] = str(path.parent / "maps")
    done = set(read_all(path)) if path.exists() else set()
    began, owners = time.monotonic(), every()
    for count, (kind, number, place) in enumerate(owners):
        if f"{kind}|{number}|{place}" in done:
            continue
        one = hidden(kind, number, place)
        seen = observed(one.engine, one.found, one.conditions)
        numbers = {name: round(value, 3) for name, value in seen.numbers.items()}
        line = {"name": one.name, "cause": one.cause, "share": one.share, "numbers": numbers, "words": seen.words}
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(line) + "\n")
        if count % 50 == 0:
            print(f"{count} of {len(owners)} owners, {time.monotonic() - began:.0f} s", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
