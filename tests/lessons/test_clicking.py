"""Points at the bench mean knowledge, too: what somebody earns of a lesson who presses anything, goes through the
motions, or sets a timing light to the label.

`python -m pytest -s -m benchmark tests/lessons/test_clicking.py` prints the table, for twenty learners.
"""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest

from course import ENGINES
from engine_sim import Header
from graders.bench.assignment import assignment_of
from graders.exercises.loader import Rubric, lessons_with_rubrics, load_rubric
from graders.model_answers.model_learner import CREATED
from graders.model_answers.operator import Work
from tests.graders.guessing import LEARNERS

from .clicking import at_random, light_to_the_label, the_motions
from .working import judged

MOST_SHARE = 0.3
FEW = 2  # learners, where it must not take long


def benches(rubric: Rubric) -> list:
    """The exercises of a lesson at a bench."""
    return [one for one in rubric.exercises.values() if one.at_the_bench]


def works(exercise, lesson: str, learner: str) -> dict[str, Work]:
    """The three scripts, at this learner's engine."""
    label = assignment_of(exercise, Header(learner, lesson, "", "", CREATED), ENGINES).label
    return {
        "at random": at_random(f"{learner}|{exercise.id}"),
        "the motions": the_motions,
        "light to the label": light_to_the_label(label),
    }


def shares(folder: Path, lesson: str, learners: tuple[str, ...]) -> dict[str, float]:
    """By script: the mean share of the lesson's points that these learners earn at its benches."""
    rubric = load_rubric(lesson)
    whole = sum(exercise.points for exercise in rubric.exercises.values())
    earned: dict[str, list[float]] = {}
    for learner in learners:
        of_learner: dict[str, float] = {}
        for exercise in benches(rubric):
            for name, work in works(exercise, lesson, learner).items():
                (place := folder / learner / exercise.id / name).mkdir(parents=True)
                result = judged(place, lesson, exercise.id, learner, work)
                of_learner[name] = of_learner.get(name, 0.0) + result.points / whole
        for name, share in of_learner.items():
            earned.setdefault(name, []).append(share)
    return {name: statistics.fmean(found) for name, found in earned.items()}


WITH_BENCH = tuple(lesson for lesson in lessons_with_rubrics() if benches(load_rubric(lesson)))


@pytest.mark.parametrize("lesson", ["l04_base_timing", "l09_answer_the_letter"])
def test_the_main_job_is_not_earned_by_the_motions(tmp_path, lesson):
    """Where the main job is judged, none of the three scripts earns three tenths of the lesson."""
    assert max(shares(tmp_path, lesson, LEARNERS[:FEW]).values()) < MOST_SHARE


@pytest.mark.benchmark
@pytest.mark.parametrize("lesson", WITH_BENCH)
def test_scripts_at_the_bench_earn_less_than_three_tenths(tmp_path, lesson):
    """Twenty learners with each script: under 30 % of the lesson on average."""
    found = shares(tmp_path, lesson, LEARNERS)
    print(f"{lesson[:3]} " + "  ".join(f"{name} {100 * share:.0f} %" for name, share in found.items()))
    assert {name: round(share, 3) for name, share in found.items() if share >= MOST_SHARE} == {}
