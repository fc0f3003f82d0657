"""The work at both benches of lesson l05 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Operator, Work
from .road import drive, fill_in, retard_until_silent, start, turn

EVERY_ROAD = ("full pull", "level cruise", "up the hill")


def three_roads(operator: Operator) -> None:
    """Hose on, start, and the three roads one after the other."""
    start(operator)
    for road in EVERY_ROAD:
        drive(operator, road)


def two_fuels(
    *,
    hose: bool = True,
    step: float = 1.0,
    advances: bool = False,
    too_far: float = 0.0,
    fills_in: bool = True,
    left: str = "as driven",
    road: str = "full pull",
    restarts: bool = True,
) -> Work:
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(operator: Operator) -> None:
        start(operator)
        if not hose:
            operator.do("vacuum_hose", "off and plugged")
        operator.do("route", road)
        if advances:
            drive(operator)
            turn(operator, 2.0)
        for fuel in ("95 RON", "87 RON") if fills_in else ("95 RON",):
            fill_in(operator, fuel)
            retard_until_silent(operator, step)
            for _ in range(round(too_far / 2.0)):
                turn(operator, -2.0)
            if too_far:
                drive(operator)
        if left == "for 95":
            turn(operator, 6.0)
        if restarts:
            operator.do("stop", wait_s=3.0)
            operator.do("starter", wait_s=5.0)
        if left == "loose":
            operator.do("clamp", "loose")
        operator.do("stop")

    return work
