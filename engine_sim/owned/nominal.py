"""The healthy engine that a description stands for: what the owner knows as it is, the rest as is usual.

The usual figures are those of the workshop's own cards for each litre, and common practice; they are calibrations of
what is not known and no statement on any real engine. `assumed` names each of them, and how much it matters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from engine_sim.errors import OutsideValidity
from engine_sim.model.card import EngineCard, card_from
from engine_sim.model.conditions import Conditions
from engine_sim.physics.distributor import CRANK_DEG_PER_DISTRIBUTOR_DEG
from engine_sim.physics.units import KPA_PER_INHG, SECONDS_PER_MINUTE

from .description import DescriptionError, OwnedEngine, OwnedReadings

BORE_OVER_STROKE = {4: 0.93, 6: 1.05, 8: 1.17}  # as on the workshop's cards
USUAL_COMPRESSION = 8.2  # of an engine with overhead valves; common practice
SIDE_VALVE_COMPRESSION = 6.6  # of an engine with side valves; common practice
SIDE_VALVES_BURN = 1.08  # burn angles over those of overhead valves: the flame has a longer way; common practice
USUAL_BASE_DEG = 8.0  # crank degrees BTDC of a label; common practice
USUAL_IDLE_RPM = 800.0  # of a label; common practice
USUAL_DROP_RPM = 75.0  # from the peak of the method; common practice
USUAL_WEIGHTS = (900.0, 2800.0, 24.0)  # begin and all in [crank rpm], degrees [crank]; common practice
USUAL_UNIT = (6.0, 14.0, 16.0)  # begin and all in [inHg], degrees [crank]; common practice
USUAL_SENSITIVITY = 9.0  # RON less MON of pump fuel; common practice
USUAL_RON = 91.0  # of ordinary petrol; common practice
USUAL_DWELL_DEG = {4: 52.0, 6: 37.0, 8: 30.0}  # distributor degrees by cylinders; common practice
WEIGHT_G = 20.0  # of one weight, as on the workshop's cards
RADIUS_MM = 20.0  # of the weights' centre at rest, as on the workshop's cards
LEVER_MM = 15.0  # of the weights on the cam, as on the workshop's cards
POLYTROPIC = 1.22  # of a cranked cylinder, as the workshop's compression tester has it; common practice
LITTLE, SOME, MUCH = "little", "some", "much"


@dataclass(frozen=True)
class Assumed:
    """What was supposed for a field that was left empty, and how much it matters to what is expected."""

    field: str
    text: str
    matters: str


def day_of(engine: OwnedEngine) -> Conditions:
    """The day of the readings: its own height and air where they were noted, else those of the place."""
    read, place = engine.readings, engine.place
    altitude = read.altitude_ft if read.altitude_ft is not None else place.altitude_ft
    air = read.air_c if read.air_c is not None else place.air_c
    return Conditions(
        altitude_ft=altitude if altitude is not None else 0.0,
        ambient_c=air if air is not None else 20.0,
        humidity_percent=place.humidity_percent or 0.0,
    )


def without_readings(engine: OwnedEngine) -> str:
    """The text of a description less its readings, but with their day: what the healthy engine of it depends on."""
    day = {"altitude_ft": engine.readings.altitude_ft, "air_c": engine.readings.air_c}
    return engine.model_copy(update={"readings": OwnedReadings(**day)}).model_dump_json()


def octane_ron(engine: OwnedEngine) -> float | None:
    """RON of the owner's fuel, from its number on its own scale; None where it is not known."""
    octane, scale = engine.place.octane, engine.place.octane_scale
    if octane is None or scale is None:
        return None
    return octane + {"RON": 0.0, "AKI": 0.5 * USUAL_SENSITIVITY, "MON": USUAL_SENSITIVITY}[scale]


def compression_ratio(engine: OwnedEngine) -> float | None:
    """By paper, or from the gauge: p = outside (squeeze^1.22 - 1), squeeze from the closing of the inlet valve on."""
    build = engine.build
    if build.compression_by == "paper":
        return build.compression_ratio
    if build.compression_by != "gauge" or build.cranking_kpa is None:
        return None
    outside = Conditions(engine.place.altitude_ft or 0.0).ambient_pa / 1e3
    squeeze = (build.cranking_kpa / outside + 1.0) ** (1.0 / POLYTROPIC)
    held = 0.5 * (1.0 + math.cos(math.radians(_closes_deg(engine))))  # share of the stroke after the valve has closed
    return min(max(1.0 + (squeeze - 1.0) / held, 5.0), 13.0)


def nominal_card(engine: OwnedEngine) -> EngineCard:
    """The card of the healthy engine. Raises DescriptionError where cylinders or displacement are not known, or no such
    engine can be built."""
    if engine.lacking:
        raise DescriptionError(engine.lacking)
    cylinders, litres = engine.build.cylinders, engine.displacement_l
    assert cylinders is not None and litres is not None
    try:
        return card_from(_content(engine, cylinders, litres), "this engine")
    except (OutsideValidity, ValueError) as error:
        raise DescriptionError({"": f"No such engine can be simulated: {error}"}) from None


def _content(engine: OwnedEngine, cylinders: int, litres: float) -> dict:
    label = engine.label
    idle = label.idle_rpm if label.idle_rpm is not None else USUAL_IDLE_RPM
    base = label.base_deg if label.base_deg is not None else USUAL_BASE_DEG
    automatic = engine.build.transmission == "automatic"
    slow = SIDE_VALVES_BURN if engine.build.valve_gear == "side valves" else 1.0
    return {
        "identity": {
            "name": "owned_engine",
            "title": engine.identity.title[:80] or "An owner's engine",
            "story": "...",
        },
        "block": _block(engine, cylinders, litres),
        "valves": {
            "intake_closes_deg_abdc": _closes_deg(engine),
            "exhaust_opens_deg_bbdc": 53.0,
            "overlap_factor_deg_m": 0.4 if engine.build.cam != "not as built" else 0.8,
        },
        "burn": {
            "development_constant": slow * 8300.0,
            "rapid_constant": slow * 1980.0,
            "reason": "Calibration: the mean of the workshop's cards.",
        },
        "breathing": _breathing(engine, litres, idle),
        "mixture": {
            "idle_phi": 1.04,
            "cruise_phi": 1.0,
            "power_phi": 1.12,
            "jetted_altitude_ft": min(max(engine.place.altitude_ft or 0.0, 0.0), 10_000.0),
            "mixture_screw_turns": 1.5,
            "phi_per_turn": 0.25,
        },
        "losses": {
            "friction_factor": 1.0,
            "accessories_nm": min(1.2 * litres, 30.0),
            "reason": "Calibration: the mean of the workshop's cards for each litre.",
        },
        "distributor": _distributor(engine),
        "ignition": _ignition(engine, cylinders),
        "vacuum_advance": _unit(engine),
        "setting": {
            "idle_rpm": min(max(idle, 450.0), 1100.0),
            "speed_drop_rpm": min(max(label.speed_drop_rpm or USUAL_DROP_RPM, 20.0), 200.0),
            "fuel_octane_ron": min(max(octane_ron(engine) or USUAL_RON, 60.0), 110.0),
            "fuel_sensitivity": USUAL_SENSITIVITY,
            "label_base_timing_deg": min(max(base, -5.0), 20.0),
        },
        "drive": {
            "transmission": "automatic" if automatic else "manual",
            "inertia_kg_m2": 0.07 * litres,
            "converter_drag_nm_at_1000_rpm": max(13.5 * litres, 6.0) if automatic else 0.0,
            "vehicle_mass_kg": 700.0 + 450.0 * litres,
            "top_gear_m_per_rev": 0.55,
            "middle_gear_ratio": 1.5,
            "low_gear_ratio": 2.5,
            "road_load_n": 120.0 + 75.0 * litres,
            "road_load_n_s2_m2": 0.9,
        },
    }


def _closes_deg(engine: OwnedEngine) -> float:
    return 52.0 if engine.build.cam != "not as built" else 62.0


def _block(engine: OwnedEngine, cylinders: int, litres: float) -> dict:
    build = engine.build
    bore, stroke = build.bore_mm, build.stroke_mm
    if bore is None or stroke is None:
        bore = (4e6 * litres / cylinders / math.pi * BORE_OVER_STROKE[cylinders]) ** (1.0 / 3.0)
        stroke = bore / BORE_OVER_STROKE[cylinders]
    usual = SIDE_VALVE_COMPRESSION if build.valve_gear == "side valves" else USUAL_COMPRESSION
    return {
        "cylinders": cylinders,
        "bore_mm": bore,
        "stroke_mm": stroke,
        "rod_length_mm": min(max(1.78 * stroke, 80.0), 250.0),
        "compression_ratio": compression_ratio(engine) or usual,
        "wall_temperature_c": 156.0,
    }


def _breathing(engine: OwnedEngine, litres: float, idle_rpm: float) -> dict:
    build, area_mm2 = engine.build, 2.95 * litres * idle_rpm / USUAL_IDLE_RPM
    bores = min((build.carburettors or 1) * (build.barrels or (1 if litres < 4.3 else 2)), 4)
    bores = 4 if bores == 3 else bores
    return {
        "manifold_volume_l": min(max(0.95 * litres, 0.5), 15.0),
        "throttle_bore_mm": min(max(math.sqrt(450.0 * litres / bores * 4.0 / math.pi), 20.0), 60.0),
        "throttle_bores": bores,
        "closed_throttle_area_mm2": min(max(area_mm2, 1.0), 60.0),
        "idle_screw_area_mm2_per_turn": min(max(1.25 * litres, 1.0), 30.0),
        "loss_at_10_m_s": 0.05,
        "charge_heating_k": 8.0,
        "crankcase_valve": bool(build.crankcase_valve),
    }


def weights_of(engine: OwnedEngine) -> tuple[float, float, float] | None:
    """Where the weights begin and are all in [crank rpm], and their degrees [crank]; None where not known."""
    ignition = engine.ignition
    if ignition.curve_by == "paper" and ignition.centrifugal_deg is not None:
        whole = CRANK_DEG_PER_DISTRIBUTOR_DEG if ignition.curve_in == "distributor" else 1.0
        begin, full = ignition.centrifugal_start_rpm, ignition.centrifugal_full_rpm
        begin = whole * begin if begin is not None else USUAL_WEIGHTS[0]
        full = whole * full if full is not None else max(USUAL_WEIGHTS[1], begin + 800.0)
        return begin, full, whole * ignition.centrifugal_deg
    seen = sorted((one.rpm, one.hose_off_deg) for one in ignition.light if one.hose_off_deg is not None)
    if ignition.curve_by != "light" or len(seen) < 3:
        return None
    lowest, highest = seen[0][1], max(deg for _, deg in seen)
    rise = highest - lowest
    begin = max((rpm for rpm, deg in seen if deg <= lowest + 0.1 * rise), default=seen[0][0])
    full = min(rpm for rpm, deg in seen if deg >= highest - 0.1 * rise)
    return (begin, max(full, begin + 200.0), max(rise, 0.0)) if rise > 2.0 else None


def _distributor(engine: OwnedEngine) -> dict:
    begin, full, degrees = weights_of(engine) or USUAL_WEIGHTS
    mass, radius, lever = WEIGHT_G / 1e3, RADIUS_MM / 1e3, LEVER_MM / 1e3
    degrees = min(degrees, 40.0)
    travel = math.radians(degrees / CRANK_DEG_PER_DISTRIBUTOR_DEG) * lever

    def force(rpm: float, moved_m: float) -> float:
        return 2.0 * mass * (rpm * math.pi / SECONDS_PER_MINUTE) ** 2 * (radius + moved_m)

    preload = force(begin, 0.0)
    stiffness = (force(full, travel) - preload) / travel / 1e3 if travel else 3.0
    return {
        "rotor_turns": engine.ignition.rotor_turns or "clockwise",
        "gear_teeth": 13,
        "weight_g": WEIGHT_G,
        "weight_radius_mm": RADIUS_MM,
        "weight_lever_mm": LEVER_MM,
        "first_spring_n_per_mm": min(max(stiffness, 0.3), 30.0),
        "first_spring_preload_n": min(preload, 30.0),
        "second_spring_n_per_mm": 0.0,
        "second_spring_slack_mm": 0.0,
        "stop_deg": degrees,
    }


def _ignition(engine: OwnedEngine, cylinders: int) -> dict:
    own = engine.ignition
    electronic = own.trigger == "electronic"
    return {
        "trigger": "electronic" if electronic else "breaker points",
        "dwell_deg": own.dwell_deg or USUAL_DWELL_DEG[cylinders],
        "point_gap_mm": None if electronic else own.point_gap_mm or 0.42,
        "plug_gap_mm": 0.8,
        "coil_resistance_ohm": 1.5 if electronic else 3.1,
        "coil_inductance_mh": 6.0 if electronic else 9.0,
    }


def unit_of(engine: OwnedEngine) -> tuple[float, float, float]:
    """Where the vacuum unit begins and is all in [inHg], and its degrees [crank]: as known, else as usual."""
    own = engine.ignition
    if own.hoses == 0:
        return USUAL_UNIT[0], USUAL_UNIT[1], 0.0
    begin = own.vacuum_start_inhg if own.vacuum_start_inhg is not None else USUAL_UNIT[0]
    full = own.vacuum_full_inhg if own.vacuum_full_inhg is not None else max(USUAL_UNIT[1], begin + 4.0)
    begin, full = min(max(begin, 1.0), 15.0), min(max(full, 3.0), 22.0)
    if own.vacuum_deg is None:
        return begin, max(full, begin + 0.5), USUAL_UNIT[2]
    whole = CRANK_DEG_PER_DISTRIBUTOR_DEG if own.curve_in == "distributor" else 1.0
    return begin, max(full, begin + 0.5), min(whole * own.vacuum_deg, 35.0)


def unit_known(engine: OwnedEngine) -> bool:
    """Whether the degrees of the vacuum unit are known, or that there is none."""
    return engine.ignition.hoses == 0 or engine.ignition.vacuum_deg is not None


def _unit(engine: OwnedEngine) -> dict:
    begin, full, degrees = unit_of(engine)
    return {
        "source": engine.ignition.source or "manifold",
        "start_inhg": begin,
        "full_inhg": full,
        "degrees": degrees,
        "adjustable": False,
    }


def assumed(engine: OwnedEngine) -> tuple[Assumed, ...]:
    """What was supposed for the fields that were left empty, that matters most first."""
    build, ignition, label, place = engine.build, engine.ignition, engine.label, engine.place
    usual = SIDE_VALVE_COMPRESSION if build.valve_gear == "side valves" else USUAL_COMPRESSION
    begin, full, degrees = USUAL_WEIGHTS
    told = (
        (place.altitude_ft is None, "place.altitude_ft", "sea level", MUCH),
        (build.cam is None, "build.cam", "the camshaft is as built; a hotter one idles lower", MUCH),
        (
            compression_ratio(engine) is None,
            "build.compression_ratio",
            f"a compression of {usual:g} : 1; what octane the engine needs cannot be said without a reading",
            MUCH,
        ),
        (
            weights_of(engine) is None,
            "ignition.curve_by",
            f"weights of {degrees:g} crank degrees from {begin:,.0f} to {full:,.0f} rpm",
            MUCH,
        ),
        (label.idle_rpm is None, "label.idle_rpm", f"an idle of {USUAL_IDLE_RPM:.0f} rpm", SOME),
        (label.base_deg is None, "label.base_deg", f"a base of about {USUAL_BASE_DEG:g} degrees", SOME),
        (ignition.hoses is None, "ignition.hoses", "one hose at the vacuum unit", SOME),
        (
            ignition.source is None and ignition.hoses != 0,
            "ignition.source",
            "a hose fed from the manifold; a port above the throttle gives nothing at idle",
            SOME,
        ),
        (
            ignition.vacuum_deg is None and ignition.hoses != 0,
            "ignition.vacuum_deg",
            f"a vacuum unit of {USUAL_UNIT[2]:g} crank degrees, from {USUAL_UNIT[0]:g} to {USUAL_UNIT[1]:g} inHg "
            f"({USUAL_UNIT[0] * KPA_PER_INHG:.0f} to {USUAL_UNIT[1] * KPA_PER_INHG:.0f} kPa)",
            SOME,
        ),
        (build.transmission is None, "build.transmission", "a gear lever", LITTLE),
        (place.air_c is None and engine.readings.air_c is None, "place.air_c", "air of 20 °C (68 °F)", LITTLE),
        (ignition.trigger is None, "ignition.trigger", "breaker points", LITTLE),
    )
    order = (MUCH, SOME, LITTLE)
    found = [Assumed(field, f"Supposed: {text}.", matters) for empty, field, text, matters in told if empty]
    return tuple(sorted(found, key=lambda one: order.index(one.matters)))
