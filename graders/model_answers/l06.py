"""The work at both benches of lesson l06 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import Hands, TryFailed
from .road import drive, retard_until_silent, run, start, turn


def what_pings_where(
    *, base_moves: bool = False, cures_with: str = "base", too_far: float = 0.0, canister: bool = True
):
    """Drive the hill with two canisters, the pull with the hose on and off, and cure both; or with one mistake."""

    def work(hands: Hands) -> None:
        start(hands)
        drive(hands, "up the hill")
        if canister:
            hands.do("canister_screw", -4.0)
        if base_moves:
            turn(hands, 3.0)
        drive(hands, "up the hill")
        hands.do("canister_screw", 0.0)
        drive(hands, "full pull")
        hands.do("vacuum_hose", "off and plugged")
        drive(hands)
        hands.do("vacuum_hose", "on")
        if cures_with == "canister":
            hands.do("canister_screw", 4.0)
            drive(hands)
        else:
            retard_until_silent(hands)
        if too_far:
            turn(hands, -too_far)
            drive(hands, "full pull")
        drive(hands, "up the hill")
        hands.do("stop")

    return work


def choose_springs(
    *,
    measures: bool = True,
    tries=("as fitted", "softer pair", "soft and stiff"),
    keeps: str = "",
    stop: float = 30.0,
    too_far: float = 0.0,
    running: bool = False,
):
    """Fit each set, go back until silent, read the torque, keep the best; or with one mistake."""

    def work(hands: Hands) -> None:
        start(hands)
        if running:
            hands.do("springs", "softer pair")  # stopped by the bench
        read = {}
        for springs in tries:
            fit(hands, springs, stop)
            retard_until_silent(hands)
            read[springs] = sum(at_full_load(hands, speed) for speed in (1600.0, 2400.0)) if measures else 0.0
        fit(hands, keeps or max(read, key=read.get), stop)
        retard_until_silent(hands)
        while keeps and keeps != "softer pair" and "no ping" in drive(hands):
            turn(hands, 1.0)
        retard_until_silent(hands)
        if too_far:
            turn(hands, -too_far)
            drive(hands)
        hands.do("stop")

    return work


def at_full_load(hands: Hands, speed_rpm: float) -> float:
    """Torque at the brake [N m], throttle wide open."""
    run(hands)
    hands.do("load_brake", speed_rpm, wait_s=1.0)
    hands.do("throttle", 1.0, wait_s=4.0)
    torque = hands.shown("torque_nm", 4.0)
    hands.do("throttle", 0.0, wait_s=1.0)
    hands.do("load_brake", 0.0, wait_s=4.0)
    return torque


def fit(hands: Hands, springs: str, stop_deg: float) -> None:
    """Other springs and another stop, with the engine off, and start again."""
    hands.do("stop", wait_s=4.0)
    if not hands.do("springs", springs) == hands.do("weights_stop", stop_deg) == "done":
        raise TryFailed(hands.session.sentence)
    hands.do("starter", wait_s=6.0)
