"""What hands do at the distributor: points, teeth, half a turn, marks that lie, springs, screws."""

from dataclasses import replace

import pytest

from course import ENGINES
from engine_sim import (
    CRANK_AT_MOST_S,
    DRIVER_READY,
    LEAD_EARTHED,
    SOUND,
    AsFound,
    ControlError,
    Engine,
    Session,
    load_card,
)
from engine_sim.workshop.controls import CONTROLS

TOOLS = tuple(control.name for control in CONTROLS.values() if control.tool)
FOUND = AsFound(6.0, 2.4, 0.0, 5, coolant_c=85.0, prepared=True)


def session(found=FOUND, wear=SOUND, name="farm_runabout_four", tools=TOOLS):
    """The runabout with points, prepared, with every tool."""
    return Session(Engine(load_card(ENGINES / f"{name}.toml"), wear), found=found, tools=tools)


def running(found=FOUND, wear=SOUND, name="farm_runabout_four"):
    """The same, started."""
    bench = session(found, wear, name)
    for control in ("timing_light", "dwell_meter"):
        bench.act(control, "on")
    bench.act("starter")
    bench.advance(10.0)
    assert bench.running
    return bench


def at_the_lamp(bench):
    """The same at rest with spanner, lamp and ignition on, and the coil lead earthed."""
    for control, value in (
        ("coil_lead", LEAD_EARTHED),
        ("spanner", "on"),
        ("test_lamp", "on"),
        ("ignition_switch", "on"),
    ):
        assert bench.act(control, value).kind == "done"
    return bench


def mean(bench, name, seconds=4.0):
    """Mean of a reading."""
    seen = []
    for _ in range(round(seconds / 0.1)):
        bench.advance(0.1)
        seen.append(getattr(bench.readings(), name))
    return sum(seen) / len(seen)


def test_a_tool_belongs_to_exercises_that_name_it():
    """A tool that the exercise does not offer is refused, and nothing is recorded."""
    bench = session(tools=())
    with pytest.raises(ControlError, match="does not belong to this exercise"):
        bench.act("timing_light", "on")
    assert bench.log == []


def test_the_gap_moves_dwell_and_spark():
    """A wider gap: less dwell on the meter, and the same number of crank degrees earlier under the light."""
    narrow, wide = (running(replace(FOUND, point_gap_mm=gap)) for gap in (0.35, 0.50))
    dwell = [mean(bench, "dwell_deg") for bench in (narrow, wide)]
    light = [mean(bench, "timing_light_deg") for bench in (narrow, wide)]
    assert dwell[0] - dwell[1] == pytest.approx(6.0, abs=0.5) and light[1] - light[0] == pytest.approx(6.0, abs=0.5)


def test_the_lamp_finds_the_static_timing():
    """With the crank turned by hand the lamp is dark before the spark's place and lit from it on."""
    bench = at_the_lamp(session())
    lit = {}
    for mark in (12.0, 7.0, 6.0, 5.0, 0.0):
        bench.act("crank_mark", mark)
        lit[mark] = bench.readings().lamp_lit
    assert lit == {12.0: False, 7.0: False, 6.0: True, 5.0: True, 0.0: True}


def test_the_lamp_is_dark_without_ignition():
    """With the ignition off the lamp tells nothing of the points."""
    bench = at_the_lamp(session())
    bench.act("crank_mark", 0.0)
    assert bench.readings().lamp_lit
    bench.act("ignition_switch", "off")
    assert not bench.readings().lamp_lit


UNSAFE_AT_REST = {  # what was done before, the act that is stopped, and what its sentence names
    "lamp with the lead in the cap": ([], ("test_lamp", "on"), "coil fires"),
    "lamp with the lead open": ([("coil_lead", "out and open")], ("test_lamp", "on"), "earth it"),
    "ignition with the lead open": ([("coil_lead", "out and open")], ("ignition_switch", "on"), "electronic ignition"),
    "starter with the lead open": ([("coil_lead", "out and open")], ("starter", None), "electronic ignition"),
    "ignition with the spanner on": ([("spanner", "on")], ("ignition_switch", "on"), "throw the crank"),
    "spanner with the ignition on": ([("ignition_switch", "on")], ("spanner", "on"), "Switch it off"),
    "lamp with the lead back in the cap": (
        [("coil_lead", LEAD_EARTHED), ("coil_lead", "in the cap")],
        ("test_lamp", "on"),
        "coil fires",
    ),
    "starter with the spanner on": ([("spanner", "on")], ("starter", None), "spanner is still on the crank"),
    "ignition with the lamp on and the lead back": (
        [("coil_lead", LEAD_EARTHED), ("test_lamp", "on"), ("coil_lead", "in the cap")],
        ("ignition_switch", "on"),
        "coil fires",
    ),
}


@pytest.mark.parametrize("name", UNSAFE_AT_REST)
def test_what_can_fire_or_throw_the_spanner_is_stopped(name):
    """The unsafe act of static timing is stopped with its reason, and changes nothing."""
    before, (control, value), reason = UNSAFE_AT_REST[name]
    bench = session()
    for act in before:
        assert bench.act(*act).kind == "done"
    settings = dict(bench.settings)
    outcome = bench.act(control, value)
    assert outcome.kind == "stopped" and reason in outcome.sentence and bench.settings == settings


@pytest.mark.parametrize(
    "control",
    [
        "tachometer",
        "dwell_meter",
        "timing_light",
        "coil_lead",
        "test_lamp",
        "point_gap",
        "refit",
        "springs",
        "fuel",
        "look_under_cap",
        "distributor",
    ],
)
def test_with_the_ignition_on_hands_wait(control):
    """At an engine that stands with its ignition on, as after a stall, clips and parts wait; nobody loses points."""
    bench = session()
    bench.act("clamp", "loose")
    bench.act("ignition_switch", "on")
    wanted = CONTROLS[control]
    value = wanted.choices[-1] if wanted.kind == "choice" else wanted.low
    outcome = bench.act(control, value)
    assert outcome.kind == "not possible" and "ignition is on" in outcome.sentence


def test_an_engine_that_dies_says_that_its_ignition_is_on():
    """A stall is told, and the switch stands where it stood."""
    bench = running()
    bench.act("clamp", "loose")
    bench.act("distributor", -25.0 if bench.engine.card.distributor.rotor_turns == "anticlockwise" else 25.0)
    bench.advance(30.0)
    assert not bench.running and bench.sentence == "The engine has died. The ignition is still on: switch it off."
    assert bench.settings["ignition_switch"] == "on"


def test_a_late_spark_pops_in_the_exhaust():
    """A tooth late, the starter turns and turns, and the exhaust tells why."""
    bench = session(replace(FOUND, teeth_out=-1))
    bench.act("starter")
    bench.advance(CRANK_AT_MOST_S + 1.0)
    assert not bench.running and "pops in the exhaust" in bench.sentence


def test_the_starter_turns_the_crank_off_its_mark():
    """Where the crank was set by hand it does not stand any more after a start."""
    bench = session()
    bench.act("spanner", "on")
    bench.act("crank_mark", 8.0)
    bench.act("spanner", "off")
    bench.act("starter")
    assert bench.settings["crank_mark"] != 8.0


def test_the_crank_turns_with_a_spanner():
    """Without the spanner nobody turns the crank."""
    bench = session()
    assert bench.act("crank_mark", 8.0).kind == "not possible"
    bench.act("spanner", "on")
    assert "8° before top centre by the marks" in bench.act("crank_mark", 8.0).sentence
    assert "2° after top centre by the marks" in bench.act("crank_mark", -2.0).sentence


def test_with_the_coil_lead_earthed_the_starter_turns_and_nothing_fires():
    """Dwell is read on the starter without a start: the meter shows it, the engine never runs, and the reason is
    said."""
    bench = session()
    bench.act("dwell_meter", "on")
    bench.act("coil_lead", LEAD_EARTHED)
    assert "cannot fire" in bench.act("starter").sentence
    bench.advance(1.0)
    assert bench.readings().dwell_deg is not None
    bench.advance(CRANK_AT_MOST_S)
    assert not bench.running and "cannot fire" in bench.sentence
    bench.act("coil_lead", "in the cap")
    bench.act("starter")
    bench.advance(8.0)
    assert bench.running


@pytest.mark.parametrize(
    ("tool", "needed"), [("test_lamp", "coil_lead"), ("test_lamp", "ignition_switch"), ("crank_mark", "spanner")]
)
def test_a_tool_brings_along_what_makes_it_safe(tool, needed):
    """An exercise that names the lamp or the crank, as older rubrics do, offers what it takes to use them safely."""
    assert session(tools=(tool,)).act(needed, CONTROLS[needed].choices[0]).kind == "done"


def test_a_slipped_ring_lies_to_light_and_lamp_alike():
    """The light shows the slip on top of what is true; the lamp goes by the same marks."""
    wear = replace(SOUND, mark_slip_deg=10.0)
    assert mean(running(wear=wear), "timing_light_deg") == pytest.approx(16.0, abs=0.5)
    bench = at_the_lamp(session(wear=wear))
    bench.act("crank_mark", 16.0)
    assert bench.readings().lamp_lit
    bench.act("crank_mark", 17.0)
    assert not bench.readings().lamp_lit


@pytest.mark.parametrize("wrong", [1, -1])
def test_a_tooth_out_is_seen_under_the_cap_and_mended(wrong):
    """A tooth out moves the spark by the pitch of the gear; set back by a tooth the engine starts."""
    bench = session(replace(FOUND, teeth_out=wrong))
    assert abs(bench.base_timing_deg - 6.0) == pytest.approx(2 * 360 / 11)
    assert "clearly" in bench.act("look_under_cap").sentence
    bench.act("clamp", "loose")
    bench.act("refit", "one tooth against the rotor" if wrong > 0 else "one tooth with the rotor")
    assert bench.base_timing_deg == pytest.approx(6.0) and "points to" in bench.act("look_under_cap").sentence
    bench.act("starter")
    bench.advance(5.0)
    assert bench.running


def test_half_a_turn_out_is_seen_and_mended():
    """Half a turn out nothing fires and it spits back; half a turn back it starts."""
    bench = session(replace(FOUND, half_turn=True))
    bench.act("starter")
    bench.advance(CRANK_AT_MOST_S + 1.0)
    assert not bench.running and "spits back" in bench.sentence
    assert "opposite" in bench.act("look_under_cap").sentence
    bench.act("clamp", "loose")
    bench.act("refit", "half a turn round")
    bench.act("starter")
    bench.advance(5.0)
    assert bench.running


def test_springs_and_stop_change_the_curve():
    """A softer pair brings the advance sooner, a stiffer pair later; the stop limits it."""
    bench, advance = running(), {}
    for springs in ("maker's pair", "softer pair", "stiffer pair", "soft and stiff"):
        bench.act("stop")
        bench.advance(4.0)
        bench.act("springs", springs)
        bench.act("weights_stop", 18.0)
        advance[springs] = [bench._dynamics.weights.at(rpm) for rpm in (1400.0, 5000.0)]
    assert advance["softer pair"][0] > advance["maker's pair"][0] > advance["stiffer pair"][0]
    assert all(top == pytest.approx(18.0) for _, top in advance.values())


def test_the_best_idle_mixture_is_near_the_middle_of_the_screw():
    """Turned in or out by a turn from where the maker had it, the idle falls."""
    speeds = {}
    for turns in (0.25, 1.25, 3.0):
        bench = running()
        bench.act("mixture_screw", turns)
        bench.advance(20.0)
        speeds[turns] = bench._motion.speed_rpm
    assert speeds[1.25] > speeds[0.25] + 15.0 and speeds[1.25] > speeds[3.0] + 15.0


@pytest.mark.parametrize(
    "control", ["point_gap", "spanner", "coil_lead", "refit", "fuel", "timing_light", "look_under_cap"]
)
def test_what_is_done_at_rest_is_stopped_on_a_running_engine(control):
    """Points, crank, cap, leads and fuel wait until the engine stands; the sentence says what could happen."""
    bench = running()
    bench.act("clamp", "loose")
    values = {
        "spanner": "on",
        "coil_lead": LEAD_EARTHED,
        "point_gap": 0.4,
        "refit": "as found",
        "fuel": "91 RON",
        "timing_light": "off",
    }
    outcome = bench.act(control, values.get(control))
    assert outcome.kind == "stopped" and "Switch the engine off first" in outcome.sentence


def test_no_points_no_gap():
    """An electronic trigger has no gap to set and no place for a lamp."""
    bench = session(name="hill_hauler_eight")
    assert bench.act("test_lamp", "on").kind == "not possible"


def test_a_held_speed_is_held():
    """A hand on the throttle brings the engine to 2,500 rpm and keeps it there; let go, it idles again."""
    bench = running()
    bench.act("hold_speed", 2500.0)
    bench.advance(8.0)
    for _ in range(20):
        bench.advance(0.5)
        assert bench._motion.speed_rpm == pytest.approx(2500.0, abs=60.0)
    bench.act("hold_speed", 0.0)
    bench.advance(10.0)
    assert bench._motion.speed_rpm < 1000.0


def test_every_tool_replays_to_the_same_state(tmp_path):
    """What was done with tools is replayed from its evidence to the same state, bit by bit."""
    from engine_sim import EvidenceWriter, Header, read_evidence, replay

    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("ida", "l", "", "e", "t"))
    engine = Engine(load_card(ENGINES / "farm_runabout_four.toml"))
    bench = Session(engine, found=FOUND, evidence=writer, exercise="x", tools=TOOLS)
    for control, value, seconds in (
        ("point_gap", 0.45, 1),
        ("starter", None, 8),
        ("hold_speed", 2000.0, 9),
        ("hold_speed", 0.0, 5),
        ("mixture_screw", 2.0, 6),
        ("throttle", 1.0, 1),
        ("load_brake", 1500.0, 7),
        ("load_brake", 0.0, 0),
        ("throttle", 0.0, 5),
        ("route", "up the hill", 0),
        ("stop", None, 4),
        ("gear", "in gear", 0),
        ("chocks", "away", 0),
        ("driver", DRIVER_READY, 0),
        ("gear", "neutral", 0),
        ("starter", None, 6),
        ("road_check", None, 40),
    ):
        bench.act(control, value)
        bench.advance(float(seconds))
    bench.end_attempt()
    again = replay(read_evidence(writer.path).events, engine, found=FOUND, exercise="x", tools=TOOLS)[-1]
    lived = bench.trajectories[-1]
    assert len(again.actions) == 17 and again.actions == lived.actions and again.drives == lived.drives
