"""The work at the bench of lesson l02."""

from __future__ import annotations

from .operator import CRANK_PER_BODY_DEG, START_S, STOP_S, Operator

SIDES_DEG = (6.0, -6.0)  # crank degrees: clearly early, and clearly late
NEEDLE_RESTS_S = 3.0  # until the gauge shows what another port or another place has
SPEED_RESTS_S = 6.0  # until the speed has followed the spark, or the vacuum advance taken out


def turn_and_watch(operator: Operator) -> None:
    """Read at both ports; then, vacuum advance off, read with the spark early and late; and put all back."""
    operator.make_safe()
    operator.do("tachometer", "on")
    operator.do("gauge_hose", "manifold")
    operator.do("starter", wait_s=START_S)
    for port in ("manifold", "ported"):
        operator.do("gauge_hose", port, wait_s=NEEDLE_RESTS_S)
        operator.do("read_gauges")
    operator.do("gauge_hose", "manifold")
    operator.do("stop", wait_s=STOP_S)
    operator.do("vacuum_hose", "off and plugged")
    operator.do("mark_body")
    operator.do("clamp", "loose")
    operator.do("starter", wait_s=START_S + SPEED_RESTS_S)
    for side in SIDES_DEG:
        operator.do("distributor", operator.towards_advance * side / CRANK_PER_BODY_DEG, wait_s=SPEED_RESTS_S)
        operator.do("read_gauges")
    operator.do("distributor", 0.0, wait_s=NEEDLE_RESTS_S)
    operator.do("clamp", "tight")
    operator.do("stop", wait_s=STOP_S)
    operator.do("vacuum_hose", "on")
