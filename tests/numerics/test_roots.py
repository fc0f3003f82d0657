"""The search for roots, where what it would work out first is known already."""

import numpy as np

from engine_sim.physics.roots import find_root


def test_known_ends_are_not_worked_out_again():
    """With the values at both ends given, the root is the same to the last bit and two calls fewer are made."""
    calls = []

    def function(x):
        calls.append(x)
        return np.exp(-x) - 0.3

    low, high = np.array([0.0, 1.0, 2.0]), np.array([2.0, 1.5, 4.0])
    without = find_root(function, low, high)
    made = len(calls)
    known = find_root(function, low, high, at_ends=(np.exp(-low) - 0.3, np.exp(-high) - 0.3))
    assert np.array_equal(known, without) and len(calls) - made == made - 2
