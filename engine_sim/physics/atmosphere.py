"""The air outside: the standard atmosphere's troposphere.

Source keys: us_standard_atmosphere_1976.
"""

import numpy as np

from engine_sim.errors import OutsideValidity

from .arrays import Numbers
from .constants import GAS_CONSTANT_STANDARD_AIR_J_KG_K, STANDARD_ATMOSPHERE_PA, STANDARD_GRAVITY_M_S2
from .units import celsius_from_kelvin

SEA_LEVEL_K = 288.15  # us_standard_atmosphere_1976
LAPSE_K_PER_M = 0.0065  # of geopotential height; us_standard_atmosphere_1976
EARTH_RADIUS_M = 6_356_766.0  # us_standard_atmosphere_1976
EXPONENT = STANDARD_GRAVITY_M_S2 / (LAPSE_K_PER_M * GAS_CONSTANT_STANDARD_AIR_J_KG_K)
LOWEST_M = -500.0  # of altitude; no land lies much lower
HIGHEST_M = 11_000.0  # of altitude: the end of the troposphere, to which these formulas belong
VAPOUR_TO_AIR_MASS = 0.62198  # molar mass of water over that of dry air; common handbook practice
MAGNUS_PA = 611.2  # pressure of vapour over water at 0 °C; this and the next two: wmo_guide_8
MAGNUS_SLOPE = 17.62
MAGNUS_C = 243.12


def geopotential_height_m(altitude_m: Numbers) -> Numbers:
    """Geopotential height [m] of a geometric altitude [m]; any shape. Source: us_standard_atmosphere_1976."""
    return EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)


def standard_temperature_k(altitude_m: Numbers) -> Numbers:
    """Standard air temperature [K] at a geometric altitude [m]; any shape.

    Raises OutsideValidity below -500 m or above 11,000 m. Source: us_standard_atmosphere_1976.
    """
    _check(altitude_m)
    return SEA_LEVEL_K - LAPSE_K_PER_M * geopotential_height_m(altitude_m)


def standard_pressure_pa(altitude_m: Numbers) -> Numbers:
    """Standard air pressure [Pa] at a geometric altitude [m]; any shape.

    p = p0 (T/T0)^(g0 / (L R)). Raises OutsideValidity below -500 m or above 11,000 m.
    Source: us_standard_atmosphere_1976.

    >>> import engine_sim
    >>> [round(float(engine_sim.standard_pressure_pa(altitude_m)), -2) for altitude_m in (0.0, 1524.0)]
    [101300.0, 84300.0]
    """
    return STANDARD_ATMOSPHERE_PA * (standard_temperature_k(altitude_m) / SEA_LEVEL_K) ** EXPONENT


def air_share(altitude_m: Numbers) -> Numbers:
    """Standard air pressure at a geometric altitude over that at sea level [-]; any shape. Valid as
    `standard_pressure_pa` is.

    The project's one rule for a vacuum gauge high up: an engine that idles alike shows the same share of the air.

    >>> from engine_sim.physics.atmosphere import air_share
    >>> [round(float(air_share(altitude_m)), 2) for altitude_m in (0.0, 1524.0, 2438.4)]
    [1.0, 0.83, 0.74]
    """
    return standard_pressure_pa(altitude_m) / STANDARD_ATMOSPHERE_PA


def _check(altitude_m) -> None:
    if np.any(np.less(altitude_m, LOWEST_M)) or np.any(np.greater(altitude_m, HIGHEST_M)):
        raise OutsideValidity(
            f"The standard atmosphere is used from {LOWEST_M:g} m to {HIGHEST_M:g} m of altitude; "
            f"{np.ravel(altitude_m)[0]:g} m was given."
        )


def saturation_pa(temperature_k: Numbers) -> Numbers:
    """Pressure of water vapour over water [Pa]; any shape. Within 0.5 % from -20 to 60 °C. Source: wmo_guide_8."""
    celsius = celsius_from_kelvin(np.asarray(temperature_k, float))
    return MAGNUS_PA * np.exp(MAGNUS_SLOPE * celsius / (MAGNUS_C + celsius))


def vapour_share(humidity_percent: Numbers, temperature_k: Numbers, pressure_pa: Numbers) -> Numbers:
    """Mass of water vapour in a mass of moist air [kg/kg]; arguments broadcast. Valid as `saturation_pa` is."""
    vapour_pa = humidity_percent / 100.0 * saturation_pa(temperature_k)
    ratio = VAPOUR_TO_AIR_MASS * vapour_pa / (pressure_pa - vapour_pa)
    return ratio / (1.0 + ratio)
