"""The work at both benches of lesson l07."""

from __future__ import annotations

from .operator import START_S, STOP_S, Operator
from .road import retard_until_silent, see_total


def one_day(operator: Operator) -> None:
    """Read the gauges at a warm idle; the total by the light; then, hose on, retard until the full pull is silent."""
    operator.do("starter", wait_s=START_S)
    operator.do("read_gauges")
    operator.do("stop", wait_s=STOP_S)
    see_total(operator)
    retard_until_silent(operator)
