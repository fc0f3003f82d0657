"""Each fault shows as what `Fault.seen` says; the needle's patterns have their own tests among the published ones."""

import functools
import math
from dataclasses import replace

import pytest

from course import ENGINES
from engine_sim import CONTROLS, FAULTS, SOUND, AsFound, Conditions, Draw, Engine, Session, fault_named, load_card
from engine_sim.diagnosis.faults import UnknownFault
from engine_sim.model.card import card_from
from engine_sim.model.engine import false_air
from tests.every_case import check_every
from tests.further import behind

TOOLS = tuple(control.name for control in CONTROLS.values() if control.tool)
NAMES = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")
DOES_NOT_START = ("timing_late", "tooth_out", "half_turn", "flooded", "coil_dead")


def found_with(fault, name="delivery_truck_six", learner="one", coolant_c=85.0):
    """An engine with a fault, and how it is found, set by its label."""
    card = load_card(ENGINES / f"{name}.toml")
    found = AsFound(card.setting.label_base_timing_deg, 2.4, 0.0, 11, coolant_c=coolant_c, prepared=True)
    if fault is None:
        return Engine(card), found
    wear, found = FAULTS[fault].on(card, found, Draw(f"{name}|{fault}|{learner}"))
    return Engine(card, wear), found


def started(fault, name="delivery_truck_six", learner="one", coolant_c=85.0, seconds=14.0):
    """The same on the bench, started with a little throttle, light and dwell meter on."""
    engine, found = found_with(fault, name, learner, coolant_c)
    home = Conditions(5000.0 if name == "hill_hauler_eight" else 0.0)
    session = Session(engine, conditions=home, found=found, tools=TOOLS)
    for control, value in (("timing_light", "on"), ("dwell_meter", "on"), ("throttle", 0.1), ("starter", None)):
        session.act(control, value)
    session.advance(4.0)
    session.act("throttle", 0.0)
    session.advance(seconds - 4.0)
    return session


def readings(session, name, seconds=5.0):
    """A reading, ten times a second."""
    seen = []
    for _ in range(round(seconds / 0.1)):
        session.advance(0.1)
        seen.append(getattr(session.readings(), name))
    return seen


def mean(values):
    """Their mean."""
    return sum(values) / len(values)


def spread(values):
    """Their standard deviation."""
    return math.sqrt(mean([(value - mean(values)) ** 2 for value in values]))


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("learner", behind(1, ("one", "two")))
def test_every_fault_can_be_worked_with(fault, learner):
    """On every engine that can have it: amounts are drawn, the bench runs without nonsense, and it starts or does not
    as the fault has it."""

    def check(name):
        if not FAULTS[fault].fits(load_card(ENGINES / f"{name}.toml")):
            with pytest.raises(UnknownFault, match="cannot have"):
                found_with(fault, name, learner)
            return
        session = started(fault, name, learner)
        assert session.running == (fault not in DOES_NOT_START), session.sentence
        for value in (session._motion.speed_rpm, session._motion.manifold_pa, session._motion.coolant_c):
            assert math.isfinite(value) and value >= 0.0

    check_every(check, ((name, name) for name in NAMES))


def test_a_fault_that_there_is_not_is_told_what_there_is():
    """A wrong id is refused with the ids."""
    with pytest.raises(UnknownFault, match="There is no fault 'gremlin'; there are plenum_leak, gross_leak"):
        fault_named("gremlin")


def test_the_draw_gives_each_learner_their_own_amount():
    """Two learners with one fault have different amounts of it; one learner always the same."""
    one, again, other = (found_with("damper_slipped", learner=learner)[0].wear for learner in ("a", "a", "b"))
    assert one == again != other


# ---- the crankcase's valve -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["delivery_truck_six", "hill_hauler_eight"])
def test_a_crankcase_valve_that_sticks_moves_the_idle(name):
    """Stuck open the idle is faster than a sound engine's at the same screw and leaner, stuck closed slower and richer;
    the needle stands a little lower either way."""
    speed, vacuum, mixture = {}, {}, {}
    for fault in (None, "crankcase_valve_open", "crankcase_valve_closed"):
        session = started(fault, name)
        speed[fault], vacuum[fault] = mean(readings(session, "speed_rpm")), mean(readings(session, "vacuum_inhg"))
        leak, area = session._dynamics.leak_m2["off and plugged"], session._dynamics.area_m2(session._inputs, 85.0)
        mixture[fault] = 1.0 - false_air(leak, area)
    assert speed["crankcase_valve_open"] > speed[None] + 20.0 and speed["crankcase_valve_closed"] < speed[None] - 40.0
    assert max(vacuum["crankcase_valve_open"], vacuum["crankcase_valve_closed"]) < vacuum[None]
    assert mixture["crankcase_valve_open"] < 0.85 and mixture["crankcase_valve_closed"] > 1.08


def test_an_older_engine_has_no_crankcase_valve():
    """A card that says nothing of it breathes through a tube; the fault is refused there, with the reason."""
    content = load_card(ENGINES / "farm_runabout_four.toml").model_dump()
    del content["breathing"]["crankcase_valve"]
    assert not card_from(content).breathing.crankcase_valve
    with pytest.raises(UnknownFault, match="its crankcase breathes through a tube and has no valve"):
        found_with("crankcase_valve_open", "farm_runabout_four")


# ---- what the light shows ------------------------------------------------------------------------------------------


@functools.cache
def swept(fault, hose="off and plugged"):
    """Mean of the timing light at idle, 1,500 and 2,500 rpm."""
    session = started(fault)
    session.act("vacuum_hose", hose)
    found = []
    for rpm in (0.0, 1500.0, 2500.0):
        session.act("hold_speed", rpm)
        session.advance(8.0)
        found.append(mean(readings(session, "timing_light_deg")))
    return found


def test_a_slipped_ring_lies_by_one_amount_at_every_speed():
    """The light is off by the slip at every speed, and the engine idles as well as a sound one."""
    off = [shown - true for shown, true in zip(swept("damper_slipped"), swept(None), strict=True)]
    assert min(map(abs, off)) > 8.0 and max(off) - min(off) < 0.6
    idle = [mean(readings(started(fault), "vacuum_inhg")) for fault in ("damper_slipped", None)]
    assert idle[0] == pytest.approx(idle[1], abs=0.1)


def test_stuck_weights_do_not_move_and_weak_springs_move_too_soon():
    """Between 1,500 and 2,500 rpm a sound distributor gains many degrees, a stuck one none; weak springs have given
    theirs by 1,500 rpm."""
    sound, stuck, weak = swept(None), swept("weights_stuck"), swept("springs_weak")
    assert sound[2] - sound[1] > 8.0 and abs(stuck[2] - stuck[0]) < 1.0 and weak[1] > sound[1] + 8.0


def test_canister_and_port():
    """Hose on: a sound vacuum unit on the manifold adds its degrees at idle, a torn one or a ported one none."""
    gained = {fault: swept(fault, "on")[0] - swept(fault)[0] for fault in (None, "canister_torn", "wrong_port")}
    assert gained[None] > 10.0 and gained["canister_torn"] < 3.0 and gained["wrong_port"] < 2.0


def test_a_torn_canister_is_a_leak_on_a_manifold_source():
    """With the hose on the idle speeds up or falls as with air leaks; plugged it is as sound as any."""
    torn, sound = started("canister_torn"), started(None)
    plugged = [mean(readings(session, "vacuum_inhg")) for session in (torn, sound)]
    for session in (torn, sound):
        session.act("vacuum_hose", "on")
        session.advance(10.0)
    assert plugged[0] == pytest.approx(plugged[1], abs=0.1)
    assert abs(mean(readings(torn, "vacuum_inhg")) - plugged[0]) > 0.3


def test_a_worn_bush_makes_the_mark_wander():
    """The mark wanders many times as wide as on a sound engine, and so does the dwell."""
    worn, sound = started("bush_worn"), started(None)
    for reading in ("timing_light_deg", "dwell_deg"):
        assert spread(readings(worn, reading)) > 4.0 * spread(readings(sound, reading))


def test_a_rotor_out_of_line_misses_with_the_hose_on():
    """Hose off it fires evenly; hose on the vacuum unit carries the sparks past the terminal, and it misses."""
    session = started("rotor_off")
    off = session._motion.missed
    session.act("vacuum_hose", "on")
    session.advance(6.0)
    assert off == 0.0 and session._motion.missed > 0.1


def test_wrong_dwell_shows_on_the_meter():
    """The meter is off by degrees, and so is the spark, the other way."""
    wrong, sound = started("dwell_wrong"), started(None)
    dwell = mean(readings(wrong, "dwell_deg")) - mean(readings(sound, "dwell_deg"))
    light = mean(readings(wrong, "timing_light_deg")) - mean(readings(sound, "timing_light_deg"))
    assert abs(dwell) > 3.0 and light == pytest.approx(-dwell, abs=1.0)


# ---- what the ear hears --------------------------------------------------------------------------------------------


def test_a_tired_spark_idles_and_misses_when_it_pulls():
    """At idle every spark comes; at full throttle at low speed many do not, and the torque is gone with them."""
    torque, missed = [], []
    for fault in (None, "spark_tired"):
        session = started(fault)
        assert session._motion.missed < 0.01
        session.act("throttle", 1.0)
        session.act("load_brake", 1200.0)
        session.advance(8.0)
        torque.append(session._motion.torque_nm)
        missed.append(session._motion.missed)
    assert missed[0] == 0.0 < 0.15 < missed[1] and torque[1] < 0.8 * torque[0]


def test_a_dead_plug_is_one_beat_in_six():
    """Of the last six beats exactly one is silent."""
    session = started("plug_dead")
    assert sum(beat < 0.05 for beat in session.readings().beats) == 1
    assert session.readings().idle_words in ("runs unevenly", "stumbles")


def test_a_leaking_runner_misses_at_idle_and_not_at_speed():
    """Its cylinder drops beats at idle; held at 2,500 rpm the engine runs nearly as evenly as a sound one."""
    session = started("runner_leak", "farm_runabout_four")
    weak = [min(session.readings().beats)]
    for _ in range(40):
        session.advance(0.2)
        weak.append(min(session.readings().beats))
    session.act("hold_speed", 2500.0)
    session.advance(10.0)
    fast = []
    for _ in range(40):
        session.advance(0.2)
        fast.append(min(session.readings().beats))
    assert mean(weak) < mean(fast) - 0.15


def test_low_compression_is_weak_everywhere():
    """At full throttle it pulls less than a sound engine at every speed."""
    weak, sound = found_with("compression_low")[0], found_with(None)[0]
    for rpm in (1200.0, 2000.0, 3000.0):
        assert float(weak.full_throttle(rpm, 8.0).torque_nm) < 0.97 * float(sound.full_throttle(rpm, 8.0).torque_nm)


# ---- what is not the timing ----------------------------------------------------------------------------------------


def test_a_choke_stuck_open_is_a_cold_trouble_only():
    """Cold it does not start, warm it does."""
    assert not started("choke_stuck", coolant_c=0.0).running and started("choke_stuck").running


def test_a_sound_engine_has_nothing_wrong():
    """The sound state changes nothing: the same engine as without any."""
    card = load_card(ENGINES / "delivery_truck_six.toml")
    plain, sound = Engine(card), Engine(card, replace(SOUND))
    assert plain.idle(8.0, 2.4).speed_rpm == sound.idle(8.0, 2.4).speed_rpm
    assert SOUND.work_share(800.0, 6) == SOUND.draw_share(800.0, 6) == 1.0 and SOUND.leak_m2 == 0.0


# ---- what keeps it from starting -----------------------------------------------------------------------------------


def cold_start_s(fault):
    """Seconds of the starter after which the cold truck runs with this fault; infinite where it does not in ten."""
    engine, found = found_with(fault, coolant_c=5.0)
    session = Session(engine, conditions=Conditions(ambient_c=5.0), found=found)
    session.act("starter")
    for tenth in range(1, 101):
        session.advance(0.1)
        if session.running:
            return tenth / 10.0
    return math.inf


def test_what_keeps_it_from_starting_differs_in_its_times():
    """Late by some degrees it takes several times as long, with a dry bowl longer still, without a spark for ever."""
    sound, late, dry = (cold_start_s(fault) for fault in (None, "timing_some_late", "bowl_empty"))
    assert 2.0 * sound < late < dry < 10.0
    assert all(cold_start_s(fault) == math.inf for fault in ("coil_dead", "choke_stuck", "flooded", "half_turn"))
