"""Lesson l05 at the bench: who does what the lesson says has full marks, and each mistake costs its own points."""

from __future__ import annotations

import contextlib
from functools import partial

import pytest

from graders.model_answers.l05 import (
    EVERY_ROAD,
    FUELS,
    before_the_road,
    restart_hot,
    set_for_both_fuels,
    three_roads,
    two_fuels,
)
from graders.model_answers.operator import AttemptFailed, Operator, Work
from graders.model_answers.road import SILENT, drive, fill_in, pings, retard_until_silent, see_total, start, turn

from .slips import act, after, before, driven, in_turn, instead, slip, turned, without
from .working import assert_costs_its_own, judged, lost

LESSON, ROADS, BOTH_FUELS = "l05_road_check", "l05_three_roads", "l05_two_fuels"
BEFORE = "l05_before_the_road"
STOP = act("stop")
SET_FOR_THE_BETTER_FUEL = in_turn(set_for_both_fuels, turned(6.0))


def set_by(settle: Work, *fuels: str) -> Work:
    """The full pull with these fuels, set in another way or on other fuels than the lesson says."""
    each = (in_turn(partial(fill_in, fuel=fuel), settle) for fuel in fuels)
    return in_turn(see_total, act("route", "full pull"), *each, restart_hot, STOP)


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """Driven as the lesson says, every exercise at the bench earns every point, whatever truck the learner has."""
    for exercise, work in ((BEFORE, before_the_road), (ROADS, three_roads), (BOTH_FUELS, two_fuels)):
        folder = tmp_path / exercise
        folder.mkdir()
        result = judged(folder, LESSON, exercise, learner, work)
        assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_roads_sound_as_the_lesson_tells(tmp_path, learner):
    """On poor fuel and too much lead the full pull pings, the level cruise does not: common practice, no source."""
    told = {}

    def work(operator: Operator) -> None:
        start(operator)
        told.update({road: drive(operator, road) for road in EVERY_ROAD})

    judged(tmp_path, LESSON, ROADS, learner, work)
    assert pings(told["full pull"]) and SILENT in told["level cruise"]


def test_a_road_is_driven_when_the_throttle_is_shut_at_the_first_ping(tmp_path):
    """Nobody has to drive a rattling engine to the end; a road that was broken off in silence is left out."""

    def work(operator: Operator) -> None:
        start(operator)
        heard = [drive(operator, road) for road in EVERY_ROAD]
        assert any("Throttle shut" in one for one in heard)

    def broken_off(operator: Operator) -> None:
        start(operator)
        drive(operator, "full pull")
        operator.do("route", "level cruise")
        assert operator.to_the_road() and operator.do("road_check", wait_s=5.0) == "done"
        operator.back_in_the_workshop()

    for number, (done, costs) in enumerate(((work, {}), (broken_off, {"roads": None}))):
        folder = tmp_path / str(number)
        folder.mkdir()
        assert lost(judged(folder, LESSON, ROADS, "anna", done)) == costs


@pytest.mark.parametrize(("room_deg", "costs"), [(-2.0, set()), (-8.0, {"poor_fuel"})])
def test_a_degree_or_two_of_room_is_not_charged(tmp_path, room_deg, costs):
    """One or two degrees later than where the ping has gone is what the lesson advises; eight is too late."""

    def work(operator: Operator) -> None:
        set_for_both_fuels(operator)
        turn(operator, room_deg)
        drive(operator)
        restart_hot(operator)
        operator.do("stop")

    assert set(lost(judged(tmp_path, LESSON, BOTH_FUELS, "bela", work))) == costs


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
    ("misconception", "work"),
    [
        ("hose_not_reconnected", slip(two_fuels, before("route", act("vacuum_hose", "off and plugged")))),
        ("one_large_retard", set_by(partial(retard_until_silent, step_deg=6.0), *FUELS)),
        ("advance_to_cure_ping", slip(two_fuels, after("fuel", in_turn(start, driven(), turned(2.0)), number=2))),
        ("pulls_without_a_light", slip(two_fuels, without("read_gauges"))),
        ("total_with_vacuum", slip(two_fuels, before("hold_speed", act("vacuum_hose", "on")))),
        ("total_not_limited", slip(two_fuels, after("fuel", turned(4.0), number=1))),
        ("late_is_safe", set_by(in_turn(retard_until_silent, *[turned(-2.0)] * 3, driven()), *FUELS)),
        ("set_for_the_best_fuel", in_turn(SET_FOR_THE_BETTER_FUEL, restart_hot, STOP)),
        ("clamp_left_loose", in_turn(set_for_both_fuels, restart_hot, act("clamp", "loose"), STOP)),
        ("light_load_for_road_check", slip(two_fuels, instead("route", "level cruise"))),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception, work):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, and it is named."""
    result = judged(tmp_path, LESSON, BOTH_FUELS, "bela", work)  # whose truck pings clearly as it is found
    assert_costs_its_own(result, LESSON, misconception)


def test_one_fuel_alone_is_half_the_job(tmp_path):
    """Who never fills in the poorer fuel loses what belongs to it, and nothing of the rest."""
    result = judged(tmp_path, LESSON, BOTH_FUELS, "anna", set_by(retard_until_silent, FUELS[0]))
    assert set(lost(result)) == {"fuels", "poor_fuel", "left"}


def test_driving_off_again_is_a_hot_restart(tmp_path):
    """The hot engine, started to drive at the setting that is kept, has shown that it starts hot."""
    assert lost(judged(tmp_path, LESSON, BOTH_FUELS, "anna", in_turn(set_for_both_fuels, STOP))) == {}


def test_a_setting_that_was_never_started_hot_costs_its_point(tmp_path):
    """A learner who turns the body after the last start loses the restart, and what was changed after the drive."""
    result = judged(tmp_path, LESSON, BOTH_FUELS, "anna", in_turn(SET_FOR_THE_BETTER_FUEL, STOP))
    assert set(lost(result)) == {"restart", "left"}


@pytest.mark.parametrize(
    ("left_out", "costs"),
    [("mixture_screw", "mixture"), ("timing_light", "total"), ("hold_speed", "total"), ("idle_screw", "idle")],
)
def test_a_piece_left_out_before_the_road_costs_its_own_points(tmp_path, left_out, costs):
    """Mixture, total and idle are judged each for itself."""

    def work(operator: Operator) -> None:
        with contextlib.suppress(AttemptFailed):  # nobody reaches the idle in drive without its screw
            slip(before_the_road, without(left_out))(operator)
        operator.do("gear", "neutral")

    assert set(lost(judged(tmp_path, LESSON, BEFORE, "anna", work))) == {costs}


def test_the_total_is_read_without_the_vacuum_advance(tmp_path):
    """With the hose on, the light shows what the vacuum unit adds as well: half of the points."""

    def work(operator: Operator) -> None:
        operator.do("vacuum_hose", "on")
        before_the_road(operator)

    result = judged(tmp_path, LESSON, BEFORE, "anna", work)
    (total,) = [one for one in result.criteria if one.criterion == "total"]
    assert total.points == 1.0 and "off and plugged" in total.sentence
