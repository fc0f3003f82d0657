"""Lesson l11: an engine without a figure, from the tree of a hard start to the first full pull."""

from __future__ import annotations

import re

import pytest

from course.authoring.lesson_pictures import picture_named
from engine_sim import INSPECTIONS, Header
from graders.bench.assignment import NO_FAULT, assignment_of, card_named, reading_of, seed_text
from graders.bench.label import BASE
from graders.exercises.kinds.common import as_text
from graders.exercises.loader import load_rubric
from graders.model_answers.l11 import (
    STEP_DEG,
    first_figure,
    set_first_figure,
    start_static,
    to_the_road,
    turn,
)
from graders.model_answers.operator import START_S
from graders.model_answers.road import limit_total, look_at_total
from tests.graders.instrument import GivenAnswer, judged as answered

from .slips import in_turn, off_by, slip, without
from .working import ENGINES, Operator, assert_costs_its_own, judged, lost

LESSON, TREE, FIRST = "l11_no_figure", "l11_hard_start", "l11_first_figure"
RUBRIC = load_rubric(LESSON)
LEARNERS = tuple(f"learner {number}" for number in range(40))


# ---- the tree --------------------------------------------------------------------------------------------------------


def given_to(learner: str):
    """What a learner finds at the tree."""
    return assignment_of(RUBRIC.exercises[TREE], Header(learner, LESSON, "", "", "t"), ENGINES)


def looks_of(fault: str) -> dict[str, str]:
    """What each test of the tree that is out of order tells, without its numbers, on the first learner's engine that
    has this fault."""
    exercise = RUBRIC.exercises[TREE]
    learner = next(one for one in LEARNERS if given_to(one).fault == fault)
    words = seed_text(exercise, Header(learner, LESSON, "", "", "t"))
    found = {name: reading_of(given_to(learner), name, words) for name in exercise.inspections}
    return {name: re.sub(r"[\d.]+", "#", one.text) for name, one in found.items() if not one.in_order}


def test_every_cause_of_the_tree_is_drawn_and_shown_by_tests():
    """No two causes of the list tell the same; the starter shows all of them something, and names the battery alone."""
    exercise = RUBRIC.exercises[TREE]
    told = {fault: looks_of(fault) for fault in exercise.faults}
    assert NO_FAULT not in told and len({tuple(one.items()) for one in told.values()}) == len(told)
    assert all("crank_and_listen" in one and len(one) > 1 for one in told.values())
    assert ["drags" in one["crank_and_listen"] for one in told.values()] == [name == "battery_weak" for name in told]


def test_the_whole_tree_fits_into_its_minutes():
    """All tests together take longer than is given, and the way to the dearest cause does not."""
    exercise = RUBRIC.exercises[TREE]
    minutes = {name: INSPECTIONS[name].minutes for name in exercise.inspections}
    cheap = sum(minutes.values()) - minutes["look_at_plugs"]
    assert cheap <= exercise.budget_minutes < sum(minutes.values())


def test_the_order_of_the_tree_puts_timing_last():
    """As the lesson has it all points; timing before fuel and spark is named."""
    order = ["safe", "crank", "fuel", "spark", "choke", "plugs", "leads", "timing"]
    first = ["safe", "crank", "timing", "fuel", "spark", "choke", "plugs", "leads"]
    results = [
        answered(RUBRIC, RUBRIC.exercises["l11_tree"], "anna", GivenAnswer(as_text(one))) for one in (order, first)
    ]
    assert results[0].points == results[0].max_points and results[1].points < results[1].max_points
    assert "timing_blamed_first" in {one.misconception for one in results[1].criteria}


# ---- the first figure ------------------------------------------------------------------------------------------------


def test_the_nameplate_gives_no_base_timing():
    """Nobody can set this truck by its label."""
    given = assignment_of(RUBRIC.exercises[FIRST], Header("anna", LESSON, "", "", "t"), ENGINES)
    assert given.label.nameplate(given.card)[BASE].startswith("not known")


@pytest.mark.parametrize("learner", ["anna", "bela", "cora"])
def test_from_no_figure_to_the_road_scores_full_marks(tmp_path, learner):
    """Static, first running figure, total by the light, hose on, road: every point, by what the instruments show."""
    result = judged(tmp_path, LESSON, FIRST, learner, first_figure)
    assert result.points == result.max_points, lost(result)


def reads_with_the_hose_on(operator: Operator) -> None:
    """The total looked at with the vacuum unit connected, and taken as it is."""
    operator.do("vacuum_hose", "on")
    look_at_total(operator)


def far_back(operator: Operator) -> None:
    """Eight degrees later than total and fuel allow, to be safe."""
    operator.do("starter", wait_s=START_S)
    turn(operator, -8.0)
    to_the_road(operator)


def back_without_a_look(operator: Operator) -> None:
    """From the first running figure to a total that is allowed."""
    turn(operator, -2.0 * STEP_DEG)


START_AND_SET = in_turn(start_static, set_first_figure)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("pulls_without_a_light", in_turn(START_AND_SET, back_without_a_look, to_the_road)),
        ("total_with_vacuum", in_turn(START_AND_SET, back_without_a_look, reads_with_the_hose_on, to_the_road)),
        ("total_not_limited", in_turn(START_AND_SET, look_at_total, to_the_road)),
        ("hose_not_reconnected", slip(first_figure, without("vacuum_hose", "on"))),
        ("late_is_safe", in_turn(first_figure, far_back)),
    ],
)
def test_each_mistake_without_a_figure_costs_its_own_and_is_named(tmp_path, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, FIRST, "anna", work), LESSON, misconception)


def test_a_start_far_from_the_static_figure_costs_its_own(tmp_path):
    """Set by the lamp at another place than 6 to 8, and all else well."""
    work = slip(first_figure, off_by("crank_mark", 8.0))
    found = judged(tmp_path, LESSON, FIRST, "anna", work)
    assert set(lost(found)) == {"static"}


def test_limiting_the_total_is_looked_at_again(tmp_path):
    """After going back the light is read once more: what counts is the last reading before the pull."""
    work = in_turn(START_AND_SET, limit_total, lambda operator: turn(operator, 4.0), to_the_road)
    assert "seen" in lost(judged(tmp_path, LESSON, FIRST, "anna", work))


# ---- the parts by their names ----------------------------------------------------------------------------------------


def test_the_picture_of_the_cap_turns_as_the_trucks_rotor_does():
    """Rotor as the card has it, body the other way for an earlier spark; the hose's plug is in the end towards the
    carburettor."""
    turns = card_named(ENGINES, "delivery_truck_six").distributor.rotor_turns
    words = picture_named("distributor_from_above").drawn.words
    other = {"clockwise": "anticlockwise", "anticlockwise": "clockwise"}[turns]
    assert f"The rotor turns {turns} and" in words and f"The body turned {other}, against the rotor" in words
    plugged = picture_named("hose_off_and_plugged").drawn.words
    assert "pulled off at the vacuum unit" in plugged and "leads to the carburettor" in plugged
