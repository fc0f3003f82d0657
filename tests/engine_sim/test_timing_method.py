"""The method, on engines so simple that its answer is known beforehand, and on the truck."""

import math
from dataclasses import dataclass

import pytest

from course import ENGINES
from engine_sim import Conditions, Engine, OutsideValidity, WarmIdle, load_card, peak_and_back_off
from engine_sim.workshop.timing_method import back_off, bring_idle_to, find_peak
from tests.further import behind


@dataclass(frozen=True)
class Parabola:
    """Speed 600 + 100 a turn less (timing - peak)^2 / 4; vacuum in step with it; stalls `stalls_from` off the peak."""

    peak: float = 30.0
    stalls_from: float = 1e9

    def settled(self, timing_deg, idle_setting):
        aside = timing_deg - self.peak
        if abs(aside) > self.stalls_from:
            return math.nan, math.nan
        return 600.0 + 100.0 * idle_setting - aside**2 / 4, 20.0 - 0.5 * idle_setting - aside**2 / 400


@dataclass(frozen=True)
class Line:
    """An engine that only ever gains by advance."""

    def settled(self, timing_deg, idle_setting):
        return 700.0 + timing_deg, 15.0 + 0.01 * timing_deg


@pytest.mark.parametrize("start", [-5.0, 12.0, 30.0, 55.0])
def test_known_peak_and_known_landing(start):
    """On a parabola the method finds its top, the screw for the idle, and the timing at which the speed has dropped."""
    found = peak_and_back_off(Parabola(), start, 4.0, 800.0, 64.0, (0.0, 6.0))
    assert found.peak_timing_deg == pytest.approx(30.0, abs=1e-6)
    assert found.idle_setting == pytest.approx(2.0, abs=1e-6)
    assert found.peak_speed_rpm == pytest.approx(800.0, abs=1e-3) and found.peak_vacuum_inhg == pytest.approx(19.0)
    assert found.timing_deg == pytest.approx(30.0 - 16.0, abs=1e-3)
    assert found.speed_rpm == pytest.approx(736.0, abs=0.01)


def test_a_stall_is_no_peak_and_no_end():
    """Where the engine stalls beside its peak, the method stays where it runs, and counts a stall as no speed."""
    plant = Parabola(stalls_from=20.0)
    assert find_peak(plant, 15.0, 2.0) == pytest.approx(30.0, abs=1e-6)
    assert back_off(plant, 30.0, 2.0, 736.0) == pytest.approx(14.0, abs=0.01)


def test_no_peak_is_said():
    """An engine whose vacuum only rises is said to have no peak."""
    with pytest.raises(OutsideValidity, match="shows no peak"):
        find_peak(Line(), 0.0, 2.0)


def test_idle_out_of_the_screws_reach_is_said():
    """An idle that the screw cannot reach is said, with what it does reach."""
    with pytest.raises(OutsideValidity, match="reaches 600 to 1200 rpm at this timing; 1300 rpm was wanted"):
        bring_idle_to(Parabola(), 30.0, 1300.0, (0.0, 6.0))


def test_speed_that_never_falls_is_said():
    """An engine that does not slow down however late the spark is said to be so."""

    class Steady:
        def settled(self, timing_deg, idle_setting):
            return 800.0, 18.0

    with pytest.raises(OutsideValidity, match="The speed never falls to 725 rpm"):
        back_off(Steady(), 30.0, 2.0, 725.0)


@pytest.fixture(scope="module")
def engine():
    """The delivery truck's engine."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


@pytest.mark.parametrize(("timing", "screw"), behind(2, [(-3.0, 1.9), (20.0, 2.7), (2.0, 2.7), (14.0, 1.9)]))
def test_the_landing_does_not_hang_on_how_the_engine_was_found(engine, timing, screw):
    """From each corner of how an engine may be found the method lands on one timing, within a fifth of a degree."""
    reference = peak_and_back_off(WarmIdle(engine), 8.0, 2.3, 800.0, 75.0, (0.0, 6.0))
    found = peak_and_back_off(WarmIdle(engine), timing, screw, 800.0, 75.0, (0.0, 6.0))
    assert found.timing_deg == pytest.approx(reference.timing_deg, abs=0.2)
    assert found.peak_speed_rpm - found.speed_rpm == pytest.approx(75.0, abs=0.5)


def test_the_method_works_up_a_hill(engine):
    """At 5,000 ft the method still finds a peak and lands late of it, with less vacuum than at the sea."""
    sea = peak_and_back_off(WarmIdle(engine), 8.0, 2.3, 800.0, 75.0, (0.0, 6.0))
    high = peak_and_back_off(WarmIdle(engine, Conditions(5000.0)), 8.0, 3.0, 800.0, 75.0, (0.0, 6.0))
    assert high.timing_deg < high.peak_timing_deg - 10
    assert 2.5 < sea.vacuum_inhg - high.vacuum_inhg < 6.0
