"""The truck's engine as a whole beside what is known of healthy engines: idle, best timing, octane, altitude."""

import pytest

from engine_sim import SEA_LEVEL_DAY, Conditions, WarmIdle, ping_share
from engine_sim.model.dynamics import ControlInputs, Dynamics
from engine_sim.physics.units import PA_PER_INHG
from tests.published.checks import Check
from tests.published.demo_engine import (
    best_index,
    engine,
    engine_with,
    idle_vacuum_inhg,
    method,
    octane_required,
    relative_torque,
    spark_sweep,
)

CHECKS = [
    Check("idle_vacuum_healthy", idle_vacuum_inhg),
    Check("base_timing_by_the_method", lambda: method().timing_deg),
    Check("vacuum_per_1000_ft", lambda: idle_vacuum_inhg(0.0) - idle_vacuum_inhg(1000.0)),
    Check("cranking_vacuum", lambda: cranking_vacuum_inhg()),
    Check("burned_half_at_best_timing", lambda: spark_sweep()[1].burned_50_deg_atdc[best_index()]),
    Check("peak_pressure_at_best_timing", lambda: spark_sweep()[1].peak_pressure_deg_atdc[best_index()]),
    *(Check(f"relative_torque_{late}_late", lambda late=late: relative_torque(late)) for late in (5, 10, 20)),
    Check("octane_per_degree", lambda: (octane_required(base_deg=10.0) - octane_required(base_deg=6.0)) / 4),
    Check("octane_per_humidity", lambda: octane_per_gram()),
    Check("octane_per_1000_ft", lambda: (octane_required(altitude_ft=5000.0) - octane_required()) / 5),
]


def cranking_vacuum_inhg() -> float:
    """Vacuum after five seconds of the starter on the warm engine, ignition off, throttle closed."""
    dynamics = Dynamics(engine(), SEA_LEVEL_DAY)
    motion, inputs = dynamics.at_rest(85.0), ControlInputs(8.0, 2.3, starter=True)
    for _ in range(250):
        dynamics.tick(motion, inputs)
    return (dynamics.ambient_pa - motion.manifold_pa) / PA_PER_INHG


def octane_per_gram() -> float:
    """Change of the requirement for each gram of water in a kilogram of air, from dry air to saturated at 30 °C."""
    dry, moist = (
        float(engine().full_throttle(2000.0, 8.0, ambient_c=30.0, humidity_percent=percent).octane_required_ron)
        for percent in (0.0, 100.0)
    )
    share = Conditions(ambient_c=30.0, humidity_percent=100.0).vapour_share
    return (moist - dry) / (1e3 * share / (1.0 - share))


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_healthy_engine(check):
    """The truck's engine lies in the band of common practice or of the literature."""
    check.must_agree()


def test_octane_rises_with_advance():
    """Each further degree of base timing asks for more octane, at every speed of full throttle."""
    for speed in (1000.0, 1500.0, 2500.0):
        found = [octane_required(speed, base) for base in (0.0, 4.0, 8.0, 12.0, 16.0)]
        assert found == sorted(found) and len(set(found)) == 5


def test_octane_rises_with_load():
    """At one speed and spark, a fuller cylinder asks for more octane."""
    found = engine().operating_points(2000.0, [40.0, 60.0, 80.0, 97.0], 25.0).octane_required_ron
    assert list(found) == sorted(found) and found[-1] - found[0] > 5


def test_octane_rises_with_compression_and_heat_and_falls_with_altitude():
    """More compression and hotter air ask for more octane, thinner air for less."""
    label = octane_required()
    assert octane_required(of=engine_with("block", compression_ratio=9.2)) > label + 2
    assert octane_required(ambient_c=40.0) > label + 1 > label - 1 > octane_required(ambient_c=0.0)
    assert octane_required(altitude_ft=3000.0) < label - 1


def test_the_label_pings_less_than_the_peak():
    """Full throttle with the label's timing leaves the fuel in the tank a margin; with the peak's timing every cycle
    pings: this is why the method backs off."""
    fuel = engine().card.setting.fuel_octane_ron
    assert ping_share(fuel - octane_required(2000.0)) < 0.01
    assert ping_share(fuel - octane_required(1500.0, method().peak_timing_deg)) > 0.99


def test_peak_vacuum_is_flat():
    """Ten degrees to either side of the peak cost less than a quarter of an inch of mercury: a wobble hides degrees."""
    plant, found = WarmIdle(engine()), method()
    for aside in (-10.0, 10.0):
        vacuum = plant.settled(found.peak_timing_deg + aside, found.idle_setting)[1]
        assert 0.0 < found.peak_vacuum_inhg - vacuum < 0.25


def test_vacuum_and_speed_peak_together():
    """At a fixed screw the highest vacuum and the highest speed lie within a degree of each other."""
    found = method()
    timings = [found.peak_timing_deg + shift for shift in range(-6, 7)]
    states = [WarmIdle(engine()).settled(timing, found.idle_setting) for timing in timings]
    speeds, vacuums = zip(*states, strict=True)
    assert abs(timings[speeds.index(max(speeds))] - timings[vacuums.index(max(vacuums))]) <= 1.0
