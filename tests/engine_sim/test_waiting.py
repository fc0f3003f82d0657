"""Time that nobody follows: waiting, reopened work and a sleeping engine come to the very same state as every single
tick does, and gauges and ear to what they would have shown."""

import random
from itertools import pairwise

import pytest

from course import ENGINES
from engine_sim import (
    DRIVER_READY,
    FAULTS,
    SEA_LEVEL_DAY,
    SOUND,
    TICK_S,
    AsFound,
    Draw,
    Engine,
    EvidenceWriter,
    Header,
    Session,
    fault_named,
    load_card,
    read_evidence,
)
from engine_sim.model.dynamics import ControlInputs, Dynamics
from tests.every_case import check_every
from tests.scripted_learner import BENCH, SAFE

TOOLS = ("route", "fuel", "hold_speed", "helper", "load_brake", "mixture_screw", "snap", "timing_light")
READY = [(0.6, control, value) for control, value in {**SAFE, "tachometer": "on", "gauge_hose": "manifold"}.items()]
READ = (4.0, "read_gauges", None)
COLD, WARM = AsFound(8.0, 2.4, 0.3, 11), AsFound(8.0, 2.4, 0.3, 5, coolant_c=85.0, prepared=True)


class TickByTick(Session):
    """A session in which every tick is taken and followed by itself: no stride is passed over, and nothing sleeps."""

    def _run(self, ticks: int) -> None:
        for _ in range(ticks):
            self._step()

    def _passed_over(self, most: int) -> int:
        return 0


WORK = {  # acts, each after so many seconds
    "warmed up": [
        *READY,
        (5.3, "starter", None),
        (3.02, "wait_until_warm", None),
        (0.0, "read_gauges", None),
        (0.4, "wait", None),
        READ,
        (9.0, "mixture_screw", 0.5),
        (0.1, "wait", None),
        (0.02, "read_gauges", None),
        (31.7, "read_gauges", None),
    ],
    "turned and set": [
        *READY,
        (1.0, "starter", None),
        (6.0, "clamp", "loose"),
        *((5.54 + 0.3 * (step % 4), "distributor", -0.75 * (step % 9)) for step in range(14)),
        READ,
        (0.2, "idle_screw", 2.1),
        (11.0, "snap", None),
        (3.3, "throttle", 0.25),
        (6.0, "throttle", 0.0),
        (0.5, "clamp", "tight"),
        (17.0, "read_gauges", None),
    ],
    "left standing": [
        *READY,
        (212.34, "starter", None),
        (14.0, "stop", None),
        (0.3, "wait", None),
        (340.0, "wait", None),
        (35.5, "gauge_hose", "ported"),
        (0.1, "starter", None),
        (11.0, "read_gauges", None),
    ],
    "a speed held": [
        *READY,
        (2.0, "starter", None),
        (9.0, "hold_speed", 2000.0),
        (0.0, "wait", None),
        (12.7, "read_gauges", None),
        (3.0, "hold_speed", 0.0),
        (0.2, "wait", None),
        READ,
    ],
    "on the road": [
        *READY,
        (1.0, "starter", None),
        (12.0, "stop", None),
        (4.0, "gear", "park"),
        (0.5, "chocks", "away"),
        (0.5, "fuel", "87 RON"),
        (0.5, "route", "up the hill"),
        (0.5, "driver", DRIVER_READY),
        (0.5, "gear", "neutral"),
        (0.5, "starter", None),
        (9.0, "road_check", None),
        (75.0, "read_gauges", None),
        (0.5, "stop", None),
        (40.0, "wait", None),
        (1.0, "starter", None),
        (9.5, "road_check", None),
        (13.1, "stop", None),
        (8.0, "read_gauges", None),
    ],
}


FAULTY = [*READY, (1.0, "starter", None), (3.0, "wait", None), READ, (0.5, "wait", None), (0.0, "read_gauges", None)]


def state(session):
    """All that a session carries forward but what its instruments show."""
    carried = (vars(session._motion), vars(session._inputs), session.settings, session._tick, session._creep_deg)
    return *carried, session._crank_until, session._snap_until, session.on_road


def done_live(session, work, pieces):
    """Do the work as at the bench: time passes in uneven pieces, and somebody looks after each."""
    for seconds, control, value in work:
        end = session.time_s + seconds
        while session.time_s < end - 0.5 * TICK_S:
            session.advance(min(pieces.uniform(0.0, 0.3), end - session.time_s + 1e-6))
            session.readings()
        session.act(control, value)
    return session


def four_ways(engine, found, work, folder, name):
    """The same work live, every tick by itself, opened again, and replayed as a judge does it."""
    header = Header("a", "l04_base_timing", "", engine.card.digest, "t")
    given = {"found": found, "exercise": BENCH, "tools": TOOLS}
    path = folder / f"{name.replace(' ', '_')}.jsonl"
    live = done_live(Session(engine, evidence=EvidenceWriter(path, header), **given), work, random.Random(3))
    events = read_evidence(path).events
    again = Session(engine, evidence=EvidenceWriter(path, header), **given)
    ticked, judged = TickByTick(engine, **given), Session(engine, watch=False, **given)
    for session in (ticked, judged):
        session._replay(events)
    return live, ticked, again, judged


def alike(engine, found, work, folder, name):
    """One state to the last bit in all four; one record, and like readings, in those that somebody watches."""
    live, ticked, again, judged = four_ways(engine, found, work, folder, name)
    assert state(live) == state(ticked) == state(again) == state(judged)
    assert live.trajectories[0].actions == ticked.trajectories[0].actions
    assert again.trajectories == judged.trajectories
    assert live.trajectories[0].actions == judged.trajectories[0].actions
    assert live.log == ticked.log == again.log
    shown = [session.readings() for session in (live, ticked, again)]
    for one in shown[1:]:
        assert (one.speed_rpm, one.idle_words, one.time_s) == (shown[0].speed_rpm, shown[0].idle_words, live.time_s)
        assert one.vacuum_inhg == pytest.approx(shown[0].vacuum_inhg, abs=2e-3)


def truck(wear=SOUND):
    """The delivery truck's engine."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"), wear)


def test_waiting_and_reopening_come_to_the_state_of_every_tick(tmp_path):
    """Warm and cold, standing, held at a speed and on the road."""
    engine = truck()
    on_the_road = four_ways(engine, WARM, WORK["on the road"], tmp_path, "once more")[-1].trajectories[0]
    assert {action.kind for action in on_the_road.actions} == {"done"}
    assert [drive.complete for drive in on_the_road.drives] == [True, False]
    works = {(f"{name} {found.seed}", found): work for name, work in WORK.items() for found in (COLD, WARM)}
    check_every(
        lambda name, found, work: alike(engine, found, work, tmp_path, name),
        ((name, name, found, work) for (name, found), work in works.items()),
    )


@pytest.mark.further
def test_so_they_do_with_every_fault(tmp_path):
    """A start, two waits and two readings with each fault in turn, amounts drawn."""

    def with_fault(name):
        card = load_card(ENGINES / "delivery_truck_six.toml")
        wear, found = fault_named(name).on(card, WARM, Draw(f"waiting|{name}"))
        alike(Engine(card, wear), found, FAULTY, tmp_path, name)

    check_every(with_fault, ((name, name) for name in FAULTS))


def test_a_cold_standing_engine_sleeps_and_its_samples_go_on(monkeypatch):
    """An hour beside a cold engine costs no tick after the first second; what a judge sees has five samples a second
    all the same, and an act wakes the engine."""
    session, rests = Session(truck(), found=COLD, watch=False), []
    rest = session._dynamics._rest
    monkeypatch.setattr(session._dynamics, "_rest", lambda *given: rests.append(1) or rest(*given))
    session.advance(3600.0)
    samples = session.trajectories[0].samples
    assert session.asleep and len(rests) < 50
    assert len(samples) == pytest.approx(5 * 3600, abs=2)
    times = [sample.time_s for sample in samples]
    gaps = [after - before for before, after in pairwise(times)]
    assert min(gaps) == pytest.approx(0.2, abs=1e-9) and max(gaps) < 0.41
    assert session.time_s == 3600.0 and times[-1] <= 3600.0
    session.act("brake", "on")
    assert not session.asleep


def test_a_hot_engine_cools_and_does_not_sleep():
    """What is hot still changes: the coolant falls by what the block sheds in ten minutes, to a part of a stride."""
    session, ticked = (kind(truck(), found=WARM) for kind in (Session, TickByTick))
    for one in (session, ticked):
        one.advance(600.0)
    assert not session.asleep
    assert 60.0 < session.readings().coolant_c < 80.0
    fine = 85.0
    for _ in range(30_000):
        fine -= 0.02 * 3.0 * (fine - 20.0) / 10_000.0
    assert session._motion.coolant_c == ticked._motion.coolant_c == pytest.approx(fine, abs=5e-3)


def test_the_starter_wakes_an_engine_that_rested():
    """The first tick of the starter is taken by itself, however long the engine has stood."""
    dynamics, inputs = Dynamics(truck(), SEA_LEVEL_DAY), ControlInputs(8.0, 2.4)
    rested, fresh = dynamics.at_rest(20.0), dynamics.at_rest(20.0)
    for _ in range(203):
        dynamics.tick(rested, inputs)
    assert rested.asleep
    inputs.starter = inputs.ignition = True
    for _ in range(3):
        for motion in (rested, fresh):
            dynamics.tick(motion, inputs)
        assert rested.speed_rpm == fresh.speed_rpm > 0.0


def test_pings_that_nobody_heard_are_past():
    """After a wait the ear is given no burst of what pinged meanwhile, but hears on."""
    session = Session(truck(), found=AsFound(22.0, 2.4, 0.0, 5, coolant_c=85.0, prepared=True), tools=TOOLS)
    session.act("starter")
    session.advance(5.0)
    session.act("load_brake", 1500.0)
    session.act("throttle", 1.0)
    session.act("wait")
    assert session.readings().pings == ()
    session.advance(1.0)
    assert session.readings().pings
