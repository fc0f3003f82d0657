"""The engines of the workshop, for pictures: each as its card has it."""

from __future__ import annotations

import functools

from course import ENGINES
from engine_sim import Engine, load_card

TRUCK, RUNABOUT, HAULER = "delivery_truck_six", "farm_runabout_four", "hill_hauler_eight"


@functools.cache
def engine_named(name: str) -> Engine:
    """The engine of a card of the workshop. Raises CardError where there is none of that name."""
    return Engine(load_card(ENGINES / f"{name}.toml"))
