"""The engine as a whole: what it may be asked, its shapes, its settled states, its full throttle."""

import numpy as np
import pytest

from course import ENGINES
from engine_sim import Conditions, Engine, OutsideValidity, load_card
from engine_sim.physics.units import rad_s_from_rpm


@pytest.fixture(scope="module")
def engine():
    """The delivery truck's engine."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


def test_operating_points_broadcast(engine):
    """Arguments broadcast, every array of the answer has their common shape, and one point is one number."""
    points = engine.operating_points(np.array([[1000.0], [2000.0]]), [40.0, 60.0, 80.0], 20.0)
    named = {name: value for name, value in vars(points).items() if not name.startswith("_")}
    assert {np.shape(value) for value in named.values()} == {(2, 3)} == {points.knock_margin_deg.shape}
    assert engine.operating_points(1000.0, 40.0, 20.0).torque_nm.shape == ()


def test_operating_points_are_of_one_cycle(engine):
    """Torque, mean pressure and air flow of one point agree with each other and with the displacement."""
    points = engine.operating_points(2000.0, 80.0, 20.0)
    assert points.torque_nm == pytest.approx(points.imep_kpa * 1e3 * engine.displacement_m3 / (4 * np.pi))
    trapped = points.air_flow_g_s / 1e3 / (2000.0 / 120.0) / engine.displacement_m3
    assert 0.5 < trapped < 1.2
    assert points.knock_margin_octane == pytest.approx(
        engine.fuel_octane(Conditions(), 2000.0) - points.octane_required_ron
    )


def test_octane_is_the_cards_the_days_or_the_callers(engine):
    """The caller's octane number goes before the day's, and the day's before the card's."""
    assert engine.fuel_octane(Conditions()) == engine.card.setting.fuel_octane_ron
    assert engine.fuel_octane(Conditions(octane_ron=88.0)) == 88.0
    needs = engine.operating_points(1000.0, 90.0, 10.0).octane_required_ron
    day = engine.operating_points(1000.0, 90.0, 10.0, conditions=Conditions(octane_ron=88.0))
    assert day.knock_margin_octane == pytest.approx(88.0 - needs)
    own = engine.operating_points(1000.0, 90.0, 10.0, 97.0, Conditions(octane_ron=88.0))
    assert own.knock_margin_octane == pytest.approx(97.0 - needs)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({"base_timing_deg_btdc": -13.0}, "base_timing_deg_btdc is valid from -12 to 58; -13 was asked for"),
        ({"base_timing_deg_btdc": [8.0, 59.0]}, "base_timing_deg_btdc is valid from -12 to 58; 59 was asked for"),
        ({"base_timing_deg_btdc": 8.0, "idle_screw": 11.0}, "idle_screw is valid from 0 to 10; 11 was asked for"),
        ({"base_timing_deg_btdc": 8.0, "altitude_ft": 50_000.0}, "used from -500 m to 11000 m of altitude"),
    ],
)
def test_idle_outside_its_range(engine, arguments, sentence):
    """An idle outside the range is refused with what was asked and what is allowed."""
    with pytest.raises(OutsideValidity, match=sentence):
        engine.idle(**arguments)


def test_unknown_hose(engine):
    """A word that is no state of the hose is refused with the words there are."""
    with pytest.raises(ValueError, match="vacuum_advance can be plugged, open, connected; 'pinched' was given"):
        engine.idle(8.0, vacuum_advance="pinched")


def test_a_stalled_idle_is_no_number(engine):
    """Where the engine cannot idle every quantity is NaN and `stalls` says so; its neighbours are unharmed."""
    state = engine.idle([8.0, 8.0], [0.0, 2.5], coolant_c=-10.0, gear="drive")
    running = engine.idle(8.0, 2.5)
    assert state.stalls[0] and not running.stalls
    assert all(
        np.isnan(getattr(state, name)[0])
        for name in ("speed_rpm", "manifold_pressure_kpa", "manifold_vacuum_inhg", "total_advance_deg")
    )
    both = engine.idle([8.0, 8.0], [0.0, 2.5])
    assert both.speed_rpm[1] == pytest.approx(float(running.speed_rpm), abs=1e-3)


def test_a_screw_of_one_state_does_not_move_another(engine):
    """Many settled states at once are those found one by one, within a thousandth of a revolution."""
    timings, screws = np.array([0.0, 8.0, 20.0, 40.0]), np.array([2.0, 2.5, 3.0, 2.2])
    together = engine.idle(timings, screws).speed_rpm
    alone = [float(engine.idle(timing, screw).speed_rpm) for timing, screw in zip(timings, screws, strict=True)]
    assert together == pytest.approx(alone, abs=1e-3)


def test_the_hose_at_idle(engine):
    """Connected to a manifold source the vacuum unit advances the idle and speeds it up; open, it is a leak."""
    words = ("plugged", "connected", "open")
    plugged, connected, opened = (engine.idle(8.0, 2.0, vacuum_advance=word) for word in words)
    assert connected.total_advance_deg - plugged.total_advance_deg == pytest.approx(16.0)
    assert connected.speed_rpm > plugged.speed_rpm < opened.speed_rpm
    assert engine.throttle_area_m2(2.0, 0.0, "off and open") > engine.throttle_area_m2(2.0, 0.0, "off and plugged")


def test_in_gear_the_idle_falls(engine):
    """The converter's drag slows the idle and costs vacuum."""
    neutral, drive = engine.idle(8.0, 3.0), engine.idle(8.0, 3.0, gear="drive")
    assert drive.speed_rpm < neutral.speed_rpm and drive.manifold_vacuum_inhg < neutral.manifold_vacuum_inhg


def test_throttle_opens_from_its_stop_to_its_bore(engine):
    """The opening grows all the way with the throttle, from stop and screw to most of the bore."""
    area = engine.throttle_area_m2(2.0, np.linspace(0.0, 1.0, 21))
    assert np.all(np.diff(area) > 0) and area[0] == pytest.approx(22e-6)
    assert 0.7 < area[-1] / (np.pi / 4 * 0.042**2) < 1.0


def test_full_throttle_power_is_torque_times_speed(engine):
    """Power, torque, mean pressure and speed agree; the advance is base and weights, without vacuum."""
    speeds = np.array([1000.0, 2000.0, 3000.0])
    full = engine.full_throttle(speeds, 8.0)
    assert full.power_kw == pytest.approx(full.torque_nm * rad_s_from_rpm(speeds) / 1e3)
    assert full.brake_mep_kpa == pytest.approx(full.torque_nm * 4 * np.pi / engine.displacement_m3 / 1e3)
    assert full.total_advance_deg == pytest.approx(engine.advance_deg(8.0, speeds, 0.0))
    assert np.all(full.manifold_pressure_kpa < 101.325) and np.all(full.manifold_pressure_kpa > 90)


def test_altitude_costs_power(engine):
    """Up a hill the engine pulls less, about as much less as there is less air."""
    sea, high = engine.full_throttle(2000.0, 8.0), engine.full_throttle(2000.0, 8.0, altitude_ft=5000.0)
    assert 0.72 < high.power_kw / sea.power_kw < 0.9


def test_mixture_is_richest_with_the_throttle_open(engine):
    """The carburettor meters the card's three mixtures, and goes from one to the next without a step."""
    mixture = engine.card.mixture
    assert engine.equivalence_ratio(700.0, 0.35) == pytest.approx(mixture.idle_phi)
    assert engine.equivalence_ratio(2500.0, 0.5) == pytest.approx(mixture.cruise_phi)
    assert engine.equivalence_ratio(2500.0, 0.97) == pytest.approx(mixture.power_phi)
    load = np.linspace(0.2, 1.0, 2001)
    assert np.abs(np.diff(engine.equivalence_ratio(1100.0, load))).max() < 1e-3
