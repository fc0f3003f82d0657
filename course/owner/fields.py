"""The fields of an engine's description as its owner meets them: what is asked, where to look, and in which units.

A field carries the dotted name that it has in the description. Numbers are kept in the first of their units.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from engine_sim.diagnosis.inspections import INSPECTIONS
from engine_sim.owned.description import OwnedEngine
from engine_sim.owned.sections import (
    CrankWords,
    CutOutWords,
    MissWords,
    NeedleWords,
    PingWords,
    RunWords,
    SmokeWords,
    SnapWords,
    StartWords,
)
from engine_sim.physics.units import (
    FAHRENHEIT_AT_ICE_POINT,
    FAHRENHEIT_PER_CELSIUS,
    KPA_PER_INHG,
    KPA_PER_PSI,
    LITRES_PER_CUBIC_INCH,
    METRES_PER_FOOT,
    MM_PER_INCH,
)

MORE_ROWS = 2  # empty ones at the end of a table that is filled


@dataclass(frozen=True)
class Unit:
    """A unit of a field: a value in it, times `factor` plus `offset`, is in the field's first unit."""

    name: str
    factor: float = 1.0
    offset: float = 0.0
    metric: bool = False


@dataclass(frozen=True)
class Field:
    """One field; `choices` are the values of the description with the words that a person reads."""

    name: str
    label: str
    help: str
    spot: str
    kind: Literal["amount", "list", "text"]
    units: tuple[Unit, ...] = ()
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class TableColumn:
    """A column of a table: its key in a row of the description, its heading, and the units to choose from."""

    key: str
    label: str
    units: tuple[Unit, ...]


@dataclass(frozen=True)
class Table:
    """Rows of numbers, a table of the description; `rows` are shown at least."""

    name: str
    label: str
    help: str
    spot: str
    columns: tuple[TableColumn, ...]
    rows: int


@dataclass(frozen=True)
class Group:
    """What is looked for in one place and at one time; `folded` where few owners have it."""

    title: str
    about: str
    items: tuple[Field | Table, ...]
    folded: bool = False


RPM = (Unit("rpm"),)
CRANK = (Unit("crank degrees"),)
DEGREES = (Unit("°"),)
INHG = (Unit("inHg"), Unit("kPa", 1.0 / KPA_PER_INHG, metric=True))
HEIGHT = (Unit("ft"), Unit("m", 1.0 / METRES_PER_FOOT, metric=True))
MM = (Unit("mm", metric=True), Unit("in", MM_PER_INCH))
LITRES = (Unit("litres", metric=True), Unit("cubic inches", LITRES_PER_CUBIC_INCH))
CELSIUS = (
    Unit("°C", metric=True),
    Unit("°F", 1.0 / FAHRENHEIT_PER_CELSIUS, -FAHRENHEIT_AT_ICE_POINT / FAHRENHEIT_PER_CELSIUS),
)
CRANKING = (Unit("kPa", metric=True), Unit("psi", KPA_PER_PSI), Unit("bar", 100.0))
YES_NO = (("yes", "yes"), ("no", "no"))


def _number(name: str, label: str, help: str, spot: str, units: tuple[Unit, ...]) -> Field:
    return Field(name=name, label=label, help=help, spot=spot, kind="amount", units=units)


def _choice(name: str, label: str, help: str, spot: str, *choices: str | tuple[str, str]) -> Field:
    pairs = tuple((one, one) if isinstance(one, str) else one for one in choices)
    return Field(name=name, label=label, help=help, spot=spot, kind="list", choices=pairs)


def _words(name: str, label: str, help: str, spot: str) -> Field:
    return Field(name=name, label=label, help=help, spot=spot, kind="text")


WHICH = Group(
    "Which engine",
    "The title names its file, its sheet and its answer.",
    (
        _words("identity.title", "What you call it", "Such as: hoist in the yard.", "plate"),
        _words(
            "identity.conversion",
            "What was put together",
            "For a conversion: engine of one vehicle, distributor or carburettor of another.",
            "distributor",
        ),
        _words("identity.note", "Anything else", "What was done to it, what it does, since when.", "book"),
    ),
)
BUILD = Group(
    "The engine",
    "Look while it is cold and switched off. Leave empty what you cannot read.",
    (
        _choice("build.cylinders", "Cylinders", "Count the plugs.", "plugs", "4", "6", "8"),
        _choice("build.layout", "In line, vee or flat", "One row of plugs, or two.", "plugs", "in line", "vee", "flat"),
        _number("build.displacement_l", "Displacement", "Plate or papers; or bore and stroke.", "plate", LITRES),
        _number("build.bore_mm", "Bore", "From the papers.", "book", MM),
        _number("build.stroke_mm", "Stroke", "From the papers.", "book", MM),
        _choice(
            "build.valve_gear",
            "Valve gear",
            "A tall cover on the head: overhead valves. A flat head with only plugs in it: side valves.",
            "head",
            "overhead valves",
            "side valves",
            "overhead cam",
        ),
        _choice(
            "build.cam",
            "Camshaft",
            "A cam made for high speed idles low and unevenly all its life.",
            "book",
            ("as built", "as built"),
            ("not as built", "another one was fitted"),
        ),
        _choice("build.carburettors", "Carburettors", "Count them.", "carburettor", "1", "2", "3", "4"),
        _choice("build.barrels", "Barrels of each", "Throttle plates, seen from above.", "carburettor", "1", "2", "4"),
        _choice(
            "build.crankcase_valve",
            "Crankcase (PCV) valve",
            "A hose with a rattling valve from the rocker cover to the manifold.",
            "head",
            *YES_NO,
        ),
        _choice("build.transmission", "Gearbox", "A clutch pedal, or none.", "pedal", "manual", "automatic"),
        _choice(
            "build.compression_by",
            "Compression is known from",
            "Papers give a ratio, a gauge gives a pressure. Leave it empty where you have neither.",
            "book",
            ("paper", "papers"),
            ("gauge", "a compression gauge"),
        ),
        _number(
            "build.compression_ratio",
            "Compression ratio",
            "Write 8.5 for 8.5 to 1.",
            "book",
            (Unit("to 1"),),
        ),
        _number(
            "build.cranking_kpa",
            "Lowest cylinder by the gauge",
            "All plugs out, throttle open, coil lead earthed, warm.",
            "plugs",
            CRANKING,
        ),
    ),
)
DISTRIBUTOR = Group(
    "The distributor",
    "Ignition off and the coil lead out and earthed before the cap comes off.",
    (
        _choice(
            "ignition.distributor_from",
            "It was made for",
            "Numbers on the body, against the papers.",
            "distributor",
            ("this engine", "this engine"),
            ("another engine", "another engine"),
        ),
        _choice(
            "ignition.trigger",
            "Trigger",
            "Points have a gap that opens and closes.",
            "points",
            "breaker points",
            "electronic",
        ),
        _choice(
            "ignition.rotor_turns",
            "The rotor turns, seen from above",
            "Turn the crank by hand with a spanner, out of gear; spanner off again.",
            "rotor",
            "clockwise",
            "anticlockwise",
        ),
        _number(
            "ignition.dwell_deg", "Dwell", "For points; distributor degrees.", "points", (Unit("distributor degrees"),)
        ),
        _number("ignition.point_gap_mm", "Gap of the points", "By a feeler gauge.", "points", MM),
        _choice(
            "ignition.hoses",
            "Hoses at the vacuum unit",
            "One draws towards advance; a second one may draw back.",
            "vacuum unit",
            ("0", "none"),
            ("1", "one"),
            ("2", "two"),
        ),
        _choice(
            "ignition.source",
            "The advance hose comes from",
            "Follow it with your finger. Manifold: it draws at idle. Ported: only off idle.",
            "hose",
            ("manifold", "a manifold port"),
            ("ported", "a ported fitting"),
        ),
        _choice(
            "ignition.curve_by",
            "Its curve is known from",
            "Papers of this distributor, or your own readings by the light.",
            "weights",
            ("paper", "papers"),
            ("light", "readings by the light"),
        ),
    ),
)
CURVE = Group(
    "Its curve",
    "By papers in the fields, or by the light in the table: hose off and plugged, then on.",
    (
        _choice(
            "ignition.curve_in",
            "The papers give",
            "The distributor turns at half the crank's speed: degrees and speeds differ by two.",
            "book",
            ("crank", "crank degrees and speeds"),
            ("distributor", "distributor degrees and speeds"),
        ),
        _number("ignition.centrifugal_start_rpm", "The weights begin at", "From the curve.", "weights", RPM),
        _number("ignition.centrifugal_full_rpm", "They are all in at", "From the curve.", "weights", RPM),
        _number("ignition.centrifugal_deg", "They add at most", "As the papers say.", "weights", (Unit("degrees"),)),
        _number("ignition.vacuum_start_inhg", "The vacuum unit begins at", "From the curve.", "vacuum unit", INHG),
        _number("ignition.vacuum_full_inhg", "It is all in at", "From the curve.", "vacuum unit", INHG),
        _number("ignition.vacuum_deg", "It adds at most", "As the papers say.", "vacuum unit", (Unit("degrees"),)),
        Table(
            "ignition.light",
            "Curve by the light",
            "Total under the light at several speeds, crank degrees before top dead centre.",
            "light",
            (
                TableColumn("rpm", "speed", RPM),
                TableColumn("hose_off_deg", "hose off", DEGREES),
                TableColumn("hose_on_deg", "hose on", DEGREES),
            ),
            4,
        ),
    ),
    folded=True,
)
LABEL = Group(
    "The label",
    "The maker's own figures. They come before everything on these pages.",
    (
        _choice(
            "label.trusted",
            "It belongs to this engine as it is",
            "No, after a conversion or where another bonnet was fitted.",
            "label",
            *YES_NO,
        ),
        _number("label.base_deg", "Base timing", "Before top dead centre; after it is negative.", "label", CRANK),
        _choice("label.base_hose", "Read with the hose", "As the label says.", "label", "off and plugged", "on"),
        _number("label.idle_rpm", "Idle speed", "As the label says.", "label", RPM),
        _number("label.speed_drop_rpm", "Speed drop from the peak", "Few labels have one.", "label", RPM),
        _number("label.total_deg", "Total without vacuum", "Base and weights, all in.", "book", CRANK),
        _number("label.total_rpm", "At a speed of", "Where the total is reached.", "book", RPM),
    ),
)
PLACE = Group(
    "Where it runs, and on what",
    "Height and fuel change what is normal.",
    (
        _number("place.altitude_ft", "Height of the place", "From a map.", "map", HEIGHT),
        _number("place.air_c", "Air on a usual day", "From a thermometer.", "map", CELSIUS),
        _number("place.humidity_percent", "Relative humidity", "From a weather report.", "map", (Unit("%"),)),
        _number("place.octane", "Octane number of the fuel", "As the pump says it.", "pump", (Unit(""),)),
        _choice("place.octane_scale", "Scale of that number", "Printed with it.", "pump", "RON", "AKI", "MON"),
    ),
)
RUNNING = Group(
    "Read at the idle",
    "Warm, park or neutral, choke off, before anything is changed. Cautions first: they stand on the sheet.",
    (
        _words("readings.day", "Date", "Of these readings.", "book"),
        _number("readings.altitude_ft", "Height of the day", "Where it is not the one above.", "map", HEIGHT),
        _number("readings.air_c", "Air of the day", "From a thermometer.", "map", CELSIUS),
        _number(
            "readings.idle_inhg",
            "Vacuum at idle",
            "Manifold port, advance hose off and plugged.",
            "vacuum gauge",
            INHG,
        ),
        _choice(
            "readings.needle",
            "What the needle does",
            "Watch it for a minute, then held at 2,500 rpm.",
            "vacuum gauge",
            *get_args(NeedleWords),
        ),
        _number("readings.idle_rpm", "Idle speed", "Hose off and plugged.", "tachometer", RPM),
        _number("readings.idle_on_inhg", "Vacuum at idle, hose on", "Nothing else changed.", "vacuum gauge", INHG),
        _number("readings.idle_on_rpm", "Idle speed, hose on", "Nothing else changed.", "tachometer", RPM),
        _number(
            "readings.dwell_deg",
            "Dwell at idle",
            "Points only: one clip on the coil's points-side terminal, the other to earth.",
            "points",
            (Unit("distributor degrees"),),
        ),
        _choice(
            "readings.cut_out",
            "Speed with one plug lead off after the other",
            "For each: engine off, lead off and its end earthed; start and read; engine off, lead back. Hardly: by "
            "less than four fifths of the others. Electronic module or catalyst: only where its maker allows it.",
            "plugs",
            *get_args(CutOutWords),
        ),
        _number("readings.held_2500_inhg", "Vacuum held at 2,500 rpm", "Hose off and plugged.", "vacuum gauge", INHG),
        _number("readings.held_2500_on_inhg", "The same, hose on", "Nothing else changed.", "vacuum gauge", INHG),
        _choice("readings.mark", "The mark under the light", "At idle.", "marks", "stands still", "wanders"),
        _number("readings.mark_wander_deg", "It wanders, end to end, by", "At idle, by the scale.", "marks", DEGREES),
        _choice(
            "readings.snap",
            "The needle at a snap of the throttle",
            "Open and shut quickly, once.",
            "vacuum gauge",
            *get_args(SnapWords),
        ),
    ),
)
TURNED = Group(
    "Read with the body turned, and on the starter",
    "Engine off: the mark across body and block, clamp just loose, hose off and plugged. Start; idle screw untouched. "
    "Take hold of the body only, clear of fan and belts. Turn it by 4 of its own degrees (8 of the crank): 2 mm on a "
    "body of 60 mm. Back to the mark, engine off, clamp tight, before anything else.",
    (
        _number("readings.turned_early_inhg", "Vacuum, turned towards advance", "Let it settle.", "vacuum gauge", INHG),
        _number("readings.turned_early_rpm", "Speed there", "At the same place.", "tachometer", RPM),
        _number(
            "readings.turned_late_inhg",
            "Vacuum, turned towards retard",
            "As far from the mark the other way. Leave it empty where the engine stops.",
            "vacuum gauge",
            INHG,
        ),
        _number("readings.turned_late_rpm", "Speed there", "At the same place.", "tachometer", RPM),
        _number(
            "readings.cranking_inhg",
            "Vacuum while the starter turns it",
            "Warm, coil lead out and earthed, throttle shut, park or neutral: five seconds at most.",
            "key",
            INHG,
        ),
        _number(
            "readings.cranking_rpm",
            "Speed while the starter turns it",
            "At the same time, where the tachometer shows so low a speed.",
            "key",
            RPM,
        ),
    ),
)
SPEEDS = (("idle", "idle"), ("1500", "1,500 rpm"), ("2500", "2,500 rpm"), ("3000", "3,000 rpm"))
LIGHT = Group(
    "Read by the light",
    "Crank degrees before top dead centre, the hose off and plugged, then on. Nobody stands in the plane of the fan.",
    tuple(
        _number(
            f"readings.light_{speed}_{hose}_deg",
            f"At {words}, hose {'off and plugged' if hose == 'off' else 'on'}",
            "Held steady.",
            "light",
            CRANK,
        )
        for hose in ("off", "on")
        for speed, words in SPEEDS
    ),
)
HEARD = Group(
    "What it does, in words",
    "As you have met it; on the road with a passenger, within the law.",
    (
        _choice(
            "readings.cold_start",
            "Starting cold",
            "After a night. 'Does not start': not even at a second try, after two more strokes of the pedal.",
            "key",
            *get_args(StartWords),
        ),
        _number("readings.cold_start_air_c", "Air at that start", "It decides about the choke.", "map", CELSIUS),
        _choice(
            "readings.second_start",
            "Another cold start, in other air",
            "On a milder or a colder day; leave it empty where there was none.",
            "key",
            *get_args(StartWords),
        ),
        _number("readings.second_start_air_c", "Air at that other start", "Colder or milder.", "map", CELSIUS),
        _choice(
            "readings.warm_start",
            "Starting warm",
            "Ten minutes after a drive.",
            "key",
            *get_args(StartWords),
        ),
        _choice(
            "readings.cranks",
            "How the starter turns it",
            "Ten seconds at most, then half a minute's rest.",
            "key",
            *get_args(CrankWords),
        ),
        _choice(
            "readings.runs",
            "How the idle sounds",
            "Warm.",
            "ear",
            *get_args(RunWords),
        ),
        _choice(
            "readings.ping",
            "Ping under load",
            "On a hill, in a high gear; throttle shut as soon as you hear it.",
            "ear",
            *get_args(PingWords),
        ),
        _choice("readings.misses", "It misses", "A beat left out, heard or felt.", "ear", *get_args(MissWords)),
        _choice(
            "readings.smoke",
            "The tailpipe, warm, at idle",
            "Look from the side, and stand clear of it.",
            "ear",
            *get_args(SmokeWords),
        ),
        _choice("readings.pull", "How it pulls", "Against what you know of it.", "pedal", "pulls well", "pulls weakly"),
    ),
)
SWEEP = Group(
    "Your own sweep, and your instruments",
    "While you turn the body to the highest vacuum: light, gauge and tachometer at some halts, clamp just loose.",
    (
        Table(
            "readings.sweep",
            "Halts of the sweep",
            "Hose off and plugged, warm.",
            "light",
            (
                TableColumn("light_deg", "light", DEGREES),
                TableColumn("vacuum_inhg", "vacuum", INHG),
                TableColumn("rpm", "speed", RPM),
            ),
            5,
        ),
        _number(
            "readings.gauge_error_inhg",
            "The gauge shows too much by",
            "With the engine off, it should show nothing.",
            "vacuum gauge",
            INHG,
        ),
        _number(
            "readings.tachometer_error_rpm",
            "The tachometer shows too much by",
            "Against another one.",
            "tachometer",
            RPM,
        ),
        _number(
            "readings.light_error_deg",
            "The mark shows too much by",
            "By a piston stop, turned by hand, never with the starter.",
            "marks",
            CRANK,
        ),
    ),
    folded=True,
)
TESTS = Group(
    "Tests that were made",
    "One by one, as Compare asks for them.",
    tuple(
        Field(
            name=f"readings.findings.{name}",
            label=one.title,
            help="",
            spot="book",
            kind="list",
            choices=(("in order", "in order"), ("out of order", "out of order")),
        )
        for name, one in INSPECTIONS.items()
    ),
    folded=True,
)
GROUPS = (WHICH, BUILD, DISTRIBUTOR, CURVE, LABEL, PLACE, RUNNING, TURNED, LIGHT, HEARD, SWEEP, TESTS)
WHOLE_NUMBERS = ("build.cylinders", "build.carburettors", "build.barrels", "ignition.hoses")


def fields() -> Iterator[Field]:
    """Every field that is no table."""
    return (item for group in GROUPS for item in group.items if isinstance(item, Field))


def tables() -> Iterator[Table]:
    """Every table."""
    return (item for group in GROUPS for item in group.items if isinstance(item, Table))


def labels() -> dict[str, str]:
    """What each field and table is called, by its dotted name."""
    return {item.name: item.label for group in GROUPS for item in group.items}


def value_of(engine: OwnedEngine, name: str) -> object:
    """The value of a field of a description, by its dotted name; None where it is empty."""
    section, _, rest = name.partition(".")
    part = getattr(engine, section)
    first, _, key = rest.partition(".")
    found = getattr(part, first)
    value = found.get(key) if isinstance(found, dict) else found
    return None if value in ("", ()) else value


def in_words(field: Field, value: object) -> str:
    """A value as a person reads it, with its unit, and in the other system's where there is one."""
    if field.kind == "amount" and isinstance(value, int | float):
        own, *others = field.units
        other = next((unit for unit in others if unit.metric != own.metric), None)
        said = f"{value:g} {own.name}".rstrip()
        return said if other is None else f"{said} ({(value - other.offset) / other.factor:.3g} {other.name})"
    if field.kind == "text":
        return str(value)
    return dict(field.choices).get(as_choice(value), str(value))


def as_choice(value: object) -> str:
    """The choice that a value of the description is."""
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)
