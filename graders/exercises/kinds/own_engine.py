"""What a person can read off an engine of their own: the entries of its card, their units and limits, and how an answer
is read. Nothing about it is right or wrong; it can be incomplete, or contradict itself."""

from __future__ import annotations

import math
from dataclasses import dataclass

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
    "AKI": 1.0,  # kept as entered: what it is as RON hangs on the fuel
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


ENGINE, SPARK, LABEL, READ = "The engine", "The distributor", "The label", "What you read at the engine"
ENTRIES = {
    entry.id: entry
    for entry in (
        Entry(
            id="cylinders", group=ENGINE, label="Cylinders", help="Count the plugs.", choices=("3", "4", "5", "6", "8")
        ),
        Entry(id="bore", group=ENGINE, label="Bore", help="From the manual.", units=("mm", "in"), low=40.0, high=150.0),
        Entry(
            id="stroke", group=ENGINE, label="Stroke", help="From the manual.", units=("mm", "in"), low=35.0, high=160.0
        ),
        Entry(
            id="displacement",
            group=ENGINE,
            label="Displacement",
            help="Or bore and stroke.",
            units=("litres", "cubic inches"),
            low=0.4,
            high=9.0,
        ),
        Entry(
            id="compression",
            group=ENGINE,
            label="Compression ratio",
            help="Write 8.5 for 8.5 to 1.",
            units=("to 1",),
            low=4.0,
            high=14.0,
        ),
        Entry(
            id="octane",
            group=ENGINE,
            label="Octane of the fuel",
            help="As the pump says it.",
            units=("RON", "AKI"),
            low=60.0,
            high=110.0,
        ),
        Entry(
            id="altitude",
            group=ENGINE,
            label="Altitude where it stands",
            help="From a map.",
            units=("ft", "m"),
            low=-1000.0,
            high=14000.0,
        ),
        Entry(
            id="rotor",
            group=SPARK,
            label="The rotor turns, seen from above",
            help="Watch it under the cap while a helper cranks with the coil disconnected, hands clear.",
            choices=("clockwise", "anticlockwise"),
        ),
        Entry(
            id="trigger",
            group=SPARK,
            label="Trigger",
            help="Points have a gap.",
            choices=("breaker points", "electronic"),
        ),
        Entry(
            id=OF_DWELL,
            group=SPARK,
            label="Dwell",
            help="For points only; from the manual.",
            units=(DISTRIBUTOR,),
            low=10.0,
            high=75.0,
        ),
        Entry(
            id="weights",
            group=SPARK,
            label="The weights add at most",
            help="Mind which degrees.",
            units=(CRANK, DISTRIBUTOR),
            low=0.0,
            high=40.0,
        ),
        Entry(
            id="all_in",
            group=SPARK,
            label="They are all in at an engine speed of",
            help="From the curve.",
            units=("rpm",),
            low=800.0,
            high=6000.0,
        ),
        Entry(
            id="source",
            group=SPARK,
            label="The advance hose comes from",
            help="Follow the hose.",
            choices=("a manifold port", "a ported fitting", "there is none"),
        ),
        Entry(
            id="canister",
            group=SPARK,
            label="The canister adds at most",
            help="Mind which degrees.",
            units=(CRANK, DISTRIBUTOR),
            low=0.0,
            high=36.0,
        ),
        Entry(
            id="base",
            group=LABEL,
            label="Base timing",
            help="Before top centre; after is negative.",
            units=(CRANK, DISTRIBUTOR),
            low=-15.0,
            high=30.0,
        ),
        Entry(
            id="base_rpm",
            group=LABEL,
            label="At a speed of, or slower",
            help="As the label says.",
            units=("rpm",),
            low=300.0,
            high=1600.0,
        ),
        Entry(
            id="idle",
            group=LABEL,
            label="Idle speed",
            help="As the label says.",
            units=("rpm",),
            low=300.0,
            high=1600.0,
        ),
        Entry(
            id="read_vacuum",
            group=READ,
            label="Vacuum at the warm idle",
            help="Hose on a manifold port.",
            units=("inHg", "kPa"),
            low=0.0,
            high=29.0,
        ),
        Entry(
            id="read_needle",
            group=READ,
            label="The needle",
            help="Watch it for a minute, then held at 2,500 rpm.",
            choices=PATTERNS,
        ),
        Entry(
            id="read_idle",
            group=READ,
            label="Idle speed",
            help="From the tachometer.",
            units=("rpm",),
            low=200.0,
            high=3000.0,
        ),
        Entry(
            id="read_timing",
            group=READ,
            label="Timing by the light",
            help="Advance hose off and plugged.",
            units=(CRANK,),
            low=-30.0,
            high=60.0,
        ),
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
    card = {name: None if found[name] is None else _read(entry, found[name]) for name, entry in ENTRIES.items()}
    if not any(entry is not None for entry in card.values()):
        raise AnswerError("Nothing is filled in yet: begin with what you know, and leave the rest empty.")
    return card


def _read(entry: Entry, found) -> tuple[float, str] | str:
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
        return ["There is no advance hose, and a canister that adds degrees was entered."]
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
    return [f"Base, weights and canister add up to {total:.0f} crank degrees: look which degrees each figure means."]
