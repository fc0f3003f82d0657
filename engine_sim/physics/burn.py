"""How the charge burns: laminar flame speed, burn angles, and the burned fraction over crank angle."""

import numpy as np

from .arrays import Numbers
from .constants import STANDARD_ATMOSPHERE_PA

FLAME_REFERENCE_K = 298.0  # of the unburned charge; rhodes_keck_1985
FLAME_REFERENCE_PA = STANDARD_ATMOSPHERE_PA  # rhodes_keck_1985
SLOWEST_AT_REFERENCE_M_S = 0.01  # floor for mixtures beyond the correlation's range, where its parabola turns negative
DILUTION_EXPONENT = 0.77  # of the share of residual gas in the flame's slowing; rhodes_keck_1985
FLAME_EXPONENT = 2.0 / 3.0  # of the flame speed in both burn angles, inverse; hires_1978 (from memory)
SLOWEST_DILUTION_FACTOR = 0.02  # floor: below this the charge does not really burn; `misfire_share` tells
WIEBE_A = 5.0  # efficiency of the burned-fraction curve: 99.3 % burned at its end; common practice
GOES_OUT_FROM_DEG = 85.0  # of burns so long the first go out before they have spread, uneven charges first; calibration
GONE_OUT_AT_DEG = 190.0  # of burns so long all go out; calibration
# Unequal charges, as the standard deviation of the logarithm of the burn angles from one to the next: calibrations.
EDDY_SCATTER = 0.03  # by the eddies around the plug, whatever is in the charge
RESIDUAL_SCATTER = 0.04  # of the residual gas around the plug, relative; it slows the flame by its own factor
LARGEST_SCATTER = 0.45  # bound where the flame hardly burns
# Late, partial burning: the flame goes out in the charge that expands (from memory: quader_1976). Calibrations.
LATE_FROM_DEG = 45.0  # crank degrees ATDC of nine tenths burned from which some is left unburned
LATE_AT_DEG = 115.0  # at which most is left that ever is
LATE_LOST = 0.5  # share of the work that is then lost
_C10, _C90 = -np.log(0.9), -np.log(0.1)


def residual_flame_factor(residual_fraction: Numbers) -> Numbers:
    """Slowing of the flame by residual gas; any shape. 1 - 2.06 xr^0.77, at least 0.02. Source: rhodes_keck_1985."""
    return np.maximum(
        1.0 - 2.06 * np.asarray(residual_fraction, dtype=float) ** DILUTION_EXPONENT, SLOWEST_DILUTION_FACTOR
    )


def laminar_flame_speed_m_s(
    unburned_k: Numbers, pressure_pa: Numbers, equivalence_ratio: Numbers, residual_fraction: Numbers = 0.0
) -> Numbers:
    """Laminar flame speed of gasoline [m/s]; arguments broadcast.

    SL = (0.305 - 0.549 (phi - 1.21)^2) (Tu/298)^(2.4 - 0.271 phi^3.51) (p/1 atm)^(-0.357 + 0.14 phi^2.77)
    (1 - 2.06 xr^0.77). Valid for 0.7 <= phi <= 1.4, 350-550 K, 0.4-12 atm and xr up to 0.3; used beyond in
    temperature and pressure, as the trade does. Source: rhodes_keck_1985.
    """
    phi = equivalence_ratio
    at_reference = np.maximum(0.305 - 0.549 * (phi - 1.21) ** 2, SLOWEST_AT_REFERENCE_M_S)
    thermal = (unburned_k / FLAME_REFERENCE_K) ** (2.4 - 0.271 * phi**3.51)
    compressed = (pressure_pa / FLAME_REFERENCE_PA) ** (-0.357 + 0.14 * phi**2.77)
    return at_reference * thermal * compressed * residual_flame_factor(residual_fraction)


def burn_angle_deg(
    constant: Numbers,
    mean_piston_speed_m_s: Numbers,
    viscosity_m2_s: Numbers,
    height_m: Numbers,
    flame_speed_m_s: Numbers,
    bore_m: Numbers | None = None,
) -> Numbers:
    """Crank angle [deg] of the flame's development (0-10 %), or of its rapid part (10-90 %) where `bore_m` is given.

    C (Sp nu)^(1/3) (h/SL)^(2/3), times B/h for the rapid part; `constant` carries the units and is a calibration of
    the engine card. Source: hires_1978 (from memory).
    """
    angle = constant * np.cbrt(mean_piston_speed_m_s * viscosity_m2_s) * np.cbrt((height_m / flame_speed_m_s) ** 2)
    return angle if bore_m is None else angle * bore_m / height_m


def wiebe_exponent(development_deg: Numbers, rapid_deg: Numbers) -> Numbers:
    """Exponent m+1 of the burned-fraction curve that gives both durations [-]; arguments broadcast. For a = 5."""
    return np.log(_C10 / _C90) / np.log(development_deg / (development_deg + rapid_deg))


def wiebe_duration_deg(development_deg: Numbers, rapid_deg: Numbers) -> Numbers:
    """Whole duration of the burned-fraction curve that gives both durations [deg]; arguments broadcast. For a = 5."""
    return (development_deg + rapid_deg) / (_C90 / WIEBE_A) ** (1.0 / wiebe_exponent(development_deg, rapid_deg))


def burned_fraction(progress: Numbers, exponent: Numbers, efficiency: Numbers = WIEBE_A) -> Numbers:
    """Burned fraction at a share y of the duration; arguments broadcast. 1 - exp(-a y^(m+1)), 0 before the spark."""
    return -np.expm1(-efficiency * np.maximum(progress, 0.0) ** exponent)


def progress_at_fraction(fraction: Numbers, exponent: Numbers, efficiency: Numbers = WIEBE_A) -> Numbers:
    """Share of the duration at which a fraction has burned [-]; arguments broadcast. Inverse of `burned_fraction`."""
    return (-np.log1p(-fraction) / efficiency) ** (1.0 / exponent)


def misfire_share(burn_deg: Numbers) -> Numbers:
    """Share of charges that go out [-], from the angle between spark and nine tenths burned [deg]; any shape.

    Without a kink, so that the map's interpolation has none to swing at. Calibration.
    """
    share = np.clip((burn_deg - GOES_OUT_FROM_DEG) / (GONE_OUT_AT_DEG - GOES_OUT_FROM_DEG), 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def burn_scatter(dilution: Numbers) -> Numbers:
    """Standard deviation of the logarithm of the burn angles from charge to charge [-]; any shape.

    `dilution` is the share of burned gas and vapour in the charge. Burn angles go with the flame speed to -2/3
    (hires_1978, from memory), the flame speed with 1 - 2.06 x^0.77 (rhodes_keck_1985): dilution that varies moves them
    the more, the nearer the flame is to going out.
    """
    diluted = np.asarray(dilution, dtype=float)
    slowed = 2.06 * DILUTION_EXPONENT * diluted**DILUTION_EXPONENT / residual_flame_factor(diluted)
    return np.minimum(np.hypot(EDDY_SCATTER, FLAME_EXPONENT * slowed * RESIDUAL_SCATTER), LARGEST_SCATTER)


def late_loss_share(burned_90_deg_atdc: Numbers) -> Numbers:
    """Share of a charge's work that late, partial burning costs [-], from the crank angle at which nine tenths would
    have burned [deg ATDC]; any shape. Without a kink, as `misfire_share`. Calibration."""
    share = np.clip((burned_90_deg_atdc - LATE_FROM_DEG) / (LATE_AT_DEG - LATE_FROM_DEG), 0.0, 1.0)
    return LATE_LOST * share * share * (3.0 - 2.0 * share)
