"""The air outside: the standard atmosphere's troposphere.

Source keys: us_standard_atmosphere_1976.
"""

import numpy as np

from engine_sim.errors import OutsideValidity

SEA_LEVEL_PA = 101_325.0
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
GAS_CONSTANT_DRY_AIR = 287.05287  # J/(kg K)
GRAVITY_M_S2 = 9.80665
EARTH_RADIUS_M = 6_356_766.0
EXPONENT = GRAVITY_M_S2 / (LAPSE_K_PER_M * GAS_CONSTANT_DRY_AIR)
LOWEST_M, HIGHEST_M = -500.0, 11_000.0
VAPOUR_TO_AIR_MASS = 0.62198  # molar mass of water over that of dry air


def geopotential_height_m(altitude_m):
    """Geopotential height [m] of a geometric altitude [m], any shape."""
    return EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)


def standard_temperature_k(altitude_m):
    """Standard air temperature [K] at a geometric altitude [m], any shape.

    Raises OutsideValidity below -500 m or above 11,000 m. Source: us_standard_atmosphere_1976.
    """
    _check(altitude_m)
    return SEA_LEVEL_K - LAPSE_K_PER_M * geopotential_height_m(altitude_m)


def standard_pressure_pa(altitude_m):
    """Standard air pressure [Pa] at a geometric altitude [m], any shape.

    p = p0 (T/T0)^(g0 / (L R)). Raises OutsideValidity below -500 m or above 11,000 m.
    Source: us_standard_atmosphere_1976.
    """
    return SEA_LEVEL_PA * (standard_temperature_k(altitude_m) / SEA_LEVEL_K) ** EXPONENT


def _check(altitude_m) -> None:
    if np.any(np.less(altitude_m, LOWEST_M)) or np.any(np.greater(altitude_m, HIGHEST_M)):
        raise OutsideValidity(
            f"The standard atmosphere is used from {LOWEST_M:g} m to {HIGHEST_M:g} m of altitude; "
            f"{np.ravel(altitude_m)[0]:g} m was asked for."
        )


def saturation_pa(temperature_k):
    """Pressure of water vapour over water [Pa], any shape; within 0.5 % from -20 to 60 °C. Source: wmo_guide_8."""
    celsius = np.asarray(temperature_k, float) - 273.15
    return 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))


def vapour_share(humidity_percent, temperature_k, pressure_pa):
    """Mass of water vapour in a mass of moist air; arguments broadcast."""
    vapour_pa = humidity_percent / 100.0 * saturation_pa(temperature_k)
    ratio = VAPOUR_TO_AIR_MASS * vapour_pa / (pressure_pa - vapour_pa)
    return ratio / (1.0 + ratio)
