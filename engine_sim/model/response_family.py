"""All the response maps of one engine: a map for each day, and others between which it is blended on straight lines for
another idle mixture, air from a leak, or a blocked exhaust."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .conditions import Conditions
from .response_map import ResponseMap, stored_map

MIXTURE_NODE = 0.08  # equivalence ratio between two maps
FALSE_AIR_NODE = 0.1  # share of leaked air between two maps
MOST_FALSE_AIR = 0.5  # share at which it saturates: so thin a charge goes out in any case
BACK_PRESSURE_NODE_PA = 20_000.0  # between two maps
BLENDS_KEPT = 16  # in memory, about a megabyte each; the oldest makes room


class MapFamily:
    """`build(conditions, mixture_shift, false_air, back_pressure_pa, as_jetted)` makes one map, the last being the same
    without a shift, or None; `name` tells this engine's maps from those of every other on disk."""

    def __init__(self, name: str, build: Callable[..., ResponseMap]):
        self._name, self._build = name, build
        self._nodes: dict[tuple, ResponseMap] = {}
        self._blends: dict[tuple, ResponseMap] = {}

    def map_for(
        self, conditions: Conditions, mixture_shift: float, false_air: float, back_pressure_pa: float
    ) -> ResponseMap:
        """The map for a day, mixture, share of leaked air (saturates at a half) and back pressure."""
        if mixture_shift == false_air == back_pressure_pa == 0.0:
            return self._node(conditions)
        key = (conditions, mixture_shift, min(false_air, MOST_FALSE_AIR), back_pressure_pa)
        if key not in self._blends:
            if len(self._blends) >= BLENDS_KEPT:
                self._blends.pop(next(iter(self._blends)))
            self._blends[key] = self._blend(*key)
        return self._blends[key]

    def _blend(self, conditions, mixture_shift: float, false_air: float, back_pressure_pa: float) -> ResponseMap:
        """Between the nodes on straight lines; what back pressure changes is that of the nearest mixture."""
        mixture, thin = mixture_shift / MIXTURE_NODE, false_air / FALSE_AIR_NODE

        def with_mixture(node: int) -> ResponseMap:
            return _between(mixture, lambda low: self._node(conditions, low, node))

        found = _between(thin, with_mixture)
        if not back_pressure_pa:
            return found
        near = round(mixture), round(thin)
        free = self._node(conditions, *near)
        blocked = _between(back_pressure_pa / BACK_PRESSURE_NODE_PA, lambda node: self._node(conditions, *near, node))
        return ResponseMap(found.table + blocked.table - free.table, found.ambient_pa)

    def _node(self, conditions: Conditions, mixture: int = 0, thin: int = 0, back: int = 0) -> ResponseMap:
        day = (round(conditions.ambient_pa), round(conditions.ambient_k, 2), round(conditions.vapour_share, 6))
        key = (*day, mixture, thin, back)
        if key not in self._nodes:
            mixing = (mixture * MIXTURE_NODE, thin * FALSE_AIR_NODE, back * BACK_PRESSURE_NODE_PA)

            def build() -> ResponseMap:
                return self._build(conditions, *mixing, self._node(conditions, 0, thin, back) if mixture else None)

            self._nodes[key] = stored_map("|".join(map(str, (self._name, *key))), build, conditions.ambient_pa)
        return self._nodes[key]


def _between(place: float, node: Callable[[int], ResponseMap]) -> ResponseMap:
    """The map at a place between two nodes."""
    low = int(np.floor(place))
    return node(low).blended(node(low + 1), place - low) if place > low else node(low)
