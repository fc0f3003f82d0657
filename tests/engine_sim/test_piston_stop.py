"""A piston stop at the bench: two touches by hand, top centre midway, and a mark that the light counts from."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from course import ENGINES
from engine_sim import LEAD_EARTHED, SOUND, STOP_IN, AsFound, Engine, Session, load_card
from engine_sim.workshop.adjustments import STOP_REACH_MM, stop_touches_deg

TOOLS = ("piston_stop", "timing_light", "test_lamp", "crank_mark")
FOUND = AsFound(6.0, 2.4, 0.0, 5, coolant_c=85.0, prepared=True)
SLIPPED = replace(SOUND, mark_slip_deg=11.3)
CARDS = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")


def at_rest(wear=SOUND, name="farm_runabout_four", found=FOUND, **settings) -> Session:
    """A bench with the stop in cylinder one and the spanner on the crank, and these settings."""
    session = Session(Engine(load_card(ENGINES / f"{name}.toml"), wear), found=found, tools=TOOLS)
    for control, value in {"spanner": "on", "piston_stop": STOP_IN, **settings}.items():
        assert session.act(control, value).kind == "done"
    return session


@pytest.mark.parametrize("name", CARDS)
def test_the_piston_is_where_the_stop_reaches_as_they_meet(name):
    """At the angle of the touch the piston has gone down by the length that the stop reaches in, as the cylinder's
    volume has it, which is computed by itself."""
    engine = Engine(load_card(ENGINES / f"{name}.toml"))
    geometry = engine.setup.geometry
    for seed in range(20):
        angle = math.radians(stop_touches_deg(engine.card, replace(FOUND, seed=seed)))
        down_mm = 1e3 * (geometry.volume_m3(angle) - geometry.clearance_volume_m3) / geometry.bore_area_m2
        assert STOP_REACH_MM[0] - 1e-6 <= down_mm <= STOP_REACH_MM[1] + 1e-6


@pytest.mark.parametrize("slip_deg", [-14.2, 0.0, 11.3])
def test_top_centre_lies_midway_between_the_touches(slip_deg):
    """What the old mark shows midway is how far it has crept, as near as two readings to half a degree tell it."""
    session = at_rest(replace(SOUND, mark_slip_deg=slip_deg))
    assert "before top centre" in session.act("turn_to_stop").sentence
    assert "after top centre" in session.act("turn_back_to_stop").sentence
    touches = session.settings["touches"]
    assert touches["forwards"] > 20.0 > -20.0 > touches["backwards"]
    assert sum(touches.values()) / 2 == pytest.approx(slip_deg, abs=0.25)


def test_the_light_and_the_lamp_count_from_the_new_mark():
    """With the new mark at the true place the light shows the true timing, which the old one hid, and the lamp lights
    at the figure that it stands for."""
    session = at_rest(SLIPPED, centre_mark=11.5)
    session.act("piston_stop", "out")
    for control, value in (("coil_lead", LEAD_EARTHED), ("test_lamp", "on"), ("ignition_switch", "on")):
        assert session.act(control, value).kind == "done"
    lit = []
    for place in (7.0, 5.0):
        session.act("crank_mark", place)
        lit.append(session.readings().lamp_lit)
    assert lit == [False, True]
    for control, value in (
        ("ignition_switch", "off"),
        ("test_lamp", "off"),
        ("spanner", "off"),
        ("coil_lead", "in the cap"),
        ("timing_light", "on"),
        ("starter", None),
    ):
        assert session.act(control, value).kind == "done"
    session.advance(10.0)
    assert session.readings().timing_light_deg == pytest.approx(session.base_timing_deg, abs=1.5)


def test_neither_starter_nor_running_engine_meets_a_stop():
    """The starter is stopped while the stop is in; on a running engine every part of the work is."""
    session = at_rest()
    session.act("spanner", "off")
    outcome = session.act("starter")
    assert outcome.kind == "stopped" and "piston stop" in outcome.sentence
    session.act("piston_stop", "out")
    session.act("starter")
    session.advance(10.0)
    for control, value in (
        ("piston_stop", STOP_IN),
        ("turn_to_stop", None),
        ("turn_back_to_stop", None),
        ("centre_mark", 3.0),
    ):
        assert session.act(control, value).kind in ("stopped", "not possible"), control
    assert session.act("piston_stop", STOP_IN).kind == "stopped"


def test_a_crank_that_cannot_be_turned_says_why():
    """Without a stop, without a spanner and in gear nothing touches; with a stop in, the crank goes no way round."""
    session = at_rest()
    assert "no further" in session.act("crank_mark", 5.0).sentence
    session.act("spanner", "off")
    assert "without a spanner" in session.act("turn_to_stop").sentence
    session.act("piston_stop", "out")
    assert "no stop" in session.act("turn_back_to_stop").sentence
    left_in_gear = at_rest(found=replace(FOUND, prepared=False))
    assert "in gear" in left_in_gear.act("turn_to_stop").sentence.lower()
    assert session.settings["touches"] == left_in_gear.settings["touches"] == {}
