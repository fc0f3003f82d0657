"""The slider-crank: cylinder volume, its change, its surface, and piston speed. Angles count from top dead centre of
the compression stroke, negative before it [rad]."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import Numbers
from .units import SECONDS_PER_MINUTE


@dataclass(frozen=True)
class CylinderGeometry:
    """One cylinder in SI units; `rod_ratio` is connecting-rod length over crank radius."""

    bore_m: float
    stroke_m: float
    compression_ratio: float
    rod_ratio: float

    @property
    def bore_area_m2(self) -> float:
        """Area of the piston's crown [m2], which is flat."""
        return np.pi / 4 * self.bore_m**2

    @property
    def swept_volume_m3(self) -> float:
        """Volume swept by the piston [m3]."""
        return self.bore_area_m2 * self.stroke_m

    @property
    def clearance_volume_m3(self) -> float:
        """Volume left at top dead centre [m3]."""
        return self.swept_volume_m3 / (self.compression_ratio - 1.0)

    def volume_m3(self, angle_rad: Numbers) -> Numbers:
        """Cylinder volume [m3] at a crank angle [rad]; any shape."""
        sine, cosine = np.sin(angle_rad), np.cos(angle_rad)
        travel = 1.0 - cosine + self.rod_ratio - np.sqrt(self.rod_ratio**2 - sine**2)
        return self.clearance_volume_m3 + self.swept_volume_m3 / 2 * travel

    def volume_slope_m3_rad(self, angle_rad: Numbers) -> Numbers:
        """Change of cylinder volume with crank angle [m3/rad]; any shape."""
        sine, cosine = np.sin(angle_rad), np.cos(angle_rad)
        return self.swept_volume_m3 / 2 * sine * (1.0 + cosine / np.sqrt(self.rod_ratio**2 - sine**2))

    def surface_m2(self, angle_rad: Numbers) -> Numbers:
        """Surface around the gas [m2] at a crank angle [rad]; any shape. Flat head and crown, and the bared liner."""
        return 2 * self.bore_area_m2 + 4 / self.bore_m * self.volume_m3(angle_rad)

    def mean_piston_speed_m_s(self, speed_rpm: Numbers) -> Numbers:
        """Mean piston speed [m/s] from crank speed [rpm]; any shape."""
        return 2 * self.stroke_m * speed_rpm / SECONDS_PER_MINUTE

    def chamber_height_m(self, angle_rad: Numbers) -> Numbers:
        """Mean height of the space above the piston [m]; any shape. Volume over bore area."""
        return self.volume_m3(angle_rad) / self.bore_area_m2
