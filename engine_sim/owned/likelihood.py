"""How likely each cause is after readings: numbers and words of each side of a cause, with a fault as strong as the
catalogue has it and with a weaker one.

Numbers have a Student t round a mean that moves with strength and cylinders; to its covariance, shrunk towards the
pooled one, come the errors of the owner's instruments and what the description leaves open. All spreads and shares are
of drawn engines: odds hold for such.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from .causes import HEALTHY, NONE_OF_THESE, WEAKER_OWNERS, WEAKEST
from .tables import (
    CRANKING,
    DWELL,
    FEATURES,
    LIGHT,
    SOURCES,
    SPEEDS,
    USUAL_CYLINDERS,
    VACUUM,
    WANDER,
    WORDS,
    Cause,
    Side,
    Tables,
    said_by,
)

HEALTHY_SHARE = 0.23  # of owners who ask, before anything is read; a guess, and so many of the hidden owners
NONE_SHARE = 0.02  # of owners with a cause outside the catalogue, before anything is read; a guess
STRENGTHS = (  # of a fault, as `causes.strength` draws it: mean, variance, share of owners
    (1.0, 0.0, 1.0 - WEAKER_OWNERS),
    ((1.0 + WEAKEST) / 2.0, (1.0 - WEAKEST) ** 2 / 12.0, WEAKER_OWNERS),
)
NO_FAULT = ((1.0, 0.0, 1.0),)  # the same of a healthy engine
POOLED = 0.5  # share of the pooled covariance; calibration
T_FREEDOM = 8.0  # degrees of freedom of the density; calibration
GAUGE_INHG = 0.4  # one standard deviation of an owner's gauge, common to all its readings; a guess
GAUGE_CHECKED_INHG = 0.15  # one standard deviation of a gauge whose error was found; a guess
EYE_INHG = 0.25  # one standard deviation of each reading of a gauge; a guess
TACHOMETER_RPM = 22.0  # one standard deviation of a tachometer, common to all its readings; a guess
EYE_RPM = 8.0  # one standard deviation of each reading of a tachometer; a guess
TURNED_OPEN = (  # one standard deviation of a body turned by a mark: a crank degree, in its readings; a guess
    {"turned_early_inhg": 0.1, "turned_early_rpm": 7.0},
    {"turned_late_inhg": 0.1, "turned_late_rpm": 8.0},
)
LIGHT_COMMON_DEG = 1.0  # one standard deviation of the mark and the light, common to all light readings; a guess
LIGHT_DEG = 0.8  # one standard deviation of each light reading; a guess
CRANKING_RPM = 12.0  # one standard deviation of the starter's speed by the tachometer; a guess
WANDER_DEG = 1.0  # one standard deviation of how far a mark is seen to wander; a guess
DWELL_DEG = 2.0  # one standard deviation of a dwell meter, and of how points are set where they are right; a guess
MISHEARD = 0.10  # share of words that are another; a guess
READ_AT_ONCE = ("needle", "cut_out", "mark")  # words that are readings of an instrument
WORDS_WEIGHT = 0.8  # of any other word, since words of one engine are not independent; calibration on hidden owners
READ_WEIGHT = 0.86  # of all readings, since the tables know less than they say; calibration on hidden owners
WRONG_FINDING = 0.08  # share of findings that are wrong; a guess
NAMED_FROM = 0.60  # share from which a cause, or healthy, is named; calibration on hidden owners, at least 0.5
HEALTHY_FROM = 0.24  # share of healthy from which an engine passes for healthy; calibration on hidden owners
NEVER_RAN = -6.0  # log density of numbers, below everybody's, for a cause with which no drawn engine ran; calibration
WIDER = 2.0  # covariance of causes outside the catalogue over that of all owners; calibration


@dataclass(frozen=True)
class ReadEvidence:
    """What is known of one engine: differences in the order of FEATURES (NaN: not read), further variances that the
    description leaves open, words by the fields of WORDS, findings by inspection (whether in order), and the causes
    that it cannot have, whether the gauge was checked, the cylinders, what the advance hose is fed from, and the
    inspections for which a reading stands."""

    difference: np.ndarray
    further: np.ndarray
    words: dict[str, str] = field(default_factory=dict)
    findings: dict[str, bool] = field(default_factory=dict)
    excluded: Collection[str] = ()
    gauge_checked: bool = False
    cylinders: int = USUAL_CYLINDERS
    source: str | None = None
    read: Collection[str] = ()


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
        strengths = NO_FAULT if name == HEALTHY else STRENGTHS
        read = _read(tables, cause, strengths, seen, noise, background)
        logs[name] = math.log(prior) + read + _findings(cause, seen.findings)
    read = background + _any_words(tables, seen.words)
    logs[NONE_OF_THESE] = math.log(NONE_SHARE) + READ_WEIGHT * read + _any_findings(tables, seen.findings)
    highest = max(logs.values())
    weights = {name: math.exp(value - highest) for name, value in logs.items()}
    total = sum(weights.values())
    return {name: weight / total for name, weight in weights.items()}


def passes_for_healthy(shares: dict[str, float]) -> bool:
    """Whether readings still fit a healthy engine: no cause can be named, and the share of healthy is not small. Single
    causes may each have less, being many, and still be healthy's match together."""
    of_causes = max(share for name, share in shares.items() if name != HEALTHY)
    return of_causes < NAMED_FROM and shares[HEALTHY] >= HEALTHY_FROM


def instrument_covariance(seen: ReadEvidence) -> np.ndarray:
    """Of the errors of gauge, tachometer and light: one that all readings of an instrument share, and the eye's; and of
    the body, turned a little too far or not far enough."""
    gauge = GAUGE_CHECKED_INHG if seen.gauge_checked else GAUGE_INHG
    covariance = np.zeros((len(FEATURES), len(FEATURES)))
    for names, shared, single in (
        (VACUUM, gauge, EYE_INHG),
        (SPEEDS, TACHOMETER_RPM, EYE_RPM),
        (LIGHT, LIGHT_COMMON_DEG, LIGHT_DEG),
        (CRANKING, 0.0, CRANKING_RPM),
        (WANDER, 0.0, WANDER_DEG),
        (DWELL, 0.0, DWELL_DEG),
    ):
        read = np.array([name in names for name in FEATURES], float)
        covariance += shared**2 * np.outer(read, read) + single**2 * np.diag(read)
    for turned in TURNED_OPEN:
        loading = np.array([turned.get(name, 0.0) for name in FEATURES])
        covariance += np.outer(loading, loading)
    return covariance


def _read(
    tables: Tables,
    cause: Cause,
    strengths: tuple[tuple[float, float, float], ...],
    seen: ReadEvidence,
    noise: np.ndarray,
    background: float,
) -> float:
    """Weighted log density of numbers and words: over the sides of a cause, and over how strong it may be."""
    sides = sides_of(cause, seen)
    owners = sum(side.owners for side in sides)
    never = background + NEVER_RAN * bool(np.isfinite(seen.difference).any())
    logs = []
    for strength, variance, share in strengths:
        said = cause.words_by[said_by(strength == 1.0, seen.cylinders)]
        words = sum(weight_of(name) * math.log(heard(said[name][word], name)) for name, word in seen.words.items())
        for side in sides:
            numbers = never
            if side.by_strength is not None:
                spread = shrunk(tables, side) + variance * np.outer(side.by_strength, side.by_strength) + noise
                numbers = student_t(seen.difference, side.mean_of(strength, seen.cylinders), spread)
            logs.append(math.log(share * side.owners / owners) + READ_WEIGHT * (numbers + words))
    return float(np.logaddexp.reduce(logs))


def weight_of(name: str) -> float:
    """Weight of a word in the sum of logarithms."""
    return 1.0 if name in READ_AT_ONCE else WORDS_WEIGHT


def sides_of(cause: Cause, seen: ReadEvidence) -> list[Side]:
    """The sides that a cause can have: not that of a hose fed from elsewhere than the description says."""
    not_here = set(SOURCES) - {seen.source} if seen.source else set()
    return [side for side in cause.sides if side.name not in not_here]


def shrunk(tables: Tables, side: Side) -> np.ndarray:
    """Covariance of a side, a part of it being the pooled one."""
    assert side.covariance is not None
    return (1.0 - POOLED) * side.covariance + POOLED * tables.pooled


def _whole(tables: Tables, difference: np.ndarray, noise: np.ndarray) -> float:
    side: Side = tables.whole
    assert side.mean is not None and side.covariance is not None
    return student_t(difference, side.mean, WIDER * side.covariance + noise)


def student_t(difference: np.ndarray, mean: np.ndarray, covariance: np.ndarray) -> float:
    """Log density of the readings there are under a multivariate t."""
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


def heard(share: float, name: str) -> float:
    """Share of owners who say a word of a field, of whom some mean another."""
    return (1.0 - MISHEARD) * share + MISHEARD / len(WORDS[name])


def _any_words(tables: Tables, words: dict[str, str]) -> float:
    total = 0.0
    for name, word in words.items():
        mean = sum(cause.words[name][word] for cause in tables.causes.values()) / len(tables.causes)
        total += weight_of(name) * math.log(heard(0.5 * (mean + 1.0 / len(WORDS[name])), name))
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
