"""The healthy engine of a description, or one drawn round it: what is read on it, and where the method leads."""

from __future__ import annotations

import numpy as np

from engine_sim.model.conditions import Conditions
from engine_sim.model.engine import Engine
from engine_sim.model.idle_table import TIMINGS_DEG, IdleTable
from engine_sim.model.population import AsFound
from engine_sim.workshop.timing_method import peak_and_back_off

from .description import OwnedEngine
from .nominal import day_of, nominal_card
from .observe import Observation, observed
from .unknowns import SCREW_LIMITS, screw_for

BACK_OFF_START_DEG = 14.0
BACK_OFF_START_SCREW = 2.5


def nominal_observation(engine: OwnedEngine, words: bool = False) -> tuple[Engine, Observation]:
    """The healthy engine of a description, set by its label, and what is read on it."""
    card, day = nominal_card(engine), day_of(engine)
    healthy = Engine(card)
    base, idle = card.setting.label_base_timing_deg, card.setting.idle_rpm
    found = AsFound(
        base_timing_deg=base,
        idle_screw=round(screw_for(healthy, base, idle, day), 3),
        seed=1,
        coolant_c=85.0,
        prepared=True,
    )
    return healthy, observed(healthy, found, day, words)


def method_of(engine: Engine, conditions: Conditions) -> dict[str, float | list[float]]:
    """Peak and end of the method, and vacuum and speed over the timing at the screw of the peak."""
    setting = engine.card.setting
    table = IdleTable(engine, SCREW_LIMITS, conditions)
    found = peak_and_back_off(
        table, BACK_OFF_START_DEG, BACK_OFF_START_SCREW, setting.idle_rpm, setting.speed_drop_rpm, SCREW_LIMITS
    )
    curve = [table.settled(float(deg), found.idle_setting) for deg in TIMINGS_DEG]
    return {
        "peak_deg": found.peak_timing_deg,
        "end_deg": found.timing_deg,
        "peak_inhg": found.peak_vacuum_inhg,
        "end_inhg": found.vacuum_inhg,
        "octane": octane_needed(engine, found.timing_deg, conditions),
        "rpm_curve": [round(one[0], 1) for one in curve],
        "inhg_curve": [round(one[1], 2) for one in curve],
    }


def octane_needed(engine: Engine, base_deg: float, conditions: Conditions) -> float:
    """The most octane that it asks for with the throttle wide open, 1,200 to 2,800 rpm."""
    pull = engine.full_throttle(
        np.arange(1200.0, 2801.0, 400.0), base_deg, altitude_ft=conditions.altitude_ft, ambient_c=conditions.ambient_c
    )
    return float(pull.octane_required_ron.max())
