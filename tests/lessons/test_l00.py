"""Lesson l00 at the bench: who does what the lesson says has full marks, and each mistake costs its own points."""

from __future__ import annotations

import pytest

from graders.model_answers.l00 import first_moves

from .working import assert_costs_its_own, judged, lost

LESSON, BENCH = "l00_before_you_touch", "l00_first_moves"


@pytest.mark.parametrize("learner", ["anna", "bela", "chidi"])
def test_the_lesson_followed_scores_full_marks(tmp_path, learner):
    """The five steps of the lesson in their order earn every point, whatever engine the learner has."""
    result = judged(tmp_path, LESSON, BENCH, learner, first_moves())
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("leads_on_running", first_moves(leads="after")),
        ("reads_cold_only", first_moves(warms_up=False)),
        ("walks_away", first_moves(leaves="running")),
        ("walks_away", first_moves(leaves="connected")),
        ("sets_while_looking", first_moves(turns=True)),
    ],
)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, BENCH, "anna", work), LESSON, misconception)


@pytest.mark.parametrize(
    ("criterion", "work"),
    [
        ("make_safe", first_moves(makes_safe=False)),
        ("hooked_up", first_moves(gauge="ported")),
        ("readings", first_moves(reads_cold=False)),
        ("left", first_moves(leaves="rolling")),
    ],
)
def test_each_omission_costs_its_own_criterion(tmp_path, criterion, work):
    """What is left out costs its own criterion alone."""
    assert set(lost(judged(tmp_path, LESSON, BENCH, "anna", work))) == {criterion}


def test_nothing_done_earns_nothing(tmp_path):
    """Who only looks at the bench has done none of it."""
    assert judged(tmp_path, LESSON, BENCH, "anna", lambda operator: operator.do("brake", "on")).points == 0
