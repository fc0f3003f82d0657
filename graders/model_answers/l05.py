"""The work at the benches of lesson l05."""

from __future__ import annotations

from graders.bench.criteria.road_check import TOTAL_RPM

from .operator import START_S, STOP_S, AttemptFailed, Operator
from .road import drive, fill_in, retard_until_silent, run, see_total, start

EVERY_ROAD = ("full pull", "level cruise", "up the hill")
IN_DRIVE_RPM = 600.0
NEAR_RPM = 8.0
RPM_PER_TURN = 90.0  # of the idle screw, in drive
MIXTURE_PLACES_TURNS = (1.5, 1.25, 1.0, 0.75, 1.5, 1.75, 2.0, 2.25)  # turns out, the lesson's place to begin first
IDLE_STEP_TURNS = 0.05
SETTLE_S = 10.0
WATCH_S = 12.0
MOST_STEPS = 40
FUELS = ("95 RON", "91 RON")  # the better one first: what the poorer one needs is found from there


def three_roads(operator: Operator) -> None:
    """Hose on, start, and the three roads one after the other."""
    start(operator)
    for road in EVERY_ROAD:
        drive(operator, road)


def two_fuels(operator: Operator) -> None:
    """The total by the light; retard until the full pull is silent on each fuel, start once more while it is hot, and
    switch off."""
    set_for_both_fuels(operator)
    restart_hot(operator)
    operator.do("stop")


def set_for_both_fuels(operator: Operator) -> None:
    """The total, hose on, and retard until the full pull is silent, on one fuel and then on the other."""
    see_total(operator)
    operator.do("route", "full pull")
    for fuel in FUELS:
        fill_in(operator, fuel)
        retard_until_silent(operator)


def restart_hot(operator: Operator) -> None:
    """Switch off, and start while the engine is hot."""
    operator.do("stop", wait_s=STOP_S)
    operator.do("starter", wait_s=START_S)


def before_the_road(operator: Operator) -> None:
    """Mixture to the highest vacuum, the total by the light, the idle in drive, and out of gear."""
    operator.do("timing_light", "on")
    run(operator)
    trim_mixture(operator)
    read_total(operator)
    operator.do("stop", wait_s=STOP_S)
    start(operator)
    into_drive(operator)
    trim_in_drive(operator)
    out_of_drive(operator)
    operator.do("stop", wait_s=STOP_S)
    operator.do("timing_light", "off")


def trim_mixture(operator: Operator) -> None:
    """Turn the mixture screws through the places round the one to begin from, and leave them where the needle stood
    highest."""
    read = {}
    for turns_out in MIXTURE_PLACES_TURNS:
        if operator.do("mixture_screw", turns_out, wait_s=SETTLE_S) != "done" or not operator.session.running:
            raise AttemptFailed(operator.session.sentence)
        read[turns_out] = operator.shown("vacuum_inhg", WATCH_S)
    operator.do("mixture_screw", max(read, key=read.__getitem__), wait_s=SETTLE_S)


def read_total(operator: Operator) -> None:
    """The timing light at the speed at which the weights are all out."""
    operator.do("hold_speed", TOTAL_RPM, wait_s=WATCH_S)
    operator.do("hold_speed", 0.0, wait_s=SETTLE_S)


def into_drive(operator: Operator) -> None:
    """A second person at the brake, and drive."""
    operator.do("helper", "at the brake")
    operator.do("gear", "drive", wait_s=SETTLE_S)


def trim_in_drive(operator: Operator) -> None:
    """Turn the idle screw until the tachometer shows the wanted idle in drive."""
    for _ in range(MOST_STEPS):
        short_rpm = IN_DRIVE_RPM - operator.shown("speed_rpm", WATCH_S)
        if abs(short_rpm) < NEAR_RPM:
            return
        turned = operator.session.settings["idle_screw"] + short_rpm / RPM_PER_TURN
        operator.do("idle_screw", IDLE_STEP_TURNS * round(turned / IDLE_STEP_TURNS), wait_s=SETTLE_S)
    raise AttemptFailed("The idle in drive was not reached.")


def out_of_drive(operator: Operator) -> None:
    """Neutral first, and only then does the second person leave the brake."""
    operator.do("gear", "neutral", wait_s=SETTLE_S)
    operator.do("helper", "nobody")
