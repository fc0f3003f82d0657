"""What the engine spends on itself: rubbing friction, cold oil, and the fan and generator."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .arrays import Numbers

WARM_C = 80.0  # from here on the oil is thin and the choke off
PUMPING_SHARE_PA = 0.15e5  # the motoring figures below already hold some pumping, which the model adds separately
TWICE_BELOW_WARM_K = 75.0  # so much colder than warm the oil doubles friction; calibration, common practice


def friction_pressure_pa(speed_rpm: Numbers) -> Numbers:
    """Friction mean effective pressure of a motored engine [Pa]; any shape.

    0.97 + 0.15 n + 0.05 n^2 bar, n in 1,000 rpm. Valid from idle to about 6,000 rpm. Source: barnes_moss (from memory).
    """
    n = speed_rpm / 1000.0
    return 1e5 * (0.97 + 0.15 * n + 0.05 * n * n)


def rubbing_pressure_pa(speed_rpm: Numbers) -> Numbers:
    """Friction without the pumping that the model counts by itself [Pa]; any shape."""
    return friction_pressure_pa(speed_rpm) - PUMPING_SHARE_PA


def cold_oil_factor(coolant_c: Numbers) -> Numbers:
    """Friction at a coolant temperature [°C] over that of a warm engine [-], at least 1; any shape. Twice at 5 °C.

    Calibration, common practice.
    """
    short = WARM_C - coolant_c
    return 1.0 + 0.5 * (short + abs(short)) / TWICE_BELOW_WARM_K
