"""An engine of which torque and air flow are published polynomials: P. R. Crossley and J. A. Cook, 1991.

Source key: crossley_cook_1991. Throttle angle [deg], pressure [bar], speed [rad/s], air flow [g/s], charge [g a
cylinder], torque [N m]; four cylinders, air-fuel ratio 14.6. Nothing here comes from engine_sim.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

STOICHIOMETRIC = 14.6
PASCAL_PER_BAR, PASCAL_PER_INHG = 1e5, 3386.389
SLOWEST, FASTEST = 60.0, 420.0  # rad/s in which an equilibrium is looked for
LOWEST_BAR = 0.02
BISECTIONS = 50


def throttle_function(angle_deg: float) -> float:
    """Air through the choked throttle [g/s]."""
    return 2.821 - 0.05231 * angle_deg + 0.10299 * angle_deg**2 - 0.00063 * angle_deg**3


def pressure_function(manifold_bar: float, ambient_bar: float = 1.0) -> float:
    """Flow over choked flow."""
    if manifold_bar <= ambient_bar / 2:
        return 1.0
    return 2.0 / ambient_bar * math.sqrt(max(manifold_bar * ambient_bar - manifold_bar**2, 0.0))


def pumped_air(speed: float, manifold_bar: float) -> float:
    """Air that the cylinders draw [g/s]."""
    return -0.366 + 0.08979 * speed * manifold_bar - 0.0337 * speed * manifold_bar**2 + 0.0001 * speed**2 * manifold_bar


def torque(charge: float, spark_deg: float, speed: float, air_fuel: float = STOICHIOMETRIC) -> float:
    """Brake torque before the load [N m]."""
    return (
        -181.3
        + 379.36 * charge
        + 21.91 * air_fuel
        - 0.85 * air_fuel**2
        + 0.26 * spark_deg
        - 0.0028 * spark_deg**2
        + 0.027 * speed
        - 0.000107 * speed**2
        + 0.00048 * speed * spark_deg
        + 2.55 * spark_deg * charge
        - 0.05 * spark_deg**2 * charge
    )


def bisect(function, low: float, high: float) -> float:
    """Root of a function that is positive at `low` and negative at `high`."""
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) > 0 else (low, middle)
    return 0.5 * (low + high)


@dataclass(frozen=True)
class PublishedEngine:
    """The engine against a constant load; as a plant, its idle setting is the throttle angle [deg]."""

    load_nm: float = 25.0
    ambient_bar: float = 1.0

    def manifold_bar(self, throttle_deg: float, speed: float) -> float:
        """Pressure at which the cylinders draw what the throttle passes."""

        def surplus(manifold_bar):
            passed = throttle_function(throttle_deg) * pressure_function(manifold_bar, self.ambient_bar)
            return passed - pumped_air(speed, manifold_bar)

        return bisect(surplus, LOWEST_BAR, self.ambient_bar)

    def surplus_nm(self, throttle_deg: float, spark_deg: float, speed: float) -> float:
        """Torque over the load, with the manifold in balance; each cylinder draws for half a turn."""
        charge = pumped_air(speed, self.manifold_bar(throttle_deg, speed)) * math.pi / speed
        return torque(charge, spark_deg, speed) - self.load_nm

    def settled(self, timing_deg: float, idle_setting: float) -> tuple[float, float]:
        """Speed [rpm] and vacuum [inHg] at the stable equilibrium; NaN where there is none."""

        def surplus(speed):
            return self.surplus_nm(idle_setting, timing_deg, speed)

        if not surplus(SLOWEST) > 0 > surplus(FASTEST):
            return math.nan, math.nan
        speed = bisect(surplus, SLOWEST, FASTEST)
        vacuum = (self.ambient_bar - self.manifold_bar(idle_setting, speed)) * PASCAL_PER_BAR / PASCAL_PER_INHG
        return speed * 30.0 / math.pi, vacuum
