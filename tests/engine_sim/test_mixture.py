"""Mixture, air leaks, back pressure, moist air and fuel: what reaches the cylinders besides air and spark."""

import numpy as np
import pytest

from course import ENGINES
from engine_sim import SOUND, Conditions, Engine, OutsideValidity, Wear, load_card
from engine_sim.physics.fuel import antiknock_index, octane_in_use


@pytest.fixture(scope="module")
def truck():
    """The delivery truck's engine, jetted for the sea."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


def test_thin_air_enriches(truck):
    """Jets meter as the square root of density: 7.7 percent richer at 5,000 ft, by the standard atmosphere."""
    sea, high = Conditions(ambient_c=15.0), Conditions(5000.0, 4.9)
    density = (high.ambient_pa / high.ambient_k) / (sea.ambient_pa / sea.ambient_k)
    assert truck.enrichment(high) / truck.enrichment(sea) == pytest.approx(density**-0.5, rel=1e-6)
    assert density**-0.5 == pytest.approx(1.077, abs=0.002)


def test_an_engine_jetted_for_the_hills_runs_lean_at_the_sea():
    """The hauler is metered as its card says at 5,000 ft, and leaner below."""
    hauler = Engine(load_card(ENGINES / "hill_hauler_eight.toml"))
    assert hauler.enrichment(Conditions(5000.0)) == pytest.approx(1.0) and hauler.enrichment(Conditions()) < 0.94


@pytest.mark.parametrize(
    ("shift", "false_air", "back_pa"),
    [(0.12, 0.0, 0.0), (-0.2, 0.0, 0.0), (0.0, 0.13, 0.0), (0.0, 0.0, 20e3), (-0.1, 0.06, 10e3)],
)
def test_between_its_maps_the_engine_is_the_cycle(truck, shift, false_air, back_pa):
    """Blended maps give the work of the cycle itself, with that mixture and back pressure, within 3 percent of full
    idle work."""
    response = truck.response(mixture_shift=shift, false_air=false_air, back_pressure_pa=back_pa)
    for rpm, pressure, spark in ((750.0, 40e3, 10.0), (800.0, 55e3, 20.0), (2000.0, 45e3, 30.0)):
        others = {"mixture_shift": shift, "false_air": false_air, "back_pressure_pa": back_pa}
        cycle = truck.run_cycle(rpm, pressure, spark, **others)
        assert float(response.at(rpm, pressure, spark, "work_pa")) == pytest.approx(float(cycle.work_pa), abs=6e3)


def test_false_air_is_worked_out_for_one_screw(truck):
    """With a leak the idle depends on the screw's own mixture: many screws at once are refused."""
    leaking = Engine(truck.card, Wear(plenum_leak_m2=5e-6))
    assert leaking.idle(8.0, 2.4).speed_rpm < truck.idle(8.0, 2.4).speed_rpm + 200.0
    with pytest.raises(OutsideValidity, match="one screw at a time"):
        leaking.idle(8.0, [2.0, 2.4])


def test_back_pressure_grows_with_the_square_of_the_flow(truck):
    """A blocked exhaust: nothing at rest, four times as much at twice the flow, bounded; a free one adds nothing."""
    blocked = Engine(truck.card, Wear(exhaust_blocked=400.0))
    flow = np.array([0.0, 5.0, 10.0, 1e4])
    found = blocked.back_pressure_pa(flow)
    assert found[0] == 0.0 and found[2] == pytest.approx(4.0 * found[1]) and found[3] == 60e3
    assert truck.back_pressure_pa(50.0) == 0.0


def test_moist_air_takes_power_and_octane(truck):
    """Hot moist air gives less torque and asks for less octane than hot dry air."""
    dry, moist = (truck.full_throttle(2000.0, 8.0, ambient_c=30.0, humidity_percent=share) for share in (0.0, 100.0))
    assert moist.torque_nm < dry.torque_nm and moist.octane_required_ron < dry.octane_required_ron


def test_octane_in_use_goes_from_ron_to_the_pumps_number():
    """RON up to 1,000 rpm, the mean of RON and MON from 4,000 on, on a straight line between."""
    assert octane_in_use(95.0, 85.0, 800.0) == 95.0
    assert octane_in_use(95.0, 85.0, np.array([2500.0, 4000.0, 6000.0])) == pytest.approx([92.5, 90.0, 90.0])
    assert octane_in_use(95.0, 85.0, 4000.0) == antiknock_index(95.0, 85.0)


def test_a_sensitive_fuel_pings_sooner_when_fast(truck):
    """Of two fuels of one RON, the one with the lower MON has less margin at speed and the same when slow."""
    plain, sensitive = (Conditions(octane_ron=95.0, octane_mon=mon) for mon in (95.0, 83.0))
    assert truck.fuel_octane(plain, 900.0) == truck.fuel_octane(sensitive, 900.0)
    assert truck.fuel_octane(plain, 3000.0) > truck.fuel_octane(sensitive, 3000.0) + 2.0


def test_worn_cylinders_cost_work_and_air():
    """A leaking cylinder costs the engine its share, less when it turns faster; shares of a sound one are whole."""
    from engine_sim import CylinderWear

    leaky = SOUND.with_cylinders(CylinderWear(leak_share=0.5, leaks_to="exhaust"), 1)
    assert leaky.work_share(800.0, 6) == pytest.approx(1.0 - 0.8 / 6.0)
    assert leaky.work_share(800.0, 6) < leaky.work_share(3000.0, 6) < 1.0
    assert leaky.draw_share(800.0, 6) == pytest.approx(1.0 - 0.75 / 6.0)
    speeds = np.array([400.0, 800.0, 3000.0])
    assert np.all(np.diff(leaky.work_share(speeds, 6)) > 0)
