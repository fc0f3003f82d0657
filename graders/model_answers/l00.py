"""The work at the bench of lesson l00 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Operator, Work


def first_moves(
    *,
    leads: str = "before",
    warms_up: bool = True,
    reads_cold: bool = True,
    leaves: str = "well",
    turns: bool = False,
    makes_safe: bool = True,
    gauge: str = "manifold",
) -> Work:
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(operator: Operator) -> None:
        if not makes_safe:
            operator.do("starter")
        operator.make_safe()
        if leads == "before":
            operator.do("tachometer", "on")
            operator.do("gauge_hose", gauge)
        operator.do("starter", wait_s=8.0)
        if leads == "after":
            operator.do("tachometer", "on")  # stopped by the bench: done at rest after all
            operator.do("stop", wait_s=4.0)
            operator.do("tachometer", "on")
            operator.do("gauge_hose", gauge)
            operator.do("starter", wait_s=8.0)
        if reads_cold:
            operator.do("read_gauges")
        if warms_up:
            operator.do("wait_until_warm")
            operator.do("read_gauges")
        if turns:
            operator.do("idle_screw", operator.session.settings["idle_screw"] + 0.25)
            operator.do("idle_screw", operator.session.settings["idle_screw"] - 0.25)
        leave(operator, leaves)

    return work


def leave(operator: Operator, how: str) -> None:
    """Switch off and put away, or not."""
    if how == "running":
        return
    operator.do("stop", wait_s=4.0)
    if how != "connected":
        operator.do("tachometer", "off")
        operator.do("gauge_hose", "none")
    if how == "rolling":
        operator.do("brake", "off")
