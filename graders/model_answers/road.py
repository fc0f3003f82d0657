"""An operator who drives and listens: the road check by what the driver hears."""

from __future__ import annotations

from graders.bench.criteria.road_check import TOTAL_DEG, TOTAL_RPM

from .operator import START_S, STOP_S, AttemptFailed, Operator

SILENT = "no ping was heard"
CLEARLY = ("clear ping", "heavy ping")
SMALL_STEP_DEG = 1.0  # crank degrees: half a degree of the body
STEP_DEG = 2.0  # crank degrees while the ping is clear or heavy: a degree of the body
LISTEN_S = 1.0  # between two looks whether the drive is over
HELD_S = 8.0  # until a hand on the throttle holds a speed, or has let it go
MOST_LOOKS = 6


def start(operator: Operator) -> None:
    """Hose on, as the vehicle is used, and start."""
    operator.do("vacuum_hose", "on")
    run(operator)


def run(operator: Operator) -> None:
    """Start the engine, where it does not run already."""
    if operator.session.running:
        return
    if operator.do("starter", wait_s=START_S) != "done" or not operator.session.running:
        raise AttemptFailed(operator.session.sentence)


def drive(operator: Operator, route: str | None = None) -> str:
    """Drive once, from the workshop and back into it, the engine off at the end; the throttle is shut as soon as it
    pings clearly. Return the driver's sentence."""
    if route:
        operator.do("route", route)
    if not operator.to_the_road() or operator.do("road_check") != "done":
        raise AttemptFailed(operator.session.sentence)
    while operator.session.on_road:
        operator.session.advance(LISTEN_S)
        if operator.session.readings().ping_words in CLEARLY:
            operator.session.act("stop")
    heard = operator.session.sentence
    operator.back_in_the_workshop()
    return heard


def turn(operator: Operator, crank_degrees: float) -> None:
    """Loosen, turn the body so that the spark moves by that much towards advance, and tighten."""
    operator.do("clamp", "loose")
    operator.turn(crank_degrees)
    operator.do("clamp", "tight")


def see_total(operator: Operator) -> None:
    """Light on while the engine stands, the total no more than it may be, and light off again; the hose is off and
    plugged before, and on after it."""
    operator.do("timing_light", "on")
    run(operator)
    limit_total(operator)
    operator.do("stop", wait_s=STOP_S)
    operator.do("timing_light", "off")
    operator.do("vacuum_hose", "on")


def limit_total(operator: Operator) -> None:
    """Look at base and weights at speed, and go back by the difference while they are more than the total may be."""
    for _ in range(MOST_LOOKS):
        over_deg = look_at_total(operator) - TOTAL_DEG
        if over_deg <= 0.0:
            return
        turn(operator, -max(over_deg, SMALL_STEP_DEG))


def look_at_total(operator: Operator) -> float:
    """Base and weights that the light shows at speed [crank deg BTDC], written down."""
    operator.do("hold_speed", TOTAL_RPM, wait_s=HELD_S)
    total = operator.shown("timing_light_deg")
    operator.do("read_gauges")
    operator.do("hold_speed", 0.0, wait_s=HELD_S)
    return total


def fill_in(operator: Operator, fuel: str) -> None:
    """Another fuel, with the engine off."""
    operator.do("stop", wait_s=STOP_S)
    if operator.do("fuel", fuel) != "done":
        raise AttemptFailed(operator.session.sentence)


def retard_until_silent(operator: Operator, step_deg: float = SMALL_STEP_DEG, most_drives: int = 32) -> None:
    """Drive, and retard by a step [crank degrees] while any ping is heard; by two degrees or more while it is clear,
    since every drive takes its time, and many that ping hard break an engine."""
    for _ in range(most_drives):
        heard = drive(operator)
        if SILENT in heard:
            return
        turn(operator, -(max(step_deg, STEP_DEG) if pings(heard) else step_deg))
    raise AttemptFailed(f"It still pinged after {most_drives} drives, each retarded by {step_deg:g} degrees more.")


def as_early_as_it_goes(operator: Operator) -> None:
    """Drive, and advance by steps while nothing is heard; then back by small ones until it is silent."""
    while SILENT in drive(operator):
        turn(operator, STEP_DEG)
    turn(operator, -SMALL_STEP_DEG)
    retard_until_silent(operator)


def pings(heard: str) -> bool:
    """Whether the driver heard it clearly."""
    return any(words in heard for words in CLEARLY)
