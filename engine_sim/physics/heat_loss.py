"""Heat to the walls: Woschni's coefficient as the cycle uses it, and Hohenberg's to check it against."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .arrays import Numbers


# Woschni's factor, for pressures in kPa, and his exponents. Source: woschni_1967.
WOSCHNI_FACTOR = 3.26
WOSCHNI_BORE = -0.2
WOSCHNI_PRESSURE = 0.8  # gas speed has the same exponent
WOSCHNI_TEMPERATURE = -0.55


def woschni_w_m2_k(bore_m: Numbers, pressure_kpa: Numbers, temperature_k: Numbers, gas_speed_m_s: Numbers) -> Numbers:
    """Heat transfer coefficient [W/(m2 K)]; arguments broadcast.

    h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with p in kPa. Source: woschni_1967.
    """
    moved = (pressure_kpa * gas_speed_m_s) ** WOSCHNI_PRESSURE
    return WOSCHNI_FACTOR * bore_m**WOSCHNI_BORE * moved * temperature_k**WOSCHNI_TEMPERATURE


def hohenberg_w_m2_k(
    volume_m3: Numbers, pressure_bar: Numbers, temperature_k: Numbers, mean_piston_speed_m_s: Numbers
) -> Numbers:
    """Heat transfer coefficient [W/(m2 K)]: 130 V^-0.06 p^0.8 T^-0.4 (Sp + 1.4)^0.8. Source: hohenberg_1979."""
    return 130.0 * volume_m3**-0.06 * pressure_bar**0.8 * temperature_k**-0.4 * (mean_piston_speed_m_s + 1.4) ** 0.8
