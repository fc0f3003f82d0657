"""The lead with which an engine pulls hardest at full throttle, and how flat the top of that curve is."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from engine_sim import Engine

SEARCHED_BASE_DEG = (-24.0, 46.0, 0.5)


@dataclass(frozen=True)
class PullOverLead:
    """Torque [N m] over total lead [crank deg BTDC] at one speed, throttle wide open; arrays of one shape."""

    lead_deg: np.ndarray
    torque_nm: np.ndarray

    def share_of_best(self, lead_deg: float) -> float:
        """Torque at a lead over the highest; beyond the searched leads as at their end."""
        return float(np.interp(lead_deg, self.lead_deg, self.torque_nm) / self.torque_nm.max())

    def flat_top_deg(self, less: float) -> tuple[float, float]:
        """The latest and the earliest lead [crank deg BTDC] that give up no more than the share `less` of the best."""
        flat = self.lead_deg[self.torque_nm >= (1.0 - less) * self.torque_nm.max()]
        return float(flat[0]), float(flat[-1])

    @property
    def best_deg(self) -> float:
        """The middle of the top that gives up no more than half a percent [crank deg BTDC]."""
        return sum(self.flat_top_deg(0.005)) / 2.0


@functools.lru_cache(maxsize=256)
def pull_over_lead(engine: Engine, speed_rpm: float, altitude_ft: float) -> PullOverLead:
    """The curve of one engine, weights in place and hose off. Raises OutsideValidity outside 200-6,000 rpm."""
    found = engine.full_throttle(np.array([speed_rpm]), np.arange(*SEARCHED_BASE_DEG), altitude_ft=altitude_ft)
    return PullOverLead(found.total_advance_deg.ravel(), found.torque_nm.ravel())
