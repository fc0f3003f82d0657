"""Revving without load: the act is stopped at 3,500 rpm, and what follows beyond. Common practice, no source."""

import pytest

from course import ENGINES
from engine_sim import AsFound, Engine, Session, learners_engine, load_card, usual_screw
from engine_sim.model.damage import DOSE_OF_FLOAT_S
from engine_sim.workshop.session import FREE_REVS_TO_RPM
from tests.every_case import check_every

NAMES = ("delivery_truck_six", "farm_runabout_four", "hill_hauler_eight")


@pytest.fixture(params=NAMES)
def bench(request):
    """Each card's engine, hot and idling."""
    return idling(request.param)


def idling(name, watch=True):
    """One engine, hot, made safe and idling."""
    engine = Engine(load_card(ENGINES / f"{name}.toml"))
    found = AsFound(8.0, round(usual_screw(engine.card), 2), coolant_c=85.0, prepared=True)
    session = Session(engine, found=found, watch=watch)
    session.act("starter")
    session.advance(8.0)
    assert session.running
    return session


def fastest_rpm(session, seconds):
    """The highest true speed over some seconds."""
    most = 0.0
    for _ in range(round(seconds / 0.02)):
        session.advance(0.02)
        most = max(most, session._motion.speed_rpm)
    return most


def press_again(session):
    """The throttle opened after the caution, as one who means it."""
    session.act("throttle", 1.0)
    session.advance(4.0)
    session.act("throttle", 1.0)


def test_the_throttle_is_closed_at_the_limit_with_a_caution(bench):
    """Opened in neutral, the throttle is closed again at 3,500 rpm, with the reason; the engine idles on."""
    bench.act("throttle", 1.0)
    assert FREE_REVS_TO_RPM < fastest_rpm(bench, 5.0) < 4000.0
    assert "3,500 rpm with no load" in bench.sentence and bench.settings["throttle"] == 0.0
    bench.advance(10.0)
    assert bench.running and bench.readings().idle_words == "runs evenly"


def test_one_drag_of_the_slider_is_one_press(bench):
    """A slider still being drawn open as the caution comes does not count as the second press."""
    bench.act("throttle", 1.0)
    fastest_rpm(bench, 0.6)
    bench.act("throttle", 0.9)
    bench.act("throttle", 1.0)
    assert fastest_rpm(bench, 5.0) < 4000.0 and bench.settings["throttle"] == 0.0


def test_beyond_the_caution_the_valves_float_and_one_bends(bench):
    """Pressed again, it runs up to valve float between 5,000 and 6,000 rpm, stumbles, and after seconds of that stays
    damaged until a new try."""
    press_again(bench)
    assert 5000.0 < fastest_rpm(bench, 3.0) < 6000.0
    assert bench.readings().idle_words == "stumbles"
    assert fastest_rpm(bench, 4.0) < 6500.0 and "bent" in bench.sentence
    bench.act("throttle", 0.0)
    bench.advance(15.0)
    assert bench.readings().idle_words != "runs evenly" and min(bench.readings().beats) < 0.3
    bench.act("begin")
    bench.act("starter")
    bench.advance(10.0)
    assert bench.readings().idle_words == "runs evenly"


def test_let_go_in_time_nothing_breaks(bench):
    """Two seconds beyond the caution leave the engine whole, and the next time the caution comes again."""
    press_again(bench)
    fastest_rpm(bench, 2.0)
    bench.act("throttle", 0.0)
    bench.advance(25.0)
    assert bench.readings().idle_words == "runs evenly"
    bench.act("throttle", 1.0)
    assert fastest_rpm(bench, 5.0) < 4000.0


def test_a_snap_is_let_go_in_time(bench):
    """A snapped throttle is let go before the engine races, and nobody is cautioned."""
    bench.act("snap")
    assert fastest_rpm(bench, 3.0) < 4000.0 and "snapped" in bench.sentence


def test_a_judge_sees_the_same_damage():
    """Without instruments, where calm ticks are taken together, the valve bends at the same tick."""
    ends = []
    for watch in (True, False):
        session = idling(NAMES[0], watch)
        press_again(session)
        session.act("wait")
        ends.append((next(line.time_s for line in session.log if "bent" in line.text), session._motion.speed_rad_s))
    assert ends[0] == ends[1]


DRAWN = [(name, f"rev{number}") for number in range(10) for name in NAMES]


def drawn_bench(name, learner):
    """A learner's own engine of a kind, hot, made safe and idling; nobody watches its gauges."""
    card = learners_engine(load_card(ENGINES / f"{name}.toml"), "revs", learner, "l04").card
    found = AsFound(8.0, round(usual_screw(card), 2), coolant_c=85.0, prepared=True)
    session = Session(Engine(card), found=found, watch=False)
    session.act("starter")
    session.advance(8.0)
    assert session.running
    return session


def test_every_drawn_engine_ends_in_float_a_dying_spark_and_damage():
    """On thirty drawn engines the act is stopped once; pressed again, charges and sparks fail between 5,000 and 6,000
    rpm, no engine reaches 6,500, and a valve is bent."""

    def check(name, learner):
        session = drawn_bench(name, learner)
        session.act("throttle", 1.0)
        assert fastest_rpm(session, 4.0) < 4000.0 and session.settings["throttle"] == 0.0
        session.act("throttle", 1.0)
        fastest = fastest_rpm(session, 7.0)
        assert 5000.0 < fastest < 6500.0
        assert session._motion.missed > 0.1 and max(session._motion.doses) > DOSE_OF_FLOAT_S
        said = [line.text for line in session.log]
        assert sum("3,500 rpm with no load" in text for text in said) == 1
        floats, breaks = (next(at for at, text in enumerate(said) if word in text) for word in ("sparks fail", "bent"))
        assert floats < breaks

    check_every(check, ((f"{name} of {learner}", name, learner) for name, learner in DRAWN))
