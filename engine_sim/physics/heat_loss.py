"""Heat to the walls: Woschni's coefficient as the cycle uses it, and Hohenberg's to check it against."""

# Woschni's factor (p in kPa) and exponents; gas speed has the exponent of pressure. Source: woschni_1967.
WOSCHNI_FACTOR, WOSCHNI_BORE, WOSCHNI_PRESSURE, WOSCHNI_TEMPERATURE = 3.26, -0.2, 0.8, -0.55


def woschni_w_m2_k(bore_m, pressure_kpa, temperature_k, gas_speed_m_s):
    """Heat transfer coefficient [W/(m2 K)]; arguments broadcast.

    h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with p in kPa. Source: woschni_1967.
    """
    moved = (pressure_kpa * gas_speed_m_s) ** WOSCHNI_PRESSURE
    return WOSCHNI_FACTOR * bore_m**WOSCHNI_BORE * moved * temperature_k**WOSCHNI_TEMPERATURE


def hohenberg_w_m2_k(volume_m3, pressure_bar, temperature_k, mean_piston_speed_m_s):
    """Heat transfer coefficient [W/(m2 K)]: 130 V^-0.06 p^0.8 T^-0.4 (Sp + 1.4)^0.8. Source: hohenberg_1979."""
    return 130.0 * volume_m3**-0.06 * pressure_bar**0.8 * temperature_k**-0.4 * (mean_piston_speed_m_s + 1.4) ** 0.8
