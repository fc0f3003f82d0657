"""The state of wear of an engine: what is not as its card describes it. A sound engine has nothing of it.

Leaks are given by what they cost at 800 rpm; faster, a cylinder has less time to lose its charge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from engine_sim.physics.arrays import Numbers

LEAK_REFERENCE_RPM = 800.0  # at which leaks are given
LEAK_SPEED_EXPONENT = 0.5  # slower, more leaks away; calibration
WORK_LOST_PER_CHARGE_LOST = 1.6  # what leaks away was compressed first, and burns cooler; calibration
LEAST_WORK = -0.1  # a cylinder that holds nothing is an air pump
DRAWN_LESS = {"crankcase": 0.3, "exhaust": 1.5, "intake": 2.0, "neighbour": 0.3}  # of the charge lost; calibration
HANGING_DRAW = -0.3  # air that a cylinder breathes back whose inlet valve hangs open, over a sound draw; calibration
HANGING_WORK = 0.0  # its work over a sound one's; calibration


@dataclass(frozen=True)
class CylinderWear:
    """One cylinder: the share of its charge that leaks away at 800 rpm, and where to; the shares of cycles in which a
    valve hangs open and in which the spark comes; and air that leaks into its own runner [m2]."""

    leak_share: float = 0.0
    leaks_to: Literal["crankcase", "exhaust", "intake", "neighbour"] = "crankcase"
    hangs_share: float = 0.0
    fires_share: float = 1.0
    runner_leak_m2: float = 0.0

    def lost(self, speed_rpm: Numbers) -> Numbers:
        """Share of the charge lost at a speed; float or array."""
        return 1.0 - (1.0 - self.leak_share) ** ((LEAK_REFERENCE_RPM / speed_rpm) ** LEAK_SPEED_EXPONENT)

    def work_when_it_fires(self, speed_rpm: Numbers) -> Numbers:
        """Work of a cycle whose spark comes and whose valves close, over that of a sound one; float or array."""
        works = 1.0 - WORK_LOST_PER_CHARGE_LOST * self.lost(speed_rpm)
        return works * (works > LEAST_WORK) + LEAST_WORK * (works <= LEAST_WORK)

    def work_share(self, speed_rpm: Numbers) -> Numbers:
        """Work of this cylinder over that of a sound one, valves and sparks averaged; float or array."""
        works = self.work_when_it_fires(speed_rpm)
        return self.fires_share * (works * (1.0 - self.hangs_share) + HANGING_WORK * self.hangs_share)

    def draw_when_closed(self, speed_rpm: Numbers) -> Numbers:
        """Air of a cycle whose inlet valve closes, over that of a sound one; below 0 it breathes back."""
        return 1.0 - DRAWN_LESS[self.leaks_to] * self.lost(speed_rpm)

    def draw_share(self, speed_rpm: Numbers) -> Numbers:
        """Air that this cylinder takes from the manifold over that of a sound one; below 0 it breathes back."""
        return self.draw_when_closed(speed_rpm) * (1.0 - self.hangs_share) + HANGING_DRAW * self.hangs_share


@dataclass(frozen=True)
class Wear:
    """The whole engine. `cylinders` holds those that are not sound, by their place in the firing order from 0.

    Angles are crank degrees. `weights_stuck_deg` is None while the weights are free; `spring_left` is the share of the
    weights' springs that still pulls; `coil_left` the share of the coil's energy that reaches a plug.
    """

    plenum_leak_m2: float = 0.0
    crankcase_air_m2: float = 0.0  # through the crankcase's valve beyond what the idle is jetted for; below 0: less
    cylinders: tuple[tuple[int, CylinderWear], ...] = ()
    mark_slip_deg: float = 0.0
    weights_stuck_deg: float | None = None
    spring_left: float = 1.0
    canister_torn: bool = False
    advance_hose_on: Literal["", "manifold", "ported"] = ""  # a port other than the card's
    valves_late_deg: float = 0.0
    compression_lost: float = 0.0
    exhaust_blocked: float = 0.0  # back pressure [kPa] at an exhaust flow of 20 g/s for each litre of the engine
    shaft_play_deg: float = 0.0  # standard deviation of each spark
    coil_left: float = 1.0
    plug_gap_mm: float = 0.0  # 0: as the card has it
    choke_stuck_open: bool = False
    rotor_off_deg: float = 0.0  # distributor degrees between rotor and terminal, vacuum unit at rest

    def work_share(self, speed_rpm: Numbers, cylinders: int) -> Numbers:
        """Work of the engine over that of a sound one; float or array."""
        return 1.0 + sum(one.work_share(speed_rpm) - 1.0 for _, one in self.cylinders) / cylinders

    def draw_share(self, speed_rpm: Numbers, cylinders: int) -> Numbers:
        """Air that the engine takes from its manifold over that of a sound one; float or array."""
        return 1.0 + sum(one.draw_share(speed_rpm) - 1.0 for _, one in self.cylinders) / cylinders

    def with_cylinders(self, wear: CylinderWear, *places: int) -> Wear:
        """The same engine with the cylinders at these places of the firing order in that state."""
        kept = tuple((place, one) for place, one in self.cylinders if place not in places)
        return replace(self, cylinders=tuple(sorted((*kept, *((place, wear) for place in places)), key=lambda x: x[0])))

    @property
    def runner_leak_m2(self) -> float:
        """Area of all leaks into single runners [m2]."""
        return sum(one.runner_leak_m2 for _, one in self.cylinders)

    @property
    def leak_m2(self) -> float:
        """Area of everything that lets air in past the carburettor [m2]; below 0 where less comes in than in a sound
        engine."""
        return self.plenum_leak_m2 + self.crankcase_air_m2 + self.runner_leak_m2


SOUND = Wear()
