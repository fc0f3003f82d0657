"""The delivery truck's engine, and numbers of it that several checks share."""

from __future__ import annotations

import functools

import numpy as np

from course import ENGINES
from engine_sim import Conditions, Engine, WarmIdle, load_card, peak_and_back_off
from engine_sim.model.card import card_from
from engine_sim.workshop.timing_method import bring_idle_to

FULL_LOAD_RPM, FULL_LOAD_KPA = 2000.0, 97.0
SCREW = (0.0, 10.0)


@functools.cache
def engine() -> Engine:
    """The engine as its card describes it."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


def engine_with(section: str, **changed) -> Engine:
    """The same engine with fields of one section changed."""
    content = engine().card.model_dump()
    content[section] |= changed
    return Engine(card_from(content))


@functools.cache
def method():
    """What the method leads to on the warm engine at sea level."""
    setting = engine().card.setting
    return peak_and_back_off(WarmIdle(engine()), 8.0, 2.3, setting.idle_rpm, setting.speed_drop_rpm, SCREW)


@functools.cache
def idle_vacuum_inhg(altitude_ft: float = 0.0) -> float:
    """Vacuum at the label's timing, the screw set for the label's idle speed."""
    plant = WarmIdle(engine(), Conditions(altitude_ft))
    setting = engine().card.setting
    screw = bring_idle_to(plant, setting.label_base_timing_deg, setting.idle_rpm, SCREW)
    return plant.settled(setting.label_base_timing_deg, screw)[1]


@functools.cache
def spark_sweep():
    """Total advance [deg] and the operating points of a sweep at full load."""
    spark = np.arange(0.0, 55.0, 0.25)
    return spark, engine().operating_points(FULL_LOAD_RPM, FULL_LOAD_KPA, spark)


def best_index() -> int:
    """Where in the sweep torque is highest."""
    return int(np.argmax(spark_sweep()[1].torque_nm))


def relative_torque(late_deg: float) -> float:
    """Torque so many degrees late of the best, over the best."""
    torque = spark_sweep()[1].torque_nm
    return float(torque[best_index() - round(late_deg / 0.25)] / torque.max())


def octane_required(
    speed_rpm=FULL_LOAD_RPM, base_deg=None, altitude_ft=0.0, ambient_c=20.0, of: Engine | None = None
) -> float:
    """Octane number that full throttle asks for, at the label's timing where none is given."""
    of = of or engine()
    base = of.card.setting.label_base_timing_deg if base_deg is None else base_deg
    return float(of.full_throttle(speed_rpm, base, altitude_ft=altitude_ft, ambient_c=ambient_c).octane_required_ron)
