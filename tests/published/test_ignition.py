"""Points and coil: dwell as the trade counts it, coil-on time, and what a wider gap does to the spark."""

import numpy as np
import pytest

from course import ENGINES
from engine_sim import load_card
from engine_sim.physics import ignition
from tests.published.checks import Check

SPECIFIED = {"dwell_four": "farm_runabout_four", "dwell_six": "delivery_truck_six", "dwell_eight": "hill_hauler_eight"}


def specified_dwell_deg(name: str) -> float:
    """Dwell on the card of one engine of the workshop."""
    return load_card(ENGINES / f"{name}.toml").ignition.dwell_deg


CHECKS = [
    *(Check(f"lobe_pitch_{cylinders}", lambda n=cylinders: ignition.lobe_pitch_deg(n)) for cylinders in (4, 6, 8)),
    *(Check(key, lambda name=name: specified_dwell_deg(name)) for key, name in SPECIFIED.items()),
    Check("coil_on_time", lambda: 1e3 * float(ignition.coil_on_time_s(60.0, 5000.0))),
    Check("spark_per_dwell_degree", lambda: ignition.spark_moved_deg(34.0, 35.0)),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_ignition(check):
    """Lobe, dwell, coil-on time and the spark's shift are those of the trade's arithmetic."""
    check.must_agree()


def test_a_wider_gap_is_less_dwell_and_an_earlier_spark():
    """Opening the gap takes dwell away and brings the spark sooner; closing it does the reverse; both are bounded."""
    gaps = np.array([0.2, 0.35, 0.45, 0.55, 0.8])
    dwell = ignition.dwell_from_gap_deg(gaps, 0.45, 35.0, 6)
    assert np.all(np.diff(dwell) < 0) and dwell[2] == 35.0
    assert np.all(np.diff(ignition.spark_moved_deg(dwell, 35.0)) > 0)
    assert dwell.min() >= 2.0 and dwell.max() <= 58.0


def test_coil_fills_as_its_time_constant_says():
    """After one L/R the current is 63.2 percent of its end value (textbook), and energy goes with its square."""
    coil = ignition.Coil(3.0, 0.009)
    assert coil.current_a(0.003) / (ignition.RUNNING_VOLT / 3.0) == pytest.approx(0.63212, abs=1e-5)
    assert coil.energy_j(1.0) == pytest.approx(0.5 * 0.009 * (ignition.RUNNING_VOLT / 3.0) ** 2)


def test_sparks_fail_first_where_they_are_hardest():
    """A sound coil lights everything; with little dwell sparks fail at speed before they fail at idle, and under
    pressure before they fail at light load; the scalar form agrees with the array form."""
    coil = ignition.Coil(3.0, 0.009)
    assert ignition.missed_at(coil, 35.0, 3000.0, 8e5, 0.8, ignition.RUNNING_VOLT) == 0.0
    idle, fast, loaded = (
        ignition.missed_at(coil, 7.0, rpm, pressure, 0.8, ignition.RUNNING_VOLT)
        for rpm, pressure in ((800.0, 3e5), (4000.0, 3e5), (4000.0, 9e5))
    )
    assert idle == 0.0 < fast < loaded < 1.0
    on_time = ignition.coil_on_time_s(7.0, 4000.0)
    array = ignition.missed_share(coil.available_kv(on_time), ignition.needed_kv(9e5, 0.8))
    assert loaded == pytest.approx(float(array))
