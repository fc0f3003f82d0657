"""The standard atmosphere: the tables of 1976, another implementation of it, and the edges of its range."""

import numpy as np
import pytest

from engine_sim import OutsideValidity
from engine_sim.physics import atmosphere, units
from tests.published.checks import Check

ALTITUDES_FT = (0, 1000, 3000, 5000, 7000, 10000)
SHARES_FT = (1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 10000)


def geometric_m(geopotential_ft: float) -> float:
    """Geometric altitude [m] of the geopotential one in which the tables are arranged."""
    height = units.metres_from_feet(geopotential_ft)
    return atmosphere.EARTH_RADIUS_M * height / (atmosphere.EARTH_RADIUS_M - height)


def water_g_per_kg(celsius: float) -> float:
    """Water in a kilogram of dry air that holds as much as it can, at standard pressure [g/kg]."""
    share = float(atmosphere.vapour_share(100.0, celsius + 273.15, units.STANDARD_ATMOSPHERE_PA))
    return 1e3 * share / (1.0 - share)


CHECKS = [
    *(Check(f"vapour_in_saturated_air_{celsius}_c", lambda c=celsius: water_g_per_kg(c)) for celsius in (20, 30, 40)),
    *(
        Check(f"vapour_saturation_{celsius}_c", lambda c=celsius: float(atmosphere.saturation_pa(c + 273.15)) / 1e3)
        for celsius in (0, 20, 40)
    ),
    *(
        Check(
            f"atmosphere_{feet}_ft_inhg",
            lambda feet=feet: units.inhg_from_pa(atmosphere.standard_pressure_pa(geometric_m(feet))),
        )
        for feet in ALTITUDES_FT
    ),
    *(
        Check(
            f"atmosphere_temperature_{feet}_ft", lambda feet=feet: atmosphere.standard_temperature_k(geometric_m(feet))
        )
        for feet in ALTITUDES_FT
    ),
    *(
        Check(f"air_share_{feet}_ft", lambda feet=feet: 100.0 * atmosphere.air_share(geometric_m(feet)))
        for feet in SHARES_FT
    ),
    Check("inch_of_mercury", lambda: units.pa_from_inhg(1.0) / 1e3),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_atmosphere(check):
    """The model gives the row of the U.S. Standard Atmosphere, 1976."""
    check.must_agree()


def test_agrees_with_another_implementation():
    """From -500 m to 11 km pressure agrees to 1 in 100,000 and temperature to 1 mK with the library `fluids`."""
    import fluids

    altitudes = np.linspace(-500.0, 11_000.0, 47)
    pressure, temperature = np.array([(point.P, point.T) for point in map(fluids.ATMOSPHERE_1976, altitudes)]).T
    assert atmosphere.standard_pressure_pa(altitudes) == pytest.approx(pressure, rel=1e-5)
    assert atmosphere.standard_temperature_k(altitudes) == pytest.approx(temperature, abs=1e-3)


@pytest.mark.parametrize("altitude", [-500.1, 11_000.1, [0.0, 12_000.0], float("inf")])
def test_outside_the_troposphere(altitude):
    """Beyond either edge the model refuses and names its range; at the edges it answers."""
    atmosphere.standard_pressure_pa(np.array([-500.0, 11_000.0]))
    with pytest.raises(OutsideValidity, match="used from -500 m to 11000 m"):
        atmosphere.standard_pressure_pa(altitude)
