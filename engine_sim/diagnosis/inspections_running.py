"""Inspections of the running engine, warm, in neutral, with the advance hose off and plugged unless one puts it on."""

from __future__ import annotations

import statistics
from dataclasses import replace

from engine_sim.model.engine import EXHAUST_ABOVE_AMBIENT_PA, crankcase_valve_m2, mixture_shift
from engine_sim.model.wear import CylinderWear, Wear
from engine_sim.physics import units
from engine_sim.workshop import adjustments
from engine_sim.workshop.session import Session

from .inspection import (
    DOES_NOT_RUN,
    Finding,
    Inspection,
    OnTheStand,
    SeenOnGauge,
    listed,
    maker,
    mean,
    pressure_words,
    vacuum_words,
    watched,
)

RUNNING: dict[str, Inspection] = {}
inspection = maker(False, RUNNING)

HELD_RPM = (0.0, 1500.0, 2500.0)  # 0: idle
HOLD_S = 7.0  # for which a speed is held before it is looked at
LOOK_S = 4.0  # for which an instrument is watched
NOT_RUNNING = Finding(DOES_NOT_RUN, False)
OFF_LABEL_DEG = 5.0  # crank degrees of base timing beside the label that are out of order; calibration
OFF_SHEET_DEG = 4.0  # crank degrees of what speed and hose add, beside the sheet; calibration
WANDERS_DEG = 3.0  # crank degrees, twice the standard deviation of the mark; calibration
LEAST_OF_FALLS = 0.8  # of the middle fall of speed: below, a cylinder does not do its share; calibration
LEAST_FALL_RPM = 25.0  # below which no cylinder does its share; calibration
CHANGES_RPM = 20.0  # a change of idle speed that anyone hears; common practice
HALF_A_TURN = 0.5  # turn of the mixture screws, either way
BETTER_BY_RPM = 10.0  # by which an idle may still get better; calibration
DROP_INHG = 0.35  # below its own mean: a sharp drop of the needle; calibration
COUNTED_S = 24.0  # for which such drops are counted
OIL_FREES = 0.85  # share of the sticking that oil on a valve's stem frees; calibration
BLOCKED_FROM_PA = 10_000.0  # 1.5 psi at 2,500 rpm; common practice
FALLS_INHG = 0.8  # of the needle in half a minute at speed, from which it falls; calibration
LOW_INHG = 15.0  # at idle and sea level, below which the needle is low; calibration
SAMPLE_S = 0.02  # between two looks at the needle
SMOOTH = 50  # such looks, a second, over which its own mean is taken
LOOSE_DWELL_DEG = 3.0  # distributor degrees beside the sheet that are out of order; calibration


# ---- timing light, dwell meter -------------------------------------------------------------------------------------


@inspection("A timing light at three speeds, hose off and on", 15)
def advance_sweep(stand: OnTheStand) -> Finding:
    """What the marks show at idle, 1,500 and 2,500 rpm, beside the maker's sheet."""
    session = stand.started()
    if session is None:
        return NOT_RUNNING
    off, expected_off, wander = _swept(stand, session, "off and plugged")
    on, expected_on, _ = _swept(stand, session, "on")
    label = stand.card.setting.label_base_timing_deg
    off_label = abs(off[0] - expected_off[0]) > OFF_LABEL_DEG
    moved = [shown - wanted for shown, wanted in zip(off + on, expected_off + expected_on, strict=True)]
    in_order = not off_label and max(moved) - min(moved) <= OFF_SHEET_DEG and wander < WANDERS_DEG
    still = f"wanders over {2 * wander:.0f} degrees" if wander >= WANDERS_DEG else "stands still"
    return Finding(
        f"By the marks, at idle, 1,500 and 2,500 rpm: {listed(off)} degrees before top centre with the hose off, "
        f"{listed(on)} with it on; the mark {still}. The sheet, with {label:g} on the label, gives "
        f"{listed(expected_off)} and {listed(expected_on)}.",
        in_order,
    )


def _swept(stand: OnTheStand, session: Session, hose: str) -> tuple[list[float], list[float], float]:
    """What the light shows at each speed, what a sound engine set by its label would show at that speed, throttle and
    vacuum, and by how much the mark wanders at idle (twice its standard deviation) [crank deg]."""
    session.act("vacuum_hose", hose)
    shown: list[float] = []
    expected: list[float] = []
    wander = 0.0
    for rpm in HELD_RPM:
        stand.held(session, rpm, HOLD_S)
        light = [now.timing_light_deg or 0.0 for now in watched(session, LOOK_S)]
        wander = wander if rpm else 2.0 * statistics.pstdev(light)
        shown.append(round(mean(light)))
        vacuum = (stand.conditions.ambient_pa - session._motion.manifold_pa) / units.PA_PER_INHG
        label = stand.card.setting.label_base_timing_deg
        sheet_rpm = rpm or stand.card.setting.idle_rpm
        told = stand.sound.advance_deg(label, sheet_rpm, vacuum, session._inputs.throttle, hose)
        expected.append(round(float(told)))
    session.act("hold_speed", 0.0)
    return shown, expected, wander


@inspection("A dwell meter", 5)
def dwell_meter(stand: OnTheStand) -> Finding:
    """Dwell at idle or, where the engine does not run, while the starter turns it."""
    sheet, play = stand.card.ignition.dwell_deg, 0.5 * stand.wear.shaft_play_deg
    shown = stand.near(adjustments.dwell_deg(stand.card, stand.settings), 0.5, 0.5)
    wanders = f"and wanders by {2 * play:.0f}" if play > 0.5 else "and stands still"
    trigger = "" if stand.card.ignition.trigger == "breaker points" else " The trigger is electronic and sets it."
    return Finding(
        f"It shows {shown:.1f} distributor degrees {wanders}; the sheet says {sheet:.0f}.{trigger}",
        abs(shown - sheet) < LOOSE_DWELL_DEG and play <= 0.5,
    )


# ---- what changes the idle -----------------------------------------------------------------------------------------


@inspection("Earth one plug lead after the other, engine stopped for each", 10)
def cylinder_cut_out(stand: OnTheStand) -> Finding:
    """By how much the idle speed falls without each cylinder."""
    if stand.started() is None:
        return NOT_RUNNING
    whole, falls = falls_without_each(stand)
    shown = [max(stand.near(fall, 4.0, 5.0), 0.0) for fall in falls]
    told = ["it stops" if fall >= whole - 1.0 else f"{value:.0f}" for fall, value in zip(falls, shown, strict=True)]
    return Finding(
        f"From {5 * round(whole / 5):.0f} rpm the idle falls, cylinder by cylinder in firing order from cylinder one, "
        f"by {', '.join(told)} rpm.",
        min(shown) >= least_fall_rpm(shown),
    )


def falls_without_each(stand: OnTheStand) -> tuple[float, list[float]]:
    """Idle speed, and by how much it falls without each cylinder, in firing order from cylinder one [rpm]."""
    whole = stand.idle_rpm()
    return whole, [whole - _without(stand, place) for place in range(stand.engine.cylinders)]


def least_fall_rpm(falls_rpm: list[float]) -> float:
    """Below which a cylinder does not do its share, by the falls of all [rpm]."""
    return max(LEAST_OF_FALLS * statistics.median(falls_rpm), LEAST_FALL_RPM)


def _without(stand: OnTheStand, place: int) -> float:
    """Idle speed with one cylinder's lead off. Air that leaks into its own runner still comes in, and thins nothing."""
    one = dict(stand.wear.cylinders).get(place, CylinderWear())
    dead = stand.wear.with_cylinders(replace(one, fires_share=0.0, runner_leak_m2=0.0), place)
    turns = one.runner_leak_m2 * 1e6 / stand.card.breathing.idle_screw_area_mm2_per_turn
    return stand.idle_rpm(dead, idle_screw=stand.inputs.idle_screw + turns)


@inspection("Soapy water on every joint of the inlet", 10)
def soapy_water(stand: OnTheStand) -> Finding:
    """Where suds are drawn in, they seal the place for a moment and the idle changes."""
    if stand.started() is None:
        return NOT_RUNNING
    before = stand.idle_rpm()
    changes = {name: stand.idle_rpm(sealed) - before for name, sealed in _sealed(stand).items()}
    felt = {name: stand.near(change, 3.0, 5.0) for name, change in changes.items() if abs(change) >= CHANGES_RPM}
    if not felt:
        return Finding(
            f"The suds stay where they are on every joint, and the idle stays at {5 * round(before / 5):.0f} rpm.", True
        )
    told = "; ".join(f"{name}, and the idle {_moves(change)}" for name, change in felt.items())
    return Finding(f"Suds are drawn in {told}. Everywhere else nothing happens.", False)


def _moves(change: float) -> str:
    return f"{'rises' if change > 0 else 'falls'} by {abs(change):.0f} rpm while they hold"


def _sealed(stand: OnTheStand) -> dict[str, Wear]:
    """Every place where air comes in past the carburettor, and the engine with that place sealed."""
    sealed = {}
    if stand.wear.plenum_leak_m2:
        sealed["between carburettor and manifold"] = replace(stand.wear, plenum_leak_m2=0.0)
    for place, one in stand.wear.cylinders:
        if one.runner_leak_m2:
            name = f"at the runner of the cylinder that fires as number {place + 1}"
            sealed[name] = stand.wear.with_cylinders(replace(one, runner_leak_m2=0.0), place)
    return sealed


@inspection("Pull the crankcase (PCV) valve out, cover its end with a thumb, and shake it", 4)
def crankcase_valve(stand: OnTheStand) -> Finding:
    """Whether it draws, by how much the idle changes when it is covered, and whether its plunger is free."""
    if stand.started() is None:
        return NOT_RUNNING
    sound_m2 = crankcase_valve_m2(stand.card)
    if not sound_m2:
        return Finding("This engine has no such valve: its crankcase breathes through a tube.", True)
    drawn_m2, before = sound_m2 + stand.wear.crankcase_air_m2, stand.idle_rpm()
    covered = stand.idle_rpm(replace(stand.wear, crankcase_air_m2=-sound_m2))
    change = stand.near(covered - before, 3.0, 5.0)
    pull = "It draws the thumb in" if drawn_m2 > 0.0 else "The thumb feels nothing"
    stops = " and the engine stops" if covered == 0.0 else f", and the idle {_changes(change)}"
    free = stand.wear.crankcase_air_m2 == 0.0
    return Finding(
        f"{pull}{stops}. Shaken, it {'rattles' if free else 'does not rattle'}; a free plunger rattles.", free
    )


def _changes(change: float) -> str:
    if abs(change) < CHANGES_RPM:
        return "stays as it is"
    return f"{'rises' if change > 0 else 'falls'} by {abs(change):.0f} rpm"


@inspection("Turn the idle mixture screws half a turn out and in", 10)
def mixture_screws(stand: OnTheStand) -> Finding:
    """Which way the idle gets better."""
    if stand.started() is None:
        return NOT_RUNNING
    before, changes = stand.idle_rpm(), []
    for turns in (HALF_A_TURN, -HALF_A_TURN):
        screw = stand.settings["mixture_screw"] + turns
        changes.append(stand.idle_rpm(mixture_shift=mixture_shift(stand.card, screw)) - before)
    out, in_ = (stand.near(change, 3.0, 5.0) for change in changes)
    stops = [5 * round(before / 5) + change < 100 for change in changes]
    told = ["stops the engine" if stop else _by(change) for stop, change in zip(stops, (out, in_), strict=True)]
    return Finding(
        f"From {5 * round(before / 5):.0f} rpm: half a turn out {told[0]}, half a turn in {told[1]}.",
        max(out, in_) <= BETTER_BY_RPM,
    )


def _by(change: float) -> str:
    if abs(change) < 10.0:
        return "changes next to nothing"
    return f"{'raises' if change > 0 else 'lowers'} the idle by {abs(change):.0f} rpm"


# ---- what the needle does ------------------------------------------------------------------------------------------


@inspection("Watch the vacuum gauge at idle, on a snap, and held at 2,500 rpm", 5)
def snap_and_hold(stand: OnTheStand) -> Finding:
    """Idle, lowest and highest on a snap, and at the beginning and end of half a minute at 2,500 rpm."""
    session = stand.started()
    if session is None:
        return NOT_RUNNING
    idling = _needle(session, LOOK_S)
    idle = mean(idling)
    session.act("snap")
    snapped = _needle(session, 3.0)
    session.advance(6.0)
    session.act("hold_speed", 2500.0)
    session.advance(5.0)
    held = _needle(session, 25.0)
    first, last = mean(held[:50]), mean(held[-50:])
    falls = first - last > FALLS_INHG
    at_sea_level = idle * units.PA_PER_ATMOSPHERE / stand.conditions.ambient_pa
    return Finding(
        f"At idle the needle stands at {vacuum_words(idle)}. Snapped, it falls to {vacuum_words(min(snapped))} and "
        f"comes back over {vacuum_words(max(snapped))}. Held at 2,500 rpm it shows {vacuum_words(first)} at first and "
        f"{vacuum_words(last)} after half a minute.",
        not falls and at_sea_level >= LOW_INHG,
        (
            _seen("at idle", idling),
            _seen("on a snap", snapped),
            _seen("held, at first", held[:50]),
            _seen("held, half a minute later", held[-50:]),
        ),
    )


def _seen(when: str, needle: list[float]) -> SeenOnGauge:
    return SeenOnGauge(when, min(needle), max(needle))


def _needle(session: Session, seconds: float) -> list[float]:
    return [now.vacuum_inhg or 0.0 for now in watched(session, seconds, SAMPLE_S)]


@inspection("A few drops of light oil through a vacuum fitting, at idle", 10)
def oil_in_the_inlet(stand: OnTheStand) -> Finding:
    """Whether oil on the stems of the valves changes how often the needle drops."""
    session = stand.started()
    if session is None:
        return NOT_RUNNING
    dry = _needle(session, COUNTED_S)
    oiled = stand.started(_oiled(stand.wear))
    wet = _needle(oiled, COUNTED_S) if oiled else dry
    before, after = _drops(dry), _drops(wet)
    return Finding(
        f"In {COUNTED_S:.0f} seconds at idle the needle drops sharply {_times(before)}; with oil going down the inlet, "
        f"{_times(after)}.",
        before < 3 or after > before / 2,
        (_seen("before", dry), _seen("with oil", wet)),
    )


def _oiled(wear: Wear) -> Wear:
    eased = ((place, replace(one, hangs_share=one.hangs_share * (1.0 - OIL_FREES))) for place, one in wear.cylinders)
    return replace(wear, cylinders=tuple(eased))


def _drops(needle: list[float]) -> int:
    """How often it falls clearly below its own mean of a second."""
    count, down = 0, False
    for place in range(SMOOTH // 2, len(needle) - SMOOTH // 2):
        around = mean(needle[place - SMOOTH // 2 : place + SMOOTH // 2])
        below = around - needle[place] > (DROP_INHG if not down else DROP_INHG / 3)
        count += below and not down
        down = below
    return count


def _times(count: int) -> str:
    return {0: "not once", 1: "once", 2: "twice"}.get(count, f"{count} times")


@inspection("A gauge in the exhaust, before the silencer", 20, takes_apart=True)
def back_pressure(stand: OnTheStand) -> Finding:
    """Pressure in the exhaust after half a minute at 2,500 rpm."""
    session = stand.started()
    if session is None:
        return NOT_RUNNING
    session.act("hold_speed", 2500.0)
    session.advance(30.0)
    pressure = EXHAUST_ABOVE_AMBIENT_PA + session._motion.back_pressure_pa
    shown = 1e3 * stand.near(pressure / 1e3, 0.3, 0.5)
    return Finding(
        f"After half a minute at 2,500 rpm without load the gauge shows {pressure_words(shown, 0.5)}; in a free "
        f"exhaust it stays below {pressure_words(BLOCKED_FROM_PA, 0.5)}.",
        shown < BLOCKED_FROM_PA,
    )
