"""Where the engine's range ends: every limit is physical, with its reason, or is said in one sentence."""

import numpy as np
import pytest

from course import ENGINES
from engine_sim import AsFound, Engine, OutsideValidity, Session, load_card, usual_screw
from engine_sim.model.conditions import SEA_LEVEL_DAY
from engine_sim.model.dynamics import ControlInputs, Dynamics
from engine_sim.model.response_map import (
    DRAWS_NOTHING_PA,
    EARLIEST_DEG,
    LATEST_DEG,
    LOWEST_PA,
    draws_share,
    works_share,
)
from engine_sim.model.starting import under_way
from engine_sim.physics.units import PA_PER_INHG, rad_s_from_rpm
from tests.every_case import check_every

NAMES = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")


def engine_of(name="delivery_truck_six"):
    """The engine of that card."""
    return Engine(load_card(ENGINES / f"{name}.toml"))


def ran_on(name, base_deg, rpm=900.0, seconds=6.0, throttle=0.0):
    """The true state of a warm engine some seconds after it turned at a speed with this base timing."""
    engine = engine_of(name)
    dynamics, screw = Dynamics(engine, SEA_LEVEL_DAY), usual_screw(engine.card)
    motion = dynamics.at_rest(85.0)
    motion.speed_rad_s, motion.manifold_pa, motion.start = rad_s_from_rpm(rpm), 45e3, under_way()
    inputs = ControlInputs(base_deg, screw, throttle, vacuum_hose="off and plugged", ignition=True)
    deepest_pa = motion.manifold_pa
    for _ in range(round(seconds / 0.02)):
        dynamics.tick(motion, inputs)
        deepest_pa = min(deepest_pa, motion.manifold_pa)
    return motion, deepest_pa


# ---- total advance -------------------------------------------------------------------------------------------------


def test_a_spark_outside_the_map_does_less_and_less_work():
    """Inside the map all of the work is done; beyond either end less and less, and none at last; a float and an array
    alike."""
    inside = np.linspace(LATEST_DEG, EARLIEST_DEG, 7)
    assert works_share(inside) == pytest.approx(np.ones(7), abs=1e-12)
    beyond = np.array([0.0, 6.5, 13.0, 26.0, 60.0])
    for shares in (works_share(LATEST_DEG - beyond), works_share(EARLIEST_DEG + beyond)):
        assert shares == pytest.approx([1.0, 0.75, 0.5, 0.0, 0.0], abs=1e-12)
    assert works_share(EARLIEST_DEG + 13.0) == pytest.approx(0.5)


def test_no_advance_is_taken_for_another():
    """With a little throttle every further fifteen degrees slow the engine down, beyond the map as well, and so early
    that no charge takes fire it stops."""

    def check(name):
        turning = {base: ran_on(name, base, throttle=0.12)[0].speed_rpm for base in (45.0, 60.0, 75.0, 105.0)}
        assert turning[45.0] > turning[60.0] > turning[75.0] > turning[105.0] == 0.0

    check_every(check, ((name, name) for name in NAMES))


def test_full_advance_on_the_road_is_computed_and_not_cut_off():
    """Base, weights and vacuum unit together come to 68 degrees and more; each further degree still costs torque there,
    and the map follows the cycle."""
    engine, spark = engine_of(), np.array([56.0, 60.0, 64.0, 68.0])
    torque = engine.operating_points(2000.0, 45.0, spark).torque_nm
    by_map = engine.response().at(2000.0, 45e3, spark, "work_pa") * engine.torque_per_pa
    assert np.all(np.diff(torque) < -1.0) and by_map == pytest.approx(torque, abs=0.01 * torque.max())


# ---- pressure ------------------------------------------------------------------------------------------------------


def test_an_emptier_manifold_than_the_map_gives_less_air():
    """Below the map's lowest pressure less and less is drawn, and nothing where what is left in the cylinder fills
    it; the map's air and the running engine's agree."""
    response = engine_of().response()
    speed, pressures = np.full(4, 3000.0), np.array([LOWEST_PA, 10e3, 9e3, DRAWS_NOTHING_PA])
    air = response.air_at(speed)(pressures)
    assert air / air[0] == pytest.approx([1.0, 0.5, 0.25, 0.0], abs=1e-9)
    assert [draws_share(float(pressure)) for pressure in pressures] == pytest.approx([1.0, 0.5, 0.25, 0.0])


def test_on_the_overrun_the_vacuum_comes_to_rest_by_itself():
    """With a closed throttle at 4,500 rpm every engine draws its manifold emptier than the map's, but not as far as
    where it would draw nothing, which is 27.6 inHg."""

    def check(name):
        deepest_pa = ran_on(name, 8.0, rpm=4500.0, seconds=3.0)[1]
        assert DRAWS_NOTHING_PA < deepest_pa < LOWEST_PA
        assert (SEA_LEVEL_DAY.ambient_pa - deepest_pa) / PA_PER_INHG < 27.6

    check_every(check, ((name, name) for name in NAMES))


# ---- library calls -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("point", "sentence"),
    [
        ((200.0, 40e3, 8.0), "no speed_rpm of 200; the nearest that it has is 250"),
        ((6100.0, 40e3, 8.0), "no speed_rpm of 6100; the nearest that it has is 6000"),
        ((800.0, 9e3, 8.0), "no manifold_pa of 9000; the nearest that it has is 12000"),
        ((800.0, 2e5, 8.0), "no manifold_pa of 200000; the nearest that it has is 103352"),
        ((800.0, 40e3, [8.0, 72.0]), "no spark_deg of 72; the nearest that it has is 71"),
        ((800.0, 40e3, -15.0), "no spark_deg of -15; the nearest that it has is -14"),
        ((float("nan"), 40e3, 8.0), "no speed_rpm of nan"),
    ],
)
def test_the_map_refuses_what_it_does_not_have(point, sentence):
    """A point outside the map is refused with what was asked and the nearest that there is."""
    with pytest.raises(OutsideValidity, match=sentence):
        engine_of().response().at(*point, "work_pa")


def test_an_idle_that_races_is_no_stall():
    """With the throttle open an engine without load runs faster than any idle: that is refused, and not told as a
    stall."""
    engine = engine_of()
    with pytest.raises(OutsideValidity, match="settles above 3200 rpm, which is no idle: turn the screw out or close"):
        engine.idle(8.0, 2.0, throttle=0.5)
    assert engine.idle(8.0, 0.0, coolant_c=-20.0, gear="drive").stalls


# ---- at the bench --------------------------------------------------------------------------------------------------


def test_a_mixture_screw_turned_out_too_far_says_so():
    """Where turning the screw further changes nothing, the bench says so, and it changes nothing."""
    engine = engine_of()
    found = AsFound(8.0, 2.4, coolant_c=85.0, prepared=True)
    session = Session(engine, found=found, tools=("mixture_screw",))
    assert "changes nothing more" not in session.act("mixture_screw", 3.0).sentence
    at_end = session._inputs.mixture_shift
    for turns in (3.25, 4.0):
        assert session.act("mixture_screw", turns).sentence.endswith("the idle jet meters the fuel, and not the screw.")
        assert at_end < session._inputs.mixture_shift == pytest.approx(0.40)


def test_an_engine_that_never_gets_warm_is_not_told_as_stopped(monkeypatch):
    """Waiting for a warm engine ends with what is true: it still runs, and is not warm."""
    monkeypatch.setattr("engine_sim.workshop.session.WARM_UP_AT_MOST_S", 30.0)
    session = Session(engine_of(), found=AsFound(8.0, 2.4, coolant_c=20.0, prepared=True))
    session.act("starter")
    session.advance(8.0)
    assert session.running
    assert "is not warm yet" in session.act("wait_until_warm").sentence and session.running


# ---- screw, slot and ported fitting ----------------------------------------------------------------------------------


def test_an_idle_screw_far_in_enriches_and_uncovers_the_ported_fitting():
    """At its usual place the screw does neither; far in it adds fuel through the transfer slot, which the screws of the
    mixture do not meter, and a hose on the ported fitting draws at a closed throttle."""
    for name in NAMES:
        engine, usual = engine_of(name), usual_screw(load_card(ENGINES / f"{name}.toml"))
        assert engine.plate_travel(usual) == pytest.approx(0.0, abs=1e-9) and engine.slot_shift(usual) == 0.0
        travel = engine.plate_travel(np.linspace(usual, 6.0, 9))
        assert np.all(np.diff(travel) > 0.0) and travel[-1] > 0.04
        assert engine.slot_shift(usual + 1.0) == 0.0 and 0.10 < engine.slot_shift(6.0) <= 0.16
        assert engine.plate_travel(usual, 0.3) == pytest.approx(0.3)


def test_the_ported_hose_pulls_at_idle_where_the_screw_is_far_in():
    """With its hose on a ported fitting the runabout gains nothing at idle with the usual screw and degrees with one
    far in; settled state, running engine and the gauge on that fitting agree."""
    engine = engine_of("farm_runabout_four")
    usual = usual_screw(engine.card)
    for screw, gains in ((usual, False), (5.5, True)):
        off, on = (engine.idle(8.0, screw, vacuum_advance=hose) for hose in ("plugged", "connected"))
        weights = [float(engine.centrifugal_deg(state.speed_rpm)) for state in (off, on)]
        by_vacuum = float(on.total_advance_deg) - weights[1] - 8.0
        assert (by_vacuum > 3.0) if gains else by_vacuum == pytest.approx(0.0, abs=1e-9)
        session = Session(engine, found=AsFound(8.0, screw, coolant_c=85.0, prepared=True))
        session.act("vacuum_hose", "on")
        session.act("gauge_hose", "ported")
        session.act("starter")
        session.advance(40.0)
        assert session._motion.speed_rpm == pytest.approx(float(on.speed_rpm), abs=6.0)
        assert (session.readings().vacuum_inhg > 3.0) == gains


def test_many_screws_at_once_are_refused_where_the_slot_is_uncovered():
    """A settled idle with the slot uncovered is of one screw, as with an air leak; left out, many can be asked."""
    engine = engine_of()
    with pytest.raises(
        OutsideValidity, match="which uncovers the slot, the idle is worked out for one screw at a time"
    ):
        engine.idle(8.0, [2.0, 6.0])
    both = engine.idle(8.0, [2.0, 6.0], slot=False)
    assert both.speed_rpm[0] == pytest.approx(float(engine.idle(8.0, 2.0).speed_rpm), rel=1e-9)  # the slot is covered
    assert both.speed_rpm[1] != pytest.approx(float(engine.idle(8.0, 6.0).speed_rpm), rel=1e-4)
