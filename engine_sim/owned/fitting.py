"""Makes tables.json from drawn owners: `python -m engine_sim.owned.fitting FOLDER`, after `... .drawing FOLDER`."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from .causes import CAUSES, HEALTHY
from .drawing import KINDS
from .tables import FEATURES, TABLES, WORDS, differences, said_by, terms

LEAST_OWNERS = 8  # of one side that ran, from whom a covariance is taken
PRIOR_OWNERS = 3.0  # whose words are those of all owners together, added to each cause's own; calibration
PRIOR_OF_CAUSE = 6.0  # owners whose words are those of the whole cause, added to those of a part of it; calibration
SHRUNK_BY = 3.0  # owners on whom strength and cylinders make no difference, added to each side's own; calibration
ASSUMED_OWNERS = 1.0  # whose findings are assumed, added to each cause's own; calibration
ASSUMED_OUT = 0.1  # share of the assumed findings that are out of order; a guess
Shares = dict[str, dict[str, float]]


def fitted(owners: list[dict], inspections: list[dict]) -> dict:
    """The tables in their plain form, from the lines of both files."""
    rows = {id(one): differences(one["numbers"], one["nominal"], one["altitude_ft"]) for one in owners}
    complete = {key: row for key, row in rows.items() if np.isfinite(row).all()}
    everybody = _everybody(owners)
    causes, pooled = {}, []
    for cause in (HEALTHY, *CAUSES):
        own = [one for one in owners if one["cause"] == cause]
        sides = []
        for side in sorted({one["side"] for one in own}):
            of_side = [one for one in own if one["side"] == side]
            ran = [one for one in of_side if id(one) in complete]
            whose = {"name": side, "owners": len(of_side)}
            if len(ran) < LEAST_OWNERS:
                sides.append(whose | {"mean": None})
                continue
            of_terms = np.array([terms(_strength(one), _cylinders(one)) for one in ran])
            means, covariance = _means(of_terms, np.array([complete[id(one)] for one in ran]))
            sides.append(whose | _plain(means, covariance))
            pooled.append(covariance)
        looked = [one["in_order"] for one in inspections if one["cause"] == cause]
        words = _words(own, everybody, PRIOR_OWNERS)
        by = _words_by(own, words)
        causes[cause] = {"sides": sides, "words": _short(words), "words_by": by, "out_of_order": _out(looked)}
    every = np.array(list(complete.values()))
    whole = _plain(np.vstack([every.mean(axis=0), np.zeros((2, len(FEATURES)))]), np.cov(every.T))
    return {
        "owners": len(owners),
        "engines": len({(one["kind"], one["engine"]) for one in owners}),
        "causes": causes,
        "pooled": _triangle(np.mean(pooled, axis=0)),
        "whole": {"name": "", "owners": len(owners)} | whole,
    }


def _strength(owner: dict) -> float:
    return owner["share"] if owner["cause"] else 1.0


def _cylinders(owner: dict) -> int:
    return KINDS[owner["kind"]]["cylinders"]


def _means(of_terms: np.ndarray, read: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What each term adds to the readings (`tables.terms`), a row a term, by least squares, and the covariance of what
    is left over."""
    shrunk = np.diag([0.0, SHRUNK_BY, SHRUNK_BY])
    means = np.linalg.solve(of_terms.T @ of_terms + shrunk, of_terms.T @ read)
    left = read - of_terms @ means
    return means, left.T @ left / max(len(read) - len(means), 1)


def _plain(means: np.ndarray, covariance: np.ndarray) -> dict:
    names = ("mean", "by_strength", "by_cylinders")
    return {name: _rounded(row) for name, row in zip(names, means, strict=True)} | {"covariance": _triangle(covariance)}


def _counted(owners: list[dict], name: str) -> Counter:
    return Counter(one["words"][name] for one in owners if name in one["words"])


def _everybody(owners: list[dict]) -> Shares:
    """Shares of all owners, each word said once more than it was."""
    shares = {}
    for name, words in WORDS.items():
        said = _counted(owners, name)
        shares[name] = {word: (said[word] + 1.0) / (said.total() + len(words)) for word in words}
    return shares


def _words(owners: list[dict], usual: Shares, prior_owners: float) -> Shares:
    """Shares of these owners and of so many more, whose shares are the usual ones."""
    shares = {}
    for name, words in WORDS.items():
        said = _counted(owners, name)
        count = said.total() + prior_owners
        shares[name] = {word: (said[word] + prior_owners * usual[name][word]) / count for word in words}
    return shares


def _words_by(owners: list[dict], usual: Shares) -> dict[str, Shares]:
    """Shares by the strength of the fault, and of these by the number of cylinders."""
    by = {}
    for strong in (True, False):
        as_strong = [one for one in owners if (_strength(one) == 1.0) == strong]
        of_strength = _words(as_strong, usual, PRIOR_OF_CAUSE)
        for cylinders in (4, 6):
            part = [one for one in as_strong if (_cylinders(one) <= 4) == (cylinders <= 4)]
            by[said_by(strong, cylinders)] = _short(_words(part, of_strength, PRIOR_OF_CAUSE))
    return by


def _short(shares: Shares) -> Shares:
    return {name: {word: float(f"{value:.3g}") for word, value in one.items()} for name, one in shares.items()}


def _out(looked: list[dict[str, bool]]) -> dict[str, float]:
    names = looked[0] if looked else {}
    added = ASSUMED_OUT * ASSUMED_OWNERS
    out = {name: sum(not one[name] for one in looked) for name in names}
    return {name: round((count + added) / (len(looked) + ASSUMED_OWNERS), 3) for name, count in out.items()}


def _rounded(values: Iterable[float]) -> list[float]:
    return [float(f"{value:.3g}") for value in values]


def _triangle(covariance: np.ndarray) -> list[float]:
    return _rounded(covariance[np.tril_indices(len(FEATURES))])


def lines_in(path: Path) -> list[dict]:
    """The lines of a file of owners or inspections."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def main() -> int:
    """Write the tables."""
    if len(sys.argv) != 2:
        print("Give the folder of the draws: python -m engine_sim.owned.fitting FOLDER")
        return 2
    folder = Path(sys.argv[1])
    content = fitted(lines_in(folder / "owners.jsonl"), lines_in(folder / "inspections.jsonl"))
    TABLES.write_text(json.dumps(content, separators=(",", ":")) + "\n", encoding="utf-8")
    print(f"{TABLES.name}: {content['owners']} owners of {content['engines']} engines, {TABLES.stat().st_size} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
