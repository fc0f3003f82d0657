"""Small parts: controls, units, roots, instruments, and the public door."""

import functools
import math

import numpy as np
import pytest

import engine_sim
from course import ENGINES
from engine_sim import CONTROLS, SEA_LEVEL_DAY, ControlError, Engine, load_card
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics, Motion
from engine_sim.physics import units
from engine_sim.physics.roots import find_root
from engine_sim.workshop.controls import control_named
from engine_sim.workshop.instruments import Instruments, idle_words, ping_words
from tests.every_case import check_every

# ---- controls ------------------------------------------------------------------------------------------------------


def test_control_takes_what_it_says():
    """Every control takes each of its choices, or both ends of its range; a press takes nothing."""

    def check(control):
        for choice in control.choices:
            assert control.checked(choice) == choice
        if control.kind == "number":
            assert control.checked(control.low) == control.low and control.checked(control.high, control.unit)
        if control.kind == "press":
            assert control.checked(None) is None

    check_every(check, CONTROLS.items())


@pytest.mark.parametrize(
    ("name", "value", "unit", "sentence"),
    [
        ("brake", "loose", None, "Parking brake can be off, on; 'loose' was asked for."),
        ("clamp", None, None, "Distributor clamp can be tight, snug, loose; 'None' was asked for."),
        ("clamp", ["tight"], None, "Distributor clamp can be tight, snug, loose;"),
        ("idle_screw", "two", None, "Idle speed screw takes a number of turns in; 'two' was given."),
        ("idle_screw", True, None, "takes a number of turns in; 'True' was given"),
        ("idle_screw", math.nan, None, "takes a number of turns in; 'nan' was given"),
        ("idle_screw", 2.0, "mm", "is set in turns in; a value in 'mm' was given"),
        ("idle_screw", 6.01, "turns in", "goes from 0 to 6 turns in; 6.01 was asked for"),
        ("distributor", -26, None, "goes from -25 to 25 distributor degrees clockwise; -26 was asked for"),
    ],
)
def test_control_refuses(name, value, unit, sentence):
    """What a control cannot take is refused with what it can."""
    with pytest.raises(ControlError) as caught:
        control_named(name).checked(value, unit)
    assert sentence in str(caught.value)


def test_unknown_control():
    """A control that does not exist is told which do."""
    with pytest.raises(ControlError, match="There is no control 'choke'; there are brake, chocks"):
        control_named("choke")


# ---- units and roots -----------------------------------------------------------------------------------------------


def test_units_go_there_and_back():
    """Conversions are their own inverse, and the known pairs are met."""
    assert units.inhg_from_pa(units.pa_from_inhg(18.5)) == pytest.approx(18.5, rel=1e-15)
    assert units.rad_s_from_rpm(60.0) == pytest.approx(2 * math.pi) and units.kelvin_from_celsius(-273.15) == 0.0
    assert units.metres_from_feet(1000.0) == pytest.approx(304.8)


@pytest.mark.parametrize(
    "function",
    [
        lambda x: x**3 - 2.0,
        lambda x: np.exp(-x) - 0.5,
        lambda x: x - 1.0,
        lambda x: np.sqrt(x) - 1.1,
        lambda x: 0.5 - x**9,
    ],
)
def test_roots_are_found_for_many_brackets_at_once(function):
    """Convex, concave, straight and steep: the root is met to 1e-6 of the bracket from different brackets at once."""
    low, high = np.array([0.0, 0.2, 0.5]), np.array([2.0, 3.0, 1.5])
    found = find_root(function, low, high, iterations=30)
    assert np.ptp(found) < 3e-6 and function(found) == pytest.approx(np.zeros(3), abs=1e-5)


def test_without_a_root_the_nearer_end_is_returned():
    """Where both ends have one sign, the end nearer to zero is the answer."""
    assert find_root(lambda x: x + 1.0, np.array([0.0]), np.array([5.0]))[0] == 0.0


# ---- instruments ---------------------------------------------------------------------------------------------------


@functools.cache
def truck() -> Dynamics:
    """The delivery truck's engine, sound."""
    return Dynamics(Engine(load_card(ENGINES / "delivery_truck_six.toml")), SEA_LEVEL_DAY)


def shown(seed: int, misfire: float = 0.0, ticks: int = 3000):
    """What gauge and tachometer show over a minute of a steady engine at 800 rpm and 18 inHg."""
    motion = Motion(units.rad_s_from_rpm(800.0), 101_325.0 - units.pa_from_inhg(18.0), 85.0, misfire=misfire)
    motion.indicated_nm, motion.drawn_kg_s, motion.burning, motion.total_advance_deg = 60.0, 5e-3, 1.0, 12.0
    motion.octane_margin = 40.0
    instruments, seen = Instruments(truck(), seed), []
    for tick in range(ticks):
        instruments.follow(motion, ControlInputs(12.0, 2.3), 1.0, tick)
        seen.append((instruments.vacuum_shown_inhg(motion), instruments.speed_shown_rpm(motion)))
    return np.array(seen).T


def test_needles_settle_on_the_truth():
    """After the lag both needles swing about the truth, by less than a tenth of an inch and a few revolutions."""
    vacuum, speed = shown(3)[:, 200:]
    assert vacuum.mean() == pytest.approx(18.0, abs=0.05) and 0.02 < vacuum.std() < 0.15
    assert speed.mean() == pytest.approx(800.0, abs=4.0) and set(speed % 5.0) == {0.0}


def test_needles_lag():
    """A fiftieth of a second after a jump the needle is still on its way; a second and a half later it has arrived."""
    vacuum, _ = shown(3)
    assert vacuum[round(0.02 / TICK_S)] < 17.0 < 17.5 < vacuum[round(1.6 / TICK_S)]


def test_wobble_is_seeded_and_grows_as_the_charge_goes_out():
    """One seed gives one wobble, another seed another; misfire makes the needle swing much wider."""
    assert np.array_equal(shown(3), shown(3)) and not np.array_equal(shown(3), shown(4))
    assert shown(3, misfire=0.5)[0, 200:].std() > 2 * shown(3)[0, 200:].std()


@pytest.mark.parametrize(
    ("rate", "words"), [(0.0, "no ping"), (0.1, "a trace of ping"), (0.3, "clear ping"), (0.9, "heavy ping")]
)
def test_ping_has_words(rate, words):
    """What the ear hears is said in words."""
    assert ping_words(rate) == words


def test_idle_has_words():
    """Silent, cranking, close to stalling, uneven and even are told apart in words."""
    running = Motion(units.rad_s_from_rpm(800.0), 4e4, 85.0)
    assert idle_words(Motion(0.0, 1e5, 20.0), False) == "silent" and idle_words(running, True) == "cranks evenly"
    assert idle_words(running, False) == "runs evenly"
    assert idle_words(running, False, 0.12) == "runs unevenly" and idle_words(running, False, 0.5) == "stumbles"
    running.start.labour = 0.8
    assert "labours" in idle_words(running, True)
    running.start.kicks = 1
    assert "kicks back" in idle_words(running, True)
    running.speed_rad_s = units.rad_s_from_rpm(400.0)
    assert "stalling" in idle_words(running, False)
    assert idle_words(running, False, lit=False) == "runs down"
    running.burning = 0.3
    assert "runs on" in idle_words(running, False, lit=False)


# ---- the public door -----------------------------------------------------------------------------------------------


def test_every_public_name_is_there():
    """Every name that the package offers can be had, and one that it does not offer is told what there is."""
    for name in engine_sim.__all__:
        assert getattr(engine_sim, name) is not None
    with pytest.raises(AttributeError, match="engine_sim has no 'Turbine'; it offers Act"):
        _ = engine_sim.Turbine
