"""Breaker points, coil and spark: dwell and what the coil stores in it, and what a spark has to jump. SI units.

Dwell angles are in distributor degrees, as the trade counts them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .arrays import Numbers
from .units import PA_PER_ATMOSPHERE

DWELL_DEG_PER_GAP_MM = 40.0  # slope of the cam where the points open; calibration
SPARK_DEG_PER_DWELL_DEG = 1.0  # crank degrees; a symmetric lobe. Common practice
DISTRIBUTOR_DEG_S_PER_RPM = 3.0  # distributor degrees a second for each crank revolution a minute, exact
SLOWEST_RPM = 1.0  # of the crank, so that an engine at rest has a finite time
NARROWEST_DWELL_DEG = 2.0  # distributor degrees: points set wider hardly close, and closer hardly open
RUNNING_VOLT = 13.2  # at the coil's primary circuit; common practice
CRANKING_VOLT = 11.5  # what the starter leaves of it, the ballast being bridged; common practice
SECONDARY_PICOFARAD = 110.0  # of coil, leads and plug; calibration
STORED_THAT_ARRIVES = 0.5  # share of the coil's energy that raises the voltage; calibration
NEEDED_AT_REST_KV = 3.0  # across a plug, however narrow its gap; calibration
NEEDED_KV_PER_MM_ATM = 1.1  # for each millimetre of gap and atmosphere of compressed charge; calibration
FAILS_OVER_KV = 8.0  # from the first spark that fails to the last; calibration


@dataclass(frozen=True)
class Coil:
    """Primary winding: resistance, ballast included [ohm], and inductance [H]."""

    resistance_ohm: float
    inductance_h: float

    def current_a(self, on_time_s: Numbers, volt: float = RUNNING_VOLT) -> Numbers:
        """Primary current when the points open [A]; any shape."""
        full = volt / self.resistance_ohm
        return full * -np.expm1(-np.asarray(on_time_s, float) * self.resistance_ohm / self.inductance_h)

    def energy_j(self, on_time_s: Numbers, volt: float = RUNNING_VOLT) -> Numbers:
        """Energy stored when the points open [J]; any shape. L I^2 / 2."""
        return 0.5 * self.inductance_h * self.current_a(on_time_s, volt) ** 2

    def available_kv(self, on_time_s: Numbers, volt: float = RUNNING_VOLT) -> Numbers:
        """Voltage that the stored energy can raise on the leads [kV]; any shape. sqrt(2 E / C)."""
        arrives = STORED_THAT_ARRIVES * self.energy_j(on_time_s, volt)
        return np.sqrt(2.0 * arrives / (SECONDARY_PICOFARAD * 1e-12)) / 1e3


def lobe_pitch_deg(cylinders: int) -> float:
    """Distributor degrees from one spark to the next."""
    return 360.0 / cylinders


def coil_on_time_s(dwell_deg: Numbers, speed_rpm: Numbers) -> Numbers:
    """Time for which the coil carries current [s]; arguments broadcast. dwell / (3 rpm). Key: coil_on_time."""
    return dwell_deg / (DISTRIBUTOR_DEG_S_PER_RPM * np.maximum(speed_rpm, SLOWEST_RPM))


def dwell_from_gap_deg(gap_mm: Numbers, right_gap_mm: float, right_dwell_deg: float, cylinders: int) -> Numbers:
    """Dwell at a point gap [distributor deg]; any shape. A wider gap opens sooner, closes later; bounded by the lobe.

    Calibration.
    """
    dwell = right_dwell_deg - DWELL_DEG_PER_GAP_MM * (gap_mm - right_gap_mm)
    return np.clip(dwell, NARROWEST_DWELL_DEG, lobe_pitch_deg(cylinders) - NARROWEST_DWELL_DEG)


def spark_moved_deg(dwell_deg: Numbers, right_dwell_deg: float) -> Numbers:
    """How much earlier the spark comes than with the right dwell [crank deg]; any shape. Less dwell, earlier spark.

    Key: spark_per_dwell_degree.
    """
    return SPARK_DEG_PER_DWELL_DEG * (right_dwell_deg - dwell_deg)


def needed_kv(cylinder_pa: Numbers, plug_gap_mm: Numbers) -> Numbers:
    """Voltage at which a plug's gap breaks down [kV], from the pressure around it; arguments broadcast. Calibration."""
    return NEEDED_AT_REST_KV + NEEDED_KV_PER_MM_ATM * plug_gap_mm * (cylinder_pa / PA_PER_ATMOSPHERE)


def missed_share(available_kv: Numbers, wanted_kv: Numbers) -> Numbers:
    """Share of sparks that fail [-]; arguments broadcast. None while the coil has enough, all once it lacks 8 kV."""
    return np.clip((wanted_kv - available_kv) / FAILS_OVER_KV, 0.0, 1.0)


def missed_at(
    coil: Coil, dwell_deg: float, speed_rpm: float, cylinder_pa: float, plug_gap_mm: float, volt: float
) -> float:
    """Share of sparks that fail [-], for one moment: the plain form of `missed_share` with all that leads to it."""
    on_time = dwell_deg / (DISTRIBUTOR_DEG_S_PER_RPM * (speed_rpm if speed_rpm > SLOWEST_RPM else SLOWEST_RPM))
    current = volt / coil.resistance_ohm * -math.expm1(-on_time * coil.resistance_ohm / coil.inductance_h)
    arrives = STORED_THAT_ARRIVES * 0.5 * coil.inductance_h * current * current
    available = math.sqrt(2.0 * arrives / (SECONDARY_PICOFARAD * 1e-12)) / 1e3
    wanted = NEEDED_AT_REST_KV + NEEDED_KV_PER_MM_ATM * plug_gap_mm * (cylinder_pa / PA_PER_ATMOSPHERE)
    return min((wanted - available) / FAILS_OVER_KV, 1.0) if wanted > available else 0.0
