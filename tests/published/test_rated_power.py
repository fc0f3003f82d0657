"""Full-throttle power of the truck's engine beside the engines of an open data set."""

import functools

import numpy as np
import pytest

from engine_sim import published
from tests.published.checks import Check
from tests.published.demo_engine import engine

KILOWATT_PER_HORSEPOWER, CUBIC_INCH_PER_LITRE = 0.7457, 61.0237
SPEEDS_RPM = np.arange(1000.0, 5001.0, 100.0)


@functools.cache
def data():
    """Displacement [cubic inch], power [hp] and cylinders of the cars whose power is known; their names are dropped."""
    import vega_datasets

    return vega_datasets.data.cars()[["Displacement", "Horsepower", "Cylinders"]].dropna()


def line() -> np.ndarray:
    """Slope and intercept of power over displacement, by least squares."""
    return np.polyfit(data().Displacement, data().Horsepower, 1)


@functools.cache
def rated_hp() -> float:
    """Highest power of the truck's engine [hp]."""
    found = engine().full_throttle(SPEEDS_RPM, engine().card.setting.label_base_timing_deg)
    return float(found.power_kw.max()) / KILOWATT_PER_HORSEPOWER


def cubic_inches() -> float:
    """Displacement of the truck's engine [cubic inch]."""
    return engine().card.displacement_l * CUBIC_INCH_PER_LITRE


CHECKS = [
    Check("power_against_displacement_slope", lambda: line()[0]),
    Check("power_against_displacement_at_zero", lambda: line()[1]),
    Check("six_cylinder_power_density", lambda: rated_hp() / cubic_inches()),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_rated_power(check):
    """The data set gives the line on record, and the truck's power for its size lies among six-cylinder engines."""
    check.must_agree()


def test_truck_lies_near_the_line_of_all_engines():
    """The truck's power is within twice the scatter of all engines about the line of power against displacement."""
    slope, at_zero = line()
    scatter = float(np.std(data().Horsepower - slope * data().Displacement - at_zero))
    assert abs(rated_hp() - slope * cubic_inches() - at_zero) < 2 * scatter


def test_density_on_record_is_the_data_sets():
    """Mean and twice the standard deviation on record are those of the six-cylinder cars, to the printed digits."""
    six = data()[data().Cylinders == 6]
    density, record = six.Horsepower / six.Displacement, published("six_cylinder_power_density")
    assert density.mean() == pytest.approx(record.value, abs=5.1e-4)
    assert 2 * density.std() == pytest.approx(record.high - record.value, abs=1.1e-3)
