"""Lesson l06 at the bench: who does what the lesson says has full marks, and each mistake costs its own points."""

from __future__ import annotations

import tomllib

import pytest

from course import ENGINES
from engine_sim import SEA_LEVEL_DAY, load_card
from graders.bench.full_throttle import earliest_silent_deg, lost_by_parts, pull_of
from graders.exercises.engine_answers import CURVE_JUDGES
from graders.exercises.loader import RubricError, load_rubric, rubric_from, rubric_path
from graders.model_answers.l06 import (
    SOFTEST_TURNS,
    choose_springs,
    fit,
    match_the_unit,
    tell_apart,
    what_pings_where,
)
from graders.model_answers.operator import Operator
from graders.model_answers.road import retard_until_silent, start

from .slips import act, after, before, driven, in_turn, instead, off_by, slip, turned, without
from .working import assert_costs_its_own, judged, lost

LESSON, WHERE, SPRINGS = "l06_advance_curve", "l06_what_pings_where", "l06_choose_springs"
UNIT = "l06_match_the_unit"
KEPT = 3  # the springs fitted after the two sets that are tried
CURES_WITH_THE_CANISTER = in_turn(tell_apart, act("canister_screw", 4.0), driven(), driven("up the hill"))
RETARDS_TOO_FAR = in_turn(tell_apart, retard_until_silent, turned(-8.0), driven("full pull"), driven("up the hill"))


def fits_without_readings(operator: Operator) -> None:
    """The right springs by guess."""
    start(operator)
    fit(operator, "soft and stiff")
    retard_until_silent(operator)


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """Experiment and choice made as the lesson says earn every point, by what is heard and read alone."""
    for exercise, work in ((WHERE, what_pings_where), (UNIT, match_the_unit), (SPRINGS, choose_springs)):
        folder = tmp_path / exercise
        folder.mkdir()
        result = judged(folder, LESSON, exercise, learner, work)
        assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("two_things_at_once", slip(what_pings_where, after("canister_screw", turned(3.0), number=1))),
        ("vacuum_advance_at_full_throttle", CURES_WITH_THE_CANISTER),
        ("late_is_safe", RETARDS_TOO_FAR),
    ],
)
def test_each_mistake_about_what_pings_costs_its_own(tmp_path, misconception, work):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, and it is named."""
    result = judged(tmp_path, LESSON, WHERE, "anna", work)
    assert_costs_its_own(result, LESSON, misconception)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        (
            "stiff_springs_for_ping",
            slip(choose_springs, instead("springs", "stiffer pair", number=KEPT)),
        ),
        ("softer_is_better", slip(choose_springs, instead("springs", "softer pair", number=KEPT))),
        (
            "stop_for_ping",
            slip(choose_springs, instead("weights_stop", 12.0), instead("springs", "soft and stiff", number=KEPT)),
        ),
        ("late_is_safe", in_turn(choose_springs, turned(-6.0), driven())),
    ],
)
def test_each_mistake_about_springs_costs_its_own(tmp_path, misconception, work):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, and it is named."""
    result = judged(tmp_path, LESSON, SPRINGS, "anna", work)
    assert_costs_its_own(result, LESSON, misconception)


def test_one_canister_setting_is_no_comparison(tmp_path):
    """Who never moves the screw loses the hill's criterion alone."""
    result = judged(tmp_path, LESSON, WHERE, "anna", slip(what_pings_where, without("canister_screw", SOFTEST_TURNS)))
    assert set(lost(result)) == {"hill"}


def test_a_choice_without_readings_costs_that_alone(tmp_path):
    """Who fits the right springs without reading the torque loses the readings alone."""
    result = judged(tmp_path, LESSON, SPRINGS, "anna", fits_without_readings)
    assert set(lost(result)) == {"measured"}


def test_springs_are_not_reached_for_while_the_shaft_turns(tmp_path):
    """The bench stops who reaches for the weights of a running engine, and that costs safety alone."""
    work = slip(choose_springs, before("stop", act("springs", "softer pair"), number=1))
    result = judged(tmp_path, LESSON, SPRINGS, "anna", work)
    assert set(lost(result)) == {"make_safe"}


# ---- what the judges work out ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("engine", ["delivery_truck_six", "farm_runabout_four", "hill_hauler_eight"])
def test_better_fuel_stands_more_lead(engine):
    """The earliest silent timing rises with the octane number and falls with softer springs: common practice, no
    source; and no parts lose less than none."""
    card = load_card(ENGINES / f"{engine}.toml")
    poor, good = (type(SEA_LEVEL_DAY)(octane_ron=ron, octane_mon=ron - 8.0) for ron in (87.0, 95.0))
    assert earliest_silent_deg(card, poor) < earliest_silent_deg(card, good)
    soft = {"springs": "softer pair", "weights_stop": card.distributor.stop_deg}
    assert earliest_silent_deg(card, poor, soft) < earliest_silent_deg(card, poor)
    assert lost_by_parts(card, poor, soft) >= 0.0


def test_a_curve_is_moved_until_it_just_does_not_ping():
    """Far too early or too late by the same shape, it comes to the same place, within half a degree of the limit."""
    card = load_card(ENGINES / "hill_hauler_eight.toml")
    judge = CURVE_JUDGES["full_throttle_on_the_cards_fuel"]
    reference = load_rubric(LESSON).exercises["l06_design_curve"].reference
    moved = {judge.fitted(card, tuple((rpm, deg + by) for rpm, deg in reference)) for by in (-9.0, 0.0, 12.0)}
    (fitted,) = moved
    assert judge.function(card, fitted).name == "met"
    assert judge.function(card, tuple((rpm, deg + 0.5) for rpm, deg in fitted)).name == "pings"


def test_strange_springs_are_refused():
    """Springs that a rubric finds on an engine are those of the shelf, and the others are listed."""
    table = tomllib.loads(rubric_path(LESSON).read_text(encoding="utf-8"))
    (bench,) = [one for one in table["exercises"] if one["id"] == SPRINGS]
    bench["found"]["springs"] = "rubber bands"
    with pytest.raises(RubricError, match="there are no springs 'rubber bands'; there are maker's pair"):
        rubric_from(table, "l06.toml")


def test_the_judge_of_curves_tells_early_from_late():
    """A curve along the limit less a degree passes; two or more above it pings; one far below is weak."""
    card = load_card(ENGINES / "hill_hauler_eight.toml")
    pull, judge = pull_of(card, SEA_LEVEL_DAY), CURVE_JUDGES["full_throttle_on_the_cards_fuel"].function

    def moved(degrees: float) -> tuple[tuple[float, float], ...]:
        best = [min(limit, 34.0) + degrees for limit in pull.latest_ping_deg]
        return tuple(zip(pull.speed_rpm.tolist(), best, strict=True))

    assert judge(card, moved(-1.0)).name == "met"
    assert judge(card, moved(2.5)).name == "pings" and judge(card, moved(2.5)).share == 0.0
    assert judge(card, moved(-12.0)).name == "weak"


@pytest.mark.parametrize(
    ("rule", "costs"),
    [
        (without("canister_screw"), {"unit": "unit_on_its_slope"}),
        (off_by("canister_screw", -2.5), {"unit": "softest_unit"}),
        (without("gear", "drive"), {"unit": None, "out_of_gear": None}),
    ],
)
def test_a_unit_that_does_not_suit_the_idle_costs_its_own_points(tmp_path, rule, costs):
    """Too stiff, softer than it has to be, and never read in drive are told apart."""
    result = judged(tmp_path, LESSON, UNIT, "bela", slip(match_the_unit, rule))
    assert {name: said for name, said in lost(result).items() if name != "silent"} == costs
