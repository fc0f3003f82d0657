"""The work at the benches of lesson l06."""

from __future__ import annotations

import math

from .l05 import WATCH_S, into_drive, out_of_drive
from .operator import START_S, STOP_S, AttemptFailed, Operator
from .road import STEP_DEG, as_early_as_it_goes, drive, pings, retard_until_silent, run, start, turn

LOUDER_DEG = 3.0  # crank degrees: where nothing pings, nothing can be told apart
MOST_EARLIER_DEG = 12.0
SOFTEST_TURNS = -4.0  # of the vacuum unit's screw
BELOW_IDLE_INHG = 2.0
UNIT_ALL_IN_INHG = 12.0  # by the hand pump, as the lesson gives it
INHG_PER_TURN = 1.0
SCREW_STEP_TURNS = 0.5
SPRINGS = ("stiffer pair", "soft and stiff")  # as it is found, and one that gives more in the middle: two are asked for
LONG_STOP_DEG = 30.0
SPEEDS_RPM = (1600.0, 2400.0)  # the lesson's: in the middle of the pull and near its top
BRAKE_S = 1.0  # until the brake has taken the speed, or the closed throttle the torque
TORQUE_RESTS_S = 4.0  # until the needle rests at full throttle
TORQUE_LOOK_S = 4.0
COOLS_S = 4.0  # at idle, after full load


def what_pings_where(operator: Operator) -> None:
    """Find which part makes which road ping, retard the base timing until the pull is silent, and drive the hill."""
    heard = tell_apart(operator)
    if pings(heard):  # the pull was driven as it stands
        turn(operator, -STEP_DEG)
    retard_until_silent(operator)
    drive(operator, "up the hill")


def tell_apart(operator: Operator) -> str:
    """The hill with two settings of the vacuum unit, and the full pull with the hose on and off; all put back. Where
    the hill is silent even with the softest setting, a few degrees earlier for the hill alone, and back before the
    pull. Return what was heard on the pull with the hose on."""
    start(operator)
    earlier_deg = 0.0
    while not pings(softest_up_the_hill(operator)) and earlier_deg < MOST_EARLIER_DEG:
        turn(operator, LOUDER_DEG)
        earlier_deg += LOUDER_DEG
    if earlier_deg:
        turn(operator, -earlier_deg)
    heard = drive(operator, "full pull")
    operator.do("vacuum_hose", "off and plugged")
    drive(operator)
    operator.do("vacuum_hose", "on")
    return heard


def match_the_unit(operator: Operator) -> None:
    """Read the vacuum of the idle in drive, turn the unit's screw until it is all in two inches below, and drive."""
    start(operator)
    into_drive(operator)
    vacuum_inhg = operator.shown("vacuum_inhg", WATCH_S)
    out_of_drive(operator)
    turns = (vacuum_inhg - BELOW_IDLE_INHG - UNIT_ALL_IN_INHG) / INHG_PER_TURN
    operator.do("canister_screw", SCREW_STEP_TURNS * math.floor(turns / SCREW_STEP_TURNS))
    drive(operator, "up the hill")
    operator.do("route", "full pull")
    retard_until_silent(operator)
    drive(operator, "up the hill")


def softest_up_the_hill(operator: Operator) -> str:
    """The hill with the vacuum unit as it is found and then softest; what was heard the second time."""
    drive(operator, "up the hill")
    operator.do("canister_screw", SOFTEST_TURNS)
    heard = drive(operator, "up the hill")
    operator.do("canister_screw", 0.0)
    return heard


def choose_springs(operator: Operator) -> None:
    """Measure the torque with each set of springs, and keep the best one, where the full pull was silent with it."""
    start(operator)
    torque_nm, place = {}, {}
    for springs in SPRINGS:
        torque_nm[springs] = measure(operator, springs)
        place[springs] = operator.session.settings["distributor"]
    best = max(torque_nm, key=torque_nm.__getitem__)
    fit(operator, best)
    operator.do("clamp", "loose")
    operator.do("distributor", place[best])
    operator.do("clamp", "tight")
    retard_until_silent(operator)


def measure(operator: Operator, springs: str) -> float:
    """Sum of the torque at both speeds [N m] with these springs, as early as the full pull is silent."""
    fit(operator, springs)
    as_early_as_it_goes(operator)
    return sum(at_full_load(operator, speed_rpm) for speed_rpm in SPEEDS_RPM)


def fit(operator: Operator, springs: str) -> None:
    """These springs and a longer stop, with the engine off, and start again."""
    operator.do("stop", wait_s=STOP_S)
    if not operator.do("springs", springs) == operator.do("weights_stop", LONG_STOP_DEG) == "done":
        raise AttemptFailed(operator.session.sentence)
    operator.do("starter", wait_s=START_S)


def at_full_load(operator: Operator, speed_rpm: float) -> float:
    """Torque at the brake [N m], throttle wide open."""
    run(operator)
    operator.do("load_brake", speed_rpm, wait_s=BRAKE_S)
    operator.do("throttle", 1.0, wait_s=TORQUE_RESTS_S)
    torque_nm = operator.shown("torque_nm", TORQUE_LOOK_S)
    operator.do("throttle", 0.0, wait_s=BRAKE_S)
    operator.do("load_brake", 0.0, wait_s=COOLS_S)
    return torque_nm
