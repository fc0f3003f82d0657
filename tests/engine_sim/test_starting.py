"""How long the key is held: the design's targets for starting, on the three cards.

Unless a test says otherwise its band is common practice, no source: a carburetted engine with nothing wrong runs after
a second or two, and each thing that is wrong lengthens that or stops it. No outside value was found for any of these
times. That late timing doubles it at ten degrees and quadruples it at fifteen is a calibration of the catch.
"""

from dataclasses import replace

import pytest

from course import ENGINES
from engine_sim import SOUND, Conditions, Engine, load_card, start_trial
from engine_sim.model import starting
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics
from engine_sim.model.population import usual_screw

NAMES = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")
COLD_C, HOT_C, RIGHT_DEG = 20.0, 90.0, 8.0
CHOKE_OPEN = replace(SOUND, choke_stuck_open=True)
every_card = pytest.mark.parametrize("name", NAMES)


def engine(name, wear=SOUND):
    """One of the cards, in that state of wear."""
    return Engine(load_card(ENGINES / f"{name}.toml"), wear)


def runs_s(name, timing_deg=RIGHT_DEG, coolant_c=COLD_C, wear=SOUND, **how):
    """Seconds for which the key is held; None where it does not start in ten."""
    return start_trial(engine(name, wear), timing_deg, coolant_c, **how).runs_s


def first_kick_deg(name, coolant_c, battery=1.0):
    """The least base timing at which the starter is thrown back, to a quarter of a degree."""
    one, quarters = engine(name), range(60, 160)
    kicks = (
        deg / 4.0 for deg in quarters if start_trial(one, deg / 4.0, coolant_c, battery=battery, at_most_s=3.0).kicks
    )
    return next(kicks)


def after(name, coolant_c, seconds, wear=SOUND, **how):
    """A start, and the motion so many seconds after the key was let go."""
    one = engine(name, wear)
    trial, dynamics = start_trial(one, RIGHT_DEG, coolant_c, **how), Dynamics(one, Conditions())
    inputs = ControlInputs(RIGHT_DEG, usual_screw(one.card), ignition=True)
    for _ in range(round(seconds / TICK_S)):
        dynamics.tick(trial.motion, inputs)
    return trial, trial.motion


# ---- timing ----------------------------------------------------------------------------------------------------------


@every_card
def test_an_engine_in_order_starts_in_a_second_or_two(name):
    """At the right timing and 20 °C the key is held for 0.8 to 2 seconds."""
    assert 0.8 <= runs_s(name) <= 2.0


@every_card
def test_later_cranks_longer_by_the_calibrated_factors(name):
    """Ten degrees later takes 1.8 to 3 times as long, fifteen 3 to 5 times or never, twenty never."""
    right = runs_s(name)
    assert 1.8 <= runs_s(name, RIGHT_DEG - 10.0) / right <= 3.0
    much_later = runs_s(name, RIGHT_DEG - 15.0)
    assert much_later is None or 3.0 <= much_later / right <= 5.0
    assert runs_s(name, RIGHT_DEG - 20.0) is None


@every_card
@pytest.mark.parametrize("coolant_c", [5.0, COLD_C, 50.0, HOT_C])
def test_no_later_timing_starts_sooner(name, coolant_c):
    """From 8 degrees on each degree later takes longer or as long, at every temperature; from 4 on, clearly longer."""
    took = [runs_s(name, timing, coolant_c) or float("inf") for timing in range(8, -13, -1)]
    assert took == sorted(took)
    assert took[8] > 1.2 * took[4]


@every_card
def test_a_later_spark_fires_later_and_takes_longer_to_catch(name):
    """Later, the first charge fires later, and the engine needs longer from there until it runs by itself."""
    fires, catches = zip(
        *(
            (trial.fires_s, trial.runs_s - trial.fires_s)
            for trial in (start_trial(engine(name), deg, COLD_C) for deg in (8, 0, -4, -7))
        ),
        strict=True,
    )
    assert list(fires) == sorted(fires) and fires[-1] > 2.0 * fires[0] and catches[-1] > 2.0 * catches[0]


@every_card
def test_colder_takes_longer(name):
    """Hot, it catches within half a second; from there to near freezing each colder engine is cranked
    longer."""
    took = [runs_s(name, coolant_c=celsius) for celsius in (90.0, 60.0, 40.0, 20.0, 5.0)]
    assert None not in took and took == sorted(took) and took[-1] > 3.0 * took[0]
    assert took[0] < 0.5


# ---- kicks -----------------------------------------------------------------------------------------------------------


@every_card
def test_a_hot_engine_kicks_first(name):
    """Cold, the first kick comes at 25 to 35 degrees; hot, 3 to 8 degrees sooner. Common practice, no source."""
    cold, hot = first_kick_deg(name, COLD_C), first_kick_deg(name, HOT_C)
    assert 25 <= cold <= 35 and 3 <= cold - hot <= 8


@every_card
def test_the_starter_labours_before_it_is_thrown_back(name):
    """Some degrees short of the first kick the starter is slowed once each compression, and nothing kicks yet."""
    one, first = engine(name), first_kick_deg(name, COLD_C)
    dynamics, inputs = Dynamics(one, Conditions()), ControlInputs(first - 2.0, 2.4, ignition=True, starter=True)
    motion, most = dynamics.at_rest(COLD_C), 0.0
    while motion.speed_rpm < starting.RUNNING_FROM_RPM:
        dynamics.tick(motion, inputs)
        most = max(most, motion.start.labour)
    assert motion.start.kicks == 0 and starting.LABOURS_FROM < most <= 1.0
    state, litres = motion.start, dynamics.litres
    carried_j = starting.CARRIES_RAD * state.starter_nm(litres, 0.0)
    kept = [state.passed(share * carried_j, litres) for share in (0.3, 0.7, 0.95, 1.05)]
    assert kept[0] == 1.0 > kept[1] > kept[2] > kept[3]


# ---- battery and starter ---------------------------------------------------------------------------------------------


@every_card
def test_a_weak_battery_cranks_longer_and_kicks_sooner(name):
    """With 0.6 of the starter's torque it takes 1.2 to 1.6 times as long, and the first kick comes 2 to 4 degrees
    sooner."""
    assert 1.2 <= runs_s(name, battery=0.6) / runs_s(name) <= 1.6
    assert 2 <= first_kick_deg(name, COLD_C) - first_kick_deg(name, COLD_C, battery=0.6) <= 4


def test_the_starter_tires_and_recovers():
    """Half a minute of cranking warms the windings and takes from the battery; a pause brings the starter back, and
    what the battery lost comes back only once the engine runs."""
    dynamics = Dynamics(engine(NAMES[0]), Conditions())
    motion, inputs = dynamics.at_rest(COLD_C), ControlInputs(RIGHT_DEG, 2.4, starter=True)
    speeds = []
    for tick in range(round(30.0 / TICK_S)):
        dynamics.tick(motion, inputs)
        if tick in (round(3.0 / TICK_S), round(29.0 / TICK_S)):
            speeds.append(motion.speed_rpm)
    tired_nm, tired_volt = motion.start.starter_nm(4.0, 0.0), motion.start.cranking_volt
    motion.start.stand(COLD_C, 20.0, 120.0)
    rested_nm, battery = motion.start.starter_nm(4.0, 0.0), motion.start.battery
    fresh = starting.Starting()
    assert speeds[1] < speeds[0] - 10.0 and tired_volt < fresh.cranking_volt
    assert tired_nm < 0.85 * fresh.starter_nm(4.0, 0.0) and rested_nm > 1.1 * tired_nm and battery < 0.95
    motion.start.turn(50.0, HOT_C, 0.0, False, False, 60.0)
    assert motion.start.battery > battery


def test_a_weak_battery_and_a_tired_spark_add_up():
    """What the starter leaves of a weak battery is too little for a coil that is tired already."""
    tired = replace(SOUND, coil_left=0.33, plug_gap_mm=1.1)
    assert runs_s(NAMES[0], wear=tired) is not None
    assert (runs_s(NAMES[0], wear=tired, battery=0.5) or 99.0) > 1.3 * runs_s(NAMES[0], battery=0.5)


# ---- fuel ------------------------------------------------------------------------------------------------------------


@every_card
def test_without_the_choke_a_cold_engine_hardly_starts(name):
    """With the choke stuck open it takes eight seconds or never starts at 5 °C, is slower at 20, and the same hot."""
    assert (runs_s(name, coolant_c=5.0, wear=CHOKE_OPEN) or 99.0) >= 8.0
    assert runs_s(name, wear=CHOKE_OPEN) > 1.5 * runs_s(name)
    assert runs_s(name, coolant_c=HOT_C, wear=CHOKE_OPEN) == runs_s(name, coolant_c=HOT_C)


@every_card
def test_an_empty_bowl_is_filled_first(name):
    """An empty float bowl takes 5 to 10 seconds of cranking; pumping it does nothing."""
    assert 5.0 <= runs_s(name, bowl=0.0) <= 10.0
    assert runs_s(name, bowl=0.0, strokes=4) == runs_s(name, bowl=0.0)


@every_card
def test_a_flooded_engine_starts_with_the_throttle_open_alone(name):
    """Flooded, it does not fire at a closed throttle however long it is cranked; held wide open it airs and starts."""
    assert runs_s(name, flood=1.0, at_most_s=20.0) is None
    trial = start_trial(engine(name), RIGHT_DEG, COLD_C, flood=1.0, throttle=1.0)
    assert 2.0 < trial.runs_s < 6.0 and trial.motion.start.flood < 0.7
    _, motion = after(name, COLD_C, 20.0, flood=1.0, throttle=1.0)
    assert motion.speed_rpm > 600.0 and motion.start.flood == 0.0


@every_card
def test_pumping_helps_a_cold_engine_and_floods_when_overdone(name):
    """Two strokes at rest halve a cold start, a dozen flood it; a hot engine is flooded by half as many."""
    assert runs_s(name, strokes=2) < 0.6 * runs_s(name)
    assert runs_s(name, strokes=12) is None and runs_s(name, strokes=12, throttle=1.0) is not None
    assert runs_s(name, coolant_c=HOT_C, strokes=6) is None


def test_pumping_empties_the_bowl():
    """Each stroke takes fuel from the bowl, until the pump draws air and adds no more."""
    state = starting.Starting()
    for _ in range(60):
        state.pump(1.0, COLD_C, runs=False)
    assert 0.4 < state.bowl < starting.JETS_COVERED_FROM
    was = state.flood, state.film, state.bowl
    state.pump(1.0, COLD_C, runs=False)
    assert (state.flood, state.film, state.bowl) == was


@every_card
def test_what_was_pumped_in_lets_it_catch_and_die_again(name):
    """At 5 °C without the choke five strokes let it catch at once; it dies within seconds."""
    trial, motion = after(name, 5.0, 8.0, CHOKE_OPEN, conditions=Conditions(), strokes=5)
    assert trial.runs_s < 0.5 and motion.speed_rad_s == 0.0
    assert after(name, 5.0, 8.0)[1].speed_rpm > 600.0


def test_a_cold_engine_comes_to_rest_and_stays_as_it_is():
    """A cold engine that was flooded and cranked dries and cools until nothing changes any more; a stroke of the
    accelerator pump wakes it."""
    dynamics = Dynamics(engine(NAMES[0]), Conditions())
    motion, inputs = dynamics.at_rest(COLD_C, flood=1.0), ControlInputs(RIGHT_DEG, 2.4, ignition=True, starter=True)
    for _ in range(250):
        dynamics.tick(motion, inputs)
    assert motion.start.starter_above_k and motion.start.film
    inputs.starter = inputs.ignition = False
    while motion.speed_rad_s or not motion.start.rested:
        dynamics.tick(motion, inputs, 1.0 if motion.speed_rad_s == 0.0 else TICK_S)
    at_rest = replace(motion.start)
    assert at_rest.flood == at_rest.film == at_rest.starter_above_k == 0.0 and at_rest.stood_s > 1800.0
    for _ in range(100):
        dynamics.tick(motion, inputs)
    assert motion.start == at_rest
    motion.start.pump(1.0, COLD_C, runs=False)
    for _ in range(100):
        dynamics.tick(motion, inputs)
    assert 0.0 < motion.start.film < starting.STROKE_COLD + 0.1 and not motion.start.rested


# ---- hot soak, running on --------------------------------------------------------------------------------------------


def stood(name, minutes, ambient_c=20.0):
    """A hot engine that was just switched off and has stood for some minutes."""
    dynamics = Dynamics(engine(name), Conditions(ambient_c=ambient_c))
    motion = dynamics.at_rest(HOT_C)
    motion.start = starting.under_way()
    for _ in range(round(minutes * 60.0 / TICK_S)):
        dynamics.tick(motion, ControlInputs(RIGHT_DEG, 2.4))
    return dynamics, motion


def restarted_s(dynamics, motion):
    """Seconds for which the key is then held."""
    inputs, ticks = ControlInputs(RIGHT_DEG, 2.4, ignition=True, starter=True), 0
    while motion.speed_rpm < starting.RUNNING_FROM_RPM and ticks < 500:
        dynamics.tick(motion, inputs)
        ticks += 1
    return ticks * TICK_S


def test_a_hot_soak_makes_the_restart_harder():
    """A hot engine restarts at once; after twenty minutes fuel has boiled over into the inlet and it takes longer,
    on a hot day much longer; after two hours the plugs are dry again and the bowl is still low."""
    at_once, mild, hot = (restarted_s(*stood(NAMES[0], *when)) for when in ((0.1,), (20.0,), (20.0, 35.0)))
    assert at_once < 0.3 and mild > 1.3 * at_once and hot > 2.0 * mild
    soaked = [stood(NAMES[0], minutes)[1].start for minutes in (1.0, 20.0, 120.0)]
    assert [state.flood > 0.1 for state in soaked] == [False, True, False]
    assert [state.bowl < 0.8 for state in soaked] == [False, True, True]


def test_a_cold_engine_does_not_percolate():
    """Nothing boils in the bowl of an engine that was not run."""
    dynamics = Dynamics(engine(NAMES[0]), Conditions(ambient_c=35.0))
    motion = dynamics.at_rest(35.0)
    for _ in range(round(600.0 / TICK_S)):
        dynamics.tick(motion, ControlInputs(RIGHT_DEG, 2.4))
    assert motion.start.bowl == 1.0 and motion.start.flood == 0.0


def stops_in_s(name, coolant_c=95.0, opened=0.0, octane=None):
    """Seconds until the crank stands after the switch is turned off; `opened` is throttle area in mm2 a litre."""
    one = engine(name)
    dynamics, card = Dynamics(one, Conditions()), one.card
    dynamics.ron = octane or dynamics.ron
    screw = usual_screw(card) + opened * card.displacement_l / card.breathing.idle_screw_area_mm2_per_turn
    motion, inputs = dynamics.at_rest(coolant_c), ControlInputs(RIGHT_DEG, screw, ignition=True, starter=True)
    for _ in range(round(5.0 / TICK_S)):
        inputs.starter = inputs.starter and motion.speed_rpm < starting.RUNNING_FROM_RPM
        dynamics.tick(motion, inputs)
        motion.coolant_c = coolant_c
    inputs.ignition, ticks = False, 0
    motion.disturb()
    while motion.speed_rad_s and ticks < 3000:
        dynamics.tick(motion, inputs)
        ticks += 1
    return ticks * TICK_S


@every_card
def test_a_hot_engine_with_a_high_idle_runs_on(name):
    """Switched off hot with the throttle far open it runs on for seconds, and then stops; cold or at its right idle it
    stops at once, and poorer fuel makes it worse. Common practice, no source."""
    usual, high = stops_in_s(name), stops_in_s(name, opened=3.2)
    assert usual < 1.0 and 1.5 * usual < high < 30.0
    assert stops_in_s(name, coolant_c=74.0, opened=3.2) < 1.2
    assert stops_in_s(name, opened=3.2, octane=84.0) > high
