"""Ping: the end gas lights by itself when the integral of dt/tau reaches 1 before the flame has passed."""

import math

import numpy as np

from .arrays import Numbers
from .units import PA_PER_ATMOSPHERE

# Of the ignition delay; source: douaud_eyzat_1978.
OCTANE_EXPONENT = 3.402  # of the octane number over 100
PRESSURE_EXPONENT = 1.7  # of the pressure in atmospheres
ACTIVATION_K = 3800.0
COEFFICIENT_MS = 17.68
CYCLE_SPREAD_OCTANE = 0.8  # cycle-to-cycle spread of the requirement (standard deviation); common practice


def ignition_delay_s(octane: Numbers, pressure_pa: Numbers, temperature_k: Numbers) -> Numbers:
    """Time to autoignition at a constant state [s]; arguments broadcast.

    tau_ms = 17.68 (ON/100)^3.402 p_atm^-1.7 exp(3800/T). Source: douaud_eyzat_1978.
    """
    at_100 = ignition_delay_100_s(pressure_pa, temperature_k)
    return at_100 * (np.asarray(octane, dtype=float) / 100.0) ** OCTANE_EXPONENT


def ignition_delay_100_s(pressure_pa: Numbers, temperature_k: Numbers) -> Numbers:
    """Time to autoignition of a fuel of octane number 100 [s]; arguments broadcast. Source: douaud_eyzat_1978."""
    atmospheres = pressure_pa / PA_PER_ATMOSPHERE
    return 1e-3 * COEFFICIENT_MS * atmospheres**-PRESSURE_EXPONENT * np.exp(ACTIVATION_K / temperature_k)


def octane_required(integral_100: Numbers) -> Numbers:
    """Octane number at which the integral would just reach 1, from the integral of a fuel of octane 100; any shape.

    The delay scales with the octane number alone, so the requirement is closed form: 100 I_100^(1/3.402).
    Source: livengood_wu_1955, douaud_eyzat_1978.
    """
    return 100.0 * np.asarray(integral_100, dtype=float) ** (1.0 / OCTANE_EXPONENT)


def knock_integral(integral_100: Numbers, octane: Numbers) -> Numbers:
    """Integral for a fuel of an octane number [-], from that of a fuel of octane 100; arguments broadcast."""
    return integral_100 * (np.asarray(octane, dtype=float) / 100.0) ** -OCTANE_EXPONENT


def ping_share(margin_octane: float) -> float:
    """Share of cycles that ping [-], for one margin of the fuel over the mean requirement [octane]. Calibration.

    >>> import engine_sim
    >>> [round(engine_sim.ping_share(margin), 2) for margin in (1.0, 0.0, -1.0)]
    [0.11, 0.5, 0.89]
    """
    return 0.5 * math.erfc(margin_octane / CYCLE_SPREAD_OCTANE / math.sqrt(2.0))
