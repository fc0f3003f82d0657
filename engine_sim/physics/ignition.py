"""Breaker points, coil and spark: dwell and what the coil stores in it, and what a spark has to jump. SI units.

Dwell angles are in distributor degrees, as the trade counts them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

DWELL_DEG_PER_GAP_MM = 40.0  # slope of the cam where the points open; calibration
SPARK_DEG_PER_DWELL_DEG = 1.0  # crank degrees; a symmetric lobe. Common practice
NARROWEST_DWELL_DEG = 2.0
RUNNING_VOLT, CRANKING_VOLT = 13.2, 11.5  # while cranking the ballast is bridged; common practice
SECONDARY_PICOFARAD, STORED_THAT_ARRIVES = 110.0, 0.5  # coil, leads and plug; calibration
NEEDED_AT_REST_KV, NEEDED_KV_PER_MM_ATM = 3.0, 1.1  # of a plug's gap in compressed charge; calibration
FAILS_OVER_KV = 8.0  # from the first spark that fails to the last; calibration


@dataclass(frozen=True)
class Coil:
    """Primary winding: resistance, ballast included [ohm], and inductance [H]."""

    resistance_ohm: float
    inductance_h: float

    def current_a(self, on_time_s, volt: float = RUNNING_VOLT):
        """Primary current when the points open; any shape."""
        full = volt / self.resistance_ohm
        return full * -np.expm1(-np.asarray(on_time_s, float) * self.resistance_ohm / self.inductance_h)

    def energy_j(self, on_time_s, volt: float = RUNNING_VOLT):
        """Energy stored when the points open: L I^2 / 2; any shape."""
        return 0.5 * self.inductance_h * self.current_a(on_time_s, volt) ** 2

    def available_kv(self, on_time_s, volt: float = RUNNING_VOLT):
        """Voltage that the stored energy can raise on the leads: sqrt(2 E / C); any shape."""
        arrives = STORED_THAT_ARRIVES * self.energy_j(on_time_s, volt)
        return np.sqrt(2.0 * arrives / (SECONDARY_PICOFARAD * 1e-12)) / 1e3


def lobe_pitch_deg(cylinders: int) -> float:
    """Distributor degrees from one spark to the next."""
    return 360.0 / cylinders


def coil_on_time_s(dwell_deg, speed_rpm):
    """Time for which the coil carries current [s], from dwell and crank speed: dwell / (3 rpm). Key: coil_on_time."""
    return dwell_deg / (3.0 * np.maximum(speed_rpm, 1.0))


def dwell_from_gap_deg(gap_mm, right_gap_mm: float, right_dwell_deg: float, cylinders: int):
    """Dwell at a point gap: a wider gap opens sooner and closes later, so the dwell is less. Bounded by the lobe."""
    dwell = right_dwell_deg - DWELL_DEG_PER_GAP_MM * (gap_mm - right_gap_mm)
    return np.clip(dwell, NARROWEST_DWELL_DEG, lobe_pitch_deg(cylinders) - NARROWEST_DWELL_DEG)


def spark_moved_deg(dwell_deg, right_dwell_deg: float):
    """How much earlier the spark comes [crank deg] than with the right dwell: less dwell is an earlier spark.

    Key: spark_per_dwell_degree.
    """
    return SPARK_DEG_PER_DWELL_DEG * (right_dwell_deg - dwell_deg)


def needed_kv(cylinder_pa, plug_gap_mm):
    """Voltage at which a plug's gap breaks down, from the pressure around it; any shape."""
    return NEEDED_AT_REST_KV + NEEDED_KV_PER_MM_ATM * plug_gap_mm * (cylinder_pa / 101_325.0)


def missed_share(available_kv, wanted_kv):
    """Share of sparks that fail: none while the coil has enough, all once it lacks 8 kV; any shape."""
    return np.clip((wanted_kv - available_kv) / FAILS_OVER_KV, 0.0, 1.0)


def missed_at(
    coil: Coil, dwell_deg: float, speed_rpm: float, cylinder_pa: float, plug_gap_mm: float, volt: float
) -> float:
    """The same share for one moment, as plain floats."""
    on_time = dwell_deg / (3.0 * (speed_rpm if speed_rpm > 1.0 else 1.0))
    current = volt / coil.resistance_ohm * -math.expm1(-on_time * coil.resistance_ohm / coil.inductance_h)
    arrives = STORED_THAT_ARRIVES * 0.5 * coil.inductance_h * current * current
    available = math.sqrt(2.0 * arrives / (SECONDARY_PICOFARAD * 1e-12)) / 1e3
    wanted = NEEDED_AT_REST_KV + NEEDED_KV_PER_MM_ATM * plug_gap_mm * (cylinder_pa / 101_325.0)
    return min((wanted - available) / FAILS_OVER_KV, 1.0) if wanted > available else 0.0
