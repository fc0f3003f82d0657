"""The road check: which road is driven, how the driver holds a speed, and what was heard on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from engine_sim.model.dynamics import TICK_S, ControlInputs, Motion
from engine_sim.physics import units
from engine_sim.physics.fuel import DENSITY_KG_L
from engine_sim.physics.units import SECONDS_PER_HOUR

from .instruments import CLEAR_PING, TRACE_OF_PING, ping_words, way_words
from .trajectory import DriveRecord

if TYPE_CHECKING:
    from engine_sim.model.card import DriveTrain
    from engine_sim.model.conditions import Conditions
    from engine_sim.model.engine import Engine

OPENS_IN_S = 2.0  # in which a driver presses an automatic's throttle to the floor; common practice
ROLLING_THROTTLE = 0.08  # of full travel, from which he does; calibration
KICKS_DOWN_FROM = 0.98  # of full travel, from which an automatic shifts down; common practice
SHIFTS_UP_RPM = (1400.0, 3400.0)  # of the turbine, throttle closed and wide open; common practice
KICKS_DOWN_TO_RPM = (1900.0, 3000.0)  # of the turbine in low and in middle gear, at most; common practice
COASTS_DOWN_TO_RPM = 700.0  # of the turbine in the lower gear, at which a slowing vehicle takes it; common practice


@dataclass(frozen=True)
class Route:
    """A stretch of road: the throttle goes wide open, or the driver holds `hold_rpm`; it ends at `to_rpm` or in time.

    Speeds are the engine's in a top gear that does not slip, and so say how fast the vehicle goes. `told` is the
    sentence for a gear lever and `told_automatic` that for a selector, in which speeds stand in braces.
    """

    name: str
    told: str
    told_automatic: str
    grade: float
    from_rpm: float
    seconds: float
    to_rpm: float | None = None
    hold_rpm: float | None = None
    start_throttle: float = 1.0

    def told_to(self, drive: DriveTrain) -> str:
        """What the driver of a vehicle is told."""
        if drive.transmission == "manual":
            return self.told
        speeds = {"from": self.from_rpm, "to": self.to_rpm or self.from_rpm}
        return self.told_automatic.format_map(
            {
                name: road_speed_in_words(drive.top_gear_m_per_rev * rpm / units.SECONDS_PER_MINUTE)
                for name, rpm in speeds.items()
            }
        )


def road_speed_in_words(speed_m_s: float) -> str:
    """A vehicle's speed in kilometres and in miles an hour, to the nearest five."""
    kmh = speed_m_s * SECONDS_PER_HOUR / 1e3
    mph = speed_m_s * SECONDS_PER_HOUR / units.METRES_PER_MILE
    return f"{5 * round(kmh / 5)} km/h ({5 * round(mph / 5)} mph)"


ROUTES = {
    route.name: route
    for route in (
        Route(
            name="full pull",
            told="On a quiet road, within the law: top gear from 1100 rpm, throttle wide open, "
            "listening up to 2400 rpm.",
            told_automatic="On a quiet road, within the law: in drive from {from}, throttle to the floor within two "
            "seconds, listening up to {to} as the gearbox shifts down, pulls, and shifts up again.",
            grade=0.0,
            from_rpm=1100.0,
            seconds=40.0,
            to_rpm=2400.0,
        ),
        Route(
            name="level cruise",
            told="On a level road, within the law: top gear at a steady 2000 rpm, listening for half a minute.",
            told_automatic="On a level road, within the law: in drive at a steady {from}, listening for half a minute.",
            grade=0.0,
            from_rpm=2000.0,
            seconds=30.0,
            hold_rpm=2000.0,
            start_throttle=0.18,
        ),
        Route(
            name="up the hill",
            told="Up a long hill of 5.5 %, within the law: top gear at 1300 rpm, listening.",
            told_automatic="Up a long hill of 5.5 %, within the law: in drive at a steady {from}, listening.",
            grade=0.055,
            from_rpm=1300.0,
            seconds=30.0,
            hold_rpm=1300.0,
            start_throttle=0.3,
        ),
    )
}


def pulls_rpm(engine: Engine, conditions: Conditions) -> tuple[float, float]:
    """The lowest and the highest speed [rpm] at which an engine pulls with its throttle wide open on the full pull.
    Behind a converter none pulls slower than at its stall speed."""
    drive, route = engine.card.drive, ROUTES["full pull"]
    if drive.transmission == "manual":
        return route.from_rpm, route.to_rpm or route.from_rpm
    lowest_rpm = engine.stall_speed_rpm(engine.card.setting.label_base_timing_deg, conditions)
    return lowest_rpm, max(lowest_rpm, SHIFTS_UP_RPM[1])


@dataclass(frozen=True)
class SpeedController:
    """How a driver holds a speed: the throttle follows the error of speed, seen a little ahead."""

    gain_per_rpm_s: float = 0.0004  # of full travel, for each rpm of error and second; calibration
    looks_ahead_s: float = 1.2  # calibration

    def throttle(self, throttle: float, wanted_rpm: float, rad_s: float, rad_s2: float | None, ticks: int) -> float:
        """The throttle [share of full travel] after some ticks in which a shaft keeps its speed and acceleration."""
        ahead_rpm = units.RPM_PER_RAD_S * (rad_s + self.looks_ahead_s * (rad_s2 or 0.0))
        step = self.gain_per_rpm_s * (wanted_rpm - ahead_rpm) * TICK_S
        for _ in range(ticks):
            throttle = min(max(throttle + step, 0.0), 1.0)
        return throttle


DRIVER = SpeedController()


def shifted(drive: DriveTrain, gear_ratio: float, throttle: float, shaft_rpm: float) -> float:
    """The gear ratio that an automatic with three gears goes on with: up by speed, the later the wider the throttle is
    open; down as the vehicle slows, or with the throttle at the floor where the lower gear is not too fast."""
    ratios = (drive.low_gear_ratio, drive.middle_gear_ratio, 1.0)
    gear = ratios.index(gear_ratio)
    closed_rpm, open_rpm = SHIFTS_UP_RPM
    if gear < 2 and shaft_rpm * gear_ratio >= closed_rpm + throttle * (open_rpm - closed_rpm):
        return ratios[gear + 1]
    if gear:
        limit_rpm = KICKS_DOWN_TO_RPM[gear - 1] if throttle >= KICKS_DOWN_FROM else COASTS_DOWN_TO_RPM
        if shaft_rpm * ratios[gear - 1] < limit_rpm:
            return ratios[gear - 1]
    return gear_ratio


@dataclass
class Drive:
    """One drive while it lasts."""

    route: Route
    vehicle: DriveTrain
    until_tick: int
    pinged_rpm: list[float] = field(default_factory=list)
    worst_ping: float = 0.0
    fuel_kg: float = 0.0
    way_m: float = 0.0

    @property
    def _automatic(self) -> bool:
        return self.vehicle.transmission == "automatic"

    def set_off(self, motion: Motion, inputs: ControlInputs) -> None:
        """Put the vehicle on the road at the speed where the route begins, in top gear."""
        inputs.coupling, inputs.throttle = "road", self.route.start_throttle
        if self._automatic and self.route.hold_rpm is None:
            inputs.throttle = ROLLING_THROTTLE
        inputs.gear_ratio, inputs.grade = 1.0, self.route.grade
        motion.speed_rad_s = motion.shaft_rad_s = units.rad_s_from_rpm(self.route.from_rpm)
        motion.acceleration, motion.shaft_rad_s2 = None, 0.0

    def follow(self, motion: Motion, inputs: ControlInputs, ticks: int) -> None:
        """Move the throttle, shift and listen, for ticks in which the engine stays as it is."""
        self.fuel_kg += motion.fuel_kg_s * ticks * TICK_S
        self.way_m += motion.shaft_rad_s * self.vehicle.top_gear_m_per_rev / (2.0 * math.pi) * ticks * TICK_S
        if self.route.hold_rpm is None:
            opened = (1.0 - ROLLING_THROTTLE) * ticks * TICK_S / OPENS_IN_S
            inputs.throttle = min(inputs.throttle + opened, 1.0)
        else:
            held = self.route.hold_rpm, motion.shaft_rad_s, motion.shaft_rad_s2
            inputs.throttle = DRIVER.throttle(inputs.throttle, *held, ticks)
        if self._automatic:
            ratio = shifted(self.vehicle, inputs.gear_ratio, inputs.throttle, motion.shaft_rad_s * units.RPM_PER_RAD_S)
            if ratio != inputs.gear_ratio:
                inputs.gear_ratio = ratio
                motion.disturb()
        if motion.ping_rate >= TRACE_OF_PING:
            self.pinged_rpm.append(motion.speed_rpm)
            self.worst_ping = max(self.worst_ping, motion.ping_rate)

    def over(self, motion: Motion, tick: int) -> bool:
        """Whether the drive has come to its end."""
        return tick >= self.until_tick or motion.speed_rad_s == 0.0 or self._arrived(motion)

    def _arrived(self, motion: Motion) -> bool:
        return self.route.to_rpm is not None and motion.shaft_rad_s * units.RPM_PER_RAD_S >= self.route.to_rpm

    def complete(self, motion: Motion, tick: int) -> bool:
        """Whether it was driven as the route asks."""
        if self.route.to_rpm is not None:
            return self._arrived(motion)
        return tick >= self.until_tick and motion.speed_rad_s > 0.0

    def record(self, time_s: float, motion: Motion, inputs: ControlInputs, settings: dict, tick: int) -> DriveRecord:
        """The drive for the trajectory."""
        low, high = (min(self.pinged_rpm), max(self.pinged_rpm)) if self.pinged_rpm else (None, None)
        return DriveRecord(
            time_s=time_s,
            vacuum_hose=settings["vacuum_hose"],
            base_timing_deg=inputs.base_timing_deg,
            worst_ping=self.worst_ping,
            complete=self.complete(motion, tick),
            route=self.route.name,
            fuel=settings["fuel"],
            pinged_from_rpm=low,
            pinged_to_rpm=high,
            fuel_kg=self.fuel_kg,
            way_m=self.way_m,
        )

    def used(self) -> str:
        """The fuel of the drive, in words."""
        return way_words(self.fuel_kg / DENSITY_KG_L * 1e5 / self.way_m)

    def heard(self) -> str:
        """What the driver reports."""
        if not self.pinged_rpm:
            return "no ping was heard"
        strength = "a trace of ping" if self.worst_ping < CLEAR_PING else ping_words(self.worst_ping)
        low, high = min(self.pinged_rpm), max(self.pinged_rpm)
        where = f"from {low:.0f} to {high:.0f} rpm" if high - low > 50 else f"at {low:.0f} rpm"
        return f"{strength} was heard {where}"
