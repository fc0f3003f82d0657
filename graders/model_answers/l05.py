"""The work at both benches of lesson l05."""

from __future__ import annotations

from .operator import START_S, STOP_S, Operator
from .road import drive, fill_in, retard_until_silent, start

EVERY_ROAD = ("full pull", "level cruise", "up the hill")
FUELS = ("95 RON", "91 RON")  # the better one first: what the poorer one needs is found from there


def three_roads(operator: Operator) -> None:
    """Hose on, start, and the three roads one after the other."""
    start(operator)
    for road in EVERY_ROAD:
        drive(operator, road)


def two_fuels(operator: Operator) -> None:
    """Retard until the full pull is silent on each fuel, start once more while it is hot, and switch off."""
    set_for_both_fuels(operator)
    restart_hot(operator)
    operator.do("stop")


def set_for_both_fuels(operator: Operator) -> None:
    """Hose on, start, and retard until the full pull is silent, on one fuel and then on the other."""
    start(operator)
    operator.do("route", "full pull")
    for fuel in FUELS:
        fill_in(operator, fuel)
        retard_until_silent(operator)


def restart_hot(operator: Operator) -> None:
    """Switch off, and start while the engine is hot."""
    operator.do("stop", wait_s=STOP_S)
    operator.do("starter", wait_s=START_S)
