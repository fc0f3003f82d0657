"""What a person can read off an engine of their own: the entries of its card, their units and limits, and how an answer
is read. Nothing about it is right or wrong; it can be incomplete, or contradict itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from engine_sim import PATTERNS
from engine_sim.physics.distributor import CRANK_DEG_PER_DISTRIBUTOR_DEG
from engine_sim.physics.units import KPA_PER_INHG, LITRES_PER_CUBIC_INCH, METRES_PER_FOOT, MM_PER_INCH

from .common import AnswerError, in_short, parts_in

CRANK, DISTRIBUTOR = "crank degrees", "distributor degrees"
SAME_WITHIN = 0.05
DEAREST_SUM_DEG = 65.0
TO_BASE = {  # to the first unit of an entry
    "in": MM_PER_INCH,
    "cubic inches": LITRES_PER_CUBIC_INCH,
    "m": 1.0 / METRES_PER_FOOT,
    "kPa": 1.0 / KPA_PER_INHG,
    DISTRIBUTOR: CRANK_DEG_PER_DISTRIBUTOR_DEG,
    "AKI": 1.0,  # kept as entered: what it is as RON depends on the fuel
}
OF_DWELL = "dwell"  # is spoken of in distributor degrees, and stays in them


@dataclass(frozen=True)
class Entry:
    """One entry: a number from `low` to `high` in the first of `units`, or one of `choices`."""

    id: str
    group: str
    label: str
    help: str
    units: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()


def _number(id: str, group: str, label: str, help: str, units: tuple[str, ...], low: float, high: float) -> Entry:
    return Entry(id=id, group=group, label=label, help=help, units=units, low=low, high=high)


def _choice(id: str, group: str, label: str, help: str, choices: tuple[str, ...]) -> Entry:
    return Entry(id=id, group=group, label=label, help=help, choices=choices)


ENGINE, SPARK, LABEL, READ = "The engine", "The distributor", "The label", "What you read at the engine"
ENTRIES = {
    entry.id: entry
    for entry in (
        _choice("cylinders", ENGINE, "Cylinders", "Count the plugs.", ("3", "4", "5", "6", "8")),
        _number("bore", ENGINE, "Bore", "From the manual.", ("mm", "in"), 40.0, 150.0),
        _number("stroke", ENGINE, "Stroke", "From the manual.", ("mm", "in"), 35.0, 160.0),
        _number("displacement", ENGINE, "Displacement", "Or bore and stroke.", ("litres", "cubic inches"), 0.4, 9.0),
        _number("compression", ENGINE, "Compression ratio", "Write 8.5 for 8.5 to 1.", ("to 1",), 4.0, 14.0),
        _number("octane", ENGINE, "Octane of the fuel", "As the pump says it.", ("RON", "AKI"), 60.0, 110.0),
        _number("altitude", ENGINE, "Altitude where it stands", "From a map.", ("ft", "m"), -1000.0, 14000.0),
        _choice(
            "rotor",
            SPARK,
            "The rotor turns, seen from above",
            "Ignition off, coil lead out and earthed, cap off: turn the crank by hand, and look from above.",
            ("clockwise", "anticlockwise"),
        ),
        _choice("trigger", SPARK, "Trigger", "Points have a gap.", ("breaker points", "electronic")),
        _number(OF_DWELL, SPARK, "Dwell", "For points only; from the manual.", (DISTRIBUTOR,), 10.0, 75.0),
        _number("weights", SPARK, "The weights add at most", "Mind which degrees.", (CRANK, DISTRIBUTOR), 0.0, 40.0),
        _number("all_in", SPARK, "They are all in at an engine speed of", "From the curve.", ("rpm",), 800.0, 6000.0),
        _choice(
            "source",
            SPARK,
            "The advance hose comes from",
            "Follow the hose.",
            ("a manifold port", "a ported fitting", "there is none"),
        ),
        _number(
            "canister", SPARK, "The vacuum unit adds at most", "Mind which degrees.", (CRANK, DISTRIBUTOR), 0.0, 36.0
        ),
        _number(
            "base", LABEL, "Base timing", "Before top centre; after is negative.", (CRANK, DISTRIBUTOR), -15.0, 30.0
        ),
        _number("base_rpm", LABEL, "At a speed of, or slower", "As the label says.", ("rpm",), 300.0, 1600.0),
        _number("idle", LABEL, "Idle speed", "As the label says.", ("rpm",), 300.0, 1600.0),
        _number("read_vacuum", READ, "Vacuum at the warm idle", "Hose on a manifold port.", ("inHg", "kPa"), 0.0, 29.0),
        _choice("read_needle", READ, "The needle", "Watch it for a minute, then held at 2,500 rpm.", PATTERNS),
        _number("read_idle", READ, "Idle speed", "From the tachometer.", ("rpm",), 200.0, 3000.0),
        _number("read_timing", READ, "Timing by the light", "Advance hose off and plugged.", (CRANK,), -30.0, 60.0),
    )
}
EXAMPLE = {  # a complete card: the hoist in the yard of our own workshop, which is no engine of the course
    "cylinders": "6",
    "bore": [3.5, "in"],
    "stroke": [3.75, "in"],
    "displacement": None,
    "compression": [7.4, "to 1"],
    "octane": [91.0, "RON"],
    "altitude": [2300.0, "ft"],
    "rotor": "clockwise",
    "trigger": "breaker points",
    "dwell": [37.0, DISTRIBUTOR],
    "weights": [11.0, DISTRIBUTOR],
    "all_in": [2600.0, "rpm"],
    "source": "a ported fitting",
    "canister": [12.0, CRANK],
    "base": [6.0, CRANK],
    "base_rpm": [600.0, "rpm"],
    "idle": [550.0, "rpm"],
    "read_vacuum": [16.5, "inHg"],
    "read_needle": "steady and normal",
    "read_idle": [560.0, "rpm"],
    "read_timing": [5.0, CRANK],
}
GROUPS = (ENGINE, SPARK, LABEL, READ)
NOT_NEEDED = {  # by what was entered: what need not be entered besides
    "displacement": ("bore", "stroke"),
    "electronic": (OF_DWELL,),
    "there is none": ("canister",),
}
Answer = dict[str, "tuple[float, str] | str | None"]


def read_card(value: object) -> Answer:
    """The entries of an answer of the evidence. Raises AnswerError with what was wanted and what was found."""
    found = parts_in(value, dict, "A table of entries")
    if set(found) != set(ENTRIES):
        raise AnswerError("The entries of an engine card were wanted, each once, empty or filled in.")
    card = {name: None if found[name] is None else read_entry(entry, found[name]) for name, entry in ENTRIES.items()}
    if not any(entry is not None for entry in card.values()):
        raise AnswerError("Nothing is filled in yet: begin with what you know, and leave the rest empty.")
    return card


def read_entry(entry: Entry, found: Any) -> tuple[float, str] | str:
    """One entry that is filled in: a number with its unit, or a choice. Raises AnswerError with what was wanted."""
    if entry.choices:
        if found not in entry.choices:
            raise AnswerError(f"{entry.label} can be {', '.join(entry.choices)}; '{in_short(found)}' was found.")
        return found
    number_with_unit = isinstance(found, list) and len(found) == 2 and found[1] in entry.units
    if not number_with_unit or isinstance(found[0], bool) or not isinstance(found[0], int | float):
        raise AnswerError(f"{entry.label} wants a number and one of the units {', '.join(entry.units)}.")
    number, unit = float(found[0]), found[1]
    if not math.isfinite(number) or not entry.low <= number * _factor(entry, unit) <= entry.high:
        low, high = (limit / _factor(entry, unit) for limit in (entry.low, entry.high))
        raise AnswerError(
            f"{entry.label} lies between {low:.4g} and {high:.4g} {unit} on engines of this kind; {number:g} {unit} "
            "was entered: look at the number and its unit again."
        )
    return number, unit


def _factor(entry: Entry, unit: str) -> float:
    return 1.0 if unit == entry.units[0] else TO_BASE[unit]


def number(card: Answer, name: str) -> float | None:
    """A number in the first unit of its entry, or None where it is empty."""
    given = card[name]
    return given[0] * _factor(ENTRIES[name], given[1]) if isinstance(given, tuple) else None


def chosen(card: Answer, name: str) -> str | None:
    """What was chosen of the choices of an entry, or None where it is empty."""
    given = card[name]
    return given if isinstance(given, str) else None


def _cylinders(card: Answer) -> int | None:
    given = chosen(card, "cylinders")
    return None if given is None else int(given)


def displacement_l(card: Answer) -> float | None:
    """Displacement [litres]: as entered, else from bore, stroke and cylinders."""
    if card["displacement"] is not None:
        return number(card, "displacement")
    return swept_l(card)


def swept_l(card: Answer) -> float | None:
    """Displacement that bore, stroke and cylinders make [litres]: pi/4 bore^2 stroke times cylinders."""
    bore, stroke, cylinders = number(card, "bore"), number(card, "stroke"), _cylinders(card)
    if bore is None or stroke is None or cylinders is None:
        return None
    return math.pi / 4.0 * bore**2 * stroke * cylinders / 1e6


def missing(card: Answer, group: str) -> list[str]:
    """Labels of what is still empty in a group and not made needless by something else."""
    spare = {name for cause, names in NOT_NEEDED.items() for name in names if _was_entered(card, cause)}
    if card["bore"] is not None and card["stroke"] is not None:
        spare.add("displacement")
    empty = [entry for name, entry in ENTRIES.items() if card[name] is None and name not in spare]
    return [entry.label for entry in empty if entry.group == group]


def _was_entered(card: Answer, cause: str) -> bool:
    return cause in card.values() or card.get(cause) is not None


def entered(card: Answer, group: str) -> int:
    """How many entries of a group are filled in."""
    return sum(entry.group == group and card[name] is not None for name, entry in ENTRIES.items())


def conflicts(card: Answer) -> list[str]:
    """Sentences about entries that cannot be true together."""
    return [sentence for rule in (_volume, _dwell, _canister, _speeds, _sum) for sentence in rule(card)]


def _volume(card: Answer) -> list[str]:
    swept, given = swept_l(card), number(card, "displacement")
    if swept is None or given is None or abs(swept - given) <= SAME_WITHIN * given:
        return []
    return [f"Bore, stroke and cylinders make {swept:.2f} litres, and {given:.2f} were entered."]


def _dwell(card: Answer) -> list[str]:
    dwell, cylinders = number(card, OF_DWELL), _cylinders(card)
    if dwell is None or cylinders is None or dwell < 360.0 / cylinders:
        return []
    pitch = 360.0 / cylinders
    return [f"From one spark to the next the distributor turns {pitch:.0f} degrees; the dwell cannot be {dwell:g}."]


def _canister(card: Answer) -> list[str]:
    if card["source"] == "there is none" and number(card, "canister"):
        return ["There is no advance hose, and a vacuum unit that adds degrees was entered."]
    return []


def _speeds(card: Answer) -> list[str]:
    idle, all_in = number(card, "idle"), number(card, "all_in")
    if idle is None or all_in is None or all_in > idle:
        return []
    return [f"The weights cannot be all in at {all_in:.0f} rpm, at or below the idle of {idle:.0f}."]


def _sum(card: Answer) -> list[str]:
    parts = [number(card, name) for name in ("base", "weights", "canister")]
    total = sum(part for part in parts if part is not None)
    if total <= DEAREST_SUM_DEG:
        return []
    return [f"Base, weights and vacuum unit add up to {total:.0f} crank degrees: look which degrees each figure means."]
