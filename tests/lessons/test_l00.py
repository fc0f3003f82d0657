"""Lesson l00 at the bench: who does what the lesson says has full marks, and each mistake costs its own points."""

from __future__ import annotations

import pytest

from graders.model_answers.l00 import first_moves
from graders.model_answers.operator import START_S, STOP_S, Operator

from .slips import act, after, before, in_turn, instead, slip, without
from .working import assert_costs_its_own, judged, lost

LESSON, BENCH = "l00_before_you_touch", "l00_first_moves"
HOOKS_UP_RUNNING = slip(
    first_moves,
    without("tachometer", "on"),
    without("gauge_hose", "manifold"),
    after(
        "starter",
        in_turn(
            act("tachometer", "on"),  # stopped by the bench: done at rest after all
            act("stop", wait_s=STOP_S),
            act("tachometer", "on"),
            act("gauge_hose", "manifold"),
            act("starter", wait_s=START_S),
        ),
    ),
)
LEAVES_CONNECTED = (without("tachometer", "off"), without("gauge_hose", "none"))


def screw_to_and_fro(operator: Operator) -> None:
    """A quarter of a turn of the idle screw, and back."""
    for turns in (0.25, -0.25):
        operator.do("idle_screw", operator.session.settings["idle_screw"] + turns)


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """The five steps of the lesson in their order earn every point, whatever engine the learner has."""
    result = judged(tmp_path, LESSON, BENCH, learner, first_moves)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("leads_on_running", HOOKS_UP_RUNNING),
        ("reads_cold_only", slip(first_moves, without("wait_until_warm"), without("read_gauges", number=2))),
        ("walks_away", slip(first_moves, without("stop"), *LEAVES_CONNECTED)),
        ("walks_away", slip(first_moves, *LEAVES_CONNECTED)),
        ("sets_while_looking", slip(first_moves, before("stop", screw_to_and_fro))),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, BENCH, "anna", work), LESSON, misconception)


@pytest.mark.parametrize(
    ("criterion", "work"),
    [
        ("make_safe", in_turn(act("starter"), first_moves)),
        ("hooked_up", slip(first_moves, instead("gauge_hose", "ported", of="manifold"))),
        ("readings", slip(first_moves, without("read_gauges", number=1))),
        ("left", in_turn(first_moves, act("brake", "off"))),
    ],
)
def test_each_omission_costs_its_own_criterion(tmp_path, criterion, work):
    """What is left out costs its own criterion alone."""
    assert set(lost(judged(tmp_path, LESSON, BENCH, "anna", work))) == {criterion}


def test_nothing_done_earns_nothing(tmp_path):
    """Who only looks at the bench has done none of it."""
    assert judged(tmp_path, LESSON, BENCH, "anna", lambda operator: operator.do("brake", "on")).points == 0
