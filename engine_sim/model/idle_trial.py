"""Whether an engine that a card describes can be brought to its idle at all: a card may hold any allowed number in any
field, and many such engines never run."""

from __future__ import annotations

import math

import numpy as np

from engine_sim.errors import CardError, OutsideValidity

from .card import EngineCard
from .engine import IDLE_SEARCH_RPM, Engine

SCREWS_TURNS = np.arange(0.0, 6.01, 0.5)  # of the idle screw, right out to right in
MORE_AIR = "breathing.closed_throttle_area_mm2 or breathing.idle_screw_area_mm2_per_turn larger"


def engine_that_idles(card: EngineCard, name: str = "the engine card") -> Engine:
    """The engine of a card, once it was seen to idle: warm, in neutral, set by its label, at the altitude that its
    carburettor is jetted for, at its idle speed with some turn of the idle screw.

    Builds the engine's map, about a tenth of a second the first time. Raises CardError, with the speeds that were found
    and what to change.
    """
    engine, wanted_rpm = Engine(card), card.setting.idle_rpm
    at = f"{name}: warm, in neutral and set by its label, this engine"
    wanted = f"setting.idle_rpm is {wanted_rpm:g}"
    fastest_rpm = 0.0
    for screw in SCREWS_TURNS:
        speed_rpm = _idle_rpm(engine, float(screw))
        if screw == 0.0 and speed_rpm > wanted_rpm:
            raise CardError(
                f"{at} idles at {_in_words(speed_rpm)} rpm with the idle screw right out, and {wanted}: make "
                "breathing.closed_throttle_area_mm2 smaller."
            )
        fastest_rpm = max(fastest_rpm, speed_rpm)
        if fastest_rpm >= wanted_rpm:
            return engine
    if fastest_rpm:
        raise CardError(f"{at} idles at {fastest_rpm:.0f} rpm at most, and {wanted}: make {MORE_AIR}.")
    raise CardError(
        f"{at} stalls with the idle screw anywhere from right out to right in, and {wanted}: make {MORE_AIR}, or "
        "losses.friction_factor smaller."
    )


def _idle_rpm(engine: Engine, screw: float) -> float:
    """Where it settles [rpm]: 0 where it stalls, infinity where it runs away beyond all that an idle is valid for."""
    card = engine.card
    try:
        idle = engine.idle(card.setting.label_base_timing_deg, screw, card.mixture.jetted_altitude_ft, slot=False)
    except OutsideValidity:
        return math.inf
    return 0.0 if idle.stalls else float(idle.speed_rpm)


def _in_words(speed_rpm: float) -> str:
    return f"{speed_rpm:.0f}" if math.isfinite(speed_rpm) else f"more than {IDLE_SEARCH_RPM[1]:,.0f}"
