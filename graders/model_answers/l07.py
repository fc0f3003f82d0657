"""The work at both benches of lesson l07."""

from __future__ import annotations

from .operator import START_S, Operator
from .road import retard_until_silent

HOSE_RESTS_S = 3.0  # until the idle has followed the vacuum advance
MOST_DRIVES = 24  # the hauler stands up to thirteen degrees early


def one_day(operator: Operator) -> None:
    """Read the gauges at a warm idle, then, hose on, retard until the full pull is silent."""
    operator.do("starter", wait_s=START_S)
    operator.do("read_gauges")
    operator.do("vacuum_hose", "on", wait_s=HOSE_RESTS_S)
    retard_until_silent(operator, most_drives=MOST_DRIVES)
