"""Which inspection tells which faults apart: from told_apart.toml beside this file, which inspections made on drawn
engines filled in (`python -m tests.engine_sim.told_apart fix`)."""

from __future__ import annotations

import functools
import tomllib
from pathlib import Path

TABLE = Path(__file__).with_name("told_apart.toml")


def tells_apart(inspection: str, one: str, other: str) -> bool:
    """Whether this inspection reads clearly unlike on an engine with the one fault and on one with the other; an empty
    id stands for a sound engine. True where it did so on every engine that was drawn, of every card and each with
    amounts of its own; False for a fault or an inspection that the table does not have.

    >>> import engine_sim
    >>> engine_sim.tells_apart("hand_pump", "canister_torn", "")
    True
    >>> engine_sim.tells_apart("compression", "rings_weak", "valves_late")
    False
    """
    shows, alike = _table().get(inspection, (frozenset(), frozenset()))
    return one != other and bool({one, other} & shows) and frozenset((one, other)) not in alike


@functools.cache
def _table() -> dict[str, tuple[frozenset[str], frozenset[frozenset[str]]]]:
    """By inspection: the faults that it always calls out of order, and the pairs of which it may read alike though one
    of the two is among these."""
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    return {
        name: (frozenset(one["shows"]), frozenset(frozenset(pair) for pair in one["alike"]))
        for name, one in content.items()
    }
