"""Heat to the walls: Woschni's coefficient as the cycle uses it, and Hohenberg's to check it against."""


def woschni_w_m2_k(bore_m, pressure_kpa, temperature_k, gas_speed_m_s):
    """Heat transfer coefficient [W/(m2 K)]; arguments broadcast.

    h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with p in kPa. Source: woschni_1967.
    """
    return 3.26 * bore_m**-0.2 * pressure_kpa**0.8 * temperature_k**-0.55 * gas_speed_m_s**0.8


def hohenberg_w_m2_k(volume_m3, pressure_bar, temperature_k, mean_piston_speed_m_s):
    """Heat transfer coefficient [W/(m2 K)]: 130 V^-0.06 p^0.8 T^-0.4 (Sp + 1.4)^0.8. Source: hohenberg_1979."""
    return 130.0 * volume_m3**-0.06 * pressure_bar**0.8 * temperature_k**-0.4 * (mean_piston_speed_m_s + 1.4) ** 0.8
