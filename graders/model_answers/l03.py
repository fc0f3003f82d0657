"""The work at both benches of lesson l03 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from engine_sim import LEAD_EARTHED

from .operator import Operator, Work


def static(
    *,
    dwell_first: bool = True,
    read_again: bool = True,
    mark_deg: float | None = None,
    tightens: bool = True,
    starts: bool = True,
    earths: bool = True,
    approach_deg: float = 12.0,
    leaves_on: bool = False,
    spanner_stays: bool = False,
) -> Work:
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(operator: Operator) -> None:
        if not earths:
            operator.do("test_lamp", "on")  # stopped by the bench: done as it should be after all
        if dwell_first:
            set_points(operator, read_again)
        time_with_lamp(operator, mark_deg, tightens, approach_deg)
        if not dwell_first:
            set_points(operator, read_again)
        if spanner_stays:
            operator.do("spanner", "on")
            operator.do("starter")  # stopped by the bench: done as it should be after all
            operator.do("spanner", "off")
        operator.do("coil_lead", "in the cap")
        if starts:
            operator.do("starter", wait_s=10.0)
        if leaves_on:
            operator.do("stop", wait_s=4.0)
            for _ in range(2):  # pressed again it is still the same look
                operator.do("ignition_switch", "on", wait_s=200.0)
            operator.do("starter", wait_s=10.0)
        operator.do("read_gauges")

    return work


def set_points(operator: Operator, read_again: bool = True) -> None:
    """Read the dwell on the starter, set the gap at rest, and read again; with the coil lead earthed nothing fires."""
    operator.do("dwell_meter", "on")
    operator.do("coil_lead", LEAD_EARTHED)
    crank_for_dwell(operator)
    operator.do("point_gap", operator.card.ignition.point_gap_mm)
    if read_again:
        crank_for_dwell(operator)
    operator.do("dwell_meter", "off")


def crank_for_dwell(operator: Operator) -> float:
    """What the meter shows while the starter turns the engine."""
    operator.do("starter", wait_s=1.0)
    shown = operator.session.readings().dwell_deg
    operator.do("stop", wait_s=12.0)
    return shown or 0.0


def time_with_lamp(
    operator: Operator, mark_deg: float | None = None, tightens: bool = True, approach_deg: float = 12.0
) -> None:
    """Coil lead earthed, crank to the label's mark in its running direction, body with the rotor until the lamp is dark
    and back until it just lights; clamp, the ignition off, and the spanner off the crank."""
    operator.do("coil_lead", LEAD_EARTHED)
    operator.do("spanner", "on")
    mark = operator.card.setting.label_base_timing_deg if mark_deg is None else mark_deg
    operator.do("crank_mark", mark + approach_deg)
    operator.do("crank_mark", mark)
    operator.do("test_lamp", "on")
    operator.do("ignition_switch", "on")
    operator.do("clamp", "loose")
    while operator.session.readings().lamp_lit:
        operator.turn(-2.0)
    while not operator.session.readings().lamp_lit:
        operator.turn(0.5)
    if tightens:
        operator.do("clamp", "tight")
    operator.do("ignition_switch", "off")
    operator.do("test_lamp", "off")
    operator.do("spanner", "off")


def find_out(
    *,
    looks: bool = True,
    rests_s: float = 30.0,
    blind_starts: int = 1,
    closes: bool = True,
    lifts_anyway: bool = False,
    turns_body: bool = False,
    tightens: bool = True,
) -> Work:
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(operator: Operator) -> None:
        for _ in range(blind_starts):
            operator.do("starter", wait_s=7.0)
            operator.session.advance(rests_s)
        if operator.session.settings["ignition_switch"] == "on":  # it caught and died
            operator.do("stop", wait_s=4.0)
        seen = operator.session.act("look_under_cap").sentence if looks else ""
        if turns_body:
            turn_as_far_as_it_goes(operator)
        else:
            put_right(operator, seen, lifts_anyway, tightens)
        start_again(operator, opens="points to the terminal of cylinder one" in seen, closes=closes, rests_s=rests_s)

    return work


def put_right(operator: Operator, seen: str, lifts_anyway: bool, tightens: bool) -> None:
    """Lift the distributor where the rotor says so, and set it in as it says; without a look, one way and the other."""
    if "half a turn" in seen:
        ways = ["half a turn round"]
    elif "past" in seen or "short" in seen:
        ways = ["one tooth against the rotor" if "past" in seen else "one tooth with the rotor"]
    else:
        ways = [] if seen and not lifts_anyway else ["half a turn round", "as found"]
    if ways or not tightens:
        operator.do("clamp", "loose")
    for way in ways:
        operator.do("refit", way)
    if tightens:
        operator.do("clamp", "tight")


def turn_as_far_as_it_goes(operator: Operator) -> None:
    """Turn the body towards the label's figure as far as it can be turned."""
    operator.do("clamp", "loose")
    operator.do(
        "distributor", 25.0 * (1.0 if operator.session.base_timing_deg < 0 else -1.0) * operator.towards_advance
    )
    operator.do("clamp", "tight")


def start_again(operator: Operator, opens: bool, closes: bool, rests_s: float) -> None:
    """The starter again, with the throttle wide open where fuel is the matter, and closed as it catches."""
    for _ in range(2):
        if opens:
            operator.do("throttle", 1.0)
        operator.do("starter", wait_s=1.0)
        for _ in range(30):
            if not operator.session.readings().cranking:
                break
            operator.session.advance(0.2)
        if operator.session.running:
            break
        operator.session.advance(rests_s)
    operator.do("throttle", 0.0 if closes or not opens else 1.0, wait_s=20.0)
    operator.do("read_gauges")
