"""Which inspection to make next: the one that is expected to tell most, and why it divides best."""

from __future__ import annotations

import math
from dataclasses import dataclass

from engine_sim.diagnosis.inspections import INSPECTIONS

from . import words_for
from .causes import NONE_OF_THESE
from .likelihood import ReadEvidence, found_out
from .tables import Tables

OFFERED = 3  # tests, the best first
LEAST_BITS = 0.02  # below which a test counts as telling nothing; calibration
UNKNOWN_OUT = 0.25  # share of findings out of order where none of the causes fits; a guess
SUSPECTED = 3  # causes that a reason names on either side


@dataclass(frozen=True)
class NextTest:
    """One inspection: its title, its minutes, the information it is expected to give [bits], and why."""

    id: str
    title: str
    minutes: int
    takes_apart: bool
    bits: float
    reason: str


def next_tests(
    tables: Tables, seen: ReadEvidence, shares: dict[str, float], most: int = OFFERED
) -> tuple[NextTest, ...]:
    """The inspections that are expected to tell most, the best first; those already made are left out, and those
    for which a reading stands."""
    offered = []
    for name, one in INSPECTIONS.items():
        out = {cause: chance_out(tables, cause, name) for cause in shares}
        told = expected_bits(shares, out)
        if name in seen.findings or name in seen.read or told < LEAST_BITS or not _in_table(tables, name):
            continue
        offered.append(NextTest(name, one.title, one.minutes, one.takes_apart, told, _reason(shares, out)))
    return tuple(sorted(offered, key=lambda test: -test.bits)[:most])


def chance_out(tables: Tables, cause: str, inspection: str) -> float:
    """Share of engines with a cause on which an inspection shows something out of order."""
    return UNKNOWN_OUT if cause == NONE_OF_THESE else found_out(tables.causes[cause], inspection)


def expected_bits(shares: dict[str, float], out: dict[str, float]) -> float:
    """Information that a finding is expected to give on the cause [bits]."""
    whole = sum(share * out[cause] for cause, share in shares.items())
    return _entropy(whole) - sum(share * _entropy(out[cause]) for cause, share in shares.items())


def _entropy(share: float) -> float:
    if not 0.0 < share < 1.0:
        return 0.0
    return -share * math.log2(share) - (1.0 - share) * math.log2(1.0 - share)


def _in_table(tables: Tables, inspection: str) -> bool:
    return any(inspection in cause.out_of_order for cause in tables.causes.values())


def _reason(shares: dict[str, float], out: dict[str, float]) -> str:
    by_share = sorted(shares, key=lambda cause: -shares[cause])
    against = [cause for cause in by_share if out[cause] >= 0.6 and shares[cause] >= 0.02][:SUSPECTED]
    spared = [cause for cause in by_share if out[cause] <= 0.4 and shares[cause] >= 0.02][:SUSPECTED]
    if not against or not spared:
        return "It divides what is left of the list."
    return f"Out of order it speaks for {_listed(against, shares)}; in order, for {_listed(spared, shares)}."


def _listed(causes: list[str], shares: dict[str, float]) -> str:
    return ", ".join(f"{words_for.title_of(cause).lower()} (now {100 * shares[cause]:.0f} %)" for cause in causes)
