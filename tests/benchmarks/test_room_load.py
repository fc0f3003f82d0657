"""Learners at work at once: what a key waits for its needle, and what each takes of processor and memory. It prints;
`python -m tests.benchmarks.room_load [LEARNERS ...]` takes other numbers; tests/hub/load.py goes through a real hub.
"""

from __future__ import annotations

import os

import pytest

from tests.benchmarks.room_load import HEADING, load_of

SIZES = (5, 30)


@pytest.mark.benchmark
def test_learners_at_once():
    """Print a line for a few and for a full room; every turn of the distributor was answered."""
    print(f"\n{HEADING}")
    for learners in SIZES:
        load = load_of(learners)
        assert len(load.waits_s) >= learners
        print(f"{load} load of the machine {os.getloadavg()[0]:.1f}", flush=True)
