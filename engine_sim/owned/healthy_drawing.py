"""Draws the healthy engines on which the bands rest, each beside the healthy engine of its own description, and keeps
what is read on both.

`python -m engine_sim.owned.healthy_drawing FOLDER` draws them into FOLDER/healthy.jsonl, a line an engine, and makes
healthy_draws.json of them; broken off, it goes on where it stopped.
"""

from __future__ import annotations

import json
import os
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from engine_sim.errors import OutsideValidity
from engine_sim.model.engine import Engine
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet

from .description import OwnedEngine, owned_from
from .drawing import draw_all
from .healthy import healthy_engine, idle_at, method_of, nominal_observation
from .healthy_draws import DRAWS, KNOWN, NOT_KNOWN
from .nominal import day_of, without_readings
from .observe import observed
from .unknowns import drawn

SEED = 61
ENGINES = {KNOWN: 240, NOT_KNOWN: 157}  # so many that a band's share wanders by 2 to 3 %
LITRES = {4: (0.9, 2.6), 6: (2.0, 5.2), 8: (3.8, 7.2)}  # by cylinders, as such engines are
NUMBERS = ("idle_inhg", "idle_rpm", "light_idle_off_deg", "light_3000_off_deg", "held_2500_inhg")


def described(number: int, rng: np.random.Generator, compression_known: bool) -> OwnedEngine:
    """What the owner of the engine of that number knows: any size, from sea level to 8,000 ft."""
    cylinders = (4, 6, 8)[number % 3]
    build = {
        "cylinders": cylinders,
        "displacement_l": round(rng.uniform(*LITRES[cylinders]), 2),
        "transmission": str(rng.choice(["manual", "automatic"])),
        "cam": "as built",
    }
    if compression_known:
        build |= {"compression_by": "paper", "compression_ratio": round(rng.uniform(7.0, 10.4), 1)}
    return owned_from(
        {
            "build": build,
            "ignition": {
                "hoses": 1,
                "source": "manifold",
                "curve_by": "paper",
                "curve_in": "crank",
                "centrifugal_start_rpm": round(rng.uniform(750, 1150)),
                "centrifugal_full_rpm": round(rng.uniform(2200, 3000)),
                "centrifugal_deg": round(rng.uniform(18, 28)),
            },
            "label": {"base_deg": round(rng.uniform(4, 12)), "idle_rpm": 25 * round(rng.uniform(26, 36))},
            "place": {"altitude_ft": round(rng.uniform(0, 8000)), "air_c": round(rng.uniform(5, 30))},
        }
    )


def lines_of(group: str, number: int) -> Iterator[dict]:
    """What is read on one drawn engine and on the healthy engine of its description, as the line of the file."""
    rng = np.random.default_rng([SEED, zlib.crc32(f"{group}|{number}".encode())])
    said = described(number, rng, group == KNOWN)
    one, day = drawn(said, int(rng.integers(2**31))), day_of(said)
    engine, (healthy, table) = Engine(one.card), healthy_engine(without_readings(said))
    nominal = nominal_observation(said)[1].numbers
    read = observed(engine, one.found, one.conditions, words=False).numbers
    if not read.keys() & nominal.keys() >= set(NUMBERS):
        raise OutsideValidity("it does not run, or does not reach 3,000 rpm.")
    own = idle_at(table, read["light_idle_off_deg"], read["idle_rpm"])
    label = healthy.card.setting
    yield {
        "kind": group,
        "engine": number,
        "altitude_ft": day.altitude_ft,
        "numbers": {name: read[name] for name in NUMBERS},
        "nominal": {name: nominal[name] for name in NUMBERS},
        "set_alike_inhg": own - idle_at(table, label.label_base_timing_deg, label.idle_rpm),
        "method": method_of(engine, one.conditions),
        "nominal_method": method_of(healthy, day, table),
    }


def fitted(lines: list[dict]) -> dict:
    """The draws in their plain form: differences from the healthy engine of the description, vacuum as at sea level."""
    return {group: _columns([one for one in lines if one["kind"] == group]) for group in ENGINES}


def _columns(lines: list[dict]) -> dict:
    share = np.array([float(air_share(metres_from_feet(one["altitude_ft"]))) for one in lines])

    def read(name: str) -> np.ndarray:
        return np.array([one["numbers"][name] - one["nominal"][name] for one in lines])

    def method(name: str) -> np.ndarray:
        return np.array([np.subtract(one["method"][name], one["nominal_method"][name]) for one in lines])

    idle = read("idle_inhg") / share
    alike = np.array([one["set_alike_inhg"] for one in lines]) / share
    return {
        "idle_inhg": _rounded(idle, 2),
        "idle_set_alike_inhg": _rounded(idle - alike, 2),
        "base_deg": _rounded(read("light_idle_off_deg"), 1),
        "held_inhg": _rounded(read("held_2500_inhg") / share, 2),
        "rise_deg": _rounded(read("light_3000_off_deg") - read("light_idle_off_deg"), 1),
        "end_deg": _rounded(method("end_deg"), 1),
        "octane": _rounded(method("octane"), 1),
        "curve_inhg": [_rounded(row, 2) for row in method("inhg_curve") / share[:, None]],
        "curve_rpm": [_rounded(row, 0) for row in method("rpm_curve")],
    }


def _rounded(values: np.ndarray, digits: int) -> list[float | None]:
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]


def main() -> int:
    """Draw what is not in the file yet, and write the draws."""
    if len(sys.argv) != 2:
        print("Give a folder: python -m engine_sim.owned.healthy_drawing FOLDER")
        return 2
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["TIMING_COURSE_CACHE"] = str(folder / "maps")  # and not among a learner's own
    path = folder / "healthy.jsonl"
    draw_all(path, lines_of, [(group, number) for group, count in ENGINES.items() for number in range(count)])
    content = fitted([json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()])
    DRAWS.write_text(json.dumps(content, separators=(",", ":")) + "\n", encoding="utf-8")
    print(f"{DRAWS.name}:", *(f"{len(one['end_deg'])} engines, {group}" for group, one in content.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
