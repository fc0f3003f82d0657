"""The work at both benches of lesson l07."""

from __future__ import annotations

from .operator import START_S, STOP_S, Operator
from .road import retard_until_silent, see_total


def at_home(operator: Operator) -> None:
    """Read the gauges at a warm idle; the total by the light; then, hose on, retard until the full pull is silent."""
    read_at_idle(operator)
    operator.do("stop", wait_s=STOP_S)
    see_total(operator)
    retard_until_silent(operator)


def at_the_harbour(operator: Operator) -> None:
    """The same with a total that somebody has seen."""
    read_at_idle(operator)
    operator.do("stop", wait_s=STOP_S)
    operator.do("vacuum_hose", "on")
    retard_until_silent(operator)


def read_at_idle(operator: Operator) -> None:
    """Start, and read the gauges before anything is moved."""
    operator.do("starter", wait_s=START_S)
    operator.do("read_gauges")
