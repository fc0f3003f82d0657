"""The method of the course, put to an engine whose torque and air flow were published by Crossley and Cook in 1991."""

import functools
import math

import pytest

from engine_sim import peak_and_back_off, published
from tests.published.checks import Check
from tests.published.crossley_cook import PublishedEngine, pumped_air, throttle_function, torque

THROTTLE_DEG = 8.97
SPARKS = (15, 25, 35, 40, 50)
THROTTLE_LIMITS = (7.0, 12.0)
DROP_RPM = 75.0


@functools.cache
def settled(spark_deg: float) -> tuple[float, float]:
    """Speed [rpm] and vacuum [inHg] at the published throttle and load."""
    return PublishedEngine().settled(spark_deg, THROTTLE_DEG)


@functools.cache
def method():
    """The course's own method on the published engine, its idle set to the speed it has at the published throttle."""
    peak = published("crossley_cook_peak_timing").value
    return peak_and_back_off(PublishedEngine(), 15.0, 9.5, settled(peak)[0], DROP_RPM, THROTTLE_LIMITS)


CHECKS = [
    Check("crossley_cook_throttle_8_97_degrees", lambda: throttle_function(8.97)),
    Check("crossley_cook_throttle_11_93_degrees", lambda: throttle_function(11.93)),
    Check("crossley_cook_torque_idle_point", lambda: torque(0.15, 15.0, 80.0)),
    Check("crossley_cook_torque_load_point", lambda: torque(0.25, 15.0, 200.0)),
    *(Check(f"crossley_cook_speed_spark_{spark}", lambda spark=spark: settled(float(spark))[0]) for spark in SPARKS),
    *(Check(f"crossley_cook_vacuum_spark_{spark}", lambda spark=spark: settled(float(spark))[1]) for spark in SPARKS),
    Check("crossley_cook_peak_timing", lambda: method().peak_timing_deg),
    Check("crossley_cook_timing_75_rpm_below", lambda: method().timing_deg),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_crossley_cook(check):
    """The polynomials, their equilibria, and the peak and setting that our method finds are the published engine's."""
    check.must_agree()


def test_the_method_brought_the_published_throttle_back():
    """Begun at another throttle, the method ends at the published one: its re-trim of the idle works on this plant."""
    assert method().idle_setting == pytest.approx(THROTTLE_DEG, abs=0.005)
    assert method().peak_speed_rpm - method().speed_rpm == pytest.approx(DROP_RPM, abs=0.5)


@pytest.mark.parametrize("start_deg", [5.0, 22.0, 55.0])
def test_the_peak_does_not_hang_on_where_one_begins(start_deg):
    """From late, between and early, the method comes to one peak, within a twentieth of a degree."""
    peak = settled(published("crossley_cook_peak_timing").value)[0]
    found = peak_and_back_off(PublishedEngine(), start_deg, THROTTLE_DEG, peak, DROP_RPM, THROTTLE_LIMITS)
    assert found.peak_timing_deg == pytest.approx(method().peak_timing_deg, abs=0.05)


def test_peak_is_where_the_polynomials_derivative_vanishes():
    """At the peak found, the derivative of the torque polynomial with spark, written out by hand, is nothing."""
    peak, speed = method().peak_timing_deg, method().peak_speed_rpm * math.pi / 30.0
    plant = PublishedEngine()
    charge = pumped_air(speed, plant.manifold_bar(method().idle_setting, speed)) * math.pi / speed
    closed_form = (0.26 + 0.00048 * speed + 2.55 * charge) / (0.0056 + 0.1 * charge)
    assert peak == pytest.approx(closed_form, abs=0.1)
