"""The cycle as a numerical method: order, conservation, agreement with a general integrator, limits."""

from dataclasses import astuple, replace

import numpy as np
import pytest

from engine_sim import SEA_LEVEL_DAY
from engine_sim.model import cycle
from engine_sim.physics import breathing, fuel, gas, knock
from tests.numerics.reference_cycle import integrated, integrated_together, marched, runge_kutta_together

# speed [rpm], manifold pressure [Pa], total advance [deg]: idle late and at the peak, full load, fast, cruise
POINTS = [(800.0, 37e3, 8.0), (800.0, 37e3, 35.0), (2000.0, 97e3, 25.0), (4000.0, 90e3, 32.0), (1500.0, 60e3, 40.0)]
STEPS_DEG = (4.0, 2.0, 1.0, 0.5, 0.25)
NEARLY_EXACT_DEG = 1 / 32
IDS = ["idle late", "idle peak", "full load", "fast", "cruise"]


@pytest.fixture(scope="module")
def errors(engine):
    """Relative error of mean pressure and knock integral over the steps; shape (steps, points)."""
    columns = np.array(POINTS).T
    exact = engine.run_cycle(*columns, step_deg=NEARLY_EXACT_DEG)
    found = [engine.run_cycle(*columns, step_deg=step) for step in STEPS_DEG]
    return {
        name: np.array([abs(getattr(result, name) / getattr(exact, name) - 1) for result in found])
        for name in ("imep_pa", "integral_100")
    }


def test_order_of_accuracy_is_two(errors):
    """From a step of 4 to one of 1/4 degree the error falls as the step squared: that of mean pressure at every point,
    that of the integral at the worst of them, since its end may by chance fall on a step of one point."""
    for found in (*errors["imep_pa"].T, errors["integral_100"].max(axis=1)):
        order = np.log2(found[0] / found[-1]) / 4
        assert 1.85 < order < 2.2, found


def test_step_in_use_is_fine_enough(errors):
    """At the step of one degree mean pressure is within 1.2 in 10,000 and the integral within 2 in 10,000."""
    one = STEPS_DEG.index(1.0)
    assert errors["imep_pa"][one].max() < 1.2e-4 and errors["integral_100"][one].max() < 2e-4


@pytest.mark.parametrize("point", POINTS, ids=IDS)
def test_agrees_with_a_general_integrator(engine, point):
    """Against scipy's integrator on the same equations, at 1 degree: pressure and end gas within 3e-5, work and wall
    heat within 1.5e-4, the knock integral within 3e-4."""
    result, trace = marched(engine, *point)
    exact = integrated(engine, point[0], trace.charge)
    work = np.sum(0.5 * (trace.pressure_pa[1:, 0] + trace.pressure_pa[:-1, 0]) * np.diff(trace.volume_m3))
    assert trace.pressure_pa[-1, 0] == pytest.approx(exact.pressure_pa, rel=3e-5)
    assert trace.end_gas_k[-1, 0] == pytest.approx(exact.end_gas_k, rel=3e-5)
    assert work == pytest.approx(exact.work_j, rel=1.5e-4)
    assert trace.wall_heat_j[-1, 0] == pytest.approx(exact.wall_heat_j, rel=1.5e-4)
    assert result.integral_100[0] == pytest.approx(exact.integral_100, rel=3e-4)


def test_many_at_once_as_one_by_one(engine):
    """Solved as one large system, or marched together in steps of a half degree, the points come to what each comes to
    alone, within 3e-5: what the benchmark compares are the same equations."""
    points = np.array(POINTS).T
    charge = marched(engine, *points)[1].charge
    alone = [integrated(engine, point[0], marched(engine, *point)[1].charge) for point in POINTS]
    exact = np.array([astuple(solution) for solution in alone]).T
    settings = {"rtol": 1e-8, "atol": 1e-8, "max_step": 0.5}
    for together in (
        integrated_together(engine, points[0], charge, settings),
        runge_kutta_together(engine, points[0], charge, 0.5),
    ):
        assert np.array(astuple(together)) == pytest.approx(exact, rel=3e-5)


@pytest.mark.parametrize("point", POINTS, ids=IDS)
def test_energy_balance_closes(engine, point):
    """What the fuel released is found again as work, wall heat and internal energy of the gas, within 0.1 percent."""
    _, trace = marched(engine, *point)
    pressure, volume, burned = trace.pressure_pa[:, 0], trace.volume_m3, trace.burned[:, 0]
    middle = 0.5 * (pressure[1:] * volume[1:] + pressure[:-1] * volume[:-1])
    gamma = mean_gamma(middle / (trace.charge.mass_kg * cycle.GAS_CONSTANT_MEAN), 0.5 * (burned[1:] + burned[:-1]))
    stored = np.sum(np.diff(pressure * volume) / (gamma - 1.0))
    work = np.sum(0.5 * (pressure[1:] + pressure[:-1]) * np.diff(volume))
    released = trace.charge.heat_j[0] * burned[-1]
    assert stored + work + trace.wall_heat_j[-1, 0] == pytest.approx(released, rel=1e-3)


def mean_gamma(temperature_k, burned):
    """Ratio of specific heats of a partly burned charge, its heat capacities added up."""
    cold, hot = gas.gamma_unburned(np.minimum(temperature_k, 1000.0)), gas.gamma_burned(temperature_k)
    return 1.0 + 1.0 / ((1.0 - burned) / (cold - 1.0) + burned / (hot - 1.0))


def test_mass_is_conserved(engine):
    """Air, fuel and residual gas add up to the charge that was trapped."""
    result, trace = marched(engine, *np.array(POINTS).T)
    residual = result.residual_fraction * trace.charge.mass_kg
    assert result.air_kg + result.fuel_kg + residual == pytest.approx(trace.charge.mass_kg, rel=1e-12)


def test_throttle_and_cylinders_agree_at_idle(engine):
    """Where the idle settles, the throttle passes what the cylinders draw, within 1 in 1,000."""
    state = engine.idle([0.0, 8.0, 35.0], 2.3)
    area = engine.throttle_area_m2(2.3)
    passed = breathing.throttle_flow_kg_s(area, 101_325.0, 293.15, state.manifold_pressure_kpa * 1e3)
    drawn = engine.operating_points(state.speed_rpm, state.manifold_pressure_kpa, state.total_advance_deg).air_flow_g_s
    assert drawn == pytest.approx(passed * 1e3, rel=1e-3)


def test_idle_torque_balances(engine):
    """Where the idle settles, the cycle's torque is what friction, pumping and accessories take, within 0.2 N m."""
    state = engine.idle([0.0, 8.0, 20.0, 35.0], 2.3)
    points = engine.operating_points(state.speed_rpm, state.manifold_pressure_kpa, state.total_advance_deg)
    spent = engine.loss_torque_nm(state.speed_rpm, state.manifold_pressure_kpa * 1e3, SEA_LEVEL_DAY)
    assert points.torque_nm == pytest.approx(spent, abs=0.2)


def lossless(engine):
    """The engine's cylinder with walls that take no heat."""
    return replace(engine.setup, heat_factor=0.0)


def test_without_burn_or_loss_the_cycle_is_motored(engine):
    """With a spark after the exhaust valve opens and no heat to the walls, compression is reversible: the pressure is
    the same at equal angles before and after top centre, and the work of the symmetric part is nothing."""
    setup = replace(lossless(engine), intake_closes_deg=-120.0, exhaust_opens_deg=120.0)
    trace = cycle.CycleTrace()
    cycle.run_cycle(setup, [1500.0], 60e3, -125.0, 101_325.0, 300.0, 1.0, trace=trace)
    pressure = trace.pressure_pa[:, 0]
    work = np.sum(0.5 * (pressure[1:] + pressure[:-1]) * np.diff(trace.volume_m3))
    squeeze = np.sum(0.5 * (pressure[1:] + pressure[:-1]) * np.abs(np.diff(trace.volume_m3))) / 2
    assert trace.burned.max() == 0.0
    assert pressure == pytest.approx(pressure[::-1], rel=1e-4)
    assert abs(work) < 1e-4 * squeeze


def test_motored_with_loss_gives_work_away(engine):
    """Motored with cooled walls, the work is negative and the highest pressure comes before top centre."""
    result, trace = marched(engine, 1500.0, 60e3, -125.0)
    late = trace.burned[trace.angle_deg < 120].max()
    assert late == 0.0 and -4.0 < result.peak_pressure_deg_atdc[0] < 0.0
    work = np.sum(0.5 * (trace.pressure_pa[1:, 0] + trace.pressure_pa[:-1, 0]) * np.diff(trace.volume_m3))
    assert work < 0.0


def test_end_gas_follows_the_isentropic_relation(engine, monkeypatch):
    """With a constant gamma, the end gas obeys T2/T1 = (p2/p1)^((gamma-1)/gamma) at every angle, to rounding."""
    monkeypatch.setattr(gas, "gamma_unburned", lambda kelvin: np.full_like(kelvin, 1.33))
    _, trace = marched(engine, 2000.0, 90e3, 25.0)
    expected = trace.end_gas_k[0] * (trace.pressure_pa / trace.pressure_pa[0]) ** (0.33 / 1.33)
    assert trace.end_gas_k == pytest.approx(expected, rel=1e-12)


def test_more_octane_never_knocks_and_less_always_does(engine):
    """As the octane number grows the integral falls to nothing; as it falls, the integral passes any bound."""
    integral = engine.run_cycle(np.array([2000.0]), 97e3, 25.0).integral_100
    found = knock.knock_integral(integral, np.array([40.0, 80.0, 130.0, 1e4, 1e6]))
    assert np.all(np.diff(found) < 0) and found[0] > 1.0 and found[-1] < 1e-12


def test_heat_released_is_no_more_than_the_fuel_holds(engine):
    """Mean pressure times swept volume, wall heat and exhaust together stay below the heat of the fuel."""
    result, trace = marched(engine, *np.array(POINTS).T)
    held = result.fuel_kg * fuel.LOWER_HEATING_VALUE_J_KG
    assert np.all(trace.charge.heat_j <= held)
    efficiency = result.imep_pa * engine.setup.geometry.swept_volume_m3 / held
    ideal = 1.0 - engine.setup.geometry.compression_ratio ** (1.0 - 1.35)
    assert np.all((efficiency > 0.15) & (efficiency < ideal))


def test_points_do_not_know_of_each_other(engine):
    """A point computed alone and among five thousand others gives the same, to rounding."""
    rng = np.random.default_rng(1)
    speed, pressure, spark = rng.uniform(500, 4000, 5000), rng.uniform(3e4, 1e5, 5000), rng.uniform(0, 50, 5000)
    together = engine.run_cycle(speed, pressure, spark)
    for index in (0, 4095, 4096, 4999):
        alone = engine.run_cycle(speed[index : index + 1], pressure[index : index + 1], spark[index : index + 1])
        assert alone.imep_pa[0] == pytest.approx(together.imep_pa[index], rel=1e-13)
        assert alone.integral_100[0] == pytest.approx(together.integral_100[index], rel=1e-12)


def test_geometry_slope_is_the_derivative_of_volume(engine):
    """Volume's slope is its derivative, volumes at the centres are clearance and whole, and the ratio is the card's."""
    geometry, angle, step = engine.setup.geometry, np.linspace(-3.1, 3.1, 41), 1e-6
    by_difference = (geometry.volume_m3(angle + step) - geometry.volume_m3(angle - step)) / (2 * step)
    assert geometry.volume_slope_m3_rad(angle) == pytest.approx(by_difference, rel=1e-6, abs=1e-12)
    ratio = geometry.volume_m3(np.pi) / geometry.volume_m3(0.0)
    assert ratio == pytest.approx(geometry.compression_ratio, rel=1e-12)


def test_the_peak_is_the_top_of_the_parabola():
    """Of pressures on a parabola angle and height of the top come out to the last digits, wherever it lies between two
    angles."""
    angles = np.arange(5.0, 25.0)
    tops = np.linspace(10.0, 20.0, 23)
    found_deg, found_pa = cycle._peak(angles, 4e6 - 9e3 * (angles[:, None] - tops) ** 2)
    assert found_deg == pytest.approx(tops, abs=1e-9) and found_pa == pytest.approx(np.full(tops.size, 4e6))
