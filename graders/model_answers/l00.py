"""The work at the bench of lesson l00."""

from __future__ import annotations

from .operator import START_S, STOP_S, Operator


def first_moves(operator: Operator) -> None:
    """Make safe, hook up, start, read the gauges cold and warm, switch off, and put the instruments away."""
    operator.make_safe()
    operator.do("tachometer", "on")
    operator.do("gauge_hose", "manifold")
    operator.do("starter", wait_s=START_S)
    operator.do("read_gauges")
    operator.do("wait_until_warm")
    operator.do("read_gauges")
    operator.do("stop", wait_s=STOP_S)
    operator.do("tachometer", "off")
    operator.do("gauge_hose", "none")
