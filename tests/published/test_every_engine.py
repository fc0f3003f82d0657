"""Every engine of the workshop, healthy and at sea level, beside what is known of engines of its kind."""

import functools

import numpy as np
import pytest

from course import ENGINES
from engine_sim import Engine, IdleTable, load_card, peak_and_back_off, published
from tests.published.test_rated_power import CUBIC_INCH_PER_LITRE, KILOWATT_PER_HORSEPOWER, SPEEDS_RPM, data, line

NAMES = sorted(path.stem for path in ENGINES.glob("*.toml"))
SCREW_LIMITS = (0.3, 5.5)
FULL_LOAD_RPM, FULL_LOAD_KPA = 2000.0, 97.0


@functools.cache
def engine(name: str) -> Engine:
    """The engine of that name."""
    return Engine(load_card(ENGINES / f"{name}.toml"))


@functools.cache
def at_best(name: str) -> dict[str, float]:
    """Angles at the best spark of full load, and torque ten degrees late of it over the best."""
    spark = np.arange(-5.0, 50.0, 0.25)
    points = engine(name).operating_points(FULL_LOAD_RPM, FULL_LOAD_KPA, spark)
    best = int(np.argmax(points.torque_nm))
    return {
        "burned_half_at_best_timing": points.burned_50_deg_atdc[best],
        "peak_pressure_at_best_timing": points.peak_pressure_deg_atdc[best],
        "relative_torque_10_late": points.torque_nm[best - 40] / points.torque_nm[best],
    }


@functools.cache
def by_the_method(name: str) -> dict[str, float]:
    """Vacuum at the peak and the setting that the method ends at."""
    setting, table = engine(name).card.setting, IdleTable(engine(name), SCREW_LIMITS)
    found = peak_and_back_off(table, 14.0, 2.3, setting.idle_rpm, setting.speed_drop_rpm, SCREW_LIMITS)
    return {"idle_vacuum_healthy": found.peak_vacuum_inhg, "base_timing_by_the_method": found.timing_deg}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "key",
    [
        "idle_vacuum_healthy",
        "base_timing_by_the_method",
        "burned_half_at_best_timing",
        "peak_pressure_at_best_timing",
        "relative_torque_10_late",
    ],
)
def test_lies_where_such_engines_lie(name, key):
    """Idle vacuum, the method's end, half burned, peak pressure and late torque lie in the bands of the table."""
    assert published(key).agrees((at_best(name) | by_the_method(name))[key])


@pytest.mark.parametrize("name", NAMES)
def test_advance_adds_up_as_the_trade_goes_by(name):
    """Label and weights together, and weights alone, lie where the trade sets them."""
    card = engine(name).card
    assert published("centrifugal_all_in").agrees(card.distributor.stop_deg)
    total = card.setting.label_base_timing_deg + card.distributor.stop_deg
    assert published("mechanical_advance_total").agrees(total)


@pytest.mark.parametrize("name", NAMES)
def test_power_lies_among_engines_of_its_size(name):
    """Full-throttle power is within twice the scatter of the open data about its line over displacement."""
    card, (slope, at_zero) = engine(name).card, line()
    scatter = float(np.std(data().Horsepower - slope * data().Displacement - at_zero))
    pull = engine(name).full_throttle(SPEEDS_RPM, card.setting.label_base_timing_deg)
    horsepower = float(pull.power_kw.max()) / KILOWATT_PER_HORSEPOWER
    assert abs(horsepower - slope * card.displacement_l * CUBIC_INCH_PER_LITRE - at_zero) < 2 * scatter
