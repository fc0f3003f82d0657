"""The work at both benches of lesson l03 as its own words have it, and the slips that it can be told to make."""

from __future__ import annotations

from engine_sim import LEAD_EARTHED

from .operator import Hands


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
):
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(hands: Hands) -> None:
        if not earths:
            hands.do("test_lamp", "on")  # stopped by the bench: done as it should be after all
        if dwell_first:
            set_points(hands, read_again)
        time_with_lamp(hands, mark_deg, tightens, approach_deg)
        if not dwell_first:
            set_points(hands, read_again)
        if spanner_stays:
            hands.do("spanner", "on")
            hands.do("starter")  # stopped by the bench: done as it should be after all
            hands.do("spanner", "off")
        hands.do("coil_lead", "in the cap")
        if starts:
            hands.do("starter", wait_s=10.0)
        if leaves_on:
            hands.do("stop", wait_s=4.0)
            for _ in range(2):  # pressed again it is still the same look
                hands.do("ignition_switch", "on", wait_s=200.0)
            hands.do("starter", wait_s=10.0)
        hands.do("read_gauges")

    return work


def set_points(hands: Hands, read_again: bool = True) -> None:
    """Read the dwell on the starter, set the gap at rest, and read again; with the coil lead earthed nothing fires."""
    hands.do("dwell_meter", "on")
    hands.do("coil_lead", LEAD_EARTHED)
    crank_for_dwell(hands)
    hands.do("point_gap", hands.card.ignition.point_gap_mm)
    if read_again:
        crank_for_dwell(hands)
    hands.do("dwell_meter", "off")


def crank_for_dwell(hands: Hands) -> float:
    """What the meter shows while the starter turns the engine."""
    hands.do("starter", wait_s=1.0)
    shown = hands.session.readings().dwell_deg
    hands.do("stop", wait_s=12.0)
    return shown or 0.0


def time_with_lamp(
    hands: Hands, mark_deg: float | None = None, tightens: bool = True, approach_deg: float = 12.0
) -> None:
    """Coil lead earthed, crank to the label's mark in its running direction, body with the rotor until the lamp is dark
    and back until it just lights; clamp, the ignition off, and the spanner off the crank."""
    hands.do("coil_lead", LEAD_EARTHED)
    hands.do("spanner", "on")
    mark = hands.card.setting.label_base_timing_deg if mark_deg is None else mark_deg
    hands.do("crank_mark", mark + approach_deg)
    hands.do("crank_mark", mark)
    hands.do("test_lamp", "on")
    hands.do("ignition_switch", "on")
    hands.do("clamp", "loose")
    while hands.session.readings().lamp_lit:
        hands.turn(-2.0)
    while not hands.session.readings().lamp_lit:
        hands.turn(0.5)
    if tightens:
        hands.do("clamp", "tight")
    hands.do("ignition_switch", "off")
    hands.do("test_lamp", "off")
    hands.do("spanner", "off")


def find_out(
    *,
    looks: bool = True,
    rests_s: float = 30.0,
    blind_starts: int = 1,
    closes: bool = True,
    lifts_anyway: bool = False,
    turns_body: bool = False,
    tightens: bool = True,
):
    """The work of a learner with these habits; the defaults are the lesson's own words."""

    def work(hands: Hands) -> None:
        for _ in range(blind_starts):
            hands.do("starter", wait_s=7.0)
            hands.session.advance(rests_s)
        if hands.session.settings["ignition_switch"] == "on":  # it caught and died
            hands.do("stop", wait_s=4.0)
        seen = hands.session.act("look_under_cap").sentence if looks else ""
        if turns_body:
            turn_as_far_as_it_goes(hands)
        else:
            put_right(hands, seen, lifts_anyway, tightens)
        start_again(hands, opens="points to the terminal of cylinder one" in seen, closes=closes, rests_s=rests_s)

    return work


def put_right(hands: Hands, seen: str, lifts_anyway: bool, tightens: bool) -> None:
    """Lift the distributor where the rotor says so, and set it in as it says; without a look, one way and the other."""
    if "half a turn" in seen:
        ways = ["half a turn round"]
    elif "past" in seen or "short" in seen:
        ways = ["one tooth against the rotor" if "past" in seen else "one tooth with the rotor"]
    else:
        ways = [] if seen and not lifts_anyway else ["half a turn round", "as found"]
    if ways or not tightens:
        hands.do("clamp", "loose")
    for way in ways:
        hands.do("refit", way)
    if tightens:
        hands.do("clamp", "tight")


def turn_as_far_as_it_goes(hands: Hands) -> None:
    """Turn the body towards the label's figure as far as it can be turned."""
    hands.do("clamp", "loose")
    hands.do("distributor", 25.0 * (1.0 if hands.session.base_timing_deg < 0 else -1.0) * hands.towards_advance)
    hands.do("clamp", "tight")


def start_again(hands: Hands, opens: bool, closes: bool, rests_s: float) -> None:
    """The starter again, with the throttle wide open where fuel is the matter, and closed as it catches."""
    for _ in range(2):
        if opens:
            hands.do("throttle", 1.0)
        hands.do("starter", wait_s=1.0)
        for _ in range(30):
            if not hands.session.readings().cranking:
                break
            hands.session.advance(0.2)
        if hands.session.running:
            break
        hands.session.advance(rests_s)
    hands.do("throttle", 0.0 if closes or not opens else 1.0, wait_s=20.0)
    hands.do("read_gauges")
