"""The work at the bench of lesson l00 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Hands


def first_moves(
    *,
    leads: str = "before",
    warms_up: bool = True,
    reads_cold: bool = True,
    leaves: str = "well",
    turns: bool = False,
    makes_safe: bool = True,
    gauge: str = "manifold",
):
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(hands: Hands) -> None:
        if not makes_safe:
            hands.do("starter")
        hands.make_safe()
        if leads == "before":
            hands.do("tachometer", "on")
            hands.do("gauge_hose", gauge)
        hands.do("starter", wait_s=8.0)
        if leads == "after":
            hands.do("tachometer", "on")  # stopped by the bench: done at rest after all
            hands.do("stop", wait_s=4.0)
            hands.do("tachometer", "on")
            hands.do("gauge_hose", gauge)
            hands.do("starter", wait_s=8.0)
        if reads_cold:
            hands.do("read_gauges")
        if warms_up:
            hands.do("wait_until_warm")
            hands.do("read_gauges")
        if turns:
            hands.do("idle_screw", hands.session.settings["idle_screw"] + 0.25)
            hands.do("idle_screw", hands.session.settings["idle_screw"] - 0.25)
        leave(hands, leaves)

    return work


def leave(hands: Hands, how: str) -> None:
    """Switch off and put away, or not."""
    if how == "running":
        return
    hands.do("stop", wait_s=4.0)
    if how != "connected":
        hands.do("tachometer", "off")
        hands.do("gauge_hose", "none")
    if how == "rolling":
        hands.do("brake", "off")
