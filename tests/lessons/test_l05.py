"""Lesson l05 at the bench: who does what the lesson says has full marks, and each mistake costs its own points."""

from __future__ import annotations

import pytest

from graders.model_answers.l05 import EVERY_ROAD, three_roads, two_fuels
from graders.model_answers.operator import Operator
from graders.model_answers.road import SILENT, drive, pings, start, turn

from .working import assert_costs_its_own, judged, lost

LESSON, ROADS, FUELS = "l05_road_check", "l05_three_roads", "l05_two_fuels"


@pytest.mark.parametrize("learner", ["anna", "bela", "chidi"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """Driven as the lesson says, both exercises at the bench earn every point, whatever truck the learner has."""
    for exercise, work in ((ROADS, three_roads), (FUELS, two_fuels())):
        folder = tmp_path / exercise
        folder.mkdir()
        result = judged(folder, LESSON, exercise, learner, work)
        assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize("learner", ["anna", "bela", "chidi", "dunja"])
def test_the_roads_sound_as_the_lesson_tells(tmp_path, learner):
    """On poor fuel and too much lead the full pull pings, the level cruise does not: common practice, no source."""
    told = {}

    def work(operator: Operator) -> None:
        start(operator)
        told.update({road: drive(operator, road) for road in EVERY_ROAD})

    judged(tmp_path, LESSON, ROADS, learner, work)
    assert pings(told["full pull"]) and SILENT in told["level cruise"]


def test_turning_between_the_roads_is_named(tmp_path):
    """Who turns the distributor between the drives that are compared loses half of that criterion alone."""

    def work(operator: Operator) -> None:
        start(operator)
        for road in EVERY_ROAD:
            drive(operator, road)
            turn(operator, -2.0)

    result = judged(tmp_path, LESSON, ROADS, "anna", work)
    assert lost(result) == {"roads": "two_things_at_once"}


@pytest.mark.parametrize(
    ("misconception", "habits"),
    [
        ("hose_not_reconnected", {"hose": False}),
        ("one_large_retard", {"step": 6.0}),
        ("advance_to_cure_ping", {"advances": True}),
        ("late_is_safe", {"too_far": 6.0}),
        ("set_for_the_best_fuel", {"left": "for 95"}),
        ("clamp_left_loose", {"left": "loose"}),
        ("light_load_for_road_check", {"road": "level cruise"}),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception, habits):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, and it is named."""
    result = judged(tmp_path, LESSON, FUELS, "anna", two_fuels(**habits))
    assert_costs_its_own(result, LESSON, misconception)


def test_one_fuel_alone_is_half_the_job(tmp_path):
    """Who never fills in the poorer fuel loses what belongs to it, and nothing of the rest."""
    result = judged(tmp_path, LESSON, FUELS, "anna", two_fuels(fills_in=False))
    assert set(lost(result)) == {"fuels", "poor_fuel", "left"}


def test_driving_off_again_is_a_hot_restart(tmp_path):
    """The hot engine, started to drive at the setting that is kept, has shown that it starts hot."""
    assert lost(judged(tmp_path, LESSON, FUELS, "anna", two_fuels(restarts=False))) == {}


def test_a_setting_that_was_never_started_hot_costs_its_point(tmp_path):
    """A learner who turns the body after the last start loses the restart, and what was changed after the drive."""
    result = judged(tmp_path, LESSON, FUELS, "anna", two_fuels(restarts=False, left="for 95"))
    assert set(lost(result)) == {"restart", "left"}
