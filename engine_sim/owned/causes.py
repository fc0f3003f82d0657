"""The causes that readings are compared with: each a fault of the catalogue on an owner's engine, more or less strong.

Left out are faults with which no engine runs and which the order of looking at a hard start finds anyway, those of one
single start, and the crankcase valve, which few owners' engines have.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from engine_sim.diagnosis.faults import FAULTS
from engine_sim.model.card import EngineCard
from engine_sim.model.engine import Engine
from engine_sim.model.population import AsFound, Draw
from engine_sim.model.wear import SOUND, CylinderWear, Wear

HEALTHY, NONE_OF_THESE = "", "none of these"
LEFT_OUT = ("half_turn", "coil_dead", "bowl_empty", "flooded", "crankcase_valve_open", "crankcase_valve_closed")
CAUSES = tuple(name for name in FAULTS if name not in LEFT_OUT)
WEAKEST = 1.0 / 3.0  # share of the catalogue's amounts that a fault has at least
WEAKER_OWNERS = 0.4  # share of owners
_WHOLE = ("canister_torn", "advance_hose_on", "choke_stuck_open", "weights_stuck_deg", "cylinders")
_OF_CYLINDERS = ("leak_share", "hangs_share", "runner_leak_m2")


def with_cause(card: EngineCard, found: AsFound, cause: str, draw: Draw, share: float = 1.0) -> tuple[Engine, AsFound]:
    """The engine with a cause at a share of the catalogue's amount, and how it is then found; "" is a healthy one. What
    is there or not, as a torn diaphragm, is there whatever the share."""
    if cause == HEALTHY:
        return Engine(card), found
    wear, changed = FAULTS[cause].on(card, found, draw)
    return Engine(card, _weaker(wear, card, share)), _less(found, changed, card, share)


def strength(rng: np.random.Generator) -> float:
    """Share of the catalogue's amount with which an owner's engine has a fault: all of it for three in five, else down
    to a third; a guess."""
    return float(rng.uniform(WEAKEST, 1.0)) if rng.random() < WEAKER_OWNERS else 1.0


def side_of(engine: Engine, found: AsFound, before: AsFound, cause: str) -> str:
    """Which of its two sides a cause has: they read unlike, so that the table keeps them apart."""
    if cause == "damper_slipped":
        return "early" if engine.wear.mark_slip_deg > 0 else "late"
    if cause == "dwell_wrong":
        gap = engine.card.ignition.point_gap_mm
        return "wide" if (found.point_gap_mm or 0.0) > (gap or 0.0) else "close"
    if cause == "tooth_out":
        return "early" if found.teeth_out > before.teeth_out else "late"
    if cause in ("canister_torn", "wrong_port"):
        return engine.card.vacuum_advance.source
    return ""


def _weaker(wear: Wear, card: EngineCard, share: float) -> Wear:
    changes: dict = {}
    for one in fields(Wear):
        value, sound = getattr(wear, one.name), getattr(SOUND, one.name)
        if one.name in _WHOLE or value == sound or value is None:
            continue
        if one.name == "plug_gap_mm":
            sound = card.ignition.plug_gap_mm
        changes[one.name] = sound + share * (value - sound)
    if wear.cylinders:
        changes["cylinders"] = tuple((place, _weaker_cylinder(one, share)) for place, one in wear.cylinders)
    return replace(wear, **changes)


def _weaker_cylinder(one: CylinderWear, share: float) -> CylinderWear:
    return replace(one, **{name: share * getattr(one, name) for name in _OF_CYLINDERS})


def _less(found: AsFound, changed: AsFound, card: EngineCard, share: float) -> AsFound:
    changes: dict = {}
    for name, usual in (
        ("base_timing_deg", found.base_timing_deg),
        ("idle_screw", found.idle_screw),
        ("mixture_screw", card.mixture.mixture_screw_turns),
        ("point_gap_mm", card.ignition.point_gap_mm),
        ("battery", 1.0),
    ):
        value = getattr(changed, name)
        if value is not None and value != getattr(found, name):
            changes[name] = round(usual + share * (value - usual), 3)
    return replace(changed, **changes)
