"""The sheet of an engine that was described: the maker's figures as they were typed in, what was read, and bands to
compare with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from engine_sim.owned.description import OwnedEngine, load_owned
from engine_sim.owned.starting import HIGHEST_TOTAL_DEG, StartingFigure
from engine_sim.physics.units import FAHRENHEIT_AT_ICE_POINT, FAHRENHEIT_PER_CELSIUS, KPA_PER_INHG, METRES_PER_FOOT

from .sheet import (
    DAY,
    DWELL_BEFORE,
    ENGINE,
    HEARD,
    HELD,
    LEADS_OFF,
    LIGHT_SPEEDS_RPM,
    MAKERS,
    MARK_WANDERS,
    NEVER_A_SETTING,
    ON_THE_STARTER,
    SETTING,
    START_WITHOUT_FIGURE,
    TURNED_EARLY,
    TURNED_LATE,
    Sheet,
    SheetLine,
    SheetStep,
    blank_sheet,
    figure_of_practice,
    filled,
    work,
)
from .work import Worked

EXAMPLE = Path(__file__).with_name("example.toml")
FED_FROM = {"manifold": "from a manifold port", "ported": "from a ported fitting"}
OTHER_WAY = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}
AT_THE_CAR = {  # what was written down on the filled example, by the line's label
    "Gauge on fitting": "manifold, at the rear",
    "Tachometer on": "coil minus",
    "State of the engine": "warm, choke off, neutral",
    "Hose off, plugged with": "a bolt",
    "Mark made, and where": "chisel line, body and block",
    "Highest steady vacuum": "18.2 inHg",
    "Speed there (rpm)": "695",
    "Highest vacuum again": "18.0 inHg",
    "Speed at the peak (rpm)": "560",
    "Less the drop: stop at (rpm)": "560 − 75 = 485",
    "Speed after backing off": "485",
    "Vacuum after backing off": "16.9 inHg",
    "Vacuum, clamp tight": "16.9 inHg",
    "Timing by the light, clamp tight, hose off": "8",
    "Speed, hose on, idle set": "550",
    "Mark moved by": "2 mm, anticlockwise",
    "Pinged at speed, gear, load": "no ping",
    "Hot restart: how it turned": "at once, evenly",
    HEARD: "nothing, on the hill behind the yard in top gear",
    SETTING: "8, hose off and plugged; the label says 6",
}


@dataclass(frozen=True)
class ToCompare:
    """Bands in words that a sheet may print beside the step at which they are read, and how to start the engine."""

    idle_vacuum: str = ""
    total: str = ""
    start: tuple[str, ...] = ()


def sheet_of(engine: OwnedEngine, compare: ToCompare = ToCompare(), noted: Mapping[str, str] | None = None) -> Sheet:
    """The sheet of an engine; `noted` are readings that were written down at the car, by the label of their line."""
    blank = blank_sheet()
    values = {**_readings(engine), **(noted or {})}
    return replace(
        blank,
        title=f"Sheet for the car: {engine.identity.title}" if engine.identity.title else blank.title,
        day=filled(blank.day, _day(engine)),
        makers=filled(blank.makers, _makers(engine)),
        engine=filled(blank.engine, _engine(engine)),
        start=compare.start or START_WITHOUT_FIGURE,
        steps=tuple(_step(step, values, compare) for step in work(_turn(engine))),
        left=tuple(_known(line, values) for line in blank.left),
        light=tuple(_light(engine, speed) for speed in LIGHT_SPEEDS_RPM),
    )


def to_compare(engine: OwnedEngine, worked: Worked | None) -> ToCompare:
    """What a sheet prints of what was worked out: bands that no sheet is forbidden to print, and how to start."""
    if worked is None:
        return ToCompare()
    bands = {one.id: one for one in worked.expected.bands}
    idle, total = bands.get("idle"), bands.get("total")
    return ToCompare(
        idle_vacuum="" if idle is None else f"{idle.text} {NEVER_A_SETTING}",
        total="" if total is None or total.high > HIGHEST_TOTAL_DEG else f"{total.text} {NEVER_A_SETTING}",
        start=_start(worked.start),
    )


def _start(start: StartingFigure) -> tuple[str, ...]:
    low, high = (figure_of_practice(deg, "base") for deg in start.to_start_deg)
    first = (
        "The maker's base stands above, and comes first."
        if start.by_maker
        else f"First running figure: at most {figure_of_practice(start.first_running_deg, 'base')} degrees, hose off "
        "and plugged (common practice, which the simulation may only lower)."
    )
    static = low if low == high else f"{low} to {high}"
    return (f"To start it: static {static} crank degrees before top dead centre (common practice). {first}",)


def example_sheet() -> Sheet:
    """The filled example: the hoist of our own workshop."""
    return sheet_of(load_owned(EXAMPLE), noted=AT_THE_CAR)


def _step(step: SheetStep, values: Mapping[str, str], compare: ToCompare) -> SheetStep:
    said = compare.idle_vacuum if step.before else compare.total if step.light else ""
    return replace(step, lines=tuple(_known(line, values) for line in step.lines), compare=said)


def _known(line: SheetLine, values: Mapping[str, str]) -> SheetLine:
    return replace(line, value=values.get(line.label, ""))


def _turn(engine: OwnedEngine) -> str:
    turns = engine.ignition.rotor_turns
    return "towards advance" if turns is None else f"towards advance ({OTHER_WAY[turns]}, seen from above the cap)"


def _day(engine: OwnedEngine) -> dict[str, str]:
    read, place = engine.readings, engine.place
    height = place.altitude_ft if read.altitude_ft is None else read.altitude_ft
    air = place.air_c if read.air_c is None else read.air_c
    fuel = "" if place.octane is None else f"{place.octane:g} {place.octane_scale or ''}".strip()
    return dict(zip(DAY, (read.day, _height(height), _air(air), fuel), strict=True))


def _makers(engine: OwnedEngine) -> dict[str, str]:
    """What was typed in of the label, where it is this engine's own."""
    label, ignition = engine.label, engine.ignition
    if label.trusted is False:
        return {}
    own = ignition.curve_by == "paper" and ignition.distributor_from != "another engine"
    whose = f"{ignition.curve_in} degrees" if ignition.curve_in else "degrees"
    hose = "" if label.base_hose is None else f"hose {label.base_hose}"
    dwell = _joined(
        "" if ignition.dwell_deg is None else f"{ignition.dwell_deg:g}° dwell", _number(ignition.point_gap_mm, "mm")
    )
    weights = _joined(_number(ignition.centrifugal_deg, whose), _number(ignition.centrifugal_full_rpm, "rpm"))
    unit = _joined(
        _number(ignition.vacuum_deg, whose),
        _number(ignition.vacuum_start_inhg, "inHg"),
        _number(ignition.vacuum_full_inhg, "inHg"),
    )
    total = _joined(_number(label.total_deg, "crank degrees"), _number(label.total_rpm, "rpm"))
    values = (
        _number(label.base_deg, "crank degrees"),
        hose,
        _number(label.idle_rpm, "rpm"),
        dwell,
        weights if own else "",
        unit if own else "",
        total,
        _number(label.speed_drop_rpm, "rpm"),
    )
    return dict(zip(MAKERS, values, strict=True))


def _engine(engine: OwnedEngine) -> dict[str, str]:
    build, ignition, litres = engine.build, engine.ignition, engine.displacement_l
    size = "" if litres is None else f"{litres:.2f} litres"
    cylinders = "" if build.cylinders is None else f"{build.cylinders} cylinders"
    ratio = "" if build.compression_ratio is None else f"{build.compression_ratio:g} : 1"
    made_for = "" if ignition.distributor_from is None else f"made for {ignition.distributor_from}"
    hoses = {None: "", 0: "none", 1: "one", 2: "two"}[ignition.hoses]
    fed = "" if ignition.source is None else FED_FROM[ignition.source]
    values = (
        _joined(cylinders, size, ratio),
        _joined(ignition.trigger or "", made_for),
        ignition.rotor_turns or "",
        _joined(hoses, fed),
    )
    return dict(zip(ENGINE, values, strict=True))


def _readings(engine: OwnedEngine) -> dict[str, str]:
    read = engine.readings
    return {
        "Vacuum at idle, before (inHg or kPa)": _vacuum(read.idle_inhg),
        "What the needle does": read.needle or "",
        "Idle speed, before (rpm)": _number(read.idle_rpm, ""),
        "Timing by the light, hose off and plugged": _number(read.light_idle_off_deg, ""),
        "Timing by the light, hose on": _number(read.light_idle_on_deg, ""),
        TURNED_EARLY: _joined(_vacuum(read.turned_early_inhg), _number(read.turned_early_rpm, "rpm")),
        TURNED_LATE: _joined(_vacuum(read.turned_late_inhg), _number(read.turned_late_rpm, "rpm")),
        HELD: "; ".join(filter(None, (_vacuum(read.held_2500_inhg), _vacuum(read.held_2500_on_inhg)))),
        ON_THE_STARTER: _joined(_vacuum(read.cranking_inhg), _number(read.cranking_rpm, "rpm")),
        MARK_WANDERS: _number(read.mark_wander_deg, ""),
        LEADS_OFF: read.cut_out or "",
        DWELL_BEFORE: _number(read.dwell_deg, "°"),
        HEARD: read.ping or "",
    }


def _light(engine: OwnedEngine, rpm: int) -> tuple[str, str, str]:
    read = engine.readings
    off, on = (getattr(read, f"light_{rpm}_{hose}_deg", None) for hose in ("off", "on"))
    return f"{rpm:,}", _number(off, ""), _number(on, "")


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:g} {unit}".strip()


def _vacuum(inhg: float | None) -> str:
    return "" if inhg is None else f"{inhg:.1f} inHg ({inhg * KPA_PER_INHG:.0f} kPa)"


def _height(feet: float | None) -> str:
    return "" if feet is None else f"{feet:.0f} ft ({feet * METRES_PER_FOOT:.0f} m)"


def _air(celsius: float | None) -> str:
    if celsius is None:
        return ""
    return f"{celsius:.0f} °C ({celsius * FAHRENHEIT_PER_CELSIUS + FAHRENHEIT_AT_ICE_POINT:.0f} °F)"


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
