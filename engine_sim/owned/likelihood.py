"""How likely each cause is after readings: one Gaussian a side of a cause, scored as Student t, and tables of words.

The covariance of a side is its own by four fifths and the pooled one by a fifth; to it come the errors of the owner's
instruments and what the description leaves open. All spreads and shares are of drawn engines: odds hold for such.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from .causes import HEALTHY, NONE_OF_THESE
from .tables import FEATURES, WORDS, Cause, Side, Tables

HEALTHY_SHARE = 0.26  # of owners who ask, before anything is read
NONE_SHARE = 0.03  # a guess
POOLED = 0.2  # share of the pooled covariance
T_FREEDOM = 6.0
GAUGE_INHG = 0.4  # one standard deviation of an owner's gauge; a guess
GAUGE_CHECKED_INHG = 0.15  # likewise
EYE_INHG = 0.25  # likewise
TACHOMETER_RPM = 22.0  # of the tachometer
EYE_RPM = 8.0  # a guess
LIGHT_COMMON_DEG = 1.0  # of the mark and the eye: common to all light readings, and each by itself
LIGHT_DEG = 0.8  # likewise
MISHEARD = 0.10  # share of words that are another; a guess
WORDS_WEIGHT = 0.9  # of a word, since words of one engine are not independent; calibration on hidden owners
READ_WEIGHT = 0.85  # of all readings, since the tables know less than they say; calibration on hidden owners
WRONG_FINDING = 0.08  # share of findings that are wrong; a guess
NEVER_RAN = -6.0  # log density of numbers, below everybody's, for a cause with which no drawn engine ran; calibration
WIDER = 2.0  # covariance of causes outside the catalogue over that of all owners; calibration


@dataclass(frozen=True)
class ReadEvidence:
    """What is known of one engine: differences in the order of FEATURES (NaN: not read), further variances that the
    description leaves open, words by the fields of WORDS, findings by inspection (whether in order), and the causes
    that it cannot have."""

    difference: np.ndarray
    further: np.ndarray
    words: dict[str, str] = field(default_factory=dict)
    findings: dict[str, bool] = field(default_factory=dict)
    excluded: Collection[str] = ()
    gauge_checked: bool = False


def odds(tables: Tables, seen: ReadEvidence) -> dict[str, float]:
    """Share of each cause, healthy ("") and "none of these" after all that is known; they add up to 1."""
    names = [name for name in tables.causes if name == HEALTHY or name not in seen.excluded]
    each = (1.0 - HEALTHY_SHARE - NONE_SHARE) / max(len(names) - 1, 1)
    logs = {}
    noise = instrument_covariance(seen) + seen.further
    background = _whole(tables, seen.difference, noise)
    for name in names:
        cause = tables.causes[name]
        prior = HEALTHY_SHARE if name == HEALTHY else each
        read = _numbers(tables, cause, seen.difference, noise, background) + WORDS_WEIGHT * _words(cause, seen.words)
        logs[name] = math.log(prior) + READ_WEIGHT * read + _findings(cause, seen.findings)
    read = background + WORDS_WEIGHT * _any_words(tables, seen.words)
    logs[NONE_OF_THESE] = math.log(NONE_SHARE) + READ_WEIGHT * read + _any_findings(tables, seen.findings)
    highest = max(logs.values())
    weights = {name: math.exp(value - highest) for name, value in logs.items()}
    total = sum(weights.values())
    return {name: weight / total for name, weight in weights.items()}


def instrument_covariance(seen: ReadEvidence) -> np.ndarray:
    """Of the errors of gauge, tachometer and light: one that all readings of an instrument share, and the eye's."""
    gauge = GAUGE_CHECKED_INHG if seen.gauge_checked else GAUGE_INHG
    covariance = np.zeros((len(FEATURES), len(FEATURES)))
    for unit, shared, single in (
        ("inhg", gauge, EYE_INHG),
        ("rpm", TACHOMETER_RPM, EYE_RPM),
        ("deg", LIGHT_COMMON_DEG, LIGHT_DEG),
    ):
        of_unit = np.array([name.endswith(unit) for name in FEATURES], float)
        covariance += shared**2 * np.outer(of_unit, of_unit) + single**2 * np.diag(of_unit)
    return covariance


def _numbers(tables: Tables, cause: Cause, difference: np.ndarray, noise: np.ndarray, background: float) -> float:
    scores = [
        background + NEVER_RAN * bool(np.isfinite(difference).any())
        if side.mean is None or side.covariance is None
        else student_t(difference, side.mean, (1.0 - POOLED) * side.covariance + POOLED * tables.pooled + noise)
        for side in cause.sides
    ]
    shares = np.array([side.owners for side in cause.sides], float)
    return float(np.logaddexp.reduce(np.array(scores) + np.log(shares / shares.sum())))


def _whole(tables: Tables, difference: np.ndarray, noise: np.ndarray) -> float:
    side: Side = tables.whole
    assert side.mean is not None and side.covariance is not None
    return student_t(difference, side.mean, WIDER * side.covariance + noise)


def student_t(difference: np.ndarray, mean: np.ndarray, covariance: np.ndarray) -> float:
    """Log density of the readings there are under a multivariate t with six degrees of freedom."""
    read = np.isfinite(difference)
    count = int(read.sum())
    if not count:
        return 0.0
    off = (difference - mean)[read]
    lower = np.linalg.cholesky(covariance[np.ix_(read, read)])
    square = float(np.square(np.linalg.solve(lower, off)).sum())
    nu = T_FREEDOM
    constant = math.lgamma((nu + count) / 2.0) - math.lgamma(nu / 2.0) - 0.5 * count * math.log(nu * math.pi)
    return constant - float(np.log(np.diag(lower)).sum()) - (nu + count) / 2.0 * math.log1p(square / nu)


def _words(cause: Cause, words: dict[str, str]) -> float:
    return sum(math.log(heard(cause.words[name][word], len(WORDS[name]))) for name, word in words.items())


def heard(share: float, words: int) -> float:
    """Share of owners who say a word, of whom some mean another."""
    return (1.0 - MISHEARD) * share + MISHEARD / words


def _any_words(tables: Tables, words: dict[str, str]) -> float:
    total = 0.0
    for name, word in words.items():
        mean = sum(cause.words[name][word] for cause in tables.causes.values()) / len(tables.causes)
        total += math.log(heard(0.5 * (mean + 1.0 / len(WORDS[name])), len(WORDS[name])))
    return total


def _findings(cause: Cause, findings: dict[str, bool]) -> float:
    return sum(
        math.log(1.0 - out if in_order else out)
        for name, in_order in findings.items()
        for out in [found_out(cause, name)]
    )


def found_out(cause: Cause, inspection: str) -> float:
    """Share of owners with a cause to whom an inspection shows something out of order, some findings being wrong."""
    return WRONG_FINDING + (1.0 - 2.0 * WRONG_FINDING) * cause.out_of_order.get(inspection, 0.1)


def _any_findings(tables: Tables, findings: dict[str, bool]) -> float:
    total = 0.0
    for name, in_order in findings.items():
        shares = [found_out(cause, name) for cause in tables.causes.values()]
        out = 0.5 * (sum(shares) / len(shares) + 0.25)
        total += math.log(1.0 - out if in_order else out)
    return total
