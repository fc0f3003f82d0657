"""How often the comparison of an owner's readings names what is truly wrong, on hidden owners of engines that the
tables do not know.

`python -m tests.benchmarks.owned_benchmark FOLDER` (after `tests.benchmarks.hidden_owners FOLDER`) prints every figure.
Reading errors, gaps, misheard words and severities are guesses of ours: the figures hold for them alone.
"""

from __future__ import annotations

import functools
import sys
import zlib
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np

from engine_sim import FAULTS, INSPECTIONS, SOUND, AsFound, Draw, Engine, Wear
from engine_sim.owned.causes import CAUSES, HEALTHY, NONE_OF_THESE
from engine_sim.owned.description import OwnedEngine, owned_from
from engine_sim.owned.evidence import evidence_of
from engine_sim.owned.likelihood import NAMED_FROM, ReadEvidence, odds, passes_for_healthy
from engine_sim.owned.next_test import next_tests
from engine_sim.owned.observe import TURNED_DEG, Observation, observed
from engine_sim.owned.tables import CRANKING, DWELL, LIGHT, SPEEDS, VACUUM, WANDER, WORDS, Tables, load_tables
from tests.benchmarks.hidden_owners import CHANGED, ENGINES_A_KIND, Hidden, hidden, hidden_engine, read_all

GAUGE, LIGHTS, SAID = "gauge and tachometer", "with the light", "with words"
LEVELS = (GAUGE, LIGHTS, SAID)
GAUGE_INHG = 0.4  # one standard deviation of an owner's gauge, common to all its readings; a guess
EYE_INHG = 0.25  # one standard deviation of each reading of a gauge; a guess
TACHOMETER_SHARE = 0.025  # one standard deviation of a tachometer, as a share of the speed; a guess
EYE_RPM = 8.0  # one standard deviation of each reading of a tachometer; a guess
LIGHT_COMMON_DEG = 1.0  # one standard deviation of the mark and the light, common to all light readings; a guess
LIGHT_DEG = 0.8  # one standard deviation of each light reading; a guess
TURNED_BY_HAND_DEG = 1.0  # one standard deviation of where an owner turns the body to, in crank degrees; a guess
CRANKING_RPM = 12.0  # one standard deviation of the starter's speed by the tachometer; a guess
WANDER_DEG = 1.0  # one standard deviation of how far a mark is seen to wander; a guess
DWELL_DEG = 1.8  # one standard deviation of a dwell meter, and of how points are set where they are right; a guess
MISSING = 0.08  # share of readings that are missing; a guess
MISHEARD = 0.10  # share of words that are drawn again from all of their field; a guess
WRONG = 0.08  # share of findings that are wrong; a guess
OF_LEVEL = {
    GAUGE: (*VACUUM, *SPEEDS, *CRANKING, "needle", "cut_out", *DWELL),  # many tachometers of the trade read dwell too
    LIGHTS: (*(name for name in LIGHT if "3000" not in name), *WANDER, "mark"),
    SAID: ("runs", "misses", "smoke", "pull", "cold_start", "mild_start", "warm_start", "cranks"),
}


def reported(seen: Observation, said: OwnedEngine, level: str, name: str, errors: float = 1.0) -> OwnedEngine:
    """The description with what its owner reports at a level of readings; `errors` multiplies every error. An owner of
    an engine that does not keep running has nothing to read, and says so at every level."""
    rng = np.random.default_rng([3, zlib.crc32(name.encode())])
    offset = {unit: errors * rng.normal() for unit in ("inhg", "rpm", "deg")}
    numbers = _turned_by_hand(seen.numbers, errors, name)
    fields: dict = {}
    for of_level in LEVELS:
        for what in OF_LEVEL[of_level]:
            told = LEVELS.index(of_level) <= LEVELS.index(level) or (what == "warm_start" and not seen.numbers)
            missing, error, other = rng.random() < MISSING, rng.normal(), rng.random()
            heard = WORDS[what][int(rng.integers(len(WORDS[what])))] if what in WORDS else None
            if missing or not told:
                continue
            if what in numbers:
                fields[what] = _read(what, numbers[what], errors * error, offset)
            elif what in seen.words:
                fields[what] = heard if other < errors * MISHEARD else seen.words[what]
    _cold_starts(fields, rng)
    return said.model_copy(update={"readings": owned_from({"readings": fields}).readings})


def _turned_by_hand(numbers: dict[str, float], errors: float, name: str) -> dict[str, float]:
    """The numbers with the body turned as far as a hand turns it by a mark, a little too far or not far enough."""
    rng, turned = np.random.default_rng([4, zlib.crc32(name.encode())]), dict(numbers)
    for way in ("early", "late"):
        further = errors * TURNED_BY_HAND_DEG / TURNED_DEG * rng.normal()
        for unit in ("inhg", "rpm"):
            there = f"turned_{way}_{unit}"
            if there in numbers:
                turned[there] += further * (numbers[there] - numbers[f"idle_{unit}"])
    return turned


def _read(what: str, true: float, error: float, offset: dict[str, float]) -> float:
    """A reading with the instrument's own error and the eye's, rounded as a scale is read."""
    if what in CRANKING:
        return max(10.0 * round((true + CRANKING_RPM * error) / 10.0), 30.0)
    if what in WANDER:
        return max(float(round(true + WANDER_DEG * error)), 0.0)
    if what in DWELL:
        return float(np.clip(round(true + DWELL_DEG * error), 5.0, 85.0))
    unit = what.rsplit("_", 1)[1]
    if unit == "inhg":
        return max(round(4.0 * (true + GAUGE_INHG * offset[unit] + EYE_INHG * error)) / 4.0, 0.0)
    if unit == "rpm":
        return max(10.0 * round((true * (1.0 + TACHOMETER_SHARE * offset[unit]) + EYE_RPM * error) / 10.0), 250.0)
    return float(np.clip(round(true + LIGHT_COMMON_DEG * offset[unit] + LIGHT_DEG * error), -30.0, 80.0))


def _cold_starts(fields: dict, rng: np.random.Generator) -> None:
    """An owner tells of one cold start, on a cold morning or a mild one, every other owner of both; and of the air of
    each in two cases of three."""
    starts = {air: fields.pop(name, None) for air, name in ((5.0, "cold_start"), (20.0, "mild_start"))}
    order = sorted(starts, reverse=bool(rng.random() < 0.5))
    tells_both = rng.random() < 0.5
    tells_air = rng.random(2) < 0.67
    for name, air, told in zip(("cold_start", "second_start"), order, tells_air, strict=True):
        if starts[air] is not None and (name == "cold_start" or tells_both):
            fields[name] = starts[air]
            if told:
                fields[f"{name}_air_c"] = air


@dataclass
class Score:
    """Shares [%] of a set of owners. An engine is called healthy where it passes for healthy, and then stands before
    every cause; where it does not, the causes are ranked alone."""

    said: str
    first: list[bool]
    in_three: list[bool]
    healthy_healthy: list[bool]
    faulty_healthy: list[bool]
    confidence: list[tuple[float, bool]]

    @classmethod
    def empty(cls, said: str) -> Score:
        """No owner yet."""
        return cls(said, [], [], [], [], [])

    def add(self, cause: str, shares: dict[str, float]) -> None:
        """One owner."""
        called_healthy = passes_for_healthy(shares)
        causes = sorted((name for name in shares if name != HEALTHY), key=lambda name: -shares[name])
        order = [HEALTHY, *causes] if called_healthy else causes
        self.confidence += [(share, name == cause) for name, share in shares.items()]
        if cause == HEALTHY:
            self.healthy_healthy.append(called_healthy)
            return
        self.first.append(order[0] == cause)
        self.in_three.append(cause in order[:3])
        self.faulty_healthy.append(called_healthy)

    def figures(self) -> tuple[float, float, float, float]:
        """Right cause first, in three, healthy called healthy, faulty called healthy [%]."""
        parts = (self.first, self.in_three, self.healthy_healthy, self.faulty_healthy)
        return tuple(100.0 * float(np.mean(part)) if part else float("nan") for part in parts)  # type: ignore[return-value]

    def calibration(self) -> list[tuple[float, float, int]]:
        """By tenths of the odds: their mean, the share that was right [%], and how many."""
        pairs = np.array(self.confidence, float)
        tenth = np.minimum(np.floor(10.0 * pairs[:, 0] + 1e-9), 9.0)  # 0.6 is not quite six tenths
        told = []
        for low in range(10):
            inside = tenth == low
            if inside.sum():
                told.append((100 * pairs[inside, 0].mean(), 100 * pairs[inside, 1].mean(), int(inside.sum())))
        return told

    def line(self) -> str:
        """The figures as a line."""
        first, three, good, missed = self.figures()
        count = len(self.first) + len(self.healthy_healthy)
        shown = f"first {first:5.1f}  in three {three:5.1f}  healthy {good:5.1f}  faulty called healthy {missed:5.1f}"
        return f"{self.said:44s} {shown}  ({count})"


Owners = dict[str, tuple[str, Observation]]


def said_of(name: str) -> OwnedEngine:
    """The description of a hidden owner's engine."""
    kind, number, _ = name.split("|")
    return hidden_engine(kind, int(number))[2]


def scored(owners: Owners, tables: Tables, level: str, said: str = "", errors: float = 1.0, without: str = "") -> Score:
    """The figures of one level of readings; `without` leaves a cause out of the tables."""
    score = Score.empty(said or level)
    if without:
        tables = replace(tables, causes={name: one for name, one in tables.causes.items() if name != without})
    for name, (cause, seen) in owners.items():
        engine = reported(seen, said_of(name), level, name, errors)
        score.add(cause, odds(tables, evidence_of(engine)))
    return score


# ---- chosen tests ----------------------------------------------------------------------------------------------------

Policy = Callable[[Tables, ReadEvidence, dict[str, float], np.random.Generator], str]


def by_information(tables: Tables, seen: ReadEvidence, shares: dict[str, float], _rng: np.random.Generator) -> str:
    """The inspection that is expected to tell most."""
    found = next_tests(tables, seen, shares, 1)
    return found[0].id if found else ""


def at_random(tables: Tables, seen: ReadEvidence, _shares: dict[str, float], rng: np.random.Generator) -> str:
    """Any inspection not made yet."""
    left = [name for name in tables.causes[HEALTHY].out_of_order if name not in (*seen.findings, *seen.read)]
    return left[int(rng.integers(len(left)))]


def of_first_suspect(_tables: Tables, seen: ReadEvidence, shares: dict[str, float], _rng: np.random.Generator) -> str:
    """The first suspect's own inspection that was not made yet."""
    for name in sorted(shares, key=lambda one: -shares[one]):
        if name in FAULTS and FAULTS[name].found_by not in (*seen.findings, *seen.read):
            return FAULTS[name].found_by
    return ""


POLICIES: dict[str, Policy] = {
    "by information": by_information,
    "first suspect's own": of_first_suspect,
    "at random": at_random,
}


def look(owner: Hidden, inspection: str) -> bool:
    """Whether an owner finds an inspection in order; some find wrongly."""
    in_order = INSPECTIONS[inspection].look(owner.engine, owner.found, owner.conditions, Draw(owner.name)).in_order
    return in_order != (np.random.default_rng([5, zlib.crc32(f"{owner.name}|{inspection}".encode())]).random() < WRONG)


def after_tests(owners: Owners, tables: Tables, most: int = 2) -> dict[str, list[Score]]:
    """The figures after one, two ... tests that each of POLICIES chooses, all other readings at hand; a look that
    several choose is made once."""
    scores = {said: [Score.empty(f"{said}, {count + 1}") for count in range(most)] for said in POLICIES}
    for name, (cause, seen) in owners.items():
        before = evidence_of(reported(seen, said_of(name), SAID, name))
        kind, number, place = name.split("|")
        finds = functools.cache(functools.partial(look, hidden(kind, int(number), int(place))))
        for said, policy in POLICIES.items():
            rng, evidence, shares = np.random.default_rng([6, zlib.crc32(name.encode())]), before, odds(tables, before)
            for score in scores[said]:
                chosen = policy(tables, evidence, shares, rng)
                if chosen:
                    evidence = replace(evidence, findings=evidence.findings | {chosen: finds(chosen)})
                    shares = odds(tables, evidence)
                score.add(cause, shares)
    return scores


# ---- what the tables do not have -------------------------------------------------------------------------------------


def without_its_cause(owners: Owners, tables: Tables) -> tuple[float, float]:
    """Owners whose cause is taken out of the tables: how many are named another, and for how many
    "none of these" comes first [%]."""
    named, none = [], []
    for name, (cause, seen) in owners.items():
        if cause == HEALTHY:
            continue
        kept = {one: table for one, table in tables.causes.items() if one != cause}
        shares = odds(replace(tables, causes=kept), evidence_of(reported(seen, said_of(name), SAID, name)))
        first = max(shares, key=lambda one: shares[one])
        named.append(first not in (HEALTHY, NONE_OF_THESE) and shares[first] >= NAMED_FROM)
        none.append(first == NONE_OF_THESE)
    return 100.0 * float(np.mean(named)), 100.0 * float(np.mean(none))


def two_faults(tables: Tables, count: int) -> tuple[float, float]:
    """Owners with two faults at once: how often the first named is one of them, and how often both are in three [%]."""
    rng = np.random.default_rng(8)
    one_of, both = [], []
    kinds = list(CHANGED)
    while len(one_of) < count:
        kind, number = kinds[len(one_of) % len(kinds)], int(rng.integers(ENGINES_A_KIND))
        first, other = (CAUSES[place] for place in rng.choice(len(CAUSES), 2, replace=False))
        card = hidden_engine(kind, number)[0]
        if not (FAULTS[first].fits(card) and FAULTS[other].fits(card)):
            continue
        owner = with_both(kind, number, first, other)
        seen = observed(owner.engine, owner.found, owner.conditions)
        shares = odds(tables, evidence_of(reported(seen, owner.said, SAID, f"{first}|{other}|{number}")))
        order = [name for name in sorted(shares, key=lambda one: -shares[one]) if name not in (HEALTHY, NONE_OF_THESE)]
        one_of.append(order[0] in (first, other))
        both.append({first, other} <= set(order[:3]))
    return 100.0 * float(np.mean(one_of)), 100.0 * float(np.mean(both))


def with_both(kind: str, number: int, first: str, other: str) -> Hidden:
    """An owner with two faults, each as strong as the catalogue has it."""
    one, more = hidden(kind, number, 0, first), hidden(kind, number, 0, other)
    changes = {
        item.name: getattr(more.engine.wear, item.name)
        for item in fields(Wear)
        if item.name != "cylinders" and getattr(more.engine.wear, item.name) != getattr(SOUND, item.name)
    }
    wear = replace(one.engine.wear, **changes)
    for place, cylinder in more.engine.wear.cylinders:
        wear = wear.with_cylinders(cylinder, place)
    healthy = hidden(kind, number, 0, HEALTHY).found
    moved = {
        item.name: getattr(more.found, item.name)
        for item in fields(AsFound)
        if getattr(more.found, item.name) != getattr(healthy, item.name)
    }
    return replace(one, engine=Engine(one.engine.card, wear), found=replace(one.found, **moved))


def main() -> int:
    """Print every figure; a second argument says on how many owners the chosen tests are tried."""
    owners = read_all(Path(sys.argv[1]) / "hidden.jsonl")
    some = int(sys.argv[2]) if len(sys.argv) > 2 else 300
    tables = load_tables()
    for level in LEVELS:
        show(scored(owners, tables, level))
    show(scored(owners, tables, SAID, "errors doubled", errors=2.0))
    for kind in CHANGED:
        show(scored({name: one for name, one in owners.items() if name.startswith(kind)}, tables, SAID, kind))
    print(
        "cause not in the tables: named another {:.0f} %, none of these {:.0f} %".format(
            *without_its_cause(owners, tables)
        )
    )
    names = list(owners)[:: max(len(owners) // some, 1)] if some else []
    fewer = {name: owners[name] for name in names}
    for scores in after_tests(fewer, tables).values() if fewer else ():
        for score in scores:
            show(score)
    print(
        "two faults: first is one of them {:.0f} %, both in three {:.0f} %".format(
            *two_faults(tables, max(some // 3, 1))
        )
    )
    return 0


def show(score: Score) -> None:
    """Print a line of figures, and how far said odds lie from the truth."""
    print(score.line(), flush=True)
    print("   said and true:", ", ".join(f"{a:.0f}/{b:.0f} ({n})" for a, b, n in score.calibration() if n >= 20))


if __name__ == "__main__":
    sys.exit(main())
