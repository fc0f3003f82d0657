"""Where a function crosses zero, for many brackets at once."""

from collections.abc import Callable

import numpy as np

from .arrays import Numbers


def find_root(
    function: Callable[[np.ndarray], np.ndarray],
    low: Numbers,
    high: Numbers,
    iterations: int = 9,
    at_ends: tuple[np.ndarray, np.ndarray] | None = None,
) -> np.ndarray:
    """Root of a monotone `function` inside each bracket; `low` and `high` are of one shape, and so is the answer.

    `at_ends` are the function's values at both ends, where they are known already.

    Regula falsi with the Illinois rule, which halves the weight of an end that stays; where both ends have one
    sign, the end nearer to zero is returned. Nine passes leave less than 1e-8 of the bracket for the nearly straight
    functions it is used on.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    at_low, at_high = at_ends or (function(low), function(high))
    same = at_low * at_high > 0
    nearer = np.where(np.abs(at_low) < np.abs(at_high), low, high)
    side = np.zeros(low.shape)
    for _ in range(iterations):
        slope = at_high - at_low
        level = slope == 0
        middle = np.where(level, 0.5 * (low + high), high - at_high * (high - low) / np.where(level, 1.0, slope))
        middle = np.minimum(np.maximum(middle, np.minimum(low, high)), np.maximum(low, high))
        value = function(middle)
        left = value * at_high > 0  # the root lies between low and middle
        high, at_high = np.where(left, middle, high), np.where(left, value, at_high)
        low, at_low = np.where(left, low, middle), np.where(left, at_low, value)
        at_low = np.where(left & (side > 0), 0.5 * at_low, at_low)
        at_high = np.where(~left & (side < 0), 0.5 * at_high, at_high)
        side = np.where(left, 1.0, -1.0)
    return np.where(same, nearer, np.where(np.abs(at_low) < np.abs(at_high), low, high))
