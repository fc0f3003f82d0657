"""Starting: too early kicks, too late cranks long, and what is not the timing's fault shows as something else.

That too early kicks back and too late cranks long is common practice, no single source; from how many degrees on
is ours.
"""

import pytest

from course import ENGINES
from engine_sim import SEA_LEVEL_DAY, SOUND, AsFound, Conditions, Engine, Session, load_card
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics
from tests.scripted_learner import SAFE

NAMES = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")
LONGEST_S = 8.0


def cranked(name, timing_deg, coolant_c=85.0, wear=SOUND, throttle=0.0, flood=0.0):
    """Seconds until the engine runs by itself (None: not in eight), kicks on the way, and its last state."""
    engine = Engine(load_card(ENGINES / f"{name}.toml"), wear)
    dynamics = Dynamics(engine, Conditions(ambient_c=min(coolant_c, 20.0)))
    motion, inputs = dynamics.at_rest(coolant_c, flood), ControlInputs(timing_deg, 2.4, ignition=True, starter=True)
    inputs.throttle = throttle
    for tick in range(round(LONGEST_S / TICK_S)):
        dynamics.tick(motion, inputs)
        if motion.speed_rpm > 450.0:
            return tick * TICK_S, motion.kicks, motion
    return None, motion.kicks, motion


@pytest.mark.parametrize("name", NAMES)
def test_a_usual_setting_starts_without_a_kick(name):
    """From 0 to 17 degrees a warm engine starts within two seconds, a cold one within three, and nothing kicks."""
    for timing in (0.0, 8.0, 12.0, 17.0):
        warm, kicks, _ = cranked(name, timing)
        cold, cold_kicks, _ = cranked(name, timing, 10.0)
        assert warm is not None and warm < 2.0 and cold is not None and cold < 3.0 and kicks == cold_kicks == 0


@pytest.mark.parametrize("name", NAMES)
def test_too_early_kicks_back(name):
    """From thirty-five degrees on the starter is thrown back, and beyond forty-five the engine never starts."""
    assert all(cranked(name, timing)[1] > 0 for timing in (35.0, 45.0, 55.0))
    assert all(cranked(name, timing)[0] is None for timing in (45.0, 55.0))


@pytest.mark.parametrize("name", NAMES)
def test_too_late_cranks_long(name):
    """Each step later takes longer to catch; far too late it never does, and kicks nothing."""
    took = [cranked(name, timing)[0] for timing in (8.0, 0.0, -4.0, -6.0)]
    assert None not in took and took == sorted(took) and took[-1] > 1.3 * took[0]
    assert cranked(name, -14.0)[:2] == (None, 0)


def test_later_is_hotter():
    """A later spark leaves more heat in the exhaust, and brings the coolant up further."""
    exhaust, coolant = [], []
    for timing in (8.0, -8.0):
        engine = Engine(load_card(ENGINES / "delivery_truck_six.toml"))
        dynamics = Dynamics(engine, Conditions(ambient_c=35.0))
        motion = dynamics.at_rest(85.0)
        motion.speed_rad_s, motion.manifold_pa, motion.turns = 80.0, 40e3, 10.0
        inputs = ControlInputs(timing, 2.4 if timing > 0 else 3.9, ignition=True)
        for _ in range(round(600.0 / TICK_S)):
            dynamics.tick(motion, inputs)
        assert motion.speed_rpm > 600.0
        exhaust.append(motion.exhaust_k)
        coolant.append(motion.coolant_c)
    assert exhaust[1] > exhaust[0] + 50.0 and coolant[1] > coolant[0] + 1.0


def test_a_flooded_engine_clears_with_the_throttle_held_open():
    """Flooded, it does not fire at a closed throttle however long it is cranked; held wide open it airs and starts."""
    assert cranked("delivery_truck_six", 8.0, flood=1.0)[0] is None
    took, _, motion = cranked("delivery_truck_six", 8.0, throttle=1.0, flood=1.0)
    assert took is not None and took > 1.2 and motion.flood < 0.7


def test_half_a_turn_out_never_fires():
    """With the sparks between two cycles nothing fires, at any timing."""
    engine = Engine(load_card(ENGINES / "delivery_truck_six.toml"))
    dynamics = Dynamics(engine, SEA_LEVEL_DAY)
    motion, inputs = dynamics.at_rest(85.0), ControlInputs(8.0, 2.4, ignition=True, starter=True, fires=False)
    for _ in range(400):
        dynamics.tick(motion, inputs)
    assert 150.0 < motion.speed_rpm < 250.0 and motion.burning == 0.0


def test_the_key_is_let_go_when_the_engine_kicks():
    """After a few kicks the session lets the key go and says why; nothing more is cranked."""
    found = AsFound(50.0, 2.4, coolant_c=85.0)
    session = Session(Engine(load_card(ENGINES / "delivery_truck_six.toml")), found=found)
    for control, value in SAFE.items():
        session.act(control, value)
    session.act("starter")
    session.advance(6.0)
    assert "kicks back" in session.sentence and not session.readings().cranking
