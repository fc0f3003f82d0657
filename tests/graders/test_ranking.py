"""Does the judge put better work above worse? Thirty sessions of known quality, drawn with a fixed seed.

Six learners, each with an engine of their own, work five times: without a flaw, and with one, two, three and four. The
first two flaws and the last are slips that leave the setting right, the third is a grave mistake that leaves it wrong;
which flaws are which is common practice of the trade, no source. The engine is found warm, by a rubric that says so:
no flaw here has to do with warming up, which is half of what a session costs.
"""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from course import ENGINES
from graders.exercises.loader import FOLDER
from graders.judge import judge_lesson
from tests.scripted_learner import Habits, evidence_by

LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
SLIPS = (
    {"reads_again": False},
    {"reconnects": False},
    {"hose": "off and open"},
    {"makes_safe": False},
    {"gauge": "ported"},
)
GRAVE = (
    {"backs_off_with": "nothing"},
    {"backs_off_with": "idle_screw"},
    {"turns_wrong_way": True},
    {"stops_short": True},
)
LEARNERS, MOST_FLAWS = 6, 4  # among six every grave mistake is drawn
LEAST_CORRELATION = 0.95
QUALITY = ("faultless", "slips", "slips", "grave", "grave")  # by number of flaws


def flaws_of(dice: random.Random) -> list[dict]:
    """Four flaws in the order in which one learner collects them."""
    one, other, last = dice.sample(SLIPS, 3)
    return [one, other, dice.choice(GRAVE), last]


@pytest.fixture(scope="module")
def scores(tmp_path_factory):
    """The points of the bench exercise: a list by number of flaws for each learner."""
    folder, dice = tmp_path_factory.mktemp("ranking"), random.Random(5)
    rubric = (FOLDER / f"{LESSON}.toml").read_text(encoding="utf-8")
    engine = 'engine = "delivery_truck_six"\n'
    assert rubric.count(engine) == 1
    (folder / f"{LESSON}.toml").write_text(rubric.replace(engine, f"{engine}found = {{ warm = true }}\n"), "utf-8")
    found = []
    for number in range(LEARNERS):
        flaws, learner = flaws_of(dice), f"ranked {number}"
        found.append([])
        for count in range(MOST_FLAWS + 1):
            habits = {name: value for flaw in flaws[:count] for name, value in flaw.items()}
            path = folder / f"{number}-{count}.jsonl"
            evidence_by(path, learner, Habits(**habits, answers=()), found_warm=True)
            found[-1].append(judge_lesson(LESSON, path, ENGINES, learner, folder).exercise(BENCH).points)
    return found


def test_each_further_flaw_costs_points(scores):
    """The five sessions of every learner are ranked in the right order, without a tie."""
    for points in scores:
        assert all(more > fewer for more, fewer in pairwise(points)), points


def test_no_grave_mistake_outranks_slips_and_no_slip_a_faultless_try(scores):
    """Between faultless, slips alone, and a grave mistake there is no inversion across all of them."""
    by_quality: dict[str, list[float]] = {}
    for points in scores:
        for quality, earned in zip(QUALITY, points, strict=True):
            by_quality.setdefault(quality, []).append(earned)
    for better, worse in pairwise(by_quality.values()):
        assert min(better) > max(worse), by_quality


def test_the_ranking_correlates_with_the_number_of_flaws(scores):
    """Spearman's rank correlation over all sessions, ties counted as the method does."""
    from scipy.stats import spearmanr  # half a second that only this needs

    flaws = [count for _ in scores for count in range(MOST_FLAWS + 1)]
    correlation = -spearmanr(flaws, [earned for points in scores for earned in points]).statistic
    assert correlation >= LEAST_CORRELATION, correlation
