"""The table of targets, read once, and an engine's figures beside it."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from course import ENGINES
from engine_sim import learners_engine, load_card

from .figures import Figures

TABLE = Path(__file__).with_name("targets.toml")
CARDS = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")
DRAWN = 20  # learners' engines of each card
CERTAINTIES = ("published", "second-hand", "computed", "from memory", "common practice", "trade", "ours")


@dataclass(frozen=True)
class Target:
    """One row: what it is about, the figure, and where that has to lie."""

    name: str
    figure: str
    unit: str
    band: list[float]
    certainty: str
    cards: tuple[str, ...] = CARDS
    drawn: list[float] | None = None
    most_drawn: list[float] | None = None
    most_wide: float = 0.0
    missed: dict[str, float] = field(default_factory=dict)
    slow: bool = False  # takes many seconds: left to the long run

    def found(self, card: str) -> float:
        """The figure on one card of the workshop."""
        return float(getattr(figures(card), self.figure))

    def found_drawn(self) -> list[float]:
        """The figure on the drawn engines of every card, in ascending order."""
        return sorted(float(getattr(drawn(card, number), self.figure)) for card in CARDS for number in range(DRAWN))


@functools.cache
def targets() -> tuple[Target, ...]:
    """Every row of the table."""
    return tuple(Target(**row) for row in tomllib.loads(TABLE.read_text(encoding="utf-8"))["target"])


@functools.cache
def figures(card: str) -> Figures:
    """Figures of a card of the workshop."""
    return Figures(load_card(ENGINES / f"{card}.toml"))


@functools.cache
def drawn(card: str, number: int) -> Figures:
    """Figures of one learner's engine."""
    return Figures(learners_engine(load_card(ENGINES / f"{card}.toml"), "targets", f"t{number}", "l04").card)


def among_most(found: list[float]) -> list[float]:
    """The figures from the 5th to the 95th of a hundred, of figures in ascending order."""
    left_out = round(0.05 * len(found))
    return found[left_out : len(found) - left_out]
