"""Makes tables.json from drawn owners: `python -m engine_sim.owned.fitting FOLDER`, after `... .drawing FOLDER`."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from .causes import CAUSES, HEALTHY
from .tables import FEATURES, TABLES, WORDS, differences

LEAST_OWNERS = 8  # of one side that ran, from whom a covariance is taken
PRIOR_OWNERS = 3.0  # whose words are those of all owners together, added to each cause's own
ASSUMED_OUT = 0.1  # share of findings out of order, of so many owners added to each cause's own
ASSUMED_OWNERS = 1.0  # likewise


def fitted(owners: list[dict], inspections: list[dict]) -> dict:
    """The tables in their plain form, from the lines of both files."""
    rows = {id(one): differences(one["numbers"], one["nominal"], one["altitude_ft"]) for one in owners}
    complete = {key: row for key, row in rows.items() if np.isfinite(row).all()}
    everybody = _words(owners, None)
    causes, pooled = {}, []
    for cause in (HEALTHY, *CAUSES):
        own = [one for one in owners if one["cause"] == cause]
        sides = []
        for side in sorted({one["side"] for one in own}):
            of_side = [one for one in own if one["side"] == side]
            ran = np.array([complete[id(one)] for one in of_side if id(one) in complete])
            enough = len(ran) >= LEAST_OWNERS
            sides.append(_plain_side(len(of_side), ran if enough else None))
            if enough:
                pooled.append(np.cov(ran.T))
        looked = [one["in_order"] for one in inspections if one["cause"] == cause]
        causes[cause] = {"sides": sides, "words": _words(own, everybody), "out_of_order": _out(looked)}
    return {
        "owners": len(owners),
        "engines": len({(one["kind"], one["engine"]) for one in owners}),
        "causes": causes,
        "pooled": _triangle(np.mean(pooled, axis=0)),
        "whole": _plain_side(len(owners), np.array(list(complete.values()))),
    }


def _plain_side(count: int, ran: np.ndarray | None) -> dict:
    if ran is None:
        return {"owners": count, "mean": None, "covariance": None}
    return {"owners": count, "mean": _rounded(ran.mean(axis=0)), "covariance": _triangle(np.cov(ran.T))}


def _words(owners: list[dict], everybody: dict[str, dict[str, float]] | None) -> dict[str, dict[str, float]]:
    shares = {}
    for name, words in WORDS.items():
        said = Counter(one["words"][name] for one in owners if name in one["words"])
        count = sum(said.values())
        if everybody is None:
            shares[name] = {word: (said[word] + 1.0) / (count + len(words)) for word in words}
        else:
            own = {word: said[word] + PRIOR_OWNERS * everybody[name][word] for word in words}
            shares[name] = {word: float(f"{value / (count + PRIOR_OWNERS):.3g}") for word, value in own.items()}
    return shares


def _out(looked: list[dict[str, bool]]) -> dict[str, float]:
    names = looked[0] if looked else {}
    added = ASSUMED_OUT * ASSUMED_OWNERS
    out = {name: sum(not one[name] for one in looked) for name in names}
    return {name: round((count + added) / (len(looked) + ASSUMED_OWNERS), 2) for name, count in out.items()}


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
