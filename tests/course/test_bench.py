"""The bench without a browser: what it sends, what it does with messages, when its clock runs."""

from __future__ import annotations

import asyncio
import json
import threading
from fractions import Fraction
from types import SimpleNamespace

import pytest
import traitlets

from course.widgets.bench import engine_clock
from course.widgets.bench.bench import (
    AT_HAND,
    IS_RECORDED,
    LONGEST_RECORD,
    NOBODY_WATCHED,
    STOPS,
    WORK,
    Bench,
    described_work,
    first_shown,
    phase_left_in,
    shown_readings,
)
from course.widgets.bench.engine_clock import LONGEST_STEP_S, RESTS_FOR_S, STEP_S, WATCHED_FOR_S, EngineClock
from engine_sim import CONTROLS, TICK_S, OutsideValidity
from tests.apart import run_apart


def send(bench, content):
    """Give the bench a message as the browser would."""
    bench._handle_custom_msg(content, [])


def test_every_control_is_on_the_bench_once():
    """Every control of the engine stands in exactly one phase or at hand in all; a new try has its own button."""
    placed = [*AT_HAND, *(name for _, names in WORK for name in names)]
    assert sorted([*placed, "begin"]) == sorted(CONTROLS)


def test_every_number_that_is_turned_has_a_fine_and_a_coarse_turn():
    """The fine turn is the control's step, the coarse one whole steps, and their words on the buttons are their sizes;
    only the throttle slides."""
    numbers = {name: control for name, control in CONTROLS.items() if control.kind == "number"}
    assert [name for name, control in numbers.items() if not control.turns] == ["throttle"]
    for control in numbers.values():
        for size, words in control.turns:
            assert size / control.step == pytest.approx(round(size / control.step)), control.name
            digits = words.split()[0].rstrip("°").replace("¼", "1/4")
            assert float(Fraction(digits)) == pytest.approx(size), (control.name, words)
        if control.turns:
            (fine, _), (coarse, _) = control.turns
            assert 0 < fine == control.step < coarse


def test_the_page_gets_the_steps_of_every_control():
    """What the browser draws has each control's steps with their words, and what its tool is called."""
    drawn = {control["name"]: control for group in described_work() for control in group["controls"]}
    assert drawn["distributor"]["turns"] == [[0.25, "¼°"], [2.0, "2°"]] and drawn["throttle"]["turns"] == []
    for name, control in drawn.items():
        assert control["turns"] == [list(turn) for turn in CONTROLS[name].turns]
        assert control["shows"] == CONTROLS[name].shows


def test_a_press_reaches_the_session_and_its_sentence_comes_back(session):
    """A message with a control becomes one act, and the traits show what came of it."""
    bench = Bench(session)
    send(bench, {"control": "brake", "value": "on"})
    assert session.told == [("brake", "on")]
    assert bench.settings["brake"] == "on"
    assert (bench.said["kind"], bench.said["sentence"]) == ("done", "brake done.")
    assert bench.record == [[0.0, "brake on"]]


def test_a_long_record_shows_its_latest_lines():
    """What is shown stays within its limit, ends with the latest line and mostly begins where it did."""
    firsts = [first_shown(lines) for lines in range(2000)]
    assert all(0 < lines - first <= LONGEST_RECORD for lines, first in enumerate(firsts) if lines)
    assert firsts[: LONGEST_RECORD + 1] == [0] * (LONGEST_RECORD + 1)
    assert len(set(firsts)) < 20


def test_a_new_try_is_counted(session):
    """The bench says which try this is."""
    bench = Bench(session)
    assert bench.tries == 1
    send(bench, {"control": "begin"})
    assert bench.tries == 2


def test_the_same_act_twice_is_said_twice(session):
    """A sentence that repeats still reaches the ear of somebody who hears the page."""
    bench = Bench(session)
    send(bench, {"control": "read_gauges"})
    first = bench.said["number"]
    send(bench, {"control": "read_gauges"})
    assert bench.said["number"] == first + 1


def test_what_the_engine_says_by_itself_is_said(session):
    """Nobody presses a button when the engine has started; the sentence for it arrives all the same, once."""
    bench = Bench(session)
    send(bench, {"control": "starter"})
    session.sentence = "The engine has started."
    bench.step(0.04)
    number = bench.said["number"]
    bench.step(0.04)
    said = {"number": number, "kind": "done", "sentence": "The engine has started.", "control": ""}
    assert bench.said == said


def test_an_unsafe_act_is_said_as_stopped(session):
    """What the engine stops as unsafe arrives with its kind, so that the page can make it stand out."""
    session.stop_unsafe.add("starter")
    bench = Bench(session)
    send(bench, {"control": "starter"})
    assert bench.said["kind"] == "stopped"
    assert not bench.readings["running"]


@pytest.mark.parametrize(
    "content",
    [
        {"control": "warp_drive"},
        {"control": "brake", "value": 7},
        {"control": "throttle", "value": "much"},
        {"control": "distributor", "by": "a lot"},
        {"control": "brake", "by": 1},
        {"control": "distributor", "by": float("inf")},
        {"control": "throttle", "value": float("nan")},
    ],
)
def test_a_message_that_makes_no_sense_is_a_sentence(session, content):
    """A control that does not exist or a value it cannot take is said, and nothing is done."""
    bench = Bench(session)
    send(bench, content)
    assert bench.said["kind"] == "not possible"
    assert len(bench.said["sentence"]) > 20
    assert session.told == []


@pytest.mark.parametrize("content", [None, 3, "brake", [], {}, {"control": 5}, {"heartbeat": False}])
def test_a_message_of_another_shape_does_nothing(session, content):
    """What is not a message of this bench is left alone."""
    bench = Bench(session)
    send(bench, content)
    assert session.told == []


def test_a_turn_starts_from_where_the_control_stands(session):
    """Two quick turns add up, on whole steps, even though the page had not heard of the first one yet."""
    bench = Bench(session)
    for by in (0.25, 2.0, -0.25):
        send(bench, {"control": "distributor", "by": by})
    assert session.settings["distributor"] == 2.0


def test_a_turn_ends_at_the_stop(session):
    """A turn past the end of a control's travel goes to the end."""
    bench = Bench(session)
    send(bench, {"control": "idle_screw", "by": -0.25})
    assert session.settings["idle_screw"] == CONTROLS["idle_screw"].low
    for _ in range(40):
        send(bench, {"control": "idle_screw", "by": 0.25})
    assert session.settings["idle_screw"] == CONTROLS["idle_screw"].high


@pytest.mark.parametrize("control", list(STOPS))
def test_a_stop_is_said_where_a_part_goes_no_further(session, control):
    """At either end of its travel a part says so, and on the way it does not."""
    bench = Bench(session)
    session.tools = frozenset([control])
    (fine, _), (coarse, _) = CONTROLS[control].turns
    for by, sentence in zip((-coarse, coarse), STOPS[control], strict=True):
        for _ in range(60):
            send(bench, {"control": control, "by": by})
        assert bench.said["sentence"].endswith(sentence)
        send(bench, {"control": control, "by": -fine if by > 0 else fine})
        assert not bench.said["sentence"].endswith(STOPS[control])


@pytest.mark.parametrize(
    ("value", "words"), [(25.0, "no further clockwise"), (-25.0, "no further anticlockwise"), (3.0, "")]
)
def test_a_body_that_is_dragged_to_its_stop_says_so(session, value, words):
    """A pull that ends at the stop is told as a press that ends there is."""
    bench = Bench(session)
    send(bench, {"control": "distributor", "value": value})
    assert bench.said["sentence"].removeprefix("distributor done.").strip().endswith(f"{words}." if words else "")
    assert ("stop" in bench.said["sentence"]) is bool(words)


def test_a_snug_clamp_lets_a_press_turn_a_quarter_as_far(session):
    """The same press turns a free body by two degrees and one whose clamp drags by half a degree."""
    bench = Bench(session)
    for clamp, turned in (("loose", 2.0), ("snug", 2.5)):
        send(bench, {"control": "clamp", "value": clamp})
        send(bench, {"control": "distributor", "by": 2.0})
        assert session.settings["distributor"] == turned


def test_what_next_is_told_recorded_and_said_to_be_so(session):
    """The next step is said with what asking for it costs; the letter's bench has no such button and tells nothing."""
    session.found, hinted = SimpleNamespace(prepared=False), []
    session.hint = hinted.append
    bench = Bench(session, guide="phases", checks={"made_safe"})
    send(bench, {"hint": True})
    assert bench.can_hint and hinted == ["parking brake"]
    assert bench.said["sentence"] == f"Set the parking brake. {IS_RECORDED}"
    assert "earns nothing in this try" in IS_RECORDED
    letter = Bench(session, guide="none", checks={"made_safe"})
    send(letter, {"hint": True})
    assert not letter.can_hint and hinted == ["parking brake"] and not letter.said


def test_the_drawn_engine_gets_its_beats_with_or_without_sound(session):
    """How strongly each cylinder fired last goes out with the readings, so coarse that an even engine says the same
    again."""
    session.running = True
    assert shown_readings(session.readings())["beats"] == [1.0, 0.5, 1.1]
    session.running = False
    assert shown_readings(session.readings())["beats"] == []


def test_a_bench_opens_in_the_phase_in_which_it_was_left(session):
    """The phase of the last act that belongs to one; the first phase where nothing was done."""
    bench = Bench(session)
    assert bench.phase == WORK[0][0]
    for control in ("brake", "clamp", "read_gauges"):
        session.trajectories[-1].actions.append(SimpleNamespace(control=control, kind="done"))
    assert phase_left_in(session) == "Set"
    send(bench, {"control": "wait"})
    assert bench.phase == "Set"


def test_an_unexpected_fault_is_said_and_not_hidden(session):
    """A fault that nobody foresaw reaches the learner as a sentence and the log as itself."""
    session.fail = ZeroDivisionError("by nothing")
    bench = Bench(session)
    with pytest.raises(ZeroDivisionError):
        bench._on_message(bench, {"control": "starter"}, [])
    assert "ZeroDivisionError" in bench.said["sentence"]


def test_an_engine_that_leaves_its_validity_ends_with_a_sentence(session):
    """Where the engine cannot go on, the bench says why instead of showing a traceback."""
    bench = Bench(session)
    session.fail = OutsideValidity("The engine left the range in which the model is valid.")
    bench.step(0.04)
    assert bench.problem.startswith("The engine left the range")
    bench.step(0.04)
    send(bench, {"control": "starter"})


def test_a_bench_without_an_engine_shows_its_problem():
    """A card or record that cannot be used becomes the bench's own sentence."""
    bench = Bench(problem="The record belongs to another learner.")
    send(bench, {"control": "starter"})
    bench.step(1.0)
    bench.leave()
    assert (bench.problem, bench.readings) == ("The record belongs to another learner.", {})


def test_the_learner_is_not_shown_the_timing(session):
    """Nothing that reaches the browser is named for the true angle of the spark."""
    bench = Bench(session)
    shown = {name: value for name, value in bench.get_state().items() if not name.startswith("_")}
    state = json.dumps(shown, default=str)
    assert "btdc" not in state and "timing_deg" not in state and "base_timing_deg" not in state


def test_a_still_engine_sends_the_same_readings(session):
    """Readings are rounded below what an eye can tell, so that a still needle is still on the wire."""
    reading = session.readings()
    before = shown_readings(reading)
    reading.coolant_c += 0.01
    assert shown_readings(reading) == before
    reading.coolant_c += 1.0
    assert shown_readings(reading) != before


def test_traits_are_validated(session):
    """A trait does not take what it cannot show."""
    bench = Bench(session)
    with pytest.raises(traitlets.TraitError):
        bench.nameplate = [["only one"]]
    with pytest.raises(traitlets.TraitError):
        bench.conditions = {"altitude_ft": "high"}


def test_acts_from_many_threads_do_not_tear_the_session(session):
    """Messages and steps from several threads are done one after the other."""
    bench = Bench(session)
    overlaps, inside = [], threading.Lock()
    plain = session.act

    def watched(*args, **kwargs):
        if not inside.acquire(blocking=False):
            overlaps.append(args)
            return plain(*args, **kwargs)
        try:
            return plain(*args, **kwargs)
        finally:
            inside.release()

    session.act = watched
    threads = [
        threading.Thread(target=lambda: [bench.act("distributor", by=0.25) for _ in range(10)]) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert overlaps == []
    assert session.settings["distributor"] == 10.0


def test_nobody_watching_switches_a_running_engine_off(session):
    """An engine left alone is switched off through the same door as any other act, and a sentence says so."""
    bench = Bench(session)
    send(bench, {"control": "starter"})
    bench.leave()
    assert session.told[-1] == ("stop", None)
    assert bench.said["sentence"] == NOBODY_WATCHED


def test_nobody_watching_leaves_a_stopped_engine_alone(session):
    """Leaving a stopped engine writes nothing."""
    Bench(session).leave()
    assert session.told == []


def test_without_a_loop_the_clock_does_not_run(session):
    """Outside an event loop a heartbeat starts nothing: the test decides when time passes."""
    bench = Bench(session)
    send(bench, {"heartbeat": True})
    assert not bench.clock.running
    bench.step(0.04)
    assert session.steps == [0.04]


def clock_with(times):
    """A clock over a list of times, with what it did."""
    steps, left = [], []
    clock = EngineClock(steps.append, lambda: left.append(True), now=lambda: times[0])
    return clock, steps, left


def test_the_clock_steps_while_watched_and_rests_when_nobody_is_there():
    """Heartbeats keep the clock going, their absence ends it once, and the next one starts it again."""

    async def scene():
        times = [100.0]
        clock, steps, left = clock_with(times)
        clock.heartbeat()
        await asyncio.sleep(0.15)
        assert clock.running and len(steps) >= 2
        times[0] += WATCHED_FOR_S + 1
        await asyncio.sleep(0.15)
        assert not clock.running and left == [True]
        count = len(steps)
        clock.heartbeat()
        await asyncio.sleep(0.15)
        assert clock.running and len(steps) > count
        clock.close()
        await asyncio.sleep(0.15)
        assert not clock.running and left == [True]

    run_apart(scene())


def test_at_rest_the_clock_steps_seldom_until_somebody_does_something(monkeypatch):
    """Where nothing moves a pause is long, and the heartbeat that comes with an act ends it; the time that passed in it
    is then made up."""

    async def scene():
        times, steps = [0.0], []
        clock = EngineClock(steps.append, lambda: None, now=lambda: times[0], at_rest=lambda: True)
        # No pause ends by itself: each step that comes was asked for.
        monkeypatch.setattr(engine_clock, "AT_REST_S", 3600.0)
        clock.heartbeat()
        await asyncio.sleep(0.2)
        assert not steps
        times[0] += 60.0
        while len(steps) < 3:
            clock.heartbeat()
            await asyncio.sleep(0.05)
        assert steps == [60.0, 0.0, 0.0]
        clock.close()

    run_apart(scene())


def test_an_engine_that_stands_is_at_rest_and_a_running_one_is_not(session):
    """Two looks at the same gauges are rest, whatever the clock and the coolant say; a running engine is none."""
    bench = Bench(session)
    bench.step(0.04)
    assert bench._at_rest
    bench.act("starter")
    assert not bench._at_rest
    bench.step(0.04)
    assert not bench._at_rest


def test_a_page_at_rest_is_watched_longer_without_a_heartbeat():
    """Beside an engine that stands a page says nothing: its time passes for ten minutes all the same, then it waits."""
    times, rests = [0.0], [True]
    clock = EngineClock(lambda _: None, lambda: None, now=lambda: times[0], at_rest=lambda: rests[0])
    clock.heartbeat()
    times[0] += RESTS_FOR_S - 1.0
    assert clock.watched
    rests[0] = False
    assert not clock.watched
    rests[0] = True
    times[0] += 2.0
    assert not clock.watched


def test_what_passed_at_rest_passes_before_the_act(session):
    """A press ends a pause: what is due of it comes first, so that the key is not held for it."""

    async def scene():
        bench = Bench(session)
        send(bench, {"heartbeat": 1})
        while not bench.at_rest():
            await asyncio.sleep(0.02)
        stood_s = session.time_s
        await asyncio.sleep(0.5)
        assert session.time_s == stood_s
        send(bench, {"control": "starter"})
        bench.close()
        assert session.log[-1].time_s >= stood_s + 0.4
        assert session.time_s - session.log[-1].time_s <= 2.0 * TICK_S

    run_apart(scene())


def test_a_long_pause_is_not_caught_up_with():
    """After the kernel was busy elsewhere the engine goes on from where it was."""

    async def scene():
        times = [0.0]
        clock, steps, _ = clock_with(times)
        clock.heartbeat()
        await asyncio.sleep(0.1)
        times[0] += 60.0
        await asyncio.sleep(0.1)
        clock.close()
        assert max(steps) == LONGEST_STEP_S

    run_apart(scene())


def test_time_given_in_advance_is_taken_off_again():
    """A hand's answer gets a whole tick at once, and the engine is no faster for it."""
    times = [0.0]
    clock, _, _ = clock_with(times)
    times[0] = 0.005
    assert clock.elapsed_s(at_least_s=TICK_S) == TICK_S
    times[0] = 0.010
    assert clock.elapsed_s() == 0.0
    times[0] = 0.050
    assert clock.elapsed_s() == pytest.approx(0.050 - TICK_S)


def test_a_hand_is_answered_without_waiting_for_the_next_step(session):
    """With the clock running, an act lets the engine do its tick before the gauges are shown."""

    async def scene():
        bench = Bench(session)
        send(bench, {"heartbeat": 1})
        await asyncio.sleep(1.5 * STEP_S)
        before = len(session.steps)
        send(bench, {"control": "starter"})
        assert len(session.steps) == before + 2 and session.steps[-1] >= TICK_S  # the first was due before the act
        bench.close()

    run_apart(scene())


def test_heartbeats_from_another_thread_start_the_clock():
    """A subshell's thread may bring the first heartbeat."""

    async def scene():
        clock, steps, _ = clock_with([0.0])
        thread = threading.Thread(target=clock.heartbeat)
        thread.start()
        await asyncio.sleep(0.15)
        thread.join()
        assert steps
        clock.close()

    run_apart(scene())
