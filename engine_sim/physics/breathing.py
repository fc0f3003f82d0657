"""How the engine breathes: throttle, valve overlap, and what is trapped when the intake valve closes."""

import numpy as np

from .arrays import Numbers
from .constants import GAS_CONSTANT_AIR_J_KG_K
from .units import SECONDS_PER_MINUTE

GAMMA_AIR = 1.4  # ratio of specific heats of cold air; common handbook practice
LARGEST_RESIDUAL = 0.45  # bound where the correlation runs away, at very low pressure and speed
FLOW_LINEAR_ABOVE = 0.995  # near equal pressures the orifice law has infinite slope; it is replaced by a chord there
RESIDUAL_IDLE_K = 780.0  # gas left in the cylinder, with an empty manifold; calibration in the range of common practice
RESIDUAL_RISE_K = 170.0  # how much hotter it is at full load; calibration in the range of common practice
LOSS_REFERENCE_M_S = 10.0  # piston speed at which a card gives what its ports cost
RAM_GAIN = 0.14  # of pressure, where the moving charge fills the cylinder best; calibration
RAM_AT_M_S = 8.0  # mean piston speed at which it does; calibration in the range of common practice
SPECIFIC_HEAT_RATIO_BURNED = 1.1  # heat capacity of residual gas over that of fresh charge; common practice


def critical_pressure_ratio(gamma: float = GAMMA_AIR) -> float:
    """Pressure ratio at which an orifice chokes: (2/(gamma+1))^(gamma/(gamma-1)). Key: orifice_critical_ratio."""
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


def flow_function(pressure_ratio: Numbers, gamma: float = GAMMA_AIR) -> Numbers:
    """Psi of the isentropic orifice [-]; any shape. Constant when choked, zero at equal pressures and beyond.

    Psi = sqrt(2 gamma/(gamma-1) (r^(2/gamma) - r^((gamma+1)/gamma))). Key: orifice_choked_function_gamma_*.
    """
    ratio = np.maximum(pressure_ratio, critical_pressure_ratio(gamma))
    capped = np.minimum(ratio, FLOW_LINEAR_ABOVE)
    psi = np.sqrt(2 * gamma / (gamma - 1) * (capped ** (2 / gamma) - capped ** ((gamma + 1) / gamma)))
    return psi * np.clip((1.0 - ratio) / (1.0 - capped), 0.0, 1.0)


def throttle_flow_kg_s(
    effective_area_m2: Numbers, upstream_pa: Numbers, upstream_k: Numbers, downstream_pa: Numbers
) -> Numbers:
    """Air through an opening [kg/s]; arguments broadcast. The discharge coefficient is in the area; no air flows back.

    Key: orifice_choked_flux.
    """
    ratio = np.asarray(downstream_pa, dtype=float) / upstream_pa
    return effective_area_m2 * upstream_pa / np.sqrt(GAS_CONSTANT_AIR_J_KG_K * upstream_k) * flow_function(ratio)


def residual_fraction(
    speed_rpm: Numbers,
    intake_pa: Numbers,
    exhaust_pa: Numbers,
    overlap_factor_deg_m: Numbers,
    equivalence_ratio: Numbers,
    compression_ratio: Numbers,
) -> Numbers:
    """Share of the trapped charge that is left from the cycle before [-]; arguments broadcast. Bounded to 0.45.

    1.266 (OF/N) (pi/pe)^-0.87 sqrt|pe - pi| + 0.632 phi (pi/pe)^-0.74 / rc, N in rev/s, pressures in bar.
    Source: fox_1993 (from memory).
    """
    ratio = intake_pa / exhaust_pa
    difference_bar = np.abs(exhaust_pa - intake_pa) * 1e-5
    backflow = 1.266 * overlap_factor_deg_m / (speed_rpm / SECONDS_PER_MINUTE) * ratio**-0.87 * np.sqrt(difference_bar)
    clearance = 0.632 * equivalence_ratio * ratio**-0.74 / compression_ratio
    return np.minimum(backflow + clearance, LARGEST_RESIDUAL)


def residual_temperature_k(manifold_pa: Numbers, exhaust_pa: Numbers) -> Numbers:
    """Temperature of gas left in the cylinder [K]; arguments broadcast. A line from idle to full load: calibration."""
    return RESIDUAL_IDLE_K + RESIDUAL_RISE_K * np.minimum(manifold_pa / exhaust_pa, 1.0)


def trapped_temperature_k(fresh_k: Numbers, residual_k: Numbers, residual: Numbers) -> Numbers:
    """Temperature after fresh charge and residual gas have mixed [K]; arguments broadcast. A balance of their heat."""
    heat = residual * SPECIFIC_HEAT_RATIO_BURNED
    return ((1.0 - residual) * fresh_k + heat * residual_k) / (1.0 - residual + heat)


def trapped_pressure_pa(manifold_pa: Numbers, mean_piston_speed_m_s: Numbers, loss_at_10_m_s: Numbers) -> Numbers:
    """Pressure when the intake valve closes [Pa]; arguments broadcast.

    The manifold's, more by what the moving charge rams in, which has its best at one piston speed (calibration), less
    what ports and valves cost: as the square of piston speed, from the engine card.
    """
    moving = (mean_piston_speed_m_s / RAM_AT_M_S) ** 2
    ram = RAM_GAIN * moving * np.exp(1.0 - moving)
    return manifold_pa * (1.0 + ram - loss_at_10_m_s * (mean_piston_speed_m_s / LOSS_REFERENCE_M_S) ** 2)
