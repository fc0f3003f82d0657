"""The result of the method on one engine, worked out by the judge itself, once for each engine and day."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from engine_sim import Conditions, Engine, EngineCard, IdleTable, MethodResult, peak_and_back_off, ping_share

from .engine_cache import engine_for

SCREW_LIMITS = (0.6, 5.0)  # turns in, least and most, that the method tries
START_TIMING_DEG = 14.0  # crank degrees BTDC, from which the search begins; every engine of the course idles there
START_SCREW = 2.3  # turns in: about where an idle screw usually is
PLATEAU_INHG = 0.2  # twice the wobble of the needle: within this of the highest vacuum, a person is at the peak
PLATEAU_STEP_DEG = 0.5  # crank degrees between the timings at which the plateau is looked for
PULL_RPM = np.arange(1100.0, 2401.0, 100.0)  # the speeds of the full pull of the road check


@dataclass(frozen=True)
class Reference:
    """The method's result, and the latest timing that still counts as the peak [crank deg BTDC]."""

    method: MethodResult
    plateau_from_deg: float


@functools.lru_cache(maxsize=256)
def reference_for(card: EngineCard, conditions: Conditions) -> Reference:
    """The result of the method on the warm engine of a card. Raises OutsideValidity where it has no peak."""
    engine = engine_for(card)
    method = peak_and_back_off(
        IdleTable(engine, SCREW_LIMITS, conditions),
        START_TIMING_DEG,
        START_SCREW,
        card.setting.idle_rpm,
        card.setting.speed_drop_rpm,
        SCREW_LIMITS,
    )
    timings = np.arange(math.floor(method.timing_deg), method.peak_timing_deg, PLATEAU_STEP_DEG)
    state = engine.idle(timings, method.idle_setting, conditions.altitude_ft, ambient_c=conditions.ambient_c)
    near = state.manifold_vacuum_inhg >= method.peak_vacuum_inhg - PLATEAU_INHG
    return Reference(method, float(timings[np.argmax(near)]))


def worst_ping_share(engine: Engine, base_timing_deg: float, conditions: Conditions) -> float:
    """The largest share of cycles (0 to 1) that ping in a full-throttle pull through the road check's speeds, at a
    base timing [crank deg BTDC]."""
    pull = engine.full_throttle(
        PULL_RPM,
        base_timing_deg,
        altitude_ft=conditions.altitude_ft,
        ambient_c=conditions.ambient_c,
        octane_ron=engine.fuel_octane(conditions, PULL_RPM),
    )
    return ping_share(float(pull.knock_margin_octane.min()))
