"""Points at the bench mean knowledge, too: what somebody earns of a lesson who presses anything, goes through the
motions, or sets a timing light to the label, and answers the questions by a script as well.

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
from tests.graders.guessing import LEARNERS, MOST_SHARE, shares as shares_of_questions

from .clicking import at_random, light_to_the_label, the_motions
from .working import judged

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


def together(folder: Path, lesson: str, learners: tuple[str, ...]) -> float:
    """The largest share of a lesson that a script at the benches and one at the questions earn between them."""
    at_benches, of_questions = shares(folder, lesson, learners), shares_of_questions(lesson)
    print(f"{lesson[:3]} " + "  ".join(f"{name} {100 * share:.0f} %" for name, share in at_benches.items()), end="; ")
    best = max(of_questions, key=lambda name: of_questions[name])
    print(f"questions, {best}: {100 * of_questions[best]:.0f} %")
    return max(at_benches.values()) + of_questions[best]


@pytest.mark.parametrize("lesson", ["l00_before_you_touch", "l04_base_timing", "l09_answer_the_letter"])
def test_motions_and_guesses_together_earn_less_than_three_tenths(tmp_path, lesson):
    """Where the motions are safety's own, or the main job is judged, none of the three scripts earns three tenths of
    the lesson, also where every question is answered by the best script for questions."""
    assert together(tmp_path, lesson, LEARNERS[:FEW]) < MOST_SHARE


@pytest.mark.benchmark
@pytest.mark.parametrize("lesson", WITH_BENCH)
def test_scripts_at_the_bench_earn_less_than_three_tenths(tmp_path, lesson):
    """Twenty learners with each script at the benches, and the best script at the questions: together under 30 % of
    the lesson on average."""
    assert together(tmp_path, lesson, LEARNERS) < MOST_SHARE
