"""The stored tables: what drawn owners' readings were, cause by cause, beside the healthy engine of their description.

`tables.json` is plain data, made by `python -m engine_sim.owned.drawing FOLDER` and `... .fitting FOLDER`.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet

TABLES = Path(__file__).with_name("tables.json")
LIGHT = tuple(f"light_{speed}_{hose}_deg" for hose in ("off", "on") for speed in ("idle", "1500", "2500", "3000"))
TURNED = tuple(f"turned_{way}_{unit}" for way in ("early", "late") for unit in ("inhg", "rpm"))
VACUUM = (
    *("idle_inhg", "idle_on_inhg", "held_2500_inhg", "held_2500_on_inhg", "cranking_inhg"),
    *(name for name in TURNED if name.endswith("inhg")),
)
SPEEDS = ("idle_rpm", "idle_on_rpm", *(name for name in TURNED if name.endswith("rpm")))
CRANKING = ("cranking_rpm",)
WANDER = ("mark_wander_deg",)
DWELL = ("dwell_deg",)
FEATURES = (*VACUUM, *SPEEDS, *CRANKING, *LIGHT, *WANDER, *DWELL)
SOURCES = ("manifold", "ported")  # of an advance hose
USUAL_CYLINDERS = 6  # for which a mean is stored
WORDS = {  # by the fields of `observe`: what may be said
    "needle": ("stands still", "flicks in rhythm", "drops now and then", "drifts", "falls when held at speed"),
    "cut_out": ("falls alike", "hardly falls at one", "hardly falls at two", "hardly falls at several"),
    "runs": ("runs evenly", "runs unevenly", "stumbles", "is close to stalling"),
    "mark": ("stands still", "wanders"),
    "misses": ("none", "at idle", "under load", "at idle and under load", "at a cruise, hose on"),
    "pull": ("pulls well", "pulls weakly"),
    "smoke": ("none", "black", "blue", "pops"),
    "cold_start": ("starts at once", "takes long", "starts and dies", "does not start"),
    "mild_start": ("starts at once", "takes long", "starts and dies", "does not start"),
    "warm_start": ("starts at once", "takes long", "starts and dies", "does not start"),
    "cranks": ("cranks evenly", "cranks slowly", "kicks back"),
}


@dataclass(frozen=True, eq=False)
class Side:
    """Differences of the readings from those of the description's healthy engine, in the order of FEATURES: their mean
    with the fault as strong as the catalogue has it on an engine of six cylinders, what is added to it by a stronger
    fault and by fewer cylinders (`mean_of`), and the covariance round it; None where no such engine ran."""

    name: str
    owners: int
    mean: np.ndarray | None
    by_strength: np.ndarray | None
    by_cylinders: np.ndarray | None
    covariance: np.ndarray | None

    def mean_of(self, strength: float, cylinders: int) -> np.ndarray:
        """Mean with a fault at a share of the catalogue's amount, on an engine of so many cylinders."""
        assert self.mean is not None and self.by_strength is not None and self.by_cylinders is not None
        _, stronger, fewer = terms(strength, cylinders)
        return self.mean + stronger * self.by_strength + fewer * self.by_cylinders


def terms(strength: float, cylinders: int) -> tuple[float, float, float]:
    """What a mean is made of: the catalogue's strength and six cylinders are (1, 0, 0). One bad cylinder is the larger
    share of an engine, the fewer there are."""
    return 1.0, strength - 1.0, strength * (USUAL_CYLINDERS / cylinders - 1.0)


def said_by(strong: bool, cylinders: int) -> str:
    """Which owners' words are counted together: engines with a fault as strong as the catalogue has it or weaker, and
    with four cylinders or more."""
    return f"{'strong' if strong else 'weak'}, {'four' if cylinders <= 4 else 'more'}"


@dataclass(frozen=True, eq=False)
class Cause:
    """One cause ("" is healthy): its sides, the share of owners who say each word, among all of them and by `said_by`,
    and the share of engines on which each inspection finds something out of order."""

    sides: tuple[Side, ...]
    words: dict[str, dict[str, float]]
    words_by: dict[str, dict[str, dict[str, float]]]
    out_of_order: dict[str, float]


@dataclass(frozen=True, eq=False)
class Tables:
    """All of it; `pooled` is the mean covariance within causes, `whole` mean and covariance of all owners together."""

    owners: int
    engines: int
    causes: dict[str, Cause]
    pooled: np.ndarray
    whole: Side


def differences(numbers: dict[str, float], nominal: dict[str, float], altitude_ft: float) -> np.ndarray:
    """Readings less those of the description's healthy engine, in the order of FEATURES; vacuum as at sea level; NaN
    where either lacks."""
    share = float(air_share(metres_from_feet(altitude_ft)))
    values = [numbers.get(name, np.nan) - nominal.get(name, np.nan) for name in FEATURES]
    return np.array([value / share if name in VACUUM else value for name, value in zip(FEATURES, values, strict=True)])


@functools.cache
def load_tables() -> Tables:
    """The tables as they are stored."""
    return tables_from(json.loads(TABLES.read_text(encoding="utf-8")))


def tables_from(content: dict) -> Tables:
    """The tables from their plain form."""
    causes = {
        name: Cause(tuple(map(_side, one["sides"])), one["words"], one["words_by"], one["out_of_order"])
        for name, one in content["causes"].items()
    }
    return Tables(
        content["owners"],
        content["engines"],
        causes,
        _square(content["pooled"]),
        _side(content["whole"]),
    )


def _side(content: dict) -> Side:
    name, owners = content["name"], content["owners"]
    if content["mean"] is None:
        return Side(name, owners, mean=None, by_strength=None, by_cylinders=None, covariance=None)
    mean, by_strength, by_cylinders = (
        np.array(content[name], float) for name in ("mean", "by_strength", "by_cylinders")
    )
    return Side(
        name,
        owners,
        mean=mean,
        by_strength=by_strength,
        by_cylinders=by_cylinders,
        covariance=_square(content["covariance"]),
    )


def _square(triangle: list[float]) -> np.ndarray:
    whole = np.zeros((len(FEATURES), len(FEATURES)))
    rows, columns = np.tril_indices(len(FEATURES))
    whole[rows, columns] = whole[columns, rows] = triangle
    return whole
