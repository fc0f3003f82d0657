"""What a page is told that was not there: the last minutes, the sound since a moment ago, whether the kernel lives."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import pytest

from course import ENGINES
from course.widgets.bench.bench import Bench
from course.widgets.bench.engine_sound import TOLD_EVERY_S, WANTED_FOR_S, SoundTeller
from course.widgets.bench.recent_past import SHOWN_S, RecentPast
from engine_sim import Engine, Session, Trajectory, load_card


def messages_of(bench) -> list[dict]:
    """Gather what a bench sends besides its traits."""
    sent = []
    bench.send = lambda content, buffers=None: sent.append(content)
    return sent


@pytest.fixture(scope="module")
def worked_session():
    """A real engine that was hooked up, started and left to run for a while."""
    session = Session(Engine(load_card(ENGINES / "delivery_truck_six.toml")))
    for control, value in (
        ("brake", "on"),
        ("chocks", "in place"),
        ("ventilation", "on"),
        ("fan_area", "clear"),
        ("tachometer", "on"),
        ("gauge_hose", "manifold"),
        ("starter", None),
    ):
        session.act(control, value)
    session.advance(20.0)
    session.act("gauge_hose", "none")
    session.advance(5.0)
    return session


def test_a_replayed_try_fills_the_strip(worked_session):
    """The strip of a page that is opened after the work shows its speed and its vacuum, close to what the gauges
    showed, and no vacuum where no gauge was connected."""
    past = RecentPast(worked_session.trajectories[-1], worked_session.time_s)
    points = past.points
    assert len(points) > 100
    running = [point for point in points if 10.0 < point[0] < 19.0]
    shown = [sample for sample in worked_session.trajectories[-1].samples if 10.0 < sample.time_s < 19.0]
    assert [point[1] for point in running] == pytest.approx([sample.speed_rpm for sample in shown], abs=0.1)
    assert [point[2] for point in running] == pytest.approx([sample.vacuum_inhg for sample in shown], abs=0.01)
    assert all(point[2] is None for point in points if point[0] > 20.5)
    assert all(point[1] is not None for point in points if point[0] > 20.5)


def test_the_past_is_no_longer_than_the_strip():
    """Old points go, and points come at most five times a second."""
    past = RecentPast(Trajectory(), 0.0)
    for tick in range(10_000):
        past.add(SimpleNamespace(time_s=tick * 0.04, speed_rpm=700.0, vacuum_inhg=None))
    points = past.points
    assert points[-1][0] - points[0][0] <= SHOWN_S
    assert len(points) <= SHOWN_S / 0.2 + 1
    assert points[-1][1:] == (700.0, None)


def test_a_new_try_begins_an_empty_strip():
    """Where the clock goes back the past of the try before is gone."""
    past = RecentPast(Trajectory(), 0.0)
    for time_s in (10.0, 11.0, 0.0):
        past.add(SimpleNamespace(time_s=time_s, speed_rpm=700.0, vacuum_inhg=17.0))
    assert past.points == [(0.0, 700.0, 17.0)]


def test_a_wait_fills_the_strip_without_a_gap(worked_session):
    """After a press on "wait" the page gets the strip again, with what the gauges showed while nobody followed them."""
    worked_session.act("gauge_hose", "manifold")
    worked_session.advance(2.0)
    bench = Bench(worked_session)
    for _ in range(20):
        bench.step(0.04)
    sent, began_s = messages_of(bench), worked_session.time_s
    bench.act("wait")
    [points] = [message["history"] for message in sent if "history" in message]
    times = [point[0] for point in points if point[0] >= began_s]
    assert max(after - before for before, after in pairwise(times)) < 0.5
    assert times == sorted(times) and times[0] <= began_s + 0.3 and times[-1] >= began_s + 9.6
    vacuum = [point[2] for point in points if point[0] > began_s]
    assert vacuum == pytest.approx([worked_session.readings().vacuum_inhg] * len(vacuum), abs=0.5)
    bench.act("brake", "on")
    assert len([message for message in sent if "history" in message]) == 1


def test_of_an_engine_at_rest_nothing_is_sent(session):
    """Of an engine that stands only the clock moves on, which sends nothing; half a degree of its coolant does, and so
    does what an act changes."""
    bench = Bench(session)
    bench.step(0.04)
    told: list[str] = []  # by whose change a message would go out
    bench.observe(lambda change: told.append(change["name"]))
    for _ in range(250):
        bench.step(0.04)
    assert told == [] and session.time_s == pytest.approx(10.04)
    bench.act("brake", "on")
    assert bench.settings["brake"] == "on" and bench.readings["time_s"] == pytest.approx(10.04)
    assert "settings" in told
    told.clear()
    for coolant_c in (20.3, 20.4, 20.5, 20.6):
        session.coolant_c = coolant_c
        bench.step(5.0)
    assert told == ["readings"] and bench.readings["coolant_c"] == 20.5


def test_the_strip_is_whole_after_a_rest():
    """What the gauges showed while nothing was sent is sent with the next act."""
    session = Session(Engine(load_card(ENGINES / "farm_runabout_four.toml")))
    session.act("tachometer", "on")
    bench = Bench(session)
    sent = messages_of(bench)
    for _ in range(10):
        bench.step(1.0)
    bench.act("brake", "on")
    [points] = [message["history"] for message in sent if "history" in message]
    times = [point[0] for point in points]
    assert times == sorted(times) and max(after - before for before, after in pairwise(times)) < 0.5
    assert times[-1] >= 9.5 and {point[1] for point in points} == {0.0}


def test_the_bench_answers_heartbeat_and_history(session):
    """A heartbeat comes back with its number, and the last minutes come when a page asks for them."""
    bench = Bench(session)
    sent = messages_of(bench)
    bench._handle_custom_msg({"control": "starter"}, [])
    bench.step(1.0)
    bench._handle_custom_msg({"heartbeat": 7}, [])
    bench._handle_custom_msg({"history": True}, [])
    assert sent[0] == {"alive": 7}
    assert sent[1]["history"][-1] == (1.0, 601.0, None)


def test_sound_is_told_only_while_somebody_listens(session):
    """No sound is sent unasked; a page that asked gets firings and pings, and is forgotten when it asks no more."""
    bench = Bench(session)
    sent = messages_of(bench)
    bench.act("starter")
    bench.step(1.0)
    assert sent == []
    bench._handle_custom_msg({"listen": True}, [])
    for _ in range(25):
        bench.step(0.04)
    assert 6 <= len(sent) <= 1.0 / TOLD_EVERY_S + 1
    assert sent[-1]["sound"]["firing_hz"] == 30.0
    assert sent[-1]["sound"]["beats"] == [1.0, 0.5, 1.1]
    for _ in range(int(WANTED_FOR_S / 0.5) + 2):
        bench.step(0.5)
    count = len(sent)
    bench.step(1.0)
    assert len(sent) == count


def test_every_ping_is_told_once():
    """Pings between two messages are gathered, and told in the next one only."""
    teller = SoundTeller()
    teller.want(0.0)
    told = [
        teller.tell(SimpleNamespace(time_s=tick * 0.04, firing_hz=50.0, beats=(1.0,), cranking=False, pings=(0.5,)))
        for tick in range(12)
    ]
    pings = [len(message["pings"]) for message in told if message]
    assert sum(pings) == 10  # the last two wait for the next message
    assert told[1] is told[2] is None
