"""Inspections of a cold engine that is slow to start: in park or neutral, brake on, chocks in place, leads earthed."""

from __future__ import annotations

from dataclasses import replace

from engine_sim.model.engine import Engine
from engine_sim.model.starting import JETS_COVERED_FROM
from engine_sim.physics import ignition
from engine_sim.workshop import adjustments
from engine_sim.workshop.controls import CONTROLS
from engine_sim.workshop.session import CRANK_AT_MOST_S, Session

from .inspection import Finding, Inspection, OnTheStand, maker

STARTING: dict[str, Inspection] = {}
inspection = maker(True, STARTING)

LOOK_EVERY_S = 0.1  # at a crank that the starter turns
SPEED_FROM_S = 0.4  # after the key, from which the speed of the crank is heard
SPEED_TO_S = 0.9  # until which, before a sound engine catches
DRAGS_BELOW = 0.85  # of the speed at which a good battery turns it; calibration
LONG_FROM = 1.5  # times as long as a sound engine takes; calibration
CRANKED_RPM = 180.0  # common practice
LEAST_OF_COIL = 0.85  # of the voltage that a coil as new raises; calibration
SPARK_OFF_DEG = 4.0  # crank degrees of static timing beside the figure; calibration


def _cranked(stand: OnTheStand, engine: Engine) -> tuple[Session, float, float | None]:
    """The cold engine with the key held: the session, the crank's early speed [rpm], seconds until it runs or None."""
    found = replace(stand.found, coolant_c=stand.conditions.ambient_c)
    if engine is not stand.engine:
        found = replace(
            found,
            base_timing_deg=stand.card.setting.label_base_timing_deg,
            flood=0.0,
            bowl=1.0,
            battery=1.0,
            half_turn=False,
            teeth_out=0,
            point_gap_mm=None,
        )
    session, speeds, runs_s = Session(engine, conditions=stand.conditions, found=found), [], None
    session.act("starter")
    for look in range(1, round(CRANK_AT_MOST_S / LOOK_EVERY_S) + 2):
        session.advance(LOOK_EVERY_S)
        if SPEED_FROM_S <= look * LOOK_EVERY_S <= SPEED_TO_S:
            speeds.append(session.readings().speed_rpm or 0.0)
        if session.running:
            runs_s = look * LOOK_EVERY_S
            break
    return session, sum(speeds) / len(speeds), runs_s


@inspection("Park or neutral, the starter once: how it turns, how long it takes, what the exhaust does", 2)
def crank_and_listen(stand: OnTheStand) -> Finding:
    """How briskly the cold engine turns, after how long it runs, and what is heard and smelt meanwhile."""
    session, speed, runs_s = _cranked(stand, stand.engine)
    _, sound_speed, sound_s = _cranked(stand, stand.sound)
    kicks = "kicks back" in session.sentence
    drags = not kicks and speed < DRAGS_BELOW * sound_speed
    turns = "is thrown back in jerks" if kicks else "drags, and the lamps go dim" if drags else "turns evenly, briskly"
    usual = f"cold as it is, such an engine takes about {sound_s or CRANK_AT_MOST_S:.0f}"
    if runs_s is None:
        _, _, smelt = session.sentence.partition("has not started; ")
        said = f"It {turns}, and does not run within ten seconds{'; ' + smelt.rstrip('.') if smelt else ''}; {usual}."
        return Finding(said, False)
    long = runs_s > LONG_FROM * (sound_s or CRANK_AT_MOST_S)
    return Finding(f"It {turns}, and runs after {runs_s:.1f} seconds; {usual}.", not (long or drags or kicks))


@inspection("Engine off: is there a squirt at the jet as the throttle is opened?", 3)
def fuel_at_jet(stand: OnTheStand) -> Finding:
    """Whether the accelerator pump has petrol to give."""
    if stand.found.bowl < JETS_COVERED_FROM:
        return Finding("Nothing comes out of the jet as the throttle is opened, however often.", False)
    return Finding("A good squirt comes out of the jet each time the throttle is opened.", True)


@inspection("A spark tester, clipped to earth, while the starter turns", 5)
def spark_at_tester(stand: OnTheStand) -> Finding:
    """The voltage that the coil raises at the speed and with the battery of the starter."""
    volt = ignition.CRANKING_VOLT * stand.found.battery**0.5
    dwell = adjustments.dwell_deg(stand.card, stand.settings)
    shown = float(stand.engine.coil.available_kv(ignition.coil_on_time_s(dwell, CRANKED_RPM), volt))
    on_time = ignition.coil_on_time_s(stand.card.ignition.dwell_deg, CRANKED_RPM)
    wanted = float(stand.sound.coil.available_kv(on_time, ignition.CRANKING_VOLT))
    if shown >= LEAST_OF_COIL * wanted:
        return Finding("A strong spark jumps the gap of the tester each time.", True)
    if shown >= 0.5 * wanted:
        return Finding("A thin spark jumps the gap of the tester, and not each time.", False)
    return Finding("No spark jumps the gap of the tester.", False)


@inspection("Static timing: where the spark comes, by lamp at rest or light on the starter", 15)
def static_timing(stand: OnTheStand) -> Finding:
    """Where the spark comes by the marks, beside the figure, as far as the marks reach."""
    figure, marks = stand.card.setting.label_base_timing_deg, CONTROLS["crank_mark"]
    shown = stand.near(stand.base_timing_deg + stand.wear.mark_slip_deg, 0.5, 1.0)
    usual = f"an engine that starts well has it about {figure:.0f} degrees before"
    if not marks.low <= shown <= marks.high:
        return Finding(
            f"No spark comes between {marks.high:.0f} degrees before and {-marks.low:.0f} degrees after top dead "
            f"centre, as far as the marks reach; {usual}.",
            False,
        )
    side = "before" if shown >= 0 else "after"
    return Finding(
        f"The spark comes {abs(shown):.0f} degrees {side} top dead centre; {usual}.",
        abs(shown - figure) < SPARK_OFF_DEG,
    )
