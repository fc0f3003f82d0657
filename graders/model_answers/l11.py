"""The work at the bench of lesson l11: a truck without a figure, from the static start to the road."""

from __future__ import annotations

from . import road
from .l03 import time_with_lamp
from .operator import START_S, STOP_S, Operator

STATIC_DEG = 7.0  # crank degrees BTDC: the lesson's middle for a first start
FIRST_DEG = 12.0  # the most with which such an engine is first run
STEP_DEG = 2.0  # crank degrees back
TIGHT_S = 3.0


def first_figure(operator: Operator) -> None:
    """Static by the lamp, start, warm; the first running figure and the total by the light; hose on, and the road."""
    start_static(operator)
    set_first_figure(operator)
    road.limit_total(operator)
    to_the_road(operator)


def start_static(operator: Operator) -> None:
    """The lamp at a static figure, the light on while the engine stands, and the first start."""
    time_with_lamp(operator, STATIC_DEG)
    operator.do("coil_lead", "in the cap")
    operator.do("timing_light", "on")
    operator.do("starter", wait_s=START_S)
    operator.do("wait_until_warm")


def set_first_figure(operator: Operator) -> None:
    """Up to the first running figure by the light, at idle, hose off and plugged."""
    turn(operator, FIRST_DEG - operator.shown("timing_light_deg"))


def turn(operator: Operator, crank_degrees: float) -> None:
    """Loosen, turn the spark by so much towards advance, and tighten."""
    operator.do("clamp", "loose")
    operator.turn(crank_degrees)
    operator.do("clamp", "tight", wait_s=TIGHT_S)


def to_the_road(operator: Operator) -> None:
    """Engine off, light off, hose on; drive, and go back by a step while it pings."""
    operator.do("stop", wait_s=STOP_S)
    operator.do("timing_light", "off")
    operator.do("vacuum_hose", "on")
    operator.do("route", "full pull")
    road.retard_until_silent(operator, STEP_DEG)
