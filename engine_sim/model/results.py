"""What an engine gives at operating points, at a settled idle, and with the throttle wide open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from engine_sim.physics.roots import find_root


@dataclass(frozen=True)
class OperatingPoints:
    """What the cycle gives at each point; arrays of one shape.

    `knock_margin_octane` is the fuel's octane number less the requirement.
    """

    imep_kpa: np.ndarray
    torque_nm: np.ndarray
    knock_integral: np.ndarray
    octane_required_ron: np.ndarray
    knock_margin_octane: np.ndarray
    burned_50_deg_atdc: np.ndarray
    peak_pressure_deg_atdc: np.ndarray
    peak_pressure_kpa: np.ndarray
    residual_fraction: np.ndarray
    development_deg: np.ndarray
    rapid_deg: np.ndarray
    heat_loss_share: np.ndarray
    exhaust_k: np.ndarray
    air_flow_g_s: np.ndarray
    _excess_octane: Callable = field(repr=False)  # requirement less fuel, from degrees of further advance
    _reach_deg: tuple[np.ndarray, np.ndarray] = field(repr=False)

    @cached_property
    def knock_margin_deg(self) -> np.ndarray:
        """How much further the spark may be advanced until ping begins; negative: how far it must be retarded [deg].

        Found by running the cycle at other timings when it is first asked for. Saturates at +-40 degrees and where the
        total advance would leave -30 to 80 degrees.
        """
        return find_root(self._excess_octane, *self._reach_deg)


@dataclass(frozen=True)
class IdleState:
    """Where the engine settles; arrays of one shape. A state that stalls is NaN in all but `stalls`."""

    speed_rpm: np.ndarray
    manifold_pressure_kpa: np.ndarray
    manifold_vacuum_inhg: np.ndarray
    total_advance_deg: np.ndarray
    stalls: np.ndarray


@dataclass(frozen=True)
class FullThrottle:
    """The engine pulling with the throttle wide open; arrays of one shape."""

    torque_nm: np.ndarray
    power_kw: np.ndarray
    brake_mep_kpa: np.ndarray
    total_advance_deg: np.ndarray
    manifold_pressure_kpa: np.ndarray
    octane_required_ron: np.ndarray
    knock_margin_octane: np.ndarray
    points: OperatingPoints

    @property
    def knock_margin_deg(self) -> np.ndarray:
        """How much further the spark may be advanced until ping begins [deg]; see OperatingPoints."""
        return self.points.knock_margin_deg
