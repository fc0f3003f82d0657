"""The work at both benches of lesson l06 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from .operator import AttemptFailed, Operator, Work
from .road import drive, retard_until_silent, run, start, turn


def what_pings_where(
    *, base_moves: bool = False, cures_with: str = "base", too_far: float = 0.0, canister: bool = True
) -> Work:
    """Drive the hill with two canisters, the pull with the hose on and off, and cure both; or with one mistake."""

    def work(operator: Operator) -> None:
        start(operator)
        drive(operator, "up the hill")
        if canister:
            operator.do("canister_screw", -4.0)
        if base_moves:
            turn(operator, 3.0)
        drive(operator, "up the hill")
        operator.do("canister_screw", 0.0)
        drive(operator, "full pull")
        operator.do("vacuum_hose", "off and plugged")
        drive(operator)
        operator.do("vacuum_hose", "on")
        if cures_with == "canister":
            operator.do("canister_screw", 4.0)
            drive(operator)
        else:
            retard_until_silent(operator)
        if too_far:
            turn(operator, -too_far)
            drive(operator, "full pull")
        drive(operator, "up the hill")
        operator.do("stop")

    return work


def choose_springs(
    *,
    measures: bool = True,
    tries: tuple[str, ...] = ("as fitted", "softer pair", "soft and stiff"),
    keeps: str = "",
    stop: float = 30.0,
    too_far: float = 0.0,
    running: bool = False,
) -> Work:
    """Fit each set, go back until silent, read the torque, keep the best; or with one mistake."""

    def work(operator: Operator) -> None:
        start(operator)
        if running:
            operator.do("springs", "softer pair")  # stopped by the bench
        read = {}
        for springs in tries:
            fit(operator, springs, stop)
            retard_until_silent(operator)
            read[springs] = sum(at_full_load(operator, speed) for speed in (1600.0, 2400.0)) if measures else 0.0
        fit(operator, keeps or max(read, key=read.__getitem__), stop)
        retard_until_silent(operator)
        while keeps and keeps != "softer pair" and "no ping" in drive(operator):
            turn(operator, 1.0)
        retard_until_silent(operator)
        if too_far:
            turn(operator, -too_far)
            drive(operator)
        operator.do("stop")

    return work


def at_full_load(operator: Operator, speed_rpm: float) -> float:
    """Torque at the brake [N m], throttle wide open."""
    run(operator)
    operator.do("load_brake", speed_rpm, wait_s=1.0)
    operator.do("throttle", 1.0, wait_s=4.0)
    torque = operator.shown("torque_nm", 4.0)
    operator.do("throttle", 0.0, wait_s=1.0)
    operator.do("load_brake", 0.0, wait_s=4.0)
    return torque


def fit(operator: Operator, springs: str, stop_deg: float) -> None:
    """Other springs and another stop, with the engine off, and start again."""
    operator.do("stop", wait_s=4.0)
    if not operator.do("springs", springs) == operator.do("weights_stop", stop_deg) == "done":
        raise AttemptFailed(operator.session.sentence)
    operator.do("starter", wait_s=6.0)
