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
# The single zone asks for more octane numbers with every change than engines do. One calibration serves the trends with
# spark, altitude, compression, speed, temperature and moisture: it turns its scale about one requirement.
ANCHOR_FORMULA = 92.0  # number that the formula gives
ANCHOR_OCTANE = 91.25  # number that an engine asks for there
OCTANE_PER_FORMULA = 0.60  # 0.61 is the most that the compression survey allows, 0.58 the least that altitude allows
LOWEST_FORMULA = 1.0  # floor of the formula's numbers, far below any fuel
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


def formula_octane(integral_100: Numbers) -> Numbers:
    """Octane number at which the integral would just reach 1, from the integral of a fuel of octane 100; any shape.

    The delay scales with the octane number alone, so the number is closed form: 100 I_100^(1/3.402). Source:
    livengood_wu_1955, douaud_eyzat_1978.
    """
    return 100.0 * np.asarray(integral_100, dtype=float) ** (1.0 / OCTANE_EXPONENT)


def octane_required(integral_100: Numbers) -> Numbers:
    """Octane number that an engine asks for, from the integral of a fuel of octane 100; any shape.

    The formula's number on an engine's scale: 91.25 + 0.60 (formula - 92). Calibration.
    """
    return ANCHOR_OCTANE + OCTANE_PER_FORMULA * (formula_octane(integral_100) - ANCHOR_FORMULA)


def octane_required_at(log_integral_100: float) -> float:
    """The plain form of `octane_required`, from the logarithm of the integral."""
    formula = 100.0 * math.exp(log_integral_100 / OCTANE_EXPONENT)
    return ANCHOR_OCTANE + OCTANE_PER_FORMULA * (formula - ANCHOR_FORMULA)


def knock_integral(integral_100: Numbers, octane: Numbers) -> Numbers:
    """Integral for a fuel of an octane number [-], from that of a fuel of octane 100; arguments broadcast.

    On the engine's scale: 1 where the fuel has just the number that `octane_required` gives.
    """
    formula = ANCHOR_FORMULA + (np.asarray(octane, dtype=float) - ANCHOR_OCTANE) / OCTANE_PER_FORMULA
    return integral_100 * (np.maximum(formula, LOWEST_FORMULA) / 100.0) ** -OCTANE_EXPONENT


def ping_share(margin_octane: float) -> float:
    """Share of cycles that ping [-], for one margin of the fuel over the mean requirement [octane]. Calibration.

    >>> import engine_sim
    >>> [round(engine_sim.ping_share(margin), 2) for margin in (1.0, 0.0, -1.0)]
    [0.11, 0.5, 0.89]
    """
    return 0.5 * math.erfc(margin_octane / CYCLE_SPREAD_OCTANE / math.sqrt(2.0))
