"""Single cylinders around the mean: deviations add up to nothing, are seeded, and ping as often as the mean says."""

import numpy as np
import pytest

from course import ENGINES
from engine_sim import SEA_LEVEL_DAY, SOUND, CylinderWear, Engine, load_card
from engine_sim.model.cylinder_ripple import Ripple
from engine_sim.model.dynamics import ControlInputs, Dynamics, Motion
from engine_sim.physics.units import rad_s_from_rpm

WORN = {
    "sound": SOUND,
    "dead plug": SOUND.with_cylinders(CylinderWear(fires_share=0.0), 2),
    "burnt valve": SOUND.with_cylinders(CylinderWear(leak_share=0.6, leaks_to="exhaust"), 4),
    "sticking valve": SOUND.with_cylinders(CylinderWear(hangs_share=0.2, leaks_to="intake"), 0),
}


def idling(wear=SOUND, seconds=20.0, seed=3, margin=40.0):
    """A ripple over a steady idle: pressure and speed deviation of every tick, all beats and all pings."""
    dynamics = Dynamics(Engine(load_card(ENGINES / "delivery_truck_six.toml"), wear), SEA_LEVEL_DAY)
    motion = Motion(rad_s_from_rpm(760.0), 38e3, 85.0, total_advance_deg=8.0, octane_margin=margin, burning=1.0)
    motion.indicated_nm, motion.drawn_kg_s = 62.0, 5.2e-3
    ripple, inputs, seen, pings, beats = Ripple(dynamics, seed), ControlInputs(8.0, 2.4), [], [], []
    for _ in range(round(seconds / 0.02)):
        ripple.follow(motion, inputs)
        seen.append((ripple.pressure_pa, ripple.speed_rad_s))
        pings += ripple.take_pings()
        beats.append(tuple(ripple.beats))
    return np.array(seen).T, pings, beats


@pytest.mark.parametrize("wear", WORN.values(), ids=WORN)
def test_deviations_add_up_to_nothing(wear):
    """Over twenty seconds pressure and speed deviate by less than a fiftieth of the mean on the average."""
    pressure, speed = idling(wear)[0][:, 100:]
    assert abs(pressure.mean()) < 0.02 * 38e3 and abs(speed.mean()) < 0.02 * 79.6


def test_a_sound_engine_hardly_ripples_and_a_worn_one_does():
    """Pressure ripples by less than 0.4 percent of itself on a sound engine, and five times as much with a burnt
    valve."""
    sound, worn = (idling(WORN[name])[0][0][100:].std() for name in ("sound", "burnt valve"))
    assert sound < 0.004 * 38e3 and worn > 5.0 * sound


def test_one_seed_one_ripple():
    """The same seed gives the same ripple to the last bit, another seed another."""
    first, again, other = (idling(WORN["sticking valve"], 2.0, seed)[0] for seed in (3, 3, 4))
    assert np.array_equal(first, again) and not np.array_equal(first, other)


def test_the_dead_cylinder_is_the_one_that_is_dead():
    """Once round, the beats of the dead cylinder are silent and all others strong."""
    beats = idling(WORN["dead plug"], 3.0)[2][-1]
    assert sorted(beat > 0.5 for beat in beats) == [False, True, True, True, True, True]


@pytest.mark.parametrize(("margin", "share"), [(1.6, 0.023), (0.0, 0.5), (-1.6, 0.977)])
def test_charges_ping_as_often_as_the_mean_says(margin, share):
    """The share of charges that ping is that of the normal distribution about the fuel, within sampling error."""
    _, pings, _ = idling(seconds=40.0, margin=margin)
    charges = 40.0 * 760.0 / 120.0 * 6
    assert len(pings) / charges == pytest.approx(share, abs=0.035)
    assert all(0.0 < loud <= 1.0 for loud in pings)


def test_at_rest_nothing_ripples():
    """An engine that stands has no deviations."""
    dynamics = Dynamics(Engine(load_card(ENGINES / "delivery_truck_six.toml")), SEA_LEVEL_DAY)
    ripple = Ripple(dynamics, 1)
    ripple.follow(dynamics.at_rest(20.0), ControlInputs(8.0, 2.4))
    assert ripple.pressure_pa == ripple.speed_rad_s == 0.0
