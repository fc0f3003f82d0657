"""The work at the bench of lesson l08: true top centre with a piston stop."""

from __future__ import annotations

from engine_sim import CONTROLS, STOP_IN

from .operator import START_S, STOP_S, Operator


def mark_centre(operator: Operator) -> None:
    """Stop in, both touches by hand, the new mark midway, stop out; then the light on the idling engine."""
    operator.do("spanner", "on")
    operator.do("piston_stop", STOP_IN)
    operator.do("turn_to_stop")
    operator.do("turn_back_to_stop")
    touches, step = operator.session.settings["touches"], CONTROLS["centre_mark"].step
    operator.do("centre_mark", step * round(sum(touches.values()) / len(touches) / step))
    operator.do("piston_stop", "out")
    operator.do("spanner", "off")
    operator.do("timing_light", "on")
    operator.do("starter", wait_s=START_S)
    operator.do("read_gauges")
    operator.do("stop", wait_s=STOP_S)
