"""Which causes an owner's readings speak for, how strongly, and what would tell more: a ranked list with its reasons.

No cause is named below three fifths, none is called most likely below 85 %, and what cannot be told apart is said with
the test that parts it. All odds are of engines drawn as the tables' are, and no statement on this very engine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from engine_sim.diagnosis.faults import FAULTS
from engine_sim.diagnosis.inspections import INSPECTIONS

from . import words_for
from .causes import HEALTHY, NONE_OF_THESE
from .description import OwnedEngine
from .evidence import evidence_of, left_out
from .likelihood import NAMED_FROM, ReadEvidence, odds, passes_for_healthy
from .next_test import NextTest, next_tests
from .reasons import reasons
from .tables import FEATURES, Tables, load_tables

LIKELY_FROM = 0.85  # share from which a cause, or healthy, is called most likely
LISTED_FROM = 0.02  # share from which a cause is listed
LISTED_AT_MOST = 8  # causes
PAIR_FROM = 0.08  # share of either, from which a pair that reads alike is told
PAIRS = (  # what even all of these readings do not part, and the inspection that does
    ("valve_burnt", "gasket_between", "compression"),
    ("plenum_leak", "gross_leak", "soapy_water"),
    ("plenum_leak", "rings_weak", "compression_with_oil"),
    ("plenum_leak", "valves_late", "degree_wheel"),
    ("idle_lean", "idle_rich", "mixture_screws"),
    ("idle_lean", "plenum_leak", "soapy_water"),
    ("timing_late", "tooth_out", "look_under_cap"),
    ("timing_some_late", "damper_slipped", "piston_stop"),
    ("timing_some_late", "dwell_wrong", "dwell_meter"),
    ("compression_low", "rings_weak", "compression_with_oil"),
    (HEALTHY, "dwell_wrong", "dwell_meter"),
    (HEALTHY, "spark_tired", "spark_gap_tester"),
    (HEALTHY, "choke_stuck", "look_at_choke"),
)
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Suspect:
    """One cause, its share of engines drawn like this one and read like this, and what fits it and does not."""

    id: str
    title: str
    odds: float
    fits: tuple[str, ...]
    does_not_fit: tuple[str, ...]


@dataclass(frozen=True)
class Pair:
    """Two that these readings do not tell apart, and the test that does."""

    one: str
    other: str
    test: str
    sentence: str


@dataclass(frozen=True)
class OwnedComparison:
    """Everything that readings tell. `odds` has all causes, healthy ("") and "none of these"; `named` is the cause that
    may be named (at least three fifths), and `likely` whether it may be called most likely (at least 85 %)."""

    odds: dict[str, float]
    ranked: tuple[Suspect, ...]
    named: str | None
    likely: bool
    verdict: str
    sentences: tuple[str, ...]
    pairs: tuple[Pair, ...]
    next_tests: tuple[NextTest, ...]
    do_not: tuple[str, ...]

    @property
    def healthy(self) -> float:
        """Share of healthy engines."""
        return self.odds[HEALTHY]

    @property
    def none_of_these(self) -> float:
        """Share of causes outside the catalogue."""
        return self.odds[NONE_OF_THESE]


def compare(engine: OwnedEngine, progress: Progress | None = None) -> OwnedComparison:
    """Compare what was read on an engine with what drawn engines read. Raises DescriptionError where cylinders or size
    are not known."""
    if progress:
        progress("The healthy engine of your description is simulated …")
    seen = evidence_of(engine)
    if progress:
        progress("The readings are compared …")
    return comparison(engine, seen, load_tables())


def comparison(engine: OwnedEngine, seen: ReadEvidence, tables: Tables) -> OwnedComparison:
    """The same for evidence that is at hand."""
    shares = odds(tables, seen)
    order = sorted(shares, key=lambda name: -shares[name])
    told = _told(seen)
    ranked = tuple(
        Suspect(name, words_for.title_of(name), shares[name], *reasons(tables, seen, engine, name))
        for name in order[:LISTED_AT_MOST]
        if told and shares[name] >= LISTED_FROM
    )
    first = order[0]
    named = first if shares[first] >= NAMED_FROM and first != NONE_OF_THESE else None
    return OwnedComparison(
        odds=shares,
        ranked=ranked,
        named=named,
        likely=shares[first] >= LIKELY_FROM,
        verdict=_verdict(shares, order, seen),
        sentences=tuple(_sentences(engine, seen)),
        pairs=_pairs(shares, seen) if told else (),
        next_tests=next_tests(tables, seen, shares) if told else (),
        do_not=words_for.do_not(shares, engine),
    )


def _told(seen: ReadEvidence) -> bool:
    """Whether anything was read at all: without it every share is only how often a cause was supposed at first."""
    return bool(seen.words or seen.findings or np.isfinite(seen.difference).any())


def _verdict(shares: dict[str, float], order: list[str], seen: ReadEvidence) -> str:
    if not _told(seen):
        return "Nothing was read yet: enter what you have, and it is compared."
    first, percent = order[0], round(100 * shares[order[0]])
    of_drawn = f"{percent} % of engines drawn like yours and read like this"
    if shares[first] < NAMED_FROM:
        nearest = [words_for.title_of(name).lower() for name in order if name not in (HEALTHY, NONE_OF_THESE)][:3]
        several = f"Nearest are: {', '.join(nearest)}. The next test says more than another look."
        healthy = f"{100 * shares[HEALTHY]:.0f} % of engines drawn like yours and read like this are healthy"
        if passes_for_healthy(shares):
            return f"No cause can be named, and {healthy}. {several}"
        return f"No cause can be named: several fit, and only {healthy}. {several}"
    if first == HEALTHY:
        return f"Healthy as far as these readings go: {of_drawn} are."
    if first == NONE_OF_THESE:
        return "None of the causes that are compared fits these readings. Take the strangest of them again first."
    title = words_for.title_of(first)
    if shares[first] >= LIKELY_FROM:
        return f"Most likely: {title.lower()}. So it is in {of_drawn}. Confirm it by its own test before you act."
    return f"More likely than not: {title.lower()}, in {of_drawn}. That is no finding: test before you act."


def _sentences(engine: OwnedEngine, seen: ReadEvidence) -> list[str]:
    """What else an owner has to know to read the list rightly."""
    told = [words_for.ENGINES_LIKE_YOURS]
    if engine.build.cam == "not as built":
        told.append("The cam is not as built, so the level of the vacuum and the evenness of the idle are left out.")
    if engine.build.cam is None and np.isfinite(seen.difference[FEATURES.index("idle_inhg")]):
        told.append("Is the cam as built? A hotter one lowers the vacuum as a fault does: say so in the description.")
    if engine.ignition.curve_by == "light":
        told.append(
            "The curve of your description was taken by light on this engine, so the light at speed says nothing of "
            "weights and springs: only a maker's curve could."
        )
    if "light_idle_on_deg" in left_out(engine) and engine.ignition.hoses != 0:
        told.append("Follow the advance hose: without its source the light at idle with the hose on says nothing.")
    read = engine.readings
    starts = ((read.cold_start, read.cold_start_air_c), (read.second_start, read.second_start_air_c))
    if any(start is not None and air is None for start, air in starts):
        told.append("Note the air temperature of the cold start: only a cold morning tells whether the choke closes.")
    if engine.ignition.hoses == 2:
        told.append("With two hoses at the unit, hose-on readings are counted little: one of the two may retard.")
    told.append(words_for.TWO_FAULTS)
    told.append(words_for.NOT_SEEN)
    return told


def _pairs(shares: dict[str, float], seen: ReadEvidence) -> tuple[Pair, ...]:
    return tuple(
        Pair(
            one,
            other,
            test,
            f"{words_for.title_of(one)}, or {words_for.title_of(other).lower()}: these readings do not tell the two "
            f"apart. {INSPECTIONS[test].title} does.",
        )
        for one, other, test in PAIRS
        if min(shares.get(one, 0.0), shares.get(other, 0.0)) >= PAIR_FROM and test not in (*seen.findings, *seen.read)
    )


def known_causes() -> tuple[str, ...]:
    """Ids of the causes that are compared, in the catalogue's order."""
    return tuple(name for name in FAULTS if name in load_tables().causes)
