"""Makes engine_sim/diagnosis/told_apart.toml: every inspection of every fault, on drawn engines of every card.

`python -m tests.engine_sim.told_apart` says what would change, `... fix` writes it (some minutes).
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Mapping
from itertools import combinations, product

from course import ENGINES
from engine_sim import (
    FAULTS,
    INSPECTIONS,
    AsFound,
    Conditions,
    Draw,
    Engine,
    Finding,
    fault_named,
    learners_engine,
    load_card,
    usual_screw,
)
from engine_sim.diagnosis.told_apart import TABLE

HOME_FT = {"delivery_truck_six": 0.0, "farm_runabout_four": 0.0, "hill_hauler_eight": 5000.0}
LEARNERS = ("one", "two", "three", "four", "five", "six", "seven")
ALL_FAULTS = ("", *FAULTS)
Readings = Mapping[tuple[str, str, str], Mapping[str, Finding]]  # card, learner, fault: finding by inspection
HEAD = """\
# Which inspection tells which faults apart; made by `python -m tests.engine_sim.told_apart fix`, never edited.
# shows: always out of order with this fault. alike: pairs with one of these that some engines do not tell apart
# ("" is a sound engine).
"""


def readings(
    cards: Iterable[str], learners: Iterable[str], faults: Iterable[str], inspections: Iterable[str]
) -> Readings:
    """What these inspections show of drawn engines of these cards, set by their label, with each of these faults."""
    found = {}
    for name, learner, fault in product(cards, learners, faults):
        card = learners_engine(load_card(ENGINES / f"{name}.toml"), "workshop", learner, "l08").card
        as_found = AsFound(card.setting.label_base_timing_deg, round(usual_screw(card), 2), 0.0, 5, coolant_c=85.0)
        engine = Engine(card)
        if fault:
            if not fault_named(fault).fits(card):
                continue
            wear, as_found = fault_named(fault).on(card, as_found, Draw(f"{name}|{fault}|{learner}"))
            engine = Engine(card, wear)
        day = Conditions(HOME_FT[name])
        found[name, learner, fault] = {
            one: INSPECTIONS[one].look(engine, as_found, day, Draw(f"{one}|{learner}")) for one in inspections
        }
    return found


def clearly_differ(one: Finding, other: Finding) -> bool:
    """Whether one of two findings is in order and the other is not; or neither is, and they differ in their words, or
    in a number by a twelfth of it and two units, or to the double. Which of the cylinders it is does not count."""
    if one.in_order or other.in_order:
        return one.in_order != other.in_order
    if re.sub(r"[\d.,]+", "#", one.text) != re.sub(r"[\d.,]+", "#", other.text):
        return True
    pairs = zip(_numbers(one.text), _numbers(other.text), strict=True)
    return any(abs(a - b) > max(2.0, 0.08 * max(a, b)) or max(a, b) > 2.0 * min(a, b) + 0.1 for a, b in pairs)


def _numbers(text: str) -> list[float]:
    return sorted(float(found.replace(",", "")) for found in re.findall(r"\d+(?:,\d{3})*(?:\.\d+)?", text))


def alike_in(found: Readings, inspection: str) -> set[tuple[str, str]]:
    """The pairs of faults that this inspection does not tell apart on some two engines of one card."""
    by_card: dict[str, list[tuple[str, Finding]]] = {}
    for (card, _, fault), told in found.items():
        by_card.setdefault(card, []).append((fault, told[inspection]))
    pairs = (pair for engines in by_card.values() for pair in combinations(engines, 2))
    return {tuple(sorted((a, b))) for (a, one), (b, other) in pairs if a != b and not clearly_differ(one, other)}


def table(found: Readings) -> str:
    """The table as a file holds it."""
    lines = [HEAD]
    for inspection in INSPECTIONS:
        shown: dict[str, bool] = {}
        for (_, _, fault), told in found.items():
            shown[fault] = shown.get(fault, True) and not told[inspection].in_order
        shows = sorted(fault for fault, always in shown.items() if always)
        alike = sorted(pair for pair in alike_in(found, inspection) if set(pair) & set(shows))
        names = ", ".join(f'"{name}"' for name in shows)
        pairs = "".join(f'  ["{a}", "{b}"],\n' for a, b in alike)
        lines.append(
            f"[{inspection}]\nshows = [{names}]\nalike = [\n{pairs}]\n"
            if alike
            else f"[{inspection}]\nshows = [{names}]\nalike = []\n"
        )
    return "\n".join(lines)


def main() -> int:
    """Say whether the table is as the inspections have it, or write it."""
    made = table(readings(HOME_FT, LEARNERS, ALL_FAULTS, INSPECTIONS))
    if "fix" in sys.argv[1:]:
        TABLE.write_text(made, encoding="utf-8")
    same = TABLE.read_text(encoding="utf-8") == made
    print("as the inspections have it" if same else "the inspections read otherwise: run it with fix")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
