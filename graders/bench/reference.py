"""What the method gives on one engine: worked out by the judge itself, once for an engine and a day."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from engine_sim import Conditions, Engine, EngineCard, IdleTable, MethodResult, peak_and_back_off, ping_share

from .engine_cache import engine_for

SCREW_LIMITS = (0.6, 5.0)
START_TIMING_DEG, START_SCREW = 14.0, 2.3
PLATEAU_INHG = 0.2  # twice the wobble of the needle: within this of the highest vacuum, a person is at the peak
PULL_RPM = np.arange(1100.0, 2401.0, 100.0)


@dataclass(frozen=True)
class Reference:
    """The method's result, and the earliest timing's neighbourhood that counts as the peak [deg of total advance]."""

    method: MethodResult
    plateau_from_deg: float


@functools.lru_cache(maxsize=256)
def reference_for(card: EngineCard, conditions: Conditions) -> Reference:
    """Carry out the method on the warm engine. Raises OutsideValidity where it has no peak."""
    engine = engine_for(card)
    method = peak_and_back_off(
        IdleTable(engine, SCREW_LIMITS, conditions),
        START_TIMING_DEG,
        START_SCREW,
        card.setting.idle_rpm,
        card.setting.speed_drop_rpm,
        SCREW_LIMITS,
    )
    timings = np.arange(math.floor(method.timing_deg), method.peak_timing_deg, 0.5)
    state = engine.idle(timings, method.idle_setting, conditions.altitude_ft, ambient_c=conditions.ambient_c)
    near = state.manifold_vacuum_inhg >= method.peak_vacuum_inhg - PLATEAU_INHG
    return Reference(method, float(timings[np.argmax(near)]))


def worst_ping_share(engine: Engine, base_timing_deg: float, conditions: Conditions) -> float:
    """Largest share of cycles that ping in a full-throttle pull through the road check's speeds."""
    pull = engine.full_throttle(
        PULL_RPM,
        base_timing_deg,
        altitude_ft=conditions.altitude_ft,
        ambient_c=conditions.ambient_c,
        octane_ron=engine.fuel_octane(conditions, PULL_RPM),
    )
    return ping_share(float(pull.knock_margin_octane.min()))
