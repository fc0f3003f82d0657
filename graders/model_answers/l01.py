"""The work at the test stand of lesson l01."""

from __future__ import annotations

from .operator import BODY_STEPS_PER_DEG, START_S, TURN_S, Operator

SPEEDS_RPM = (1000.0, 1500.0, 2000.0)
STEP_DEG = 4.0  # crank degrees: two of the body
CLEARLY_LESS_NM = 2.0  # the lesson's figure for a torque that has clearly fallen
FLAT_TOP_NM = 1.0  # below the best: nobody can tell these places apart
MOST_STEPS = 14
HELD_S = 4.0  # until the brake holds an engine whose throttle was opened
LET_GO_S = 3.0  # until it idles again, or the needle rests at the best place
Tried = list[tuple[float, float]]  # places of the body [distributor degrees], with the torque there [N m]


def at_the_stand(operator: Operator) -> None:
    """Find the best timing at each speed, and leave the engine as it was found."""
    get_ready(operator)
    for rpm in SPEEDS_RPM:
        read_at_best(operator, rpm)
    put_back(operator)


def get_ready(operator: Operator) -> None:
    """Timing light on before the start; then start, and loosen the clamp."""
    operator.do("timing_light", "on")
    operator.do("starter", wait_s=START_S)
    operator.do("clamp", "loose")


def read_at_best(operator: Operator, rpm: float) -> None:
    """At one speed: late until the torque has clearly fallen, early until it has fallen again, and read between."""
    open_wide(operator, rpm)
    late = turn_until_it_falls(operator, -STEP_DEG)
    early = turn_until_it_falls(operator, STEP_DEG)
    to_the_middle_of_the_top(operator, late + early)
    operator.do("read_gauges")


def open_wide(operator: Operator, rpm: float) -> None:
    """Brake to that speed, and the throttle wide open."""
    operator.do("load_brake", rpm)
    operator.do("throttle", 1.0, wait_s=HELD_S)


def turn_until_it_falls(operator: Operator, step_deg: float, fall_nm: float = CLEARLY_LESS_NM) -> Tried:
    """Turn in steps [crank degrees] until the torque is that much below the best on the way."""
    best = operator.shown("torque_nm")
    tried: Tried = []
    for _ in range(MOST_STEPS):
        operator.turn(step_deg)
        torque = operator.shown("torque_nm")
        tried.append((operator.session.settings["distributor"], torque))
        best = max(best, torque)
        if torque < best - fall_nm:
            break
    return tried


def to_the_middle_of_the_top(operator: Operator, tried: Tried) -> None:
    """Turn the body to the middle of the places that are as good as the best."""
    best = max(torque for _, torque in tried)
    top = [place for place, torque in tried if torque > best - FLAT_TOP_NM]
    middle = round(BODY_STEPS_PER_DEG * sum(top) / len(top)) / BODY_STEPS_PER_DEG
    operator.do("distributor", middle, wait_s=LET_GO_S)


def put_back(operator: Operator) -> None:
    """Throttle closed, then the brake off; the body back where it was, and the clamp tight."""
    operator.do("throttle", 0.0)
    operator.do("load_brake", 0.0, wait_s=LET_GO_S)
    operator.do("distributor", 0.0, wait_s=TURN_S)
    operator.do("clamp", "tight")
