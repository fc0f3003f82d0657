"""What the engine spends on itself: rubbing friction, cold oil, and the fan and generator."""

WARM_C = 80.0  # from here on the oil is thin and the choke off
PUMPING_SHARE_PA = 0.15e5  # the motoring figures below already hold some pumping, which the model adds separately


def friction_pressure_pa(speed_rpm):
    """Friction mean effective pressure of a motored engine [Pa]; 0.97 + 0.15 n + 0.05 n^2 bar, n in 1000 rpm.

    Valid from idle to about 6,000 rpm. Source: barnes_moss (from memory).
    """
    n = speed_rpm / 1000.0
    return 1e5 * (0.97 + 0.15 * n + 0.05 * n * n)


def rubbing_pressure_pa(speed_rpm):
    """Friction without the pumping that the model counts by itself [Pa]."""
    return friction_pressure_pa(speed_rpm) - PUMPING_SHARE_PA


def cold_oil_factor(coolant_c):
    """How much dearer friction is cold than warm, at least 1; calibration: about twice at 5 °C, common practice."""
    short = WARM_C - coolant_c
    return 1.0 + 0.5 * (short + abs(short)) / 75.0
