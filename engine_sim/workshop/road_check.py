"""The road check: which road is driven, how the driver holds a speed, and what was heard on the way."""

from __future__ import annotations

from dataclasses import dataclass, field

from engine_sim.model.dynamics import TICK_S, ControlInputs, Motion
from engine_sim.physics import units

from .instruments import CLEAR_PING, TRACE_OF_PING, ping_words
from .trajectory import DriveRecord


@dataclass(frozen=True)
class Route:
    """A stretch of road: `throttle` is held wide, or the driver holds `hold_rpm`; it ends at `to_rpm` or in time."""

    name: str
    told: str
    gear: str  # top or middle
    grade: float
    from_rpm: float
    seconds: float
    to_rpm: float | None = None
    hold_rpm: float | None = None
    start_throttle: float = 1.0


ROUTES = {
    route.name: route
    for route in (
        Route(
            name="full pull",
            told="On a quiet road, within the law: top gear from 1100 rpm, throttle wide open, "
            "listening up to 2400 rpm.",
            gear="top",
            grade=0.0,
            from_rpm=1100.0,
            seconds=40.0,
            to_rpm=2400.0,
        ),
        Route(
            name="level cruise",
            told="On a level road, within the law: top gear at a steady 2000 rpm, listening for half a minute.",
            gear="top",
            grade=0.0,
            from_rpm=2000.0,
            seconds=30.0,
            hold_rpm=2000.0,
            start_throttle=0.18,
        ),
        Route(
            name="up the hill",
            told="Up a long hill, five and a half in a hundred, within the law: top gear at 1300 rpm, listening.",
            gear="top",
            grade=0.055,
            from_rpm=1300.0,
            seconds=30.0,
            hold_rpm=1300.0,
            start_throttle=0.3,
        ),
    )
}


@dataclass(frozen=True)
class SpeedController:
    """How a driver holds a speed: the throttle follows the error of speed, seen a little ahead."""

    gain_per_rpm_s: float = 0.0004  # of full travel, for each rpm of error and second; calibration
    looks_ahead_s: float = 1.2  # calibration

    def throttle(self, throttle: float, wanted_rpm: float, motion: Motion, ticks: int) -> float:
        """The throttle [share of full travel] after some ticks in which the engine stays as it is."""
        ahead_rpm = motion.speed_rpm + self.looks_ahead_s * units.RPM_PER_RAD_S * (motion.acceleration or 0.0)
        step = self.gain_per_rpm_s * (wanted_rpm - ahead_rpm) * TICK_S
        for _ in range(ticks):
            throttle = min(max(throttle + step, 0.0), 1.0)
        return throttle


DRIVER = SpeedController()


@dataclass
class Drive:
    """One drive while it lasts."""

    route: Route
    until_tick: int
    pinged_rpm: list[float] = field(default_factory=list)
    worst_ping: float = 0.0

    def set_off(self, motion: Motion, inputs: ControlInputs, middle_gear_ratio: float) -> None:
        """Put the vehicle on the road at the speed where the route begins."""
        inputs.coupling, inputs.throttle = "road", self.route.start_throttle
        inputs.gear_ratio = middle_gear_ratio if self.route.gear == "middle" else 1.0
        inputs.grade = self.route.grade
        motion.speed_rad_s = units.rad_s_from_rpm(self.route.from_rpm)
        motion.acceleration = None

    def follow(self, motion: Motion, inputs: ControlInputs, ticks: int) -> None:
        """Move the throttle and listen, for ticks in which the engine stays as it is."""
        if self.route.hold_rpm is not None:
            inputs.throttle = DRIVER.throttle(inputs.throttle, self.route.hold_rpm, motion, ticks)
        if motion.ping_rate >= TRACE_OF_PING:
            self.pinged_rpm.append(motion.speed_rpm)
            self.worst_ping = max(self.worst_ping, motion.ping_rate)

    def over(self, motion: Motion, tick: int) -> bool:
        """Whether the drive has come to its end."""
        return tick >= self.until_tick or motion.speed_rad_s == 0.0 or self._arrived(motion)

    def _arrived(self, motion: Motion) -> bool:
        return self.route.to_rpm is not None and motion.speed_rpm >= self.route.to_rpm

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
        )

    def heard(self) -> str:
        """What the driver reports."""
        if not self.pinged_rpm:
            return "no ping was heard"
        strength = "a trace of ping" if self.worst_ping < CLEAR_PING else ping_words(self.worst_ping)
        low, high = min(self.pinged_rpm), max(self.pinged_rpm)
        where = f"from {low:.0f} to {high:.0f} rpm" if high - low > 50 else f"at {low:.0f} rpm"
        return f"{strength} was heard {where}"
