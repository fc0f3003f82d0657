"""Conversion factors and constants beside what standards define or print."""

from __future__ import annotations

import pytest

from engine_sim import published
from engine_sim.physics import constants, units

# NIST SP 811 (2008), appendix B.8, whose digits of the inch of mercury stop at the fifth; written down from memory.
NIST_SP_811 = {
    "METRES_PER_FOOT": 0.3048,
    "MM_PER_INCH": 25.4,
    "KG_PER_POUND": 0.45359237,
    "LITRES_PER_CUBIC_INCH": 0.016387064,
    "LITRES_PER_US_GALLON": 3.785412,
    "METRES_PER_MILE": 1609.344,
    "KPA_PER_INHG": 3.38639,
    "KPA_PER_PSI": 6.894757,
    "PA_PER_PSI": 6894.757,
    "PA_PER_ATMOSPHERE": 101325.0,
    "NEWTON_METRES_PER_POUND_FOOT": 1.355818,
    "SECONDS_PER_MINUTE": 60.0,
    "SECONDS_PER_HOUR": 3600.0,
    "FAHRENHEIT_PER_CELSIUS": 1.8,
    "FAHRENHEIT_AT_ICE_POINT": 32.0,
}
DEFINED = {"STANDARD_ATMOSPHERE_PA": 101325.0, "STANDARD_GRAVITY_M_S2": 9.80665, "ICE_POINT_K": 273.15}


def test_the_record_is_the_constant():
    """The published record and the constant are one number, to the last digit printed."""
    assert published("inch_of_mercury").value == units.KPA_PER_INHG


@pytest.mark.parametrize("name", NIST_SP_811)
def test_factors_are_those_of_the_standard(name):
    """Every conversion factor is that of the standard's table, to its digits."""
    assert getattr(units, name) == pytest.approx(NIST_SP_811[name], rel=3e-7)


@pytest.mark.parametrize("name", DEFINED)
def test_constants_are_as_defined(name):
    """What is defined exactly is exact."""
    assert getattr(constants, name) == DEFINED[name]


def test_temperatures_go_there_and_back():
    """Water boils at 212 °F, and a temperature in kelvin comes back as it was."""
    assert units.fahrenheit_from_celsius(100.0) == pytest.approx(212.0)
    assert units.fahrenheit_from_celsius(-40.0) == pytest.approx(-40.0)
    assert units.celsius_from_kelvin(units.kelvin_from_celsius(21.5)) == pytest.approx(21.5)


def test_a_cycle_has_two_turns():
    """At 120 rpm a cylinder of a four-stroke engine has one cycle a second; a turn a second is 60 rpm."""
    assert units.RPM_PER_CYCLE_HZ == 120.0 and pytest.approx(9.549297) == units.RPM_PER_RAD_S
