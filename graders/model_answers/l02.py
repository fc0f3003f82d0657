"""The work at the bench of lesson l02 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Operator, Work


def turn_and_watch(
    *,
    ports: tuple[str, ...] = ("manifold", "ported"),
    gauge: str = "manifold",
    hose: str = "off and plugged",
    sides=(6.0, -6.0),
    waits_s: float = 6.0,
    tightens: bool = True,
    hose_back: str = "on",
    turns_back: bool = True,
    makes_safe: bool = True,
    stops: bool = True,
) -> Work:
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(operator: Operator) -> None:
        if not makes_safe:
            operator.do("starter")
        operator.make_safe()
        operator.do("tachometer", "on")
        operator.do("gauge_hose", ports[0])
        operator.do("starter", wait_s=8.0)
        for port in ports:
            operator.do("gauge_hose", port, wait_s=3.0)
            operator.do("read_gauges")
        operator.do("gauge_hose", gauge)
        operator.do("vacuum_hose", hose)
        operator.do("clamp", "loose", wait_s=4.0)
        for side in sides:
            operator.do("distributor", operator.towards_advance * side / 2.0, wait_s=waits_s)
            operator.do("read_gauges")
        if turns_back:
            operator.do("distributor", 0.0, wait_s=3.0)
        operator.do("clamp", "tight" if tightens else "loose")
        operator.do("vacuum_hose", hose_back)
        if stops:
            operator.do("stop", wait_s=4.0)

    return work
