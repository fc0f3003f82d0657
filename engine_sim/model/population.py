"""Each learner's own engine: a variant of a card, and how it was found, by a stable hash of class, learner and lesson.

The ranges and correlations stand in population.toml. Normal numbers come from the hash by the inverse of the normal
distribution, correlated by the Cholesky factor of the declared matrix, so that every machine draws the same engine.
"""

from __future__ import annotations

import functools
import hashlib
import tomllib
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from .card import EngineCard

TABLE = Path(__file__).with_name("population.toml")
SIGNIFICANT_DIGITS = 4  # of every figure of a variant, as a maker would print it
USUAL_AREA_MM2_PER_LITRE = 5.35  # effective throttle area at USUAL_IDLE_RPM; calibration on the workshop's cards
USUAL_IDLE_RPM = 800.0
# Letters that Unicode does not take apart into a letter and a mark.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th", "ð": "d"})
_LOWEST_ACCENT = 200  # combining classes from here on are accents; below stand the vowel signs of other scripts


@dataclass(frozen=True)
class AsFound:
    """How the engine stands when the learner walks up to it.

    `tighten_shift_deg` is how far the setting creeps (crank degrees) each time the clamp is tightened; `seed` feeds
    the wobble of the instruments. `mixture_screw`, `point_gap_mm` and `springs` (of the weights)
    None are as the card has them; `teeth_out` counts
    teeth of the distributor's gear, positive with the rotor; `flood` is 1 where the plugs are wet with fuel;
    `bowl` is the share of a full float bowl; `battery` the share of the starter's torque that the battery gives;
    `coolant_c` None is as warm as the day; `prepared` is true where the vehicle is made safe and hooked up already.
    """

    base_timing_deg: float = 0.0
    idle_screw: float = 2.3
    tighten_shift_deg: float = 0.0
    seed: int = 0
    mixture_screw: float | None = None
    point_gap_mm: float | None = None
    teeth_out: int = 0
    half_turn: bool = False
    flood: float = 0.0
    coolant_c: float | None = None
    prepared: bool = False
    bowl: float = 1.0
    battery: float = 1.0
    springs: str | None = None


@dataclass(frozen=True)
class LearnersEngine:
    """The card of one learner's engine, and how that engine is found."""

    card: EngineCard
    found: AsFound


def folded_name(name: str) -> str:
    """A name as it is compared and drawn from: small letters and digits alone, without accents; the name itself where
    nothing is left.

    >>> from engine_sim import folded_name
    >>> folded_name("Ada B."), folded_name(" ádá_b")
    ('adab', 'adab')
    """
    parts = unicodedata.normalize("NFKD", name).casefold().translate(_PLAIN)
    kept = (sign for sign in parts if unicodedata.combining(sign) < _LOWEST_ACCENT)
    return "".join(sign for sign in kept if sign.isalnum() or unicodedata.category(sign).startswith("M")) or name


@functools.cache
def _population() -> dict:
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def learners_engine(card: EngineCard, class_id: str, learner: str, lesson: str, number: int = 0) -> LearnersEngine:
    """Draw one learner's engine from the population around a card; the same words always give the same engine.

    Every spelling of a name gives the same one: see `folded_name`. `number` counts the engines that this learner had
    before in this lesson.

    >>> import engine_sim
    >>> card = engine_sim.load_card("course/engines/farm_runabout_four.toml")
    >>> own = engine_sim.learners_engine(card, "spring", "ada", "l04_base_timing")
    >>> own == engine_sim.learners_engine(card, "spring", "ada", "l04_base_timing")
    True
    >>> own.card == engine_sim.learners_engine(card, "spring", "bo", "l04_base_timing").card
    False
    """
    draw = Draw(f"{card.name}|{class_id}|{folded_name(learner)}|{lesson}" + (f"|{number}" if number else ""))
    variant = _variant(card, draw)
    return LearnersEngine(variant, _as_found(variant, draw))


def _variant(card: EngineCard, draw: Draw) -> EngineCard:
    population = _population()
    spreads = _correlated(draw, population)
    content = card.model_dump()
    for item, spread in zip(population["fields"], spreads, strict=True):
        section, field = item["field"].split(".")
        mean = content[section][field]
        moved = mean + spread * item["spread"] * (mean if item["relative"] else 1.0)
        content[section][field] = float(f"{moved:.{SIGNIFICANT_DIGITS}g}")
    if draw.share() < population["turns_the_other_way"]:
        sense = content["distributor"]["rotor_turns"]
        content["distributor"]["rotor_turns"] = "clockwise" if sense == "anticlockwise" else "anticlockwise"
    return type(card).model_validate(content)


def _correlated(draw: Draw, population: dict) -> np.ndarray:
    """Standard normal numbers with the declared correlations, cut off at the declared number of spreads."""
    names = [item["field"] for item in population["fields"]]
    matrix = np.eye(len(names))
    for item in population["correlations"]:
        one, other = (names.index(name) for name in item["between"])
        matrix[one, other] = matrix[other, one] = item["value"]
    normal = NormalDist()
    single = np.array([normal.inv_cdf(min(max(draw.share(), 1e-12), 1.0 - 1e-12)) for _ in names])
    farthest = population["farthest_spreads"]
    return np.clip(np.linalg.cholesky(matrix) @ single, -farthest, farthest)


def _as_found(card: EngineCard, draw: Draw) -> AsFound:
    found = _population()["found"]
    late = draw.share() < 0.5
    base = round(draw.between(*found["late_deg" if late else "early_deg"]), 2)
    screw = round(usual_screw(card) + draw.between(*found["idle_screw_turns"]), 2)
    shift = draw.between(*found["tighten_shift_deg"]) * (-1.0 if draw.share() < 0.5 else 1.0)
    return AsFound(base_timing_deg=base, idle_screw=screw, tighten_shift_deg=round(shift, 3), seed=draw.integer())


def usual_screw(card: EngineCard, air_share: float = 1.0) -> float:
    """About the turns of the screw at which such an engine idles at its specified speed: from the air that an engine of
    its size needs, so that no map has to be built for it. `air_share` is the pressure outside over sea level's."""
    inlet = card.breathing
    return (usual_area_m2(card) * 1e6 / air_share - inlet.closed_throttle_area_mm2) / inlet.idle_screw_area_mm2_per_turn


def usual_area_m2(card: EngineCard) -> float:
    """About the effective throttle area [m2] with which such an engine idles at its specified speed."""
    return USUAL_AREA_MM2_PER_LITRE * 1e-6 * card.displacement_l * card.setting.idle_rpm / USUAL_IDLE_RPM


class Draw:
    """Numbers from a text, the same on every machine and for ever."""

    def __init__(self, text: str):
        self._text, self._count = text, 0

    def integer(self) -> int:
        """A whole number below 2**48."""
        self._count += 1
        return int.from_bytes(hashlib.sha256(f"{self._text}#{self._count}".encode()).digest()[:6], "big")

    def share(self) -> float:
        """A number from 0 up to 1."""
        return self.integer() / 2**48

    def sign(self) -> float:
        """+1 or -1, one as likely as the other."""
        return 1.0 if self.share() < 0.5 else -1.0

    def between(self, low: float, high: float) -> float:
        """A number between two ends, each as likely as another."""
        return low + (high - low) * self.share()
