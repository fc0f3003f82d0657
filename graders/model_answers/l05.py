"""The work at both benches of lesson l05 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Hands
from .road import drive, fill_in, retard_until_silent, start, turn

EVERY_ROAD = ("full pull", "level cruise", "up the hill")


def three_roads(hands: Hands) -> None:
    """Hose on, start, and the three roads one after the other."""
    start(hands)
    for road in EVERY_ROAD:
        drive(hands, road)


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
):
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(hands: Hands) -> None:
        start(hands)
        if not hose:
            hands.do("vacuum_hose", "off and plugged")
        hands.do("route", road)
        if advances:
            drive(hands)
            turn(hands, 2.0)
        for fuel in ("95 RON", "87 RON") if fills_in else ("95 RON",):
            fill_in(hands, fuel)
            retard_until_silent(hands, step)
            for _ in range(round(too_far / 2.0)):
                turn(hands, -2.0)
            if too_far:
                drive(hands)
        if left == "for 95":
            turn(hands, 6.0)
        if restarts:
            hands.do("stop", wait_s=3.0)
            hands.do("starter", wait_s=5.0)
        if left == "loose":
            hands.do("clamp", "loose")
        hands.do("stop")

    return work
