"""Lesson l01: the test stand by scripted hands, the pictures' claims, and the figures that the text gives."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest

from course.authoring.lesson_pictures.engines import HAULER, RUNABOUT, TRUCK, engine_named
from course.authoring.lesson_pictures.spark import best_timing_deg
from graders.model_answers.l01 import (
    SPEEDS_RPM,
    STEP_DEG,
    at_the_stand,
    get_ready,
    open_wide,
    put_back,
    read_at_best,
    to_the_middle_of_the_top,
    turn_until_it_falls,
)
from graders.model_answers.operator import Operator, Work

from .slips import in_turn, instead, slip, without
from .working import assert_costs_its_own, judged, lost

LESSON, BENCH = "l01_why_the_spark_leads", "l01_three_speeds"


def read_at_first_rise(operator: Operator, rpm: float) -> None:
    """Only early, until the torque no longer rises."""
    open_wide(operator, rpm)
    to_the_middle_of_the_top(operator, turn_until_it_falls(operator, STEP_DEG, fall_nm=0.3))
    operator.do("read_gauges")


def at_each_speed(read: Callable[[Operator, float], None]) -> Work:
    """Start, and find the best timing at each speed in that way."""
    return in_turn(get_ready, *(partial(read, rpm=rpm) for rpm in SPEEDS_RPM))


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """Over the top on both sides at each speed, and read in the middle: every point, by what the stand shows."""
    result = judged(tmp_path, LESSON, BENCH, learner, at_the_stand)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("first_rise_for_best", in_turn(at_each_speed(read_at_first_rise), put_back)),
        ("part_throttle_for_full", slip(at_the_stand, instead("throttle", 0.5, of=1.0))),
        ("clamp_left_loose", slip(at_the_stand, without("clamp", "tight"))),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, BENCH, "bela", work), LESSON, misconception)


def test_a_body_left_turned_costs_the_last_criterion_alone(tmp_path):
    """The engine is left as it was found."""
    work = in_turn(at_each_speed(read_at_best), slip(put_back, without("distributor")))
    assert set(lost(judged(tmp_path, LESSON, BENCH, "anna", work))) == {"left_well"}


def test_nothing_done_earns_nothing(tmp_path):
    """Who only starts the engine has found nothing."""
    assert judged(tmp_path, LESSON, BENCH, "anna", lambda operator: operator.do("starter")).points == 0


@pytest.mark.parametrize("name", [TRUCK, RUNABOUT, HAULER])
def test_more_speed_and_less_load_want_more_lead(name):
    """What the lesson says moves the need is so on every engine of the workshop. Common practice: it is why
    distributors have weights and canisters; for burning over speed and load, Heywood 1988, chapter 9 (from memory)."""
    best = best_timing_deg(engine_named(name), np.array([[800.0], [1800.0], [2800.0]]), np.array([97.0, 70.0, 45.0]))
    assert (np.diff(best, axis=0) > 0).all() and (np.diff(best, axis=1) > 0).all()
