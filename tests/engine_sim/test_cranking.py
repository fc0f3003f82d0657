"""Cranking: too early kicks, much too late never starts, and a session lets go of the key and says why.

That too early kicks back and too late cranks long is common practice, no single source; from how many degrees on
is ours. How long a start takes is in test_starting.
"""

import pytest

from course import ENGINES
from engine_sim import CRANK_AT_MOST_S, SEA_LEVEL_DAY, AsFound, Conditions, Engine, Session, load_card, start_trial
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics
from engine_sim.model.starting import under_way
from tests.scripted_learner import SAFE

NAMES = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")


def cranked(name, timing_deg, coolant_c=85.0):
    """Seconds until the engine runs by itself (None: not in ten), and kicks on the way."""
    engine = Engine(load_card(ENGINES / f"{name}.toml"))
    trial = start_trial(engine, timing_deg, coolant_c, conditions=Conditions(ambient_c=min(coolant_c, 20.0)))
    return trial.runs_s, trial.kicks


@pytest.mark.parametrize("name", NAMES)
def test_a_usual_setting_starts_without_a_kick(name):
    """From 4 to 17 degrees a warm engine starts within a second, a cold one within three, and nothing kicks."""
    for timing in (4.0, 8.0, 12.0, 17.0):
        warm, kicks = cranked(name, timing)
        cold, cold_kicks = cranked(name, timing, 10.0)
        assert warm is not None and warm < 1.0 and cold is not None and cold < 3.0 and kicks == cold_kicks == 0


@pytest.mark.parametrize("name", NAMES)
def test_too_early_kicks_back(name):
    """From thirty degrees on the starter of a warm engine is thrown back again and again, and it never starts."""
    for timing in (30.0, 35.0, 45.0, 55.0):
        took, kicks = cranked(name, timing)
        assert took is None and kicks > 4


@pytest.mark.parametrize("name", NAMES)
def test_far_too_late_never_starts_and_never_kicks(name):
    """Twenty-two degrees later than usual nothing is heard of an early spark, and nothing catches."""
    assert cranked(name, -14.0) == (None, 0)


def test_later_is_hotter():
    """A later spark leaves more heat in the exhaust, and brings the coolant up further."""
    exhaust, coolant = [], []
    for timing in (8.0, -8.0):
        engine = Engine(load_card(ENGINES / "delivery_truck_six.toml"))
        dynamics = Dynamics(engine, Conditions(ambient_c=35.0))
        motion = dynamics.at_rest(85.0)
        motion.speed_rad_s, motion.manifold_pa, motion.start = 80.0, 40e3, under_way()
        inputs = ControlInputs(timing, 2.4 if timing > 0 else 3.9, ignition=True)
        for _ in range(round(600.0 / TICK_S)):
            dynamics.tick(motion, inputs)
        assert motion.speed_rpm > 600.0
        exhaust.append(motion.exhaust_k)
        coolant.append(motion.coolant_c)
    assert exhaust[1] > exhaust[0] + 50.0 and coolant[1] > coolant[0] + 1.0


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


@pytest.mark.parametrize(
    ("found", "adds"),
    [({"flood": 1.0}, "smells of petrol"), ({"half_turn": True}, "spits back")],
)
def test_a_start_that_fails_says_what_is_noticed(found, adds):
    """The key is let go after ten seconds, with what nose and ear add."""
    found = AsFound(8.0, 2.4, prepared=True, **found)
    session = Session(Engine(load_card(ENGINES / "delivery_truck_six.toml")), found=found)
    session.act("starter")
    session.advance(6.1)
    assert session.readings().cranking
    session.advance(CRANK_AT_MOST_S - 6.0)
    assert not session.readings().cranking and "ten seconds" in session.sentence and adds in session.sentence


def test_the_throttle_pumps_while_the_engine_stands():
    """Two full strokes of the throttle at rest, closed again, start a cold engine in half the time."""
    took = []
    for strokes in (0, 2):
        found = AsFound(8.0, 2.4, prepared=True)
        session = Session(Engine(load_card(ENGINES / "delivery_truck_six.toml")), found=found)
        for _ in range(strokes):
            session.act("throttle", 1.0)
            session.act("throttle", 0.0)
        session.act("starter")
        begun_s = session.time_s
        while session.readings().cranking:
            session.advance(TICK_S)
        took.append(session.time_s - begun_s)
    assert took[1] < 0.6 * took[0]


def test_running_on_is_said():
    """Switched off hot with a high idle the engine runs on, which is heard and said; then it stands."""
    found = AsFound(8.0, 5.6, coolant_c=90.0, prepared=True)
    session = Session(Engine(load_card(ENGINES / "farm_runabout_four.toml")), found=found)
    session.act("starter")
    session.advance(20.0)
    session.act("stop")
    session.advance(1.2)
    assert "runs on without a spark" in session.sentence and "runs on" in session.readings().idle_words
    session.advance(20.0)
    assert session.readings().idle_words == "silent"
