"""Conversions between the units that people speak and the SI units that the inner floors take."""

PA_PER_INHG = 3386.389
METRES_PER_FOOT = 0.3048
RPM_PER_RAD_S = 60.0 / (2.0 * 3.141592653589793)
NEWTON_METRES_PER_POUND_FOOT = 1.3558179


def pa_from_inhg(pressure_inhg):
    """Pascal from inches of mercury (0 °C)."""
    return pressure_inhg * PA_PER_INHG


def inhg_from_pa(pressure_pa):
    """Inches of mercury (0 °C) from pascal."""
    return pressure_pa / PA_PER_INHG


def rad_s_from_rpm(speed_rpm):
    """Radians a second from revolutions a minute."""
    return speed_rpm / RPM_PER_RAD_S


def kelvin_from_celsius(temperature_c):
    """Kelvin from degrees Celsius."""
    return temperature_c + 273.15


def metres_from_feet(length_ft):
    """Metres from feet."""
    return length_ft * METRES_PER_FOOT
