"""The session: rules of the workshop, instruments, evidence and replay."""

import random
from dataclasses import replace

import pytest

from engine_sim import (
    CLOSED,
    DEBRIEFED,
    DRIVER_READY,
    AsFound,
    ControlError,
    Engine,
    Event,
    EvidenceWriter,
    Header,
    Session,
    load_card,
    read_evidence,
    replay,
    version,
)
from graders.model_answers.operator import Operator
from tests.scripted_learner import BENCH, ENGINES, SAFE

FOUND = AsFound(base_timing_deg=8.0, idle_screw=2.3, tighten_shift_deg=0.4, seed=7)


@pytest.fixture(scope="module")
def engine():
    """The delivery truck."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


@pytest.fixture
def session(engine):
    """A session at the truck as it was found."""
    return Session(engine, found=FOUND, exercise=BENCH)


def started(session, warm=False):
    """Make safe, hook up and start; wait until warm where that is wanted."""
    for control, value in {**SAFE, "tachometer": "on", "gauge_hose": "manifold"}.items():
        assert session.act(control, value).kind == "done"
    assert session.act("starter").kind == "done"
    session.advance(5.0)
    assert session.running
    if warm:
        session.act("wait_until_warm")
        session.advance(20.0)
    return session


@pytest.mark.parametrize("missing", SAFE)
def test_start_is_stopped_until_everything_is_safe(session, missing):
    """Each missing precaution stops the starter with its own sentence, and the engine does not turn."""
    for control, value in SAFE.items():
        if control != missing:
            session.act(control, value)
    act = session.act("starter")
    session.advance(2.0)
    assert act.kind == "stopped" and act.sentence.startswith("Stopped:") and not session.running


def test_start_in_gear_is_stopped(session):
    """In drive the starter is stopped."""
    for control, value in {**SAFE, "gear": "drive"}.items():
        session.act(control, value)
    assert session.act("starter").kind == "stopped"


@pytest.mark.parametrize(
    ("control", "value"),
    [
        ("brake", "off"),
        ("ventilation", "off"),
        ("gear", "drive"),
        ("gear", "reverse"),
        ("tachometer", "off"),
    ],
)
def test_unsafe_with_the_engine_running(session, control, value):
    """What a workshop does not allow while the engine runs is stopped and changes nothing."""
    before = started(session).settings[control]
    assert session.act(control, value).kind == "stopped"
    assert session.settings[control] == before


@pytest.mark.parametrize("place", ["away", "in place"])
def test_nobody_touches_a_chock_of_a_running_engine(session, place):
    """With the engine running the chocks stay where they are, away or in place."""
    operator = Operator(started(session))
    if place == "in place":
        assert operator.to_the_road()
        session.act("gear", "park")
    outcome = session.act("chocks", place)
    assert outcome.kind == ("stopped" if place == "away" else "not possible")
    assert session.settings["chocks"] != place


@pytest.mark.parametrize(("brake", "gear"), [("off", "park"), ("on", "neutral")])
def test_chocks_are_taken_away_only_from_a_vehicle_that_is_held(session, brake, gear):
    """Engine off is not enough: the parking brake and the gearbox hold the vehicle before its chocks go."""
    for control, value in {**SAFE, "gear": gear, "brake": brake}.items():
        session.act(control, value)
    assert session.act("chocks", "away").kind == "stopped" and session.settings["chocks"] == "in place"
    session.act("brake", "on")
    session.act("gear", "park")
    assert session.act("chocks", "away").kind == "done"


@pytest.mark.parametrize(
    ("held", "control", "value"),
    [
        ({"gear": "park"}, "gear", "neutral"),
        ({"gear": "neutral", "brake": "on"}, "brake", "off"),
    ],
)
def test_a_vehicle_without_chocks_is_never_let_loose(session, held, control, value):
    """Engine off, no chocks, nobody seated: the last thing that holds the vehicle stays."""
    for name, place in held.items():
        session.act(name, place)
    if "brake" in held:
        session.act("gear", "neutral")
    before = dict(session.settings)
    assert session.act(control, value).kind == "stopped" and session.settings == before
    session.act("chocks", "in place")
    assert session.act(control, value).kind == "done"


def test_the_driver_does_not_set_off_by_hand(session):
    """Brake off and drive belong to the drive itself: a learner who presses them is told so, and loses nothing."""
    operator = Operator(started(session))
    operator.to_the_road()
    for control, value in (("brake", "off"), ("gear", "drive")):
        outcome = session.act(control, value)
        assert outcome.kind == "not possible" and "Road check" in outcome.sentence


def test_without_chocks_only_a_driver_on_the_brake_starts(session):
    """The starter is stopped without chocks until everyone is clear and a foot is on the brake; then it starts."""
    for control, value in {**SAFE, "gear": "park", "chocks": "away"}.items():
        session.act(control, value)
    outcome = session.act("starter")
    assert outcome.kind == "stopped" and "nobody on the foot brake" in outcome.sentence
    session.act("driver", DRIVER_READY)
    assert session.act("starter").kind == "done"


def test_from_the_seat_nobody_reaches_into_the_engine(session):
    """The driver stays on the brake while the engine runs without chocks, and cannot reach anything else meanwhile."""
    operator = Operator(started(session))
    operator.to_the_road()
    assert session.act("clamp", "loose").kind == "not possible"
    assert session.act("driver", "not seated").kind == "stopped"
    session.act("stop")
    session.advance(4.0)
    assert session.act("driver", "not seated").kind == "stopped"  # the lever is in neutral
    session.act("gear", "park")
    assert session.act("driver", "not seated").kind == "done"
    assert session.act("chocks", "in place").kind == "done"


def test_an_engine_that_runs_down_is_waited_for(session):
    """Switched off it still turns for a moment: leads and chocks wait until it stands, and nobody loses points."""
    started(session).act("gear", "park")
    session.act("stop")
    for control, value in (("chocks", "away"), ("tachometer", "off")):
        outcome = session.act(control, value)
        assert outcome.kind == "not possible" and "still turning" in outcome.sentence
    session.advance(4.0)
    assert session.act("chocks", "away").kind == session.act("tachometer", "off").kind == "done"


def test_tight_clamp_holds_the_distributor(session):
    """The distributor does not turn before the clamp is loosened."""
    assert session.act("distributor", 3.0).kind == "not possible"
    session.act("clamp", "loose")
    assert session.act("distributor", 3.0).kind == "done"


def test_against_the_rotor_is_advance_and_twice_the_angle(session):
    """The truck's rotor turns clockwise: three degrees of the body anticlockwise are six crank degrees of advance."""
    session.act("clamp", "loose")
    session.act("distributor", -3.0)
    assert session.base_timing_deg == pytest.approx(FOUND.base_timing_deg + 6.0)


def test_setting_creeps_as_the_clamp_bites(session):
    """Tightening moves the spark by the amount with which this engine was found."""
    session.act("clamp", "loose")
    session.act("clamp", "tight")
    assert session.base_timing_deg == pytest.approx(FOUND.base_timing_deg + FOUND.tighten_shift_deg)
    clockwise = 1.0 if session.engine.card.distributor.rotor_turns == "anticlockwise" else -1.0
    assert session.crept_deg == pytest.approx(clockwise * FOUND.tighten_shift_deg / 2.0)  # as the body is seen to move


def test_a_snug_clamp_lets_the_body_turn_and_creeps_half_as_far(session):
    """Between tight and loose: the body turns, is not lifted, is not fit for the road, and half of the creep is left
    for the last turn of the bolt."""
    assert "with effort" in session.act("clamp", "snug").sentence
    assert session.act("distributor", 2.0).kind == "done"
    assert "is snug" in started(session, warm=True).act("road_check").sentence
    session.act("distributor", 0.0)
    session.act("clamp", "tight")
    assert session.base_timing_deg == pytest.approx(FOUND.base_timing_deg + 0.5 * FOUND.tighten_shift_deg)


def test_a_snug_clamp_still_holds_the_body_down(engine):
    """The distributor is lifted only with the clamp loose."""
    session = Session(engine, found=FOUND, tools=("refit",))
    session.act("clamp", "snug")
    act = session.act("refit", "half a turn round")
    assert act.kind == "not possible" and "loosen it" in act.sentence
    session.act("clamp", "loose")
    assert session.act("refit", "half a turn round").kind == "done"


def test_the_way_back_to_the_mark_exists_only_if_it_was_made(session):
    """Without a mark there is no way back; with one the body comes to it within a quarter degree, as a turn that needs
    the clamp loose."""
    act = session.act("back_to_mark")
    assert act.kind == "not possible" and "no mark" in act.sentence
    session.act("mark_body")
    assert "already" in session.act("mark_body").sentence
    assert "tight" in session.act("back_to_mark").sentence
    session.act("clamp", "loose")
    places = set()
    for _ in range(12):
        session.act("distributor", 9.0)
        session.advance(1.0)
        assert session.act("back_to_mark").kind == "done"
        places.add(session.settings["distributor"])
    assert places == {-0.25, 0.0, 0.25}


def test_mark_and_way_back_are_in_the_evidence(engine, tmp_path):
    """The mark is an act of its own, the way back the turn that the hand made; a replay ends where the session did."""
    header = Header(learner="Robin Vale", lesson="l04", class_id="", engine="", created="")
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", header)
    session = Session(engine, found=FOUND, evidence=writer, exercise=BENCH)
    for control, value in (("mark_body", None), ("clamp", "loose"), ("distributor", 4.0), ("back_to_mark", None)):
        session.act(control, value)
    assert [event.control for event in writer.events] == ["mark_body", "clamp", "distributor", "distributor"]
    left = replay(writer.events, engine, found=FOUND, exercise=BENCH)[-1].settings
    assert left == session.settings and left["marked_at"] == 0.0
    session.act("begin")
    assert session.settings["marked_at"] is None


def test_a_tachometer_on_the_other_terminal_shows_nothing(session):
    """On the coil's switch side no pulse comes: the needle has nothing to show, and the bench says so."""
    assert "needle will not move" in session.act("tachometer", "on the switch side").sentence
    for control, value in {**SAFE, "gauge_hose": "manifold"}.items():
        session.act(control, value)
    session.act("starter")
    session.advance(5.0)
    assert session.running and session.readings().speed_rpm is None


def test_instruments_show_nothing_before_they_are_connected(session):
    """A person reads only what is hooked up."""
    readings = session.readings()
    assert readings.speed_rpm is None and readings.vacuum_inhg is None and readings.idle_words == "silent"


def test_readings_agree_with_the_settled_engine(session):
    """Warm and settled, the needles stand where the engine's own settled state is, within their wobble."""
    started(session, warm=True).act("vacuum_hose", "off and plugged")
    session.advance(20.0)
    settled = session.engine.idle(8.0, 2.3)
    assert session.readings().speed_rpm == pytest.approx(float(settled.speed_rpm), abs=20)
    assert session.readings().vacuum_inhg == pytest.approx(float(settled.manifold_vacuum_inhg), abs=0.35)


def test_ported_source_shows_next_to_nothing_at_idle(session):
    """The port above the closed throttle sees no vacuum, and sees it once the throttle is opened."""
    started(session, warm=True).act("gauge_hose", "ported")
    session.advance(3.0)
    assert session.readings().vacuum_inhg < 1.0
    session.act("throttle", 0.1)
    session.advance(3.0)
    assert session.readings().vacuum_inhg > 8.0


def test_snap_of_the_throttle(session):
    """Snapped open the vacuum collapses below 5 inHg; let go, it rises to 21 or more (common practice)."""
    started(session, warm=True).act("snap")
    lowest, highest = 99.0, 0.0
    for _ in range(50):
        session.advance(0.1)
        vacuum = session.readings().vacuum_inhg
        lowest, highest = min(lowest, vacuum), max(highest, vacuum)
    assert lowest < 5.0 and highest > 21.0


def test_cold_engine_idles_fast_and_warms_up(session):
    """The choke raises the idle of a cold engine; warm, it is off."""
    started(session)
    cold = session.readings().speed_rpm
    session.act("wait_until_warm")
    session.advance(20.0)
    assert session.readings().warm and cold > session.readings().speed_rpm + 150


def test_road_check_hears_ping_and_silence(session):
    """At 8 degrees the drive is silent; at 20 it pings heavily and says where."""
    operator = Operator(started(session, warm=True))
    assert operator.to_the_road()
    session.act("road_check")
    session.finish_drive()
    assert "no ping" in session.sentence
    operator.back_in_the_workshop()
    session.act("clamp", "loose")
    session.act("distributor", -6.0)
    session.act("clamp", "tight")
    assert operator.to_the_road()
    session.act("road_check")
    session.advance(3.0)
    assert session.readings().on_road and session.readings().ping_words == "heavy ping"
    session.finish_drive()
    assert "heavy ping was heard from" in session.sentence and not session.on_road


def test_road_check_needs_a_warm_engine_no_chocks_and_a_driver(session):
    """What keeps the vehicle off the road is said, one thing at a time."""
    assert "not running" in session.act("road_check").sentence
    operator = Operator(started(session))
    assert "chocks" in session.act("road_check").sentence
    operator.to_the_road()
    assert "cold" in session.act("road_check").sentence


def test_unknown_control_and_bad_values_teach(session):
    """What was wanted and what was found stand in one sentence, and nothing is written."""
    with pytest.raises(ControlError, match="There is no control 'boost'; there are brake"):
        session.act("boost", 1)
    with pytest.raises(ControlError, match=r"Wheel chocks can be away, in place; 'gone' was asked for"):
        session.act("chocks", "gone")
    with pytest.raises(ControlError, match=r"Idle speed screw goes from 0 to 6 turns in; 9 was asked for"):
        session.act("idle_screw", 9)
    with pytest.raises(ControlError, match="set in turns in; a value in 'mm' was given"):
        session.act("idle_screw", 1.0, "mm")
    with pytest.raises(ControlError, match="takes a number"):
        session.act("idle_screw", float("nan"))


def worked(engine, path):
    """A few minutes of work with evidence, advanced in uneven pieces; the session and its writer."""
    writer = EvidenceWriter(path, Header("a", "l04_base_timing", "", engine.card.digest, "t"))
    session = started(Session(engine, found=FOUND, evidence=writer, exercise=BENCH))
    pieces = random.Random(3)
    session.act("vacuum_hose", "off and plugged")
    session.act("clamp", "loose")
    for step in range(20):
        session.act("distributor", -0.5 * step)
        for _ in range(12):
            session.advance(pieces.uniform(0.0, 0.2))
    return session


def test_replay_goes_through_the_same_states(engine, tmp_path):
    """However a session was advanced, its evidence leads through exactly the same states again, and twice alike."""
    session = worked(engine, tmp_path / "evidence.jsonl")
    evidence = read_evidence(tmp_path / "evidence.jsonl")
    once, twice = (replay(evidence.events, engine, found=FOUND, exercise=BENCH) for _ in range(2))
    assert once[0].actions == twice[0].actions == session.trajectories[0].actions
    assert once[0].samples == twice[0].samples
    assert len(once[0].actions) == 29


def test_session_goes_on_where_the_evidence_ends(engine, tmp_path):
    """After a kernel restart the engine stands where the last act left it."""
    session = worked(engine, tmp_path / "evidence.jsonl")
    last = session.trajectories[0].actions[-1]
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("a", "l04_base_timing", "", engine.card.digest, "t"))
    again = Session(engine, found=FOUND, evidence=writer, exercise=BENCH)
    assert again.settings == session.settings and again.running
    assert again.trajectories[0].actions[-1] == last
    again.act("read_gauges")
    assert len(read_evidence(tmp_path / "evidence.jsonl").events) == 30


def test_work_on_another_model_is_kept_and_begun_again(engine, tmp_path, monkeypatch):
    """After an update of the model the engine stands as found, with one sentence, and the older acts stay in the file;
    from then on the session goes on where the new work ends."""
    path, earlier = tmp_path / "evidence.jsonl", version.MODEL_VERSION
    older = len(worked(engine, path).trajectories[0].actions)
    before = path.read_bytes()
    monkeypatch.setattr(version, "MODEL_VERSION", f"{earlier}, improved")

    def opened():
        writer = EvidenceWriter(path, Header("a", "l04_base_timing", "", "digest of today's engine", "t"))
        return Session(engine, found=FOUND, evidence=writer, exercise=BENCH)

    again = opened()
    assert again.sentence.startswith("The course was updated") and f"not by model {earlier}:" in again.sentence
    assert again.sentence.endswith("before you start the engine.")
    assert not again.running and again.settings["clamp"] == "tight" and again.time_s == 0.0
    again.act("brake", "on")
    again.advance(1.0)
    assert path.read_bytes().startswith(before)
    once_more = opened()
    assert once_more.settings == again.settings and "updated" not in once_more.sentence
    events = read_evidence(path).events
    assert [event.control for event in events[older:]] == ["begin", "brake"]


def test_new_try_puts_the_engine_back_as_it_was_found(session):
    """A new try begins with the clock at zero and every setting as found; the old try is kept."""
    started(session).act("begin")
    assert session.time_s == 0.0 and not session.running and session.settings["brake"] == "off"
    assert len(session.trajectories) == 2 and session.trajectories[0].actions


def test_a_second_try_can_be_read_and_goes_on_another_day(engine, tmp_path):
    """A try that lasted, a new one, and the lesson opened again: the evidence is read, and both tries are there."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("a", "l04_base_timing", "", engine.card.digest, "t"))
    session = started(Session(engine, found=FOUND, evidence=writer, exercise=BENCH))
    session.act("begin")
    session.act("brake", "on")
    session.advance(1.0)
    session.act("chocks", "in place")
    assert len(read_evidence(writer.path).events) == len(writer.events)
    writer = EvidenceWriter(writer.path, writer.header)
    again = Session(engine, found=FOUND, evidence=writer, exercise=BENCH)
    assert again.settings == session.settings and again.time_s == 1.0
    assert [len(one.actions) for one in again.trajectories] == [len(one.actions) for one in session.trajectories]


def another_engine(number):
    """The further engines of a learner: here the truck, found a degree later each time."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml")), replace(FOUND, base_timing_deg=-float(number))


def test_only_after_a_debrief_a_new_try_is_at_another_engine(engine, tmp_path):
    """A new try is at the same engine, and after the learner was shown what the judge says at the next one. Opened
    again and replayed it is the same; without further engines it always is."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("a", "l04_base_timing", "", engine.card.digest, "t"))

    def opened():
        return Session(engine, found=FOUND, evidence=writer, exercise=BENCH, another_engine=another_engine)

    session = opened()
    session.debrief()  # nothing was done that could be shown
    session.act("begin")
    assert (session.engine_number, session.base_timing_deg) == (0, FOUND.base_timing_deg)
    started(session)
    session.debrief()
    session.debrief()
    assert opened().settings == session.settings and opened().engine_number == 0
    session.act("begin")
    assert (session.engine_number, session.base_timing_deg) == (1, -1.0) and "another engine" in session.sentence
    session.act("brake", "on")
    session.act("begin")
    assert session.engine_number == 1 and session.sentence == "A new try begins, with the engine as it was found."
    session.act("brake", "on")
    session.debrief()
    session.act("begin")
    assert (opened().engine_number, opened().base_timing_deg) == (2, -2.0)
    events = read_evidence(writer.path).events
    assert [one.control for one in events].count(DEBRIEFED) == 2
    replayed = replay(events, engine, found=FOUND, exercise=BENCH, another_engine=another_engine)
    assert [one.engine_number for one in replayed] == [0, 0, 1, 1, 2]
    assert {one.engine_number for one in replay(events, engine, found=FOUND, exercise=BENCH)} == {0}


def test_what_is_done_after_closing_belongs_to_no_attempt(engine, tmp_path):
    """Closed once and written once, an attempt keeps what it had; acts after it are done and kept in the file, replayed
    they are in no attempt, and the next try is at another engine."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("a", "l04_base_timing", "", engine.card.digest, "t"))
    session = Session(engine, found=FOUND, evidence=writer, exercise=BENCH, another_engine=another_engine)
    started(session)
    session.debrief()
    acts = len(session.trajectories[0].actions)
    for _ in range(2):
        session.debrief(CLOSED)
    session.act("clamp", "loose")
    session.advance(5.0)
    assert session.settings["clamp"] == "loose" and session.trajectories[0].settings["clamp"] == "tight"
    session.act("begin")
    session.act("brake", "on")
    assert session.engine_number == 1
    events = read_evidence(writer.path).events
    assert [one.value for one in events if one.control == DEBRIEFED] == ["verdict", "closed"]
    for tries in (session.trajectories, replay(events, engine, found=FOUND, exercise=BENCH)):
        assert [len(one.actions) for one in tries[:1]] == [acts] and tries[0].closed
        assert tries[0].settings["clamp"] == "tight" and tries[0].verdicts[0][0] == acts


def test_unknown_control_is_refused_in_replay(engine):
    """An event with a control that no bench has is not passed over."""
    with pytest.raises(ControlError, match="There is no control 'answer'"):
        replay([Event(0.0, BENCH, "answer", "x")], engine, exercise=BENCH)


def test_engine_time_without_end_is_refused_in_replay(engine):
    """Evidence that asks for days of engine time is refused before it is gone through."""
    with pytest.raises(ControlError, match="more than 12 hours of engine time"):
        replay([Event(0.0, BENCH, "brake", "on"), Event(9e6, BENCH, "chocks", "in place")], engine, exercise=BENCH)


def test_forged_event_is_refused_in_replay(engine):
    """An event that no session could have written raises a ControlError, which the judge turns into an outcome."""
    with pytest.raises(ControlError):
        replay([Event(0.0, BENCH, "idle_screw", 1e6)], engine, exercise=BENCH)
