"""An operator who drives and listens: the road check by what the driver tells."""

from __future__ import annotations

from .operator import AttemptFailed, Operator

SILENT = "no ping was heard"
CLEARLY = ("clear ping", "heavy ping")


def start(operator: Operator) -> None:
    """Hose on, as the vehicle is used, and start."""
    operator.do("vacuum_hose", "on")
    run(operator)


def run(operator: Operator) -> None:
    """Start the engine, where it does not run already."""
    if operator.session.running:
        return
    if operator.do("starter", wait_s=5.0) != "done" or not operator.session.running:
        raise AttemptFailed(operator.session.sentence)


def drive(operator: Operator, route: str | None = None) -> str:
    """Drive once, from the workshop and back into it; what the driver tells. The engine is off at the end."""
    if route:
        operator.do("route", route)
    if not operator.to_the_road() or operator.do("road_check") != "done":
        raise AttemptFailed(operator.session.sentence)
    while operator.session.on_road:
        operator.session.advance(1.0)
    told = operator.session.sentence
    operator.back_in_the_workshop()
    return told


def turn(operator: Operator, crank_degrees: float, tighten: bool = True) -> None:
    """Loosen, turn the body so that the spark moves by so much towards advance, and tighten."""
    operator.do("clamp", "loose")
    operator.turn(crank_degrees)
    if tighten:
        operator.do("clamp", "tight")


def fill_in(operator: Operator, fuel: str) -> None:
    """Another fuel, with the engine off."""
    operator.do("stop", wait_s=4.0)
    if operator.do("fuel", fuel) != "done":
        raise AttemptFailed(operator.session.sentence)


def retard_until_silent(operator: Operator, step_deg: float = 1.0, most_drives: int = 16) -> None:
    """Drive, and go back by a step while any ping is heard."""
    for _ in range(most_drives):
        if SILENT in drive(operator):
            return
        turn(operator, -step_deg)
    raise AttemptFailed(f"It still pinged after {most_drives} drives, each with {step_deg:g} degrees less lead.")


def pings(told: str) -> bool:
    """Whether the driver heard it clearly."""
    return any(words in told for words in CLEARLY)
