"""Time to autoignition after Douaud and Eyzat, the integral of Livengood and Wu, and octane numbers."""

import math

import numpy as np
import pytest

from engine_sim import published
from engine_sim.physics import fuel, knock
from tests.published.checks import Check
from tests.published.demo_engine import engine_with, octane_required

ATM = 101_325.0
STATES = ((700, 20), (800, 20), (800, 40), (900, 40))
WORST_SPEED_RPM = 1000.0  # where full throttle asks for most


def delay_ms(octane, temperature_k, atmospheres) -> float:
    """Time to autoignition [ms]."""
    return 1e3 * float(knock.ignition_delay_s(octane, atmospheres * ATM, temperature_k))


def log_slope(function, at: float) -> float:
    """Slope of ln f by a central difference of 1 in 10,000 of `at`."""
    step = 1e-4 * at
    return (math.log(function(at + step)) - math.log(function(at - step))) / (2 * step)


CHECKS = [
    *(
        Check(
            f"ignition_delay_on{octane}_{kelvin}k_{atmospheres}atm",
            lambda octane=octane, kelvin=kelvin, atmospheres=atmospheres: delay_ms(octane, kelvin, atmospheres),
        )
        for octane in (80, 90, 95, 100)
        for kelvin, atmospheres in STATES
    ),
    Check("ignition_delay_octane_sensitivity", lambda: 90 * log_slope(lambda octane: delay_ms(octane, 800, 20), 90.0)),
    Check("ignition_delay_pressure_sensitivity", lambda: 20 * log_slope(lambda atm: delay_ms(90, 800, atm), 20.0)),
    Check("ignition_delay_activation", lambda: 800**2 * log_slope(lambda kelvin: delay_ms(90, kelvin, 20), 800.0)),
    Check("antiknock_index", lambda: fuel.antiknock_index(91.0, 83.0)),
    *(
        Check(
            f"octane_for_compression_{ratio}_to_1",
            lambda ratio=ratio: octane_required(
                WORST_SPEED_RPM, of=engine_with("block", compression_ratio=float(ratio))
            ),
        )
        for ratio in (6, 7, 8, 9, 10)
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_knock(check):
    """The model gives the delay of Douaud and Eyzat's constants, or the octane requirement that was surveyed."""
    check.must_agree()


def test_octane_required_is_where_the_integral_is_one():
    """With a fuel of exactly the required octane number the integral of Livengood and Wu reaches 1."""
    integral_100 = np.array([0.2, 0.6, 1.0, 1.7])
    found = knock.knock_integral(integral_100, knock.octane_required(integral_100))
    assert found == pytest.approx(np.ones(4), rel=1e-12)


def test_integral_of_a_constant_state_is_time_over_delay():
    """At a constant state the integral grows by one in one delay, for any octane number."""
    for octane in (70.0, 95.0):
        delay = float(knock.ignition_delay_s(octane, 30 * ATM, 850.0))
        integral_100 = delay / float(knock.ignition_delay_100_s(30 * ATM, 850.0))
        assert knock.formula_octane(integral_100) == pytest.approx(octane, rel=1e-12)


def test_half_of_the_cycles_ping_at_the_mean_requirement():
    """Without margin every other cycle pings; 3 standard deviations of margin leave about one in a thousand."""
    assert knock.ping_share(0.0) == 0.5
    assert knock.ping_share(3 * knock.CYCLE_SPREAD_OCTANE) == pytest.approx(0.00135, abs=5e-6)


def test_octane_rises_with_compression():
    """From 6 to 10:1 the requirement rises all the way, and no more than three times as steeply as was surveyed: one
    zone of end gas, compressed without loss, is known to overreact."""
    ratios = (6, 7, 8, 9, 10)
    surveyed = [published(f"octane_for_compression_{ratio}_to_1").value for ratio in ratios]
    engines = [engine_with("block", compression_ratio=float(ratio)) for ratio in ratios]
    found = [octane_required(WORST_SPEED_RPM, of=engine) for engine in engines]
    for rise, rise_surveyed in zip(np.diff(found), np.diff(surveyed), strict=True):
        assert rise_surveyed / 3 < rise < 3 * rise_surveyed
