"""How the engine breathes: throttle, valve overlap, and what is trapped when the intake valve closes."""

import numpy as np

from .gas import GAS_CONSTANT_AIR

GAMMA_AIR = 1.4
LARGEST_RESIDUAL = 0.45
FLOW_LINEAR_ABOVE = 0.995  # near equal pressures the orifice law has infinite slope; it is replaced by a chord there
RESIDUAL_IDLE_K, RESIDUAL_RISE_K = (
    780.0,
    170.0,
)  # calibration: leftover gas at idle, and its rise to full load; common practice
SPECIFIC_HEAT_RATIO_BURNED = 1.1  # heat capacity of residual gas over that of fresh charge; common practice


def critical_pressure_ratio(gamma=GAMMA_AIR):
    """Pressure ratio at which an orifice chokes: (2/(gamma+1))^(gamma/(gamma-1))."""
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


def flow_function(pressure_ratio, gamma=GAMMA_AIR):
    """Psi of the isentropic orifice, any shape: constant when choked, zero at equal pressures.

    Psi = sqrt(2 gamma/(gamma-1) (r^(2/gamma) - r^((gamma+1)/gamma))). Source key: orifice_critical_ratio.
    """
    ratio = np.maximum(pressure_ratio, critical_pressure_ratio(gamma))
    capped = np.minimum(ratio, FLOW_LINEAR_ABOVE)
    psi = np.sqrt(2 * gamma / (gamma - 1) * (capped ** (2 / gamma) - capped ** ((gamma + 1) / gamma)))
    return psi * np.clip((1.0 - ratio) / (1.0 - capped), 0.0, 1.0)


def throttle_flow_kg_s(effective_area_m2, upstream_pa, upstream_k, downstream_pa):
    """Air through an opening [kg/s]; arguments broadcast. Cd is inside `effective_area_m2`; no back-flow."""
    ratio = np.asarray(downstream_pa, dtype=float) / upstream_pa
    return effective_area_m2 * upstream_pa / np.sqrt(GAS_CONSTANT_AIR * upstream_k) * flow_function(ratio)


def residual_fraction(speed_rpm, intake_pa, exhaust_pa, overlap_factor_deg_m, equivalence_ratio, compression_ratio):
    """Share of the trapped charge that is left from the cycle before; arguments broadcast, bounded to 0.45.

    1.266 (OF/N) (pi/pe)^-0.87 sqrt|pe - pi| + 0.632 phi (pi/pe)^-0.74 / rc, N in rev/s, pressures in bar.
    Source: fox_1993 (from memory).
    """
    ratio = intake_pa / exhaust_pa
    difference_bar = np.abs(exhaust_pa - intake_pa) * 1e-5
    backflow = 1.266 * overlap_factor_deg_m / (speed_rpm / 60.0) * ratio**-0.87 * np.sqrt(difference_bar)
    clearance = 0.632 * equivalence_ratio * ratio**-0.74 / compression_ratio
    return np.minimum(backflow + clearance, LARGEST_RESIDUAL)


def residual_temperature_k(manifold_pa, exhaust_pa):
    """Temperature of the gas left in the cylinder [K]: a line from idle to full load."""
    return RESIDUAL_IDLE_K + RESIDUAL_RISE_K * np.minimum(manifold_pa / exhaust_pa, 1.0)


def trapped_temperature_k(fresh_k, residual_k, residual):
    """Temperature [K] after fresh charge and residual gas have mixed."""
    heat = residual * SPECIFIC_HEAT_RATIO_BURNED
    return ((1.0 - residual) * fresh_k + heat * residual_k) / (1.0 - residual + heat)


def trapped_pressure_pa(manifold_pa, mean_piston_speed_m_s, loss_at_10_m_s):
    """Pressure when the intake valve closes [Pa]: the manifold's, less what the ports and valves cost at speed."""
    return manifold_pa * (1.0 - loss_at_10_m_s * (mean_piston_speed_m_s / 10.0) ** 2)
