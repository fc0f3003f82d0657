"""The result of the method on one engine, worked out by the judge itself, once for each engine and day."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from engine_sim import (
    SOUND,
    Conditions,
    Engine,
    EngineCard,
    IdleTable,
    MethodResult,
    Wear,
    peak_and_back_off,
    ping_share,
)
from engine_sim.workshop.road_check import pulls_rpm

from .engine_cache import engine_for

SCREW_LIMITS = (0.6, 5.0)  # turns in, least and most, that the method tries
START_TIMING_DEG = 14.0  # crank degrees BTDC, from which the search begins; every engine of the course idles there
START_SCREW = 2.3  # turns in: about where an idle screw usually is
PLATEAU_INHG = 0.2  # twice the wobble of the needle: within this of the highest vacuum, a person is at the peak
LATEST_TIMING_DEG = -12.0  # crank degrees BTDC for which an idle can be worked out
PLATEAU_STEP_DEG = 0.5  # crank degrees between the timings at which the plateau is looked for
BACK_OFF_OVER_DEG = 16.0  # crank degrees later than the setting, over which backing off is worked out
PULL_STEP_RPM = 100.0  # between the speeds of the full pull at which ping is looked for


@dataclass(frozen=True, eq=False)
class Reference:
    """The method's result, and the latest timing that still counts as the peak [crank deg BTDC].

    The arrays go together: by how much speed [rpm] and vacuum [inHg] are below those of the peak at a timing
    [crank deg BTDC], the idle screw as it is at the peak.
    """

    method: MethodResult
    plateau_from_deg: float
    timing_deg: np.ndarray
    speed_fall_rpm: np.ndarray
    vacuum_fall_inhg: np.ndarray

    def timing_at_speed_fall(self, fall_rpm: float) -> float:
        """Where the speed has fallen by so much from the peak [crank deg BTDC]; the latest timing of the arrays where
        it never does."""
        return _falling_through(self.timing_deg, self.speed_fall_rpm, fall_rpm)

    def timing_at_vacuum_fall(self, fall_inhg: float) -> float:
        """The same for the vacuum."""
        return _falling_through(self.timing_deg, self.vacuum_fall_inhg, fall_inhg)

    def speed_fall_at(self, timing_deg: float) -> float:
        """By how much the speed is below that of the peak at a timing later than it [rpm]."""
        return float(np.interp(timing_deg, self.timing_deg, self.speed_fall_rpm))


def _falling_through(timing_deg: np.ndarray, fall: np.ndarray, wanted: float) -> float:
    further = np.maximum.accumulate(fall[::-1])  # from the peak to later timings
    return float(np.interp(wanted, further, timing_deg[::-1]))


@functools.lru_cache(maxsize=256)
def _reference(card: EngineCard, conditions: Conditions, wear: Wear) -> Reference:
    engine = engine_for(card, wear)
    method = peak_and_back_off(
        IdleTable(engine, SCREW_LIMITS, conditions),
        START_TIMING_DEG,
        START_SCREW,
        card.setting.idle_rpm,
        card.setting.speed_drop_rpm,
        SCREW_LIMITS,
    )
    latest = max(math.floor(method.timing_deg - BACK_OFF_OVER_DEG), LATEST_TIMING_DEG)
    timings = np.append(np.arange(latest, method.peak_timing_deg, PLATEAU_STEP_DEG), method.peak_timing_deg)
    state = engine.idle(timings, method.idle_setting, conditions.altitude_ft, ambient_c=conditions.ambient_c)
    runs = ~state.stalls
    timings, speed, vacuum = (one[runs] for one in (timings, state.speed_rpm, state.manifold_vacuum_inhg))
    near = (vacuum >= vacuum[-1] - PLATEAU_INHG) & (timings >= method.timing_deg)
    return Reference(method, float(timings[np.argmax(near)]), timings, speed[-1] - speed, vacuum[-1] - vacuum)


def reference_for(card: EngineCard, conditions: Conditions, wear: Wear = SOUND) -> Reference:
    """The result of the method on the warm engine of a card in a state of wear. Raises OutsideValidity where it has no
    peak."""
    return _reference(card, conditions, wear)  # one entry, whether the wear was given or not


@functools.lru_cache(maxsize=64)
def pull_rpm(card: EngineCard, conditions: Conditions) -> tuple[float, float]:
    """The lowest and the highest engine speed [rpm] of the full pull of the road check, to the next hundred."""
    lowest, highest = (PULL_STEP_RPM * round(rpm / PULL_STEP_RPM) for rpm in pulls_rpm(engine_for(card), conditions))
    return lowest, highest


def worst_ping_share(engine: Engine, base_timing_deg: float, conditions: Conditions) -> float:
    """The largest share of cycles (0 to 1) that ping in a full-throttle pull through the road check's speeds, at a
    base timing [crank deg BTDC]."""
    lowest_rpm, highest_rpm = pull_rpm(engine.card, conditions)
    speed_rpm = np.arange(lowest_rpm, highest_rpm + 1.0, PULL_STEP_RPM)
    pull = engine.full_throttle(
        speed_rpm,
        base_timing_deg,
        altitude_ft=conditions.altitude_ft,
        ambient_c=conditions.ambient_c,
        octane_ron=engine.fuel_octane(conditions, speed_rpm),
    )
    return ping_share(float(pull.knock_margin_octane.min()))
