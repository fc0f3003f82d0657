"""The work at both benches of lesson l03."""

from __future__ import annotations

from engine_sim import LEAD_EARTHED

from .operator import BLINK_S, START_S, STOP_S, Operator

APPROACH_DEG = 12.0  # crank degrees before the mark, so that slack in the drive is taken up on the way to it
CRANK_S = 1.0  # of the starter, before anything can be read or heard
CRANK_REST_S = 12.0
INTO_THE_DARK_DEG = -2.0  # crank degrees of one turn of the body while the lamp is watched
TO_THE_SPARK_DEG = 0.5
LISTEN_S = 11.0  # of the starter, to hear that the engine does not start
REST_S = 30.0  # the lesson's half minute for the starter
IDLE_S = 20.0  # of running, before the gauges are read
MOST_STARTS = 2
MOST_LOOKS = 30  # at an engine that cranks
ROTOR_IS_RIGHT = "points to the terminal of cylinder one"
WAYS = {  # how the distributor goes in again, by a word of what the rotor shows
    "half a turn": "half a turn round",
    "past": "one tooth against the rotor",
    "short": "one tooth with the rotor",
}


def static(operator: Operator) -> None:
    """Points first, then the timing by the lamp, and start."""
    set_points(operator)
    time_with_lamp(operator)
    start_and_read(operator)


def set_points(operator: Operator) -> None:
    """Read the dwell on the starter, set the gap at rest, and read again; with the coil lead earthed nothing fires."""
    operator.do("dwell_meter", "on")
    operator.do("coil_lead", LEAD_EARTHED)
    crank_for_dwell(operator)
    operator.do("point_gap", operator.card.ignition.point_gap_mm)
    crank_for_dwell(operator)
    operator.do("dwell_meter", "off")


def dwell_of_a_six(operator: Operator) -> None:
    """The points alone, by meter and gauge; the lead goes back, and the engine runs."""
    set_points(operator)
    start_and_read(operator)


def crank_for_dwell(operator: Operator) -> float:
    """Dwell [distributor degrees] that the meter shows while the starter turns the engine; 0 where it shows none."""
    operator.do("starter", wait_s=CRANK_S)
    shown = operator.session.readings().dwell_deg
    operator.do("stop", wait_s=CRANK_REST_S)
    return shown or 0.0


def time_with_lamp(operator: Operator, mark_deg: float | None = None) -> None:
    """Coil lead earthed, crank to the label's mark, or to `mark_deg` [crank deg BTDC], in its running direction, body
    with the rotor until the lamp is dark and back until it just lights; clamp, the ignition off, and the spanner off
    the crank."""
    operator.do("coil_lead", LEAD_EARTHED)
    operator.do("spanner", "on")
    mark_deg = operator.card.setting.label_base_timing_deg if mark_deg is None else mark_deg
    operator.do("crank_mark", mark_deg + APPROACH_DEG)
    operator.do("crank_mark", mark_deg)
    operator.do("test_lamp", "on")
    operator.do("ignition_switch", "on")
    operator.do("clamp", "loose")
    while operator.session.readings().lamp_lit:
        operator.turn(INTO_THE_DARK_DEG)
    while not operator.session.readings().lamp_lit:
        operator.turn(TO_THE_SPARK_DEG)
    operator.do("clamp", "tight")
    operator.do("ignition_switch", "off")
    operator.do("test_lamp", "off")
    operator.do("spanner", "off")


def start_and_read(operator: Operator) -> None:
    """Coil lead back in the cap, start, let it idle, and read the gauges."""
    operator.do("coil_lead", "in the cap")
    operator.do("starter", wait_s=START_S)
    operator.do("read_gauges")


def find_out(operator: Operator) -> None:
    """Listen, look under the cap, put right what it shows, and start again."""
    listen(operator)
    seen = look_under_cap(operator)
    put_right(operator, seen)
    start_again(operator, seen)


def listen(operator: Operator) -> None:
    """The starter once, and its rest; the ignition off again where the engine caught and died."""
    operator.do("starter", wait_s=LISTEN_S + REST_S)
    if operator.session.settings["ignition_switch"] == "on":
        operator.do("stop", wait_s=STOP_S)


def look_under_cap(operator: Operator) -> str:
    """What the rotor shows."""
    return operator.session.act("look_under_cap").sentence


def put_right(operator: Operator, seen: str) -> None:
    """Set the distributor in as the rotor says; one that is in rightly stays where it is."""
    way = next((way for word, way in WAYS.items() if word in seen), None)
    if way is None:
        return
    operator.do("clamp", "loose")
    operator.do("refit", way)
    operator.do("clamp", "tight")


def start_again(operator: Operator, seen: str) -> None:
    """The starter again; where the rotor is right, the engine is flooded: throttle wide open, and closed as it
    catches."""
    for _ in range(MOST_STARTS):
        if ROTOR_IS_RIGHT in seen:
            operator.do("throttle", 1.0)
        operator.do("starter", wait_s=CRANK_S)
        for _ in range(MOST_LOOKS):
            if not operator.session.readings().cranking:
                break
            operator.session.advance(BLINK_S)
        if operator.session.running:
            break
        operator.session.advance(REST_S)
    operator.do("throttle", 0.0, wait_s=IDLE_S)
    operator.do("read_gauges")
