"""Hands that drive and listen: the road check by what the driver tells."""

from __future__ import annotations

from .operator import Hands, TryFailed

SILENT = "no ping was heard"
CLEARLY = ("clear ping", "heavy ping")


def start(hands: Hands) -> None:
    """Hose on, as the vehicle is used, and start."""
    hands.do("vacuum_hose", "on")
    run(hands)


def run(hands: Hands) -> None:
    """Start the engine, where it does not run already."""
    if hands.session.running:
        return
    if hands.do("starter", wait_s=5.0) != "done" or not hands.session.running:
        raise TryFailed(hands.session.sentence)


def drive(hands: Hands, route: str | None = None) -> str:
    """Drive once, from the workshop and back into it; what the driver tells. The engine is off at the end."""
    if route:
        hands.do("route", route)
    if not hands.to_the_road() or hands.do("road_check") != "done":
        raise TryFailed(hands.session.sentence)
    while hands.session.on_road:
        hands.session.advance(1.0)
    told = hands.session.sentence
    hands.back_in_the_workshop()
    return told


def turn(hands: Hands, crank_degrees: float, tighten: bool = True) -> None:
    """Loosen, turn the body so that the spark moves by so much towards advance, and tighten."""
    hands.do("clamp", "loose")
    hands.turn(crank_degrees)
    if tighten:
        hands.do("clamp", "tight")


def fill_in(hands: Hands, fuel: str) -> None:
    """Another fuel, with the engine off."""
    hands.do("stop", wait_s=4.0)
    if hands.do("fuel", fuel) != "done":
        raise TryFailed(hands.session.sentence)


def retard_until_silent(hands: Hands, step_deg: float = 1.0, most_drives: int = 16) -> None:
    """Drive, and go back by a step while any ping is heard."""
    for _ in range(most_drives):
        if SILENT in drive(hands):
            return
        turn(hands, -step_deg)
    raise TryFailed(f"It still pinged after {most_drives} drives, each with {step_deg:g} degrees less lead.")


def pings(told: str) -> bool:
    """Whether the driver heard it clearly."""
    return any(words in told for words in CLEARLY)
