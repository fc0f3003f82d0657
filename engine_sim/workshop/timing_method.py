"""The method itself, as a careful person carries it out on a steady engine.

Find the highest vacuum; bring the idle back to its specified speed there; find the highest vacuum again; then retard
until the speed has fallen by the specified drop. It knows an engine only by its gauge and its tachometer, so that any
plant can be put through it: the simulated engine, or one whose torque and air flow were published.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from engine_sim.errors import OutsideValidity
from engine_sim.physics.roots import find_root

COARSE_STEP_DEG = 4.0  # crank degrees of the first steps towards the peak
FURTHEST_STEPS = 60  # before an engine counts as having no peak
RETRIM_ROUNDS = 4  # of bringing the idle back and finding the peak again, at most
SAME_PEAK_DEG = 0.05  # crank degrees between two rounds that end the search


class Plant(Protocol):
    """What the method needs: the settled speed [rpm] and vacuum [inHg] at a timing [deg] and an idle setting.

    A state that stalls is NaN, NaN. A larger idle setting lets in more air.
    """

    def settled(self, timing_deg: float, idle_setting: float) -> tuple[float, float]: ...


@dataclass(frozen=True)
class MethodResult:
    """Where the method led: the peak after the idle was brought back, and the setting after backing off."""

    peak_timing_deg: float
    peak_speed_rpm: float
    peak_vacuum_inhg: float
    idle_setting: float
    timing_deg: float
    speed_rpm: float
    vacuum_inhg: float


def peak_and_back_off(
    plant: Plant,
    start_timing_deg: float,
    start_idle: float,
    idle_rpm: float,
    drop_rpm: float,
    idle_limits: tuple[float, float],
) -> MethodResult:
    """Carry out the method. Raises OutsideValidity where the engine has no peak or cannot be brought to its idle.

    >>> import engine_sim
    >>> engine = engine_sim.Engine(engine_sim.load_card("course/engines/farm_runabout_four.toml"))
    >>> plant = engine_sim.IdleTable(engine, (0.5, 6.0))
    >>> end = engine_sim.peak_and_back_off(plant, 8.0, 2.0, idle_rpm=800.0, drop_rpm=30.0, idle_limits=(0.5, 6.0))
    >>> round(end.peak_timing_deg / 5) * 5, round(end.timing_deg / 5) * 5
    (30, 15)
    """
    timing, idle = find_peak(plant, start_timing_deg, start_idle), start_idle
    for _ in range(RETRIM_ROUNDS):
        idle = bring_idle_to(plant, timing, idle_rpm, idle_limits)
        again = find_peak(plant, timing, idle)
        if abs(again - timing) < SAME_PEAK_DEG:
            break
        timing = again
    timing = again
    speed, vacuum = plant.settled(timing, idle)
    landing = back_off(plant, timing, idle, speed - drop_rpm)
    landing_speed, landing_vacuum = plant.settled(landing, idle)
    return MethodResult(
        peak_timing_deg=timing,
        peak_speed_rpm=speed,
        peak_vacuum_inhg=vacuum,
        idle_setting=idle,
        timing_deg=landing,
        speed_rpm=landing_speed,
        vacuum_inhg=landing_vacuum,
    )


def find_peak(plant: Plant, timing_deg: float, idle_setting: float) -> float:
    """Timing [deg] of the highest vacuum: step towards more vacuum until it falls, then the parabola's top, twice."""
    step = COARSE_STEP_DEG
    for _ in range(3):
        timing_deg = _climb(plant, timing_deg, idle_setting, step)
        timing_deg += (
            _parabola_top(*(_vacuum(plant, timing_deg + shift, idle_setting) for shift in (-step, 0.0, step))) * step
        )
        step /= 2.0
    return timing_deg


def _climb(plant, timing_deg, idle_setting, step):
    best = _vacuum(plant, timing_deg, idle_setting)
    direction = 1.0 if _vacuum(plant, timing_deg + step, idle_setting) >= best else -1.0
    for _ in range(FURTHEST_STEPS):
        found = _vacuum(plant, timing_deg + direction * step, idle_setting)
        if found <= best:
            return timing_deg
        timing_deg, best = timing_deg + direction * step, found
    raise OutsideValidity("The vacuum keeps rising as far as the distributor turns: this engine shows no peak.")


def _vacuum(plant, timing_deg, idle_setting) -> float:
    vacuum = float(plant.settled(timing_deg, idle_setting)[1])
    return -math.inf if math.isnan(vacuum) else vacuum


def _parabola_top(left: float, middle: float, right: float) -> float:
    bend = left - 2 * middle + right
    if not math.isfinite(bend) or bend >= 0:
        return 0.0
    return min(max(0.5 * (left - right) / bend, -1.0), 1.0)


def bring_idle_to(plant: Plant, timing_deg: float, idle_rpm: float, limits: tuple[float, float]) -> float:
    """Idle setting that gives the specified speed. Raises OutsideValidity where the screw's range does not reach it."""
    low, high = limits

    def speed(setting):
        found = float(plant.settled(timing_deg, setting)[0])
        return 0.0 if math.isnan(found) else found

    if not speed(low) <= idle_rpm <= speed(high):
        raise OutsideValidity(
            f"The idle screw reaches {speed(low):.0f} to {speed(high):.0f} rpm at this timing; "
            f"{idle_rpm:.0f} rpm was wanted."
        )
    return float(find_root(lambda setting: np.array(speed(float(setting)) - idle_rpm), low, high, iterations=9))


def back_off(plant: Plant, peak_deg: float, idle_setting: float, wanted_rpm: float) -> float:
    """Retard from the peak until the speed has fallen to `wanted_rpm`; return that timing [deg]."""
    early, late = peak_deg, peak_deg
    for _ in range(FURTHEST_STEPS):
        late -= COARSE_STEP_DEG
        if not float(plant.settled(late, idle_setting)[0]) > wanted_rpm:
            break
        early = late
    else:
        raise OutsideValidity(f"The speed never falls to {wanted_rpm:.0f} rpm, however late the spark.")

    def surplus(timing):
        found = float(plant.settled(float(timing), idle_setting)[0])
        return np.array((0.0 if math.isnan(found) else found) - wanted_rpm)

    return float(find_root(surplus, late, early, iterations=8))
