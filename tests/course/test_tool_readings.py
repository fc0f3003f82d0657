"""What the tools of the bench tell, without a browser and without an engine."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from course.widgets.bench.bench import Bench, filled_in
from course.widgets.bench.tool_readings import (
    TOLD_EVERY_S,
    ToolReadings,
    marks_in_words,
    range_in_words,
    said_of,
    to_and_fro,
)
from engine_sim import CONTROLS, FUELS

TOOLS = ("timing_light", "dwell_meter", "test_lamp", "load_brake", "crank_mark", "piston_stop")
OFF = {
    "timing_light": "off",
    "dwell_meter": "off",
    "test_lamp": "off",
    "load_brake": 0.0,
    "crank_mark": 0.0,
    "piston_stop": "out",
    "touches": {},
    "ignition_switch": "off",
}
ON = {
    **OFF,
    "timing_light": "on",
    "dwell_meter": "on",
    "test_lamp": "on",
    "load_brake": 1500.0,
    "ignition_switch": "on",
}


def seen(time_s=0.0, turning=True, light=12.0, dwell=36.0, lamp=None, torque=100.0):
    """Readings of an engine with every tool connected."""
    return SimpleNamespace(
        time_s=time_s,
        running=turning,
        firing_hz=30.0 if turning else 0.0,
        timing_light_deg=light if turning else None,
        dwell_deg=dwell if turning else None,
        lamp_lit=lamp,
        torque_nm=torque if turning else None,
    )


def told(settings, **readings):
    """What fresh tools tell at one moment."""
    return ToolReadings(TOOLS).tell(seen(**readings), settings)


@pytest.mark.parametrize(
    ("deg", "words"),
    [
        (12.0, "12 degrees before top centre"),
        (0.0, "top centre"),
        (-3.0, "3 degrees after top centre"),
        (1.0, "1 degree before top centre"),
    ],
)
def test_marks_are_told_as_they_are_spoken(deg, words):
    """A place of the crank is told by its side of top centre, without a sign."""
    assert marks_in_words(deg) == words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (9, 14, "9 to 14 degrees before top centre"),
        (-8, -2, "2 to 8 degrees after top centre"),
        (-2, 3, "2 degrees after top centre to 3 degrees before top centre"),
    ],
)
def test_a_range_of_marks_is_told_as_it_is_spoken(low, high, words):
    """A range on one side names the side once, nearest top centre first."""
    assert range_in_words(low, high) == words


def test_only_what_is_offered_is_told():
    """A bench whose exercise offers no tools tells of none."""
    assert ToolReadings(()).tell(seen(), ON) == {}
    assert list(ToolReadings(("load_brake", "route")).tell(seen(), ON)) == ["load_brake"]


def test_what_is_not_connected_shows_no_number():
    """A tool that is off has words and no value, so that nothing is drawn for it and nothing is read."""
    shown = told(OFF)
    assert all("value" not in tool and tool["words"] for tool in shown.values())
    assert said_of(shown) == ""


def test_connected_tools_tell_number_and_unit():
    """Light, meter and brake tell what they show with its unit; the brake in both systems (1 lbf ft = 1.3558 N m,
    NIST SP 811 (2008), appendix B.8)."""
    shown = told(ON)
    assert shown["timing_light"]["words"] == "12 degrees before top centre by the marks"
    assert shown["dwell_meter"]["words"] == "36 distributor degrees"
    assert shown["load_brake"]["words"] == "100.0 N m (73.8 lbf ft)"
    assert "timing light 12 degrees" in said_of(shown) and "lbf ft" in said_of(shown)


@pytest.mark.parametrize(("lit", "words"), [(True, "lit: the points are open"), (False, "dark: the points are closed")])
def test_the_lamp_tells_in_words(lit, words):
    """Lit or dark is said, and what it means; zero is a value like any other."""
    lamp = told({**ON, "crank_mark": 8.0}, turning=False, lamp=lit)["test_lamp"]
    assert (lamp["words"], lamp["value"]) == (words, float(lit))


def test_the_piston_stop_tells_its_touches():
    """Not in, in without a touch, and each touch with the side on which the old mark stands."""
    places = {"piston_stop": "in cylinder one", "touches": {"forwards": 47.5, "backwards": -21.0}}
    said = [
        told({**OFF, **more}, turning=False)["piston_stop"]["words"]
        for more in ({}, {"piston_stop": "in cylinder one"}, places, {**places, "piston_stop": "out"})
    ]
    touches = "forwards, 47.5 degrees before top centre; backwards, 21 degrees after top centre by the old mark"
    assert said == ["not in", "no touch yet", touches, touches]


def test_without_ignition_the_lamp_says_why_it_is_dark():
    """Dark for want of current is not told as closed points."""
    lamp = told({**ON, "ignition_switch": "off"}, turning=False, lamp=False)["test_lamp"]
    assert (lamp["words"], lamp["value"]) == ("dark: the ignition is off", 0.0)


def test_at_rest_light_and_meter_say_why_they_show_nothing():
    """On an engine at rest nothing is made up; the crank stands where it was set."""
    shown = told({**ON, "crank_mark": 8.0}, turning=False, lamp=False)
    assert all("value" not in shown[name] for name in ("timing_light", "dwell_meter", "load_brake"))
    assert shown["crank_mark"]["words"] == "stands at 8 degrees before top centre by the marks"
    assert "value" not in told(ON)["crank_mark"]


def test_a_mark_that_wanders_is_said_to_wander():
    """A mark that moves by more than a sound distributor's scatter is told with its range, a steady one is not."""
    for swing, wanders in ((0.5, False), (4.0, True)):
        tools = ToolReadings(TOOLS)
        for tick in range(100):
            shown = tools.tell(seen(tick * 0.04, light=12.0 + swing * (-1) ** tick), ON)
        assert ("wanders from 8 to 16 degrees" in shown["timing_light"]["words"]) is wanders
        assert (shown["timing_light"].get("low"), shown["timing_light"].get("high")) == (
            (8.0, 16.0) if wanders else (None, None)
        )


def test_a_mark_that_moves_one_way_does_not_wander():
    """While the weights move out the mark goes steadily; it is told where it stands, and not as a fault."""
    tools = ToolReadings(TOOLS)
    for tick in range(100):
        shown = tools.tell(seen(tick * 0.04, light=8.0 + 0.1 * tick), ON)
    assert shown["timing_light"]["words"].startswith("17")
    assert to_and_fro([(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)]) == pytest.approx(0.0)
    assert to_and_fro([(0.0, 0.0), (1.0, 3.0), (2.0, 0.0)]) == pytest.approx(3.0)


def test_what_hands_moved_does_not_wander():
    """A distributor that was turned has moved the mark; that is no wear."""
    tools = ToolReadings(TOOLS)
    tools.tell(seen(0.0, light=12.0), {**ON, "distributor": 0.0})
    shown = tools.tell(seen(1.0, light=20.0), {**ON, "distributor": 4.0})
    assert shown["timing_light"]["words"] == "20 degrees before top centre by the marks"


def test_tools_tell_at_most_twice_a_second():
    """Ten seconds of a jittering mark change the words twenty times at most; a switch is told at once."""
    tools, changes, before = ToolReadings(TOOLS), 0, None
    for tick in range(250):
        shown = tools.tell(seen(tick * 0.04, light=12.0 + 0.5 * (tick % 2)), ON)
        changes, before = changes + (shown is not before), shown
    assert changes <= 10.0 / TOLD_EVERY_S + 1
    assert tools.tell(seen(tick * 0.04), OFF)["timing_light"]["words"] == "not clamped on"


def test_looking_again_at_the_same_moment_changes_nothing():
    """Several acts within one tick of the engine's clock are one look at its mark."""
    tools = ToolReadings(TOOLS)
    for _ in range(5):
        shown = tools.tell(seen(3.0), ON)
    assert shown["timing_light"] == told(ON)["timing_light"]


def test_a_new_try_is_told_at_once():
    """A clock that goes back to zero does not keep the last try's reading."""
    tools = ToolReadings(TOOLS)
    tools.tell(seen(300.0, light=30.0), ON)
    assert tools.tell(seen(0.0, light=8.0), ON)["timing_light"] == {
        "value": 8.0,
        "short": "light 8°",
        "words": "8 degrees before top centre by the marks",
    }


def test_the_bench_reads_its_tools_with_the_gauges(session):
    """Where the gauges are read, the connected tools are read with them; other sentences stay as they are."""
    session.tools = frozenset(TOOLS)
    bench = Bench(session)
    bench.act("crank_mark", 8.0)
    assert bench.said["sentence"] == "crank_mark done."
    bench.act("read_gauges")
    assert bench.said["sentence"] == (
        "read_gauges done. Tools: crank stands at 8 degrees before top centre by the marks."
    )
    assert bench.tools["crank_mark"]["value"] == 8.0


def test_the_fuel_that_was_filled_in_stands_on_the_plate(session):
    """The day keeps its own fuel until another is filled in, and gets it back with a new engine as found."""
    session.tools = frozenset({"fuel"})
    bench = Bench(session, conditions={"altitude_ft": 0.0, "octane_ron": 91.0})
    bench.act("fuel", "98 RON")
    assert bench.conditions == {"altitude_ft": 0.0, "octane_ron": 98.0, "octane_mon": FUELS["98 RON"][1]}
    bench.act("fuel", "as found")
    assert bench.conditions == {"altitude_ft": 0.0, "octane_ron": 91.0}


def test_every_fuel_of_the_bench_has_its_numbers():
    """No choice of the fuel control leaves the plate without its octane number, but the tank as found."""
    for choice in CONTROLS["fuel"].choices:
        assert bool(filled_in({"fuel": choice})) is (choice != "as found")


def test_fuel_and_exhaust_are_told_where_they_are_on():
    """Meter and probe are told in the session's words with their numbers, and as not connected where they are off."""
    now = seen()
    now.fuel_l_h, now.fuel_words = 2.1, "2.10 litres an hour (0.55 US gallons an hour)"
    now.exhaust_c, now.exhaust_words = 300.4, "300 °C (570 °F), dark"
    offered = ("fuel_meter", "exhaust_probe")
    told_on = ToolReadings(offered).tell(now, {**ON, "fuel_meter": "on", "exhaust_probe": "on"})
    assert [told_on[name]["words"] for name in offered] == [now.fuel_words, now.exhaust_words]
    assert [told_on[name]["short"] for name in offered] == ["fuel 2.1 l/h", "exhaust 300 °C"]
    assert said_of(told_on) == f" Tools: fuel meter {now.fuel_words}; exhaust manifold {now.exhaust_words}."
    told_off = ToolReadings(offered).tell(now, {**OFF, "fuel_meter": "off", "exhaust_probe": "off"})
    assert [told_off[name] for name in offered] == [{"words": "not connected"}] * 2
