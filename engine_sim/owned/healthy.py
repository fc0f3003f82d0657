"""The healthy engine of a description, or one drawn round it: what is read on it, and where the method leads."""

from __future__ import annotations

import functools

import numpy as np

from engine_sim.model.conditions import Conditions
from engine_sim.model.engine import Engine
from engine_sim.model.idle_table import TIMINGS_DEG, IdleTable
from engine_sim.model.population import AsFound
from engine_sim.workshop.timing_method import peak_and_back_off

from .description import OwnedEngine
from .nominal import day_of, nominal_card, without_readings
from .observe import Observation, observed
from .unknowns import SCREW_LIMITS, screw_in

BACK_OFF_START_DEG = 14.0  # crank degrees BTDC, from which the method begins
BACK_OFF_START_SCREW = 2.5  # turns, from which the method begins
KEPT = 8  # healthy engines whose maps stay in memory


@functools.lru_cache(maxsize=KEPT)
def healthy_engine(text: str) -> tuple[Engine, IdleTable]:
    """The healthy engine of a description, by its text `without_readings`, and its idle on the day of the readings."""
    engine = OwnedEngine.model_validate_json(text)
    healthy = Engine(nominal_card(engine))
    return healthy, IdleTable(healthy, SCREW_LIMITS, day_of(engine))


def nominal_observation(engine: OwnedEngine, words: bool = False) -> tuple[Engine, Observation]:
    """The healthy engine of a description, set by its label, and what is read on it."""
    day, (healthy, table) = day_of(engine), healthy_engine(without_readings(engine))
    base, idle = healthy.card.setting.label_base_timing_deg, healthy.card.setting.idle_rpm
    found = AsFound(
        base_timing_deg=base,
        idle_screw=round(screw_in(table, base, idle), 3),
        seed=1,
        coolant_c=85.0,
        prepared=True,
    )
    return healthy, observed(healthy, found, day, words)


def method_of(engine: Engine, conditions: Conditions, table: IdleTable | None = None) -> dict[str, float | list[float]]:
    """Peak and end of the method, and vacuum and speed over the timing at the screw of the peak; `table` is the
    engine's idle on that day, where it is at hand."""
    setting = engine.card.setting
    table = table or IdleTable(engine, SCREW_LIMITS, conditions)
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


def idle_at(table: IdleTable, base_deg: float, idle_rpm: float) -> float:
    """Vacuum [inHg] at which an engine idles at a speed with a base timing, hose off and plugged. Raises
    OutsideValidity where it idles with no turn of its screw."""
    return table.settled(base_deg, screw_in(table, base_deg, idle_rpm))[1]


def octane_needed(engine: Engine, base_deg: float, conditions: Conditions) -> float:
    """The most octane that it asks for with the throttle wide open, 1,200 to 2,800 rpm."""
    pull = engine.full_throttle(
        np.arange(1200.0, 2801.0, 400.0), base_deg, altitude_ft=conditions.altitude_ft, ambient_c=conditions.ambient_c
    )
    return float(pull.octane_required_ron.max())
