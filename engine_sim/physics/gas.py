"""The gas in the cylinder: gas constants and the ratio of specific heats, unburned and burned.

The polynomials are fits to frozen tables of a gasoline-like charge (isooctane in air); the published checks compare
them with those tables, which Cantera computes from NASA polynomials.
"""

import numpy as np

from .arrays import Numbers
from .constants import ICE_POINT_K

# Of stoichiometric gasoline vapour and air, J/(kg K); the key gas_constant_unburned is isooctane's.
GAS_CONSTANT_UNBURNED = 274.5
VISCOSITY_REFERENCE_PA_S = 1.716e-5  # of air at 0 °C; common handbook practice
VISCOSITY_REFERENCE_K = ICE_POINT_K
SUTHERLAND_K = 110.4  # of air; common handbook practice
BURNED_GAMMA_LEAST_AT_KK = 2.419  # thousand kelvin: where the fit for burned gas is least


def gamma_unburned(temperature_k: Numbers) -> Numbers:
    """Ratio of specific heats of the unburned charge [-]; any shape. Fitted over 300-900 K to keys gamma_unburned_*."""
    x = np.asarray(temperature_k, dtype=float) * 1e-3
    return 1.41525 + x * (0.06988 * x - 0.22518)


def gamma_burned(temperature_k: Numbers) -> Numbers:
    """Ratio of specific heats of frozen burned gas [-]; any shape. Fitted over 1,000-2,500 K to keys gamma_burned_*.

    Saturates at its least value above 2,419 K, where the fit would turn up again.
    """
    x = np.minimum(np.asarray(temperature_k, dtype=float) * 1e-3, BURNED_GAMMA_LEAST_AT_KK)
    return 1.38057 + x * (0.0226 * x - 0.10934)


def viscosity_m2_s(
    temperature_k: Numbers, pressure_pa: Numbers, gas_constant: Numbers = GAS_CONSTANT_UNBURNED
) -> Numbers:
    """Kinematic viscosity of the charge [m2/s]; arguments broadcast. Sutherland's law for air; handbook practice."""
    dynamic = (
        VISCOSITY_REFERENCE_PA_S
        * (temperature_k / VISCOSITY_REFERENCE_K) ** 1.5
        * (VISCOSITY_REFERENCE_K + SUTHERLAND_K)
        / (temperature_k + SUTHERLAND_K)
    )
    return dynamic * gas_constant * temperature_k / pressure_pa
