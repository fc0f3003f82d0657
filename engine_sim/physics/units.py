"""Conversions between the units that people speak and the SI units that the model works in: each factor once.

A name says how many of the first unit one of the second is. Powers of ten are written where they are used. Rubric
formulas know these factors by name (graders/exercises/formulas.py), and the front end gets them as a generated file
(`python -m course.authoring.build units`).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .constants import ICE_POINT_K, STANDARD_ATMOSPHERE_PA, STANDARD_GRAVITY_M_S2

if TYPE_CHECKING:
    from .arrays import Numbers

SECONDS_PER_MINUTE = 60.0  # defined exactly
SECONDS_PER_HOUR = 3600.0  # defined exactly
METRES_PER_FOOT = 0.3048  # defined exactly
METRES_PER_MILE = 5280.0 * METRES_PER_FOOT  # defined exactly
MM_PER_INCH = 25.4  # defined exactly
KG_PER_POUND = 0.45359237  # defined exactly
LITRES_PER_CUBIC_INCH = (MM_PER_INCH / 100.0) ** 3  # an inch is 0.254 dm
LITRES_PER_US_GALLON = 231.0 * LITRES_PER_CUBIC_INCH  # defined exactly
PA_PER_INHG = 3386.389  # mercury at 0 °C; key inch_of_mercury, which a test compares with it
KPA_PER_INHG = round(PA_PER_INHG / 1e3, 9)  # 3.386389, without the division's noise in the last bit
PA_PER_ATMOSPHERE = STANDARD_ATMOSPHERE_PA
PA_PER_PSI = KG_PER_POUND * STANDARD_GRAVITY_M_S2 / (MM_PER_INCH / 1e3) ** 2  # 6894.757, by definition
KPA_PER_PSI = PA_PER_PSI / 1e3
NEWTON_METRES_PER_POUND_FOOT = KG_PER_POUND * STANDARD_GRAVITY_M_S2 * METRES_PER_FOOT  # 1.355818, by definition
RPM_PER_RAD_S = 60.0 / (2.0 * math.pi)
TURNS_PER_CYCLE = 2.0  # of the crank, in a four-stroke engine
RPM_PER_CYCLE_HZ = SECONDS_PER_MINUTE * TURNS_PER_CYCLE  # crank speed at which a cylinder has one cycle a second
FAHRENHEIT_PER_CELSIUS = 1.8  # sizes of the degrees; defined exactly
FAHRENHEIT_AT_ICE_POINT = 32.0  # defined exactly


def pa_from_inhg(pressure_inhg: Numbers) -> Numbers:
    """Pascal from inches of mercury (0 °C), any shape."""
    return pressure_inhg * PA_PER_INHG


def inhg_from_pa(pressure_pa: Numbers) -> Numbers:
    """Inches of mercury (0 °C) from pascal, any shape."""
    return pressure_pa / PA_PER_INHG


def rad_s_from_rpm(speed_rpm: Numbers) -> Numbers:
    """Radians a second from revolutions a minute, any shape."""
    return speed_rpm / RPM_PER_RAD_S


def kelvin_from_celsius(temperature_c: Numbers) -> Numbers:
    """Kelvin from degrees Celsius, any shape."""
    return temperature_c + ICE_POINT_K


def celsius_from_kelvin(temperature_k: Numbers) -> Numbers:
    """Degrees Celsius from kelvin, any shape."""
    return temperature_k - ICE_POINT_K


def fahrenheit_from_celsius(temperature_c: Numbers) -> Numbers:
    """Degrees Fahrenheit from degrees Celsius, any shape."""
    return FAHRENHEIT_PER_CELSIUS * temperature_c + FAHRENHEIT_AT_ICE_POINT


def metres_from_feet(length_ft: Numbers) -> Numbers:
    """Metres from feet, any shape."""
    return length_ft * METRES_PER_FOOT
