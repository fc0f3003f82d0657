"""The work at the bench of lesson l01 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Operator, Work

SPEEDS = (1000.0, 1500.0, 2000.0)


def at_the_stand(*, throttle: float = 1.0, crosses: bool = True, tightens: bool = True, puts_back: bool = True) -> Work:
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(operator: Operator) -> None:
        operator.do("timing_light", "on")
        operator.do("starter", wait_s=6.0)
        operator.do("clamp", "loose")
        for rpm in SPEEDS:
            operator.do("load_brake", rpm)
            operator.do("throttle", throttle, wait_s=4.0)
            search(operator, crosses)
            operator.do("read_gauges")
        operator.do("throttle", 0.0)
        operator.do("load_brake", 0.0, wait_s=3.0)
        if puts_back:
            operator.do("distributor", 0.0, wait_s=2.0)
        if tightens:
            operator.do("clamp", "tight")

    return work


def search(operator: Operator, crosses: bool) -> None:
    """Late until the pull has clearly fallen, early until it has fallen again, and back to the middle of the top; or
    only early until it no longer rises."""
    found: list[tuple[float, float]] = []
    for step in (-4.0, 4.0) if crosses else (4.0,):
        best = operator.shown("torque_nm")
        for _ in range(14):
            operator.turn(step)
            pull = operator.shown("torque_nm")
            found.append((operator.session.settings["distributor"], pull))
            best = max(best, pull)
            if pull < best - (2.0 if crosses else 0.3):
                break
    top = [place for place, pull in found if pull > max(pull for _, pull in found) - 1.0]
    operator.do("distributor", round(4 * sum(top) / len(top)) / 4, wait_s=3.0)
