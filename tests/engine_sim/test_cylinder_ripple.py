"""Single cylinders around the mean: deviations add up to nothing, are seeded, and ping as often as the mean says."""

import numpy as np
import pytest

from course import ENGINES
from engine_sim import SEA_LEVEL_DAY, SOUND, CylinderWear, Engine, load_card
from engine_sim.model.card import card_from
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


def unalike(spread, count_from="delivery_truck_six", seed=3):
    """A ripple over an engine whose runners differ so much in their mixture."""
    content = load_card(ENGINES / f"{count_from}.toml").model_dump()
    content["mixture"]["spread_between_cylinders"] = spread
    return Ripple(Dynamics(Engine(card_from(content)), SEA_LEVEL_DAY), seed)


def test_one_carburettor_does_not_feed_all_cylinders_alike():
    """Each cylinder's own mixture has the card's spread around the mean, by the seed of the engine; none where the card
    says none."""
    own = np.array(unalike(0.03).own_phi)
    assert own.size == 6 and own.mean() == pytest.approx(0.0, abs=1e-12) and own.std() == pytest.approx(0.03)
    assert unalike(0.03).own_phi == own.tolist() != unalike(0.03, seed=4).own_phi
    assert unalike(0.0).own_phi == [0.0] * 6


def mean_beats(spread, shift, misfire):
    """Mean strength of the richest and of the leanest cylinder's firings, in 2,000 turns of an idle set off so."""
    ripple, inputs = unalike(spread), ControlInputs(8.0, 1.9, mixture_shift=shift)
    motion = Motion(rad_s_from_rpm(760.0), 38e3, 85.0, total_advance_deg=8.0, octane_margin=40.0, burning=1.0)
    motion.indicated_nm, motion.drawn_kg_s, motion.misfire = 62.0, 5.2e-3, misfire
    ripple.follow(motion, inputs)
    strongest, weakest = np.argmax(ripple.own_phi), np.argmin(ripple.own_phi)
    by_place = [[] for _ in range(6)]
    for number in range(2000):
        ripple._begin_turn(number, motion, inputs)
        by_place[number % 6].append(ripple.beats[-1])
    means = [float(np.mean(strengths)) for strengths in by_place]
    return means[strongest], means[weakest]


def test_a_lean_cylinder_pulls_less_and_goes_out_first():
    """The richest cylinder of a lean idle pulls more than the leanest; where charges begin to go out, the leanest go
    out more often still; without a spread all are alike."""
    rich, lean = mean_beats(0.03, -0.32, 0.0)
    assert rich > lean * 1.01
    rich_too, lean_too = mean_beats(0.03, -0.32, 0.1)
    assert rich_too / lean_too > rich / lean * 1.01
    assert mean_beats(0.0, -0.32, 0.0)[0] == pytest.approx(mean_beats(0.0, -0.32, 0.0)[1], rel=0.03)
