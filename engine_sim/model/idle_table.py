"""The settled idle of one engine in a table, so that the method can be carried out a hundred times as fast.

All states over timing and idle screw are worked out together and interpolated by cubic convolution; the table is a
plant of `timing_method` like the engine itself.
"""

from __future__ import annotations

import numpy as np

from .conditions import SEA_LEVEL_DAY, Conditions
from .engine import Engine
from .response_map import cubic_weights

TIMINGS_DEG = np.arange(-10.0, 57.0, 4.0)  # crank degrees BTDC of base timing
SCREW_STEP_TURNS = 0.5  # about so much between two nodes


class IdleTable:
    """Settled speed and vacuum of a warm engine in neutral, hose off and plugged, between two limits of the screw. What
    the transfer slot adds where a screw is far in is left out: the method never needs one so far."""

    def __init__(self, engine: Engine, screw_limits: tuple[float, float], conditions: Conditions = SEA_LEVEL_DAY):
        low, high = screw_limits
        self.screws = np.linspace(low, high, max(round((high - low) / SCREW_STEP_TURNS), 3) + 1)
        state = engine.idle(
            TIMINGS_DEG[:, None],
            self.screws[None, :],
            conditions.altitude_ft,
            ambient_c=conditions.ambient_c,
            slot=False,
        )
        self.table = np.stack([state.speed_rpm, state.manifold_vacuum_inhg], axis=-1)

    def settled(self, timing_deg: float, idle_setting: float) -> tuple[float, float]:
        """Speed [rpm] and vacuum [inHg]; NaN where the engine stalls, or beyond the table's timings or screws."""
        rows, across = _nodes(TIMINGS_DEG, timing_deg)
        columns, along = _nodes(self.screws, idle_setting)
        if rows is None or columns is None:
            return float("nan"), float("nan")
        speed, vacuum = np.einsum("i,j,ijk->k", across, along, self.table[rows, columns])
        return float(speed), float(vacuum)


def _nodes(axis: np.ndarray, value: float):
    """The four nodes around a value, moved inwards at the ends, and their weights; None outside the axis."""
    position = (value - axis[0]) / (axis[1] - axis[0])
    if not -1e-9 <= position <= axis.size - 1 + 1e-9:
        return None, None
    cell = int(min(max(position, 1.0), axis.size - 2.0 - 1e-9))
    if 1.0 <= position <= axis.size - 2.0:
        return slice(cell - 1, cell + 3), np.array(cubic_weights(position - cell))
    return slice(cell - 1, cell + 3), _lagrange(position - cell)


def _lagrange(t: float) -> np.ndarray:
    """Weights of the cubic through the nodes at -1, 0, 1 and 2, for a value in one of the outer cells."""
    return np.array(
        [
            -t * (t - 1) * (t - 2) / 6,
            (t + 1) * (t - 1) * (t - 2) / 2,
            -(t + 1) * t * (t - 2) / 2,
            (t + 1) * t * (t - 1) / 6,
        ]
    )
