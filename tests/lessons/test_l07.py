"""Lesson l07 at the bench, and its rules against the engine: what a learner predicts is what the engine does."""

from __future__ import annotations

import pytest

from course import ENGINES
from engine_sim import Conditions, learners_engine, load_card, published
from graders.bench.full_throttle import earliest_silent_deg
from graders.exercises.engine_answers import ANSWERS
from graders.model_answers.l07 import at_home, at_the_harbour

from .slips import act, after, before, driven, in_turn, slip, turned, without
from .working import assert_costs_its_own, judged, lost

LESSON, HOME, HARBOUR = "l07_altitude_weather_fuel", "l07_at_home", "l07_at_the_harbour"
WORK = {HOME: at_home, HARBOUR: at_the_harbour}
LEARNERS = [f"learner {number}" for number in range(12)]
RULE_RON_PER_1000_FT = 1.2  # what the question of l07_octane_up_there tells the learner to work with


@pytest.mark.parametrize("learner", ["anna", "bela"])
@pytest.mark.parametrize("exercise", WORK)
def test_the_lesson_followed_scores_full_marks(tmp_path, exercise, learner):
    """Both days done as the lesson says earn every point, whatever hauler the learner has."""
    result = judged(tmp_path, LESSON, exercise, learner, WORK[exercise])
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("exercise", "misconception", "work"),
    [
        (HOME, "late_is_safe", in_turn(at_home, *[turned(-2.0)] * 4, driven())),
        (HARBOUR, "late_is_safe", in_turn(at_the_harbour, *[turned(-2.0)] * 4, driven())),
        (HARBOUR, "advance_to_cure_ping", slip(at_the_harbour, after("vacuum_hose", in_turn(driven(), turned(1.0))))),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, exercise, misconception, work):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, and it is named."""
    result = judged(tmp_path, LESSON, exercise, "anna", work)
    assert_costs_its_own(result, LESSON, misconception)


@pytest.mark.parametrize(
    "work",
    [
        in_turn(slip(at_the_harbour, without("read_gauges")), act("read_gauges")),
        slip(at_the_harbour, without("read_gauges"), after("vacuum_hose", act("read_gauges"))),
        slip(at_the_harbour, without("read_gauges")),
    ],
    ids=["after", "hose on", "never"],
)
def test_a_reading_that_cannot_be_compared_costs_that_alone(tmp_path, work):
    """Who reads too late, with the vacuum advance on, or never, loses points of the reading alone."""
    result = judged(tmp_path, LESSON, HARBOUR, "anna", work)
    assert set(lost(result)) == {"reading"}


# ---- what the lesson tells, against the engine -----------------------------------------------------------------------


@pytest.mark.parametrize("learner", LEARNERS)
@pytest.mark.parametrize("altitude_ft", [4000.0, 6000.0, 8000.0])
def test_the_rule_leads_to_the_engines_own_answer(learner, altitude_ft):
    """The rule that the question gives, within the published band (octane_per_1000_ft, from memory), leads within the
    rubric's tolerance of 2.5 on every learner's hauler."""
    assert published("octane_per_1000_ft").agrees(-RULE_RON_PER_1000_FT)
    card = learners_engine(load_card(ENGINES / "hill_hauler_eight.toml"), "", learner, LESSON).card
    told = ANSWERS["octane_at_altitude"].function(card, {"altitude_ft": altitude_ft})
    by_rule = told["asked_at_the_sea"] - RULE_RON_PER_1000_FT * altitude_ft / 1000.0
    assert by_rule == pytest.approx(told["asked_at_altitude"], abs=2.5)


@pytest.mark.parametrize("engine", ["delivery_truck_six", "farm_runabout_four", "hill_hauler_eight"])
def test_weather_moves_the_limit_as_the_lesson_tells(engine):
    """Height and damp let the spark lead more before it pings, heat less: common practice, no source."""
    card = load_card(ENGINES / f"{engine}.toml")
    fuel = {"octane_ron": 85.0, "octane_mon": 78.0}
    plain = earliest_silent_deg(card, Conditions(ambient_c=25.0, **fuel))
    assert earliest_silent_deg(card, Conditions(3000.0, 25.0, **fuel)) > plain
    assert earliest_silent_deg(card, Conditions(ambient_c=25.0, humidity_percent=90.0, **fuel)) > plain
    assert earliest_silent_deg(card, Conditions(ambient_c=38.0, **fuel)) < plain


@pytest.mark.parametrize(
    ("rule", "named"),
    [
        (without("hold_speed"), "pulls_without_a_light"),
        (before("hold_speed", act("vacuum_hose", "on"), value=3000.0), "total_with_vacuum"),
    ],
)
def test_a_total_that_was_not_seen_costs_its_points(tmp_path, rule, named):
    """Up the mountain nothing pings that could warn: the light at speed, hose off and plugged, is asked for."""
    result = judged(tmp_path, LESSON, HOME, "anna", slip(at_home, rule))
    assert lost(result)["seen"] == named
