"""The ends of a band from drawn engines, and what is left of it once something was read."""

from __future__ import annotations

import math

import numpy as np

SHARE = 0.90  # of drawn engines inside a band
WITHIN = 1.645  # standard deviations either way that hold as many of a normal distribution
LEAST_DRAWN = 20  # engines, fewer of which do not know an end so far out


def quantiles(values: np.ndarray, share: float = SHARE) -> tuple[float, float]:
    """The ends between which the next value of the same kind lies with that probability: order statistics at (n+1) p.

    Raises ValueError for fewer than 20 values, whose ends are not known so far out.
    """
    ordered = np.sort(values[np.isfinite(values)])
    count = ordered.size
    if count < LEAST_DRAWN:
        raise ValueError(f"A band needs {LEAST_DRAWN} drawn engines or more; {count} were given.")
    places = np.array([(1 - share) / 2, (1 + share) / 2]) * (count + 1) - 1
    low, high = np.interp(places, np.arange(count), ordered)
    return float(low), float(high)


def beside_readings(
    values: np.ndarray, drawn: np.ndarray, read: np.ndarray, noise: np.ndarray
) -> tuple[np.ndarray, float]:
    """What drawn engines say of a quantity once something was read: the linear rule of least squares.

    `values` (n) is the quantity of each drawn engine, `drawn` (n, k) what would be read on it without error, `read` (k)
    what was read, `noise` (k, k) the covariance of reading errors. Returns the quantity's draws beside the readings
    (n), and the standard deviation that the reading errors add.
    """
    off, about = drawn - drawn.mean(axis=0), values - values.mean()
    count, taken = values.size - 1, read.size
    gain = np.linalg.solve(off.T @ off / count + noise, off.T @ about / count)
    left = (about - off @ gain) * math.sqrt(count / (count - taken))
    return values.mean() + gain @ (read - drawn.mean(axis=0)) + left, math.sqrt(gain @ noise @ gain)


def stretched(values: np.ndarray, times: float) -> np.ndarray:
    """The same values with so many times their scatter about their mean."""
    return values.mean() + times * (values - values.mean())


def widened(low: float, high: float, spreads: list[float]) -> tuple[float, float]:
    """The same band where further things are open, each with its standard deviation."""
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    half = math.sqrt(half**2 + sum((WITHIN * spread) ** 2 for spread in spreads))
    return middle - half, middle + half
