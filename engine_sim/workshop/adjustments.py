"""From the settings of the controls to the inputs of the engine: distributor, points, springs, screws, fuel.

Settings are those of `controls.CONTROLS`, in workshop units; the result is in those of `dynamics.ControlInputs`.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from engine_sim.model.engine import mixture_shift
from engine_sim.physics import distributor, ignition
from engine_sim.physics.distributor import HOSE_ON, HOSE_PLUGGED

if TYPE_CHECKING:
    from engine_sim.model.card import EngineCard
    from engine_sim.model.dynamics import ControlInputs
    from engine_sim.model.engine import Engine
    from engine_sim.model.population import AsFound

MAKERS_PAIR = "maker's pair"
SPRING_STIFFNESS = {
    MAKERS_PAIR: (1.0, 1.0),
    "softer pair": (0.7, 0.7),
    "stiffer pair": (1.4, 1.4),
    "soft and stiff": (0.7, 1.4),
}
CANISTER_INHG_PER_TURN = 1.0  # calibration
STOP_REACH_MM = (9.0, 15.0)  # of a piston stop below the top of the stroke: 30 to 45 crank degrees; common practice
FUELS = {"87 RON": (87.0, 80.0), "91 RON": (91.0, 83.0), "95 RON": (95.0, 85.0), "98 RON": (98.0, 88.0)}
TEETH = {"one tooth with the rotor": 1, "one tooth against the rotor": -1}
PREPARED = {  # where a colleague has made everything safe and hooked the gauges up
    "brake": "on",
    "chocks": "in place",
    "ventilation": "on",
    "fan_area": "clear",
    "gear": "neutral",
    "tachometer": "on",
    "gauge_hose": "manifold",
    "vacuum_hose": HOSE_PLUGGED,
}
AS_FOUND, HALF_A_TURN = "as found", "half a turn round"


def settings_as_found(card: EngineCard, found: AsFound) -> dict:
    """Every setting as the learner walks up to the engine."""
    return {**_everything_as_found(card, found), **(PREPARED if found.prepared else {})}


def _everything_as_found(card: EngineCard, found: AsFound) -> dict:
    gap = card.ignition.point_gap_mm if found.point_gap_mm is None else found.point_gap_mm
    screw = card.mixture.mixture_screw_turns if found.mixture_screw is None else found.mixture_screw
    return {
        "brake": "off",
        "chocks": "away",
        "ventilation": "off",
        "fan_area": "not checked",
        "gear": "park" if card.drive.transmission == "automatic" else "in gear",
        "helper": "nobody",
        "driver": "not seated",
        "tachometer": "off",
        "gauge_hose": "none",
        "timing_light": "off",
        "dwell_meter": "off",
        "test_lamp": "off",
        "fuel_meter": "off",
        "exhaust_probe": "off",
        "coil_lead": "in the cap",
        "spanner": "off",
        "ignition_switch": "off",
        "crank_mark": 0.0,
        "piston_stop": "out",
        "centre_mark": 0.0,
        "touches": {},  # where the old mark stood as the piston met the stop [crank deg BTDC], by the way it was turned
        "vacuum_hose": HOSE_ON,
        "clamp": "tight",
        "distributor": 0.0,
        "marked_at": None,  # where the body stood when body and block were marked
        "refit": AS_FOUND,
        "point_gap": gap,
        "springs": found.springs or MAKERS_PAIR,
        "weights_stop": card.distributor.stop_deg,
        "canister_screw": 0.0,
        "idle_screw": found.idle_screw,
        "mixture_screw": screw,
        "throttle": 0.0,
        "hold_speed": 0.0,
        "load_brake": 0.0,
        "fuel": AS_FOUND,
        "route": "full pull",
    }


def dwell_deg(card: EngineCard, settings: Mapping) -> float:
    """Dwell [distributor deg] at the point gap that is set; an electronic trigger keeps its own."""
    sheet = card.ignition
    if sheet.point_gap_mm is None:
        return sheet.dwell_deg
    cylinders = card.block.cylinders
    return float(ignition.dwell_from_gap_deg(settings["point_gap"], sheet.point_gap_mm, sheet.dwell_deg, cylinders))


def base_timing_deg(card: EngineCard, found: AsFound, settings: Mapping, creep_deg: float) -> float:
    """Base timing [crank deg BTDC]: as found, turned, set in by teeth, moved by the points, and crept at the clamp."""
    sense = distributor.advance_sense(card.distributor.rotor_turns)
    turned = sense * distributor.crank_deg(settings["distributor"])
    teeth = found.teeth_out + TEETH.get(settings["refit"], 0)
    set_in = distributor.tooth_out_deg(card.distributor.gear_teeth, teeth)
    moved = ignition.spark_moved_deg(dwell_deg(card, settings), card.ignition.dwell_deg)
    return found.base_timing_deg + turned + set_in + moved + creep_deg


def set_inputs(inputs: ControlInputs, card: EngineCard, found: AsFound, settings: Mapping, creep_deg: float) -> None:
    """Carry the settings over to what the engine feels."""
    inputs.base_timing_deg = base_timing_deg(card, found, settings, creep_deg)
    inputs.fires = found.half_turn == (settings["refit"] == HALF_A_TURN)
    inputs.dwell_deg = dwell_deg(card, settings)
    inputs.idle_screw = settings["idle_screw"]
    inputs.mixture_shift = mixture_shift(card, settings["mixture_screw"])
    inputs.vacuum_hose = settings["vacuum_hose"]
    inputs.canister_shift_inhg = CANISTER_INHG_PER_TURN * settings["canister_screw"]


def weights_from(engine: Engine, settings: Mapping) -> distributor.Weights:
    """The weights with the springs and the stop that are fitted: the engine's own as worn as they are, others new."""
    first, second = SPRING_STIFFNESS[settings["springs"]]
    own = engine.weights if settings["springs"] == MAKERS_PAIR else engine.card.distributor.weights
    return replace(
        own,
        first_spring_n_m=own.first_spring_n_m * first,
        first_preload_n=own.first_preload_n * first,
        second_spring_n_m=own.second_spring_n_m * second,
        stop_deg=settings["weights_stop"],
    )


def stop_touches_deg(card: EngineCard, found: AsFound) -> float:
    """Crank angle either side of top centre [crank deg] at which the piston meets a stop in its plug hole, by the
    crank's geometry; every learner's stop reaches in by another length, so that no angle is known by heart."""
    block, reach_mm = card.block, random.Random(f"piston stop {found.seed}").uniform(*STOP_REACH_MM)
    throw, rod = block.stroke_mm / 2.0, block.rod_length_mm
    pin = throw + rod - reach_mm  # from the middle of the crank
    return math.degrees(math.acos((throw**2 + pin**2 - rod**2) / (2.0 * throw * pin)))


def points_open(card: EngineCard, found: AsFound, settings: Mapping, creep_deg: float, mark_slip_deg: float) -> bool:
    """Whether a test lamp across the points is lit with the crank standing at `crank_mark` by the marks: the spark
    comes at that place of the crank or before it."""
    stands_deg = settings["crank_mark"] - mark_slip_deg + settings["centre_mark"]
    return base_timing_deg(card, found, settings, creep_deg) >= stands_deg


def rotor_words(found: AsFound, settings: Mapping) -> str:
    """What is seen under the cap with the crank at top centre of compression on number one."""
    if found.half_turn != (settings["refit"] == HALF_A_TURN):
        return "The rotor points to the terminal opposite to that of cylinder one: half a turn out."
    teeth = found.teeth_out + TEETH.get(settings["refit"], 0)
    if teeth:
        side = "past" if teeth > 0 else "short of"
        return f"The rotor stands clearly {side} the terminal of cylinder one, in its direction of turning."
    return "The rotor points to the terminal of cylinder one."
