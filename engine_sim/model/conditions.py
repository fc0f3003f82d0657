"""The day on which an engine runs: how high, how warm, how moist, and what is in the tank."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from engine_sim.physics import atmosphere, units


@dataclass(frozen=True)
class Conditions:
    """The day: altitude [ft], air temperature [°C], relative humidity [%], and the fuel in the tank.

    `octane_ron` None is the fuel that the card names; `octane_mon` None is the card's sensitivity below the RON.
    """

    altitude_ft: float = 0.0
    ambient_c: float = 20.0
    octane_ron: float | None = None
    octane_mon: float | None = None
    humidity_percent: float = 0.0

    @cached_property
    def ambient_pa(self) -> float:
        """Pressure of the standard atmosphere at this altitude [Pa]."""
        return float(atmosphere.standard_pressure_pa(units.metres_from_feet(self.altitude_ft)))

    @property
    def ambient_k(self) -> float:
        """Air temperature [K]."""
        return units.kelvin_from_celsius(self.ambient_c)

    @cached_property
    def vapour_share(self) -> float:
        """Mass of water vapour in a mass of this day's air."""
        return float(atmosphere.vapour_share(self.humidity_percent, self.ambient_k, self.ambient_pa))


SEA_LEVEL_DAY = Conditions()
