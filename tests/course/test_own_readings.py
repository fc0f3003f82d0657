"""The plot of a learner's own readings: what the record of a real engine holds, and nothing else."""

from __future__ import annotations

import re

import pytest

from course import ENGINES
from course.widgets.bench.bench import Bench
from engine_sim import AsFound, Engine, Session, load_card


@pytest.fixture(scope="module")
def bench():
    """A warm engine with its gauges on, read at three places of the body and once at another idle screw."""
    found = AsFound(base_timing_deg=8.0, coolant_c=88.0, prepared=True)
    bench = Bench(Session(Engine(load_card(ENGINES / "farm_runabout_four.toml")), found=found))
    bench.act("vacuum_hose", "off and plugged")
    bench.act("read_gauges")  # the engine stands
    bench.act("starter")
    bench.step(5.0)
    bench.act("clamp", "loose")
    bench.act("read_gauges")
    for _ in range(2):
        bench.act("distributor", by=-2.0)
        bench.act("wait")
        bench.act("read_gauges")
    bench.act("throttle", 0.3)
    bench.act("read_gauges")
    bench.act("throttle", 0.0)
    bench.act("wait")
    return bench


def test_each_reading_at_idle_is_there_with_the_turn_at_which_it_was_taken(bench):
    """Readings of a standing engine and at an open throttle are left out; the numbers are those of the record."""
    assert [reading[0] for reading in bench.own_readings] == [0.0, -2.0, -4.0]
    told = [re.match(r"Read: ([\d.]+) inHg.*?; (\d+) rpm", text) for _, text in bench.record]
    numbers = [(float(found[1]), float(found[2])) for found in told if found]
    assert [tuple(reading[1:3]) for reading in bench.own_readings] == numbers[1:4]
    assert not any(reading[3] for reading in bench.own_readings)


def test_readings_at_another_idle_are_marked(bench):
    """With the idle screw turned, the readings before belong to another curve; a new try has none."""
    bench.act("idle_screw", by=0.25)
    bench.act("read_gauges")
    assert [reading[3] for reading in bench.own_readings] == [True, True, True, False]
    bench.act("begin")
    assert bench.own_readings == []


def test_a_gauge_that_is_not_connected_gives_no_dot(bench):
    """What was not read is not there."""
    bench.act("gauge_hose", "ported")
    bench.act("starter")
    bench.step(5.0)
    bench.act("read_gauges")
    ((turn, vacuum, speed, _otherwise),) = bench.own_readings
    assert (turn, vacuum) == (0.0, None) and speed > 300.0
