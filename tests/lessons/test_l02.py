"""Lesson l02 at the bench, and what its text and pictures say of gauges, against the engine and the atmosphere."""

from __future__ import annotations

import numpy as np
import pytest

from course.authoring.lesson_pictures.needles import NEEDLES, needle_over_time
from engine_sim import Header, OnTheStand, fault_named, published
from engine_sim.diagnosis.needle import at_sea_level_inhg
from graders.bench.assignment import assignment_of
from graders.exercises.loader import load_rubric
from graders.model_answers.l02 import turn_and_watch

from .slips import act, in_turn, instead, slip, waiting, without
from .working import ENGINES, assert_costs_its_own, judged, lost

LESSON, BENCH = "l02_what_the_gauges_say", "l02_turn_and_watch"


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """The five steps of the lesson in their order earn every point, whatever engine the learner has."""
    result = judged(tmp_path, LESSON, BENCH, learner, turn_and_watch)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("ported_source", slip(turn_and_watch, instead("gauge_hose", "ported", of="manifold", number=3))),
        ("advance_left_connected", slip(turn_and_watch, instead("vacuum_hose", "on", of="off and plugged"))),
        ("hose_left_open", slip(turn_and_watch, instead("vacuum_hose", "off and open", of="off and plugged"))),
        ("read_before_settled", slip(turn_and_watch, *(waiting("distributor", 0.4, number=side) for side in (1, 2)))),
        (
            "one_side_is_enough",
            slip(turn_and_watch, without("distributor", number=2), without("read_gauges", number=4)),
        ),
        ("clamp_left_loose", slip(turn_and_watch, without("clamp", "tight"))),
        ("hose_not_reconnected", slip(turn_and_watch, without("vacuum_hose", "on"))),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, BENCH, "anna", work), LESSON, misconception)


@pytest.mark.parametrize(
    ("criterion", "work"),
    [
        ("make_safe", in_turn(act("starter"), turn_and_watch)),
        ("both_ports", slip(turn_and_watch, without("gauge_hose", "ported"), without("read_gauges", number=2))),
        ("put_back", slip(turn_and_watch, without("distributor", 0.0))),
        ("put_back", slip(turn_and_watch, without("stop"))),
    ],
)
def test_each_omission_costs_its_own_criterion(tmp_path, criterion, work):
    """What is left out costs its own criterion alone."""
    assert set(lost(judged(tmp_path, LESSON, BENCH, "anna", work))) == {criterion}


def test_nothing_done_earns_nothing(tmp_path):
    """Who only looks at the bench has done none of it."""
    assert judged(tmp_path, LESSON, BENCH, "anna", lambda operator: operator.do("brake", "on")).points == 0


def assert_shows(pattern: str, idle: np.ndarray, sinks_inhg: float, healthy: bool) -> None:
    """A needle at idle, and what it loses while the engine is held at 2,500 rpm, do what the words say, as workshop
    charts have them (common practice)."""
    beat = np.median(np.abs(idle - np.convolve(idle, np.ones(50) / 50, mode="same"))[50:-50])
    assert (sinks_inhg > 0.8) is (pattern == "falls when held at speed")
    if pattern.startswith("steady"):
        assert idle.std() < 0.15 and healthy is (pattern == "steady and normal")
    elif pattern == "flicks in rhythm":
        assert beat > 0.1
    elif pattern == "drops now and then":
        assert np.ptp(idle) > 1.5 and np.ptp(idle) > 6 * beat
    elif pattern == "drifts":
        assert np.ptp(idle) > max(0.8, 10 * beat)


def is_healthy(inhg: float, altitude_ft: float = 0.0) -> bool:
    """Whether a reading lies in the published band, carried up by the share of the air that is left."""
    return published("idle_vacuum_healthy").agrees(at_sea_level_inhg(inhg, altitude_ft))


@pytest.mark.parametrize("needle", NEEDLES, ids=lambda needle: needle.fault or "sound")
def test_a_needle_of_the_picture_does_what_its_title_says(needle):
    """Steady, low, a beat, drops, a slow way up and down, or a fall."""
    _, shown = needle_over_time(needle)
    pattern = fault_named(needle.fault).pattern if needle.fault else "steady and normal"
    sinks = float(shown[:50].mean() - shown[-50:].mean()) if needle.held_rpm else 0.0
    assert_shows(pattern, shown, sinks, is_healthy(float(shown.mean())))


NEEDLE_FAULTS = [
    (exercise, fault)
    for exercise in load_rubric(LESSON).exercises.values()
    if exercise.kind == "needle"
    for fault in exercise.faults
]


@pytest.mark.parametrize(("exercise", "fault"), NEEDLE_FAULTS, ids=lambda item: getattr(item, "id", item))
def test_a_live_needle_can_be_named(exercise, fault):
    """Whatever is drawn, a learner's engine runs on the stand, and its needle does what the right choice says."""
    drawn = "" if fault == "none" else fault
    given = next(
        one
        for one in (
            assignment_of(exercise, Header(f"learner {number}", LESSON, "", "", "t"), ENGINES) for number in range(200)
        )
        if one.fault == drawn
    )
    session = OnTheStand(given.engine, given.found, given.conditions).started()
    assert session is not None
    idle = watched(session, 15.0)
    session.act("hold_speed", 2500.0)
    session.advance(3.0)
    held = watched(session, 25.0)
    pattern = fault_named(fault).pattern if drawn else "steady and normal"
    sinks = float(held[:50].mean() - held[-50:].mean())
    assert_shows(pattern, idle, sinks, is_healthy(float(idle.mean()), exercise.day.altitude_ft))


def watched(session, seconds: float) -> np.ndarray:
    """What the gauge shows over some seconds [inHg]."""
    shown = []
    for _ in range(round(seconds / 0.02)):
        session.advance(0.02)
        shown.append(session.readings().vacuum_inhg)
    return np.array(shown)
