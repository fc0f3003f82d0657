"""The work at both benches of lesson l07 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Operator, Work
from .road import drive, retard_until_silent, start, turn


def one_day(*, reads: str = "before", advances: bool = False, too_far: float = 0.0) -> Work:
    """Read at a warm idle, then go back until the full pull is silent; or with one mistake."""

    def work(operator: Operator) -> None:
        operator.do("starter", wait_s=8.0)
        if reads == "before":
            operator.do("read_gauges")
        start_again(operator)
        if reads == "hose on":
            operator.do("read_gauges")
        if advances:
            drive(operator)
            turn(operator, 2.0)
        retard_until_silent(operator, most_drives=24)
        if reads == "after":
            operator.do("read_gauges")
        for _ in range(round(too_far / 2.0)):
            turn(operator, -2.0)
        if too_far:
            drive(operator)
        operator.do("stop")

    return work


def start_again(operator: Operator) -> None:
    """Hose on for the road; the engine runs already."""
    operator.do("vacuum_hose", "on", wait_s=3.0)
    if not operator.session.running:
        start(operator)
