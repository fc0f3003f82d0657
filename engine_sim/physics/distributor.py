"""The distributor: what adds up to the moment of the spark. Angles in crank degrees unless a name says otherwise.

The distributor turns at half crank speed, so one of its own degrees is two crank degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .arrays import Numbers
from .units import SECONDS_PER_MINUTE

CRANK_DEG_PER_DISTRIBUTOR_DEG = 2.0  # exact, by the gears of a four-stroke engine; key crank_per_distributor_degree
HOSE_ON, HOSE_OPEN, HOSE_PLUGGED = "on", "off and open", "off and plugged"  # the vacuum advance hose
HOSE_STATES = (HOSE_ON, HOSE_OPEN, HOSE_PLUGGED)
PORT_UNCOVERED_FROM = 0.02  # share of throttle travel at which the plate begins to uncover the port; common practice
PORT_UNCOVERED_AT = 0.08  # share of throttle travel at which the port is open; common practice
FASTEST_RPM = 6000.0  # of the crank: here the table of the weights ends, which is constant above
TABLE_STEP_RPM = 10.0  # of the same table, which then lies within a twentieth of a degree of the balance
ROTOR_REACHES_DEG = 10.0  # distributor degrees between rotor tip and terminal that the spark jumps; common practice
ROTOR_MISSES_DEG = 20.0  # distributor degrees that no spark jumps; common practice


@dataclass(frozen=True)
class Weights:
    """Two flyweights on the distributor shaft, held in by two springs; SI units.

    Their force 2 m w^2 (r + s) is balanced by the first spring, stretched from the start, and by the second, which has
    slack to take up: p1 + k1 s + k2 max(s - slack, 0). The outward travel s turns the cam by s / lever, as far
    as the stop. Any speed from standstill up; any shape.
    """

    mass_kg: float
    radius_m: float
    lever_m: float
    first_spring_n_m: float
    first_preload_n: float
    second_spring_n_m: float
    second_slack_m: float
    stop_deg: float

    def advance_deg(self, speed_rpm: Numbers) -> np.ndarray:
        """Centrifugal advance [crank deg] at a crank speed [rpm]; any shape."""
        pull = 2.0 * self.mass_kg * (np.asarray(speed_rpm, float) * np.pi / SECONDS_PER_MINUTE) ** 2
        stop_m = self.travel_m(self.stop_deg)
        light = _travel(pull * self.radius_m - self.first_preload_n, self.first_spring_n_m - pull, stop_m)
        both = _travel(
            pull * self.radius_m - self.first_preload_n + self.second_spring_n_m * self.second_slack_m,
            self.first_spring_n_m + self.second_spring_n_m - pull,
            stop_m,
        )
        travel = np.where(light > self.second_slack_m, np.maximum(both, self.second_slack_m), light)
        return np.minimum(travel, stop_m) / stop_m * self.stop_deg if stop_m > 0 else np.zeros_like(pull)

    def travel_m(self, advance_deg: float) -> float:
        """Outward travel of the weights [m] at an advance [crank deg]."""
        return float(np.deg2rad(advance_deg / CRANK_DEG_PER_DISTRIBUTOR_DEG)) * self.lever_m

    @property
    def start_rpm(self) -> float:
        """Crank speed at which the weights leave their rest [rpm]."""
        return self._balanced_rpm(0.0)

    @property
    def full_rpm(self) -> float:
        """Crank speed at which the weights reach their stop [rpm]."""
        return self._balanced_rpm(self.travel_m(self.stop_deg))

    def _balanced_rpm(self, travel_m: float) -> float:
        springs = self.first_preload_n + self.first_spring_n_m * travel_m
        springs += self.second_spring_n_m * max(travel_m - self.second_slack_m, 0.0)
        return float(np.sqrt(springs / (2.0 * self.mass_kg * (self.radius_m + travel_m))) * SECONDS_PER_MINUTE / np.pi)

    @cached_property
    def _table(self) -> list[float]:
        return self.advance_deg(np.arange(0.0, FASTEST_RPM + 2 * TABLE_STEP_RPM, TABLE_STEP_RPM)).tolist()

    def at(self, speed_rpm: float) -> float:
        """Centrifugal advance [crank deg] at one speed [rpm]: `advance_deg` from a table, constant above 6,000 rpm."""
        table, place = self._table, (speed_rpm if speed_rpm < FASTEST_RPM else FASTEST_RPM) / TABLE_STEP_RPM
        cell = int(place)
        return table[cell] + (place - cell) * (table[cell + 1] - table[cell])


def _travel(force_n, stiffness_n_m, stop_m: float):
    """Travel that balances a force; weights that outrun their springs go to the stop."""
    holds = stiffness_n_m > 0.0
    return np.where(
        holds, np.maximum(force_n, 0.0) / np.where(holds, stiffness_n_m, 1.0), np.where(force_n > 0, stop_m, 0)
    )


def vacuum_advance_deg(signal_inhg: Numbers, start_inhg: Numbers, full_inhg: Numbers, limit_deg: Numbers) -> Numbers:
    """Advance of the vacuum unit [crank deg] for the vacuum that reaches it [inHg]; arguments broadcast."""
    return limit_deg * np.clip((signal_inhg - start_inhg) / (full_inhg - start_inhg), 0.0, 1.0)


def ported_share(throttle: Numbers) -> Numbers:
    """Share of manifold vacuum that a port above the closed throttle plate has [-], from throttle travel 0 to 1; any
    shape."""
    return np.clip((throttle - PORT_UNCOVERED_FROM) / (PORT_UNCOVERED_AT - PORT_UNCOVERED_FROM), 0.0, 1.0)


def crank_deg(distributor_degrees: Numbers) -> Numbers:
    """Crank degrees from distributor degrees; any shape. Key: crank_per_distributor_degree."""
    return CRANK_DEG_PER_DISTRIBUTOR_DEG * distributor_degrees


def tooth_out_deg(gear_teeth: int, teeth: int = 1) -> float:
    """How far the spark moves [crank deg] when the distributor is set in so many teeth of its gear out of place."""
    return crank_deg(360.0 * teeth / gear_teeth)


def rotor_miss_share(rotor_off_deg: Numbers) -> Numbers:
    """Share of sparks that miss their terminal [-], from the distributor degrees between the two; any shape."""
    return np.clip((np.abs(rotor_off_deg) - ROTOR_REACHES_DEG) / (ROTOR_MISSES_DEG - ROTOR_REACHES_DEG), 0.0, 1.0)


def advance_sense(rotor_turns: str) -> int:
    """+1 where turning the body clockwise advances the spark, -1 where it retards it.

    Turning the body against the rotor brings the spark sooner.
    """
    return 1 if rotor_turns == "anticlockwise" else -1
