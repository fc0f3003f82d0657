"""What the comparison of readings must reach on hidden owners, level by level; a target that is missed is a strict
expected failure with its measured value.

The benchmark reads a thousand owners' engines first (a quarter of an hour on one core); the small part reads ten.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest

from engine_sim.owned.causes import HEALTHY, NONE_OF_THESE
from engine_sim.owned.evidence import evidence_of
from engine_sim.owned.likelihood import odds
from engine_sim.owned.observe import observed
from engine_sim.owned.tables import load_tables
from tests.benchmarks import hidden_owners
from tests.benchmarks.hidden_owners import causes_of, hidden, read_all
from tests.benchmarks.owned_benchmark import (
    GAUGE,
    LIGHTS,
    SAID,
    Score,
    after_tests,
    at_random,
    by_information,
    of_first_suspect,
    reported,
    said_of,
    scored,
    two_faults,
    without_its_cause,
)

FIRST, IN_THREE, HEALTHY_HEALTHY, FAULTY_HEALTHY = range(4)
AT_LEAST = {  # level: first, in three, healthy called healthy; and at most: faulty called healthy [%]
    GAUGE: (33.0, 55.0, 88.0, 45.0),
    LIGHTS: (48.0, 70.0, 88.0, 32.0),
    SAID: (60.0, 80.0, 88.0, 22.0),
}
MISSED = {  # level and figure: what was measured on 1,040 owners where the target is missed [%]
    (GAUGE, FIRST): 27.9,
    (GAUGE, IN_THREE): 51.5,
    (GAUGE, FAULTY_HEALTHY): 53.5,
    (LIGHTS, FIRST): 43.2,
    (LIGHTS, IN_THREE): 67.2,
    (LIGHTS, FAULTY_HEALTHY): 37.6,
    (SAID, FIRST): 57.2,
    (SAID, FAULTY_HEALTHY): 24.4,
}
FIRST_AFTER_TWO = 78.0  # right cause first after two chosen tests [%]
WITHIN, OFTEN = 10.0, 100  # points by which said odds may lie beside the truth, where they were said so often
TESTED_OWNERS, OWNERS_WITH_TWO = 300, 100


def rows():
    """Every level and figure; those missed as strict expected failures."""
    for level, wanted in AT_LEAST.items():
        for figure, target in enumerate(wanted):
            measured = MISSED.get((level, figure))
            missed = pytest.mark.xfail(strict=True, reason=f"missed: {measured} % were measured")
            yield pytest.param(level, figure, target, marks=missed if measured is not None else ())


@pytest.fixture(scope="session")
def owners(tmp_path_factory, monkeypatch_session):
    """A thousand owners and more, read once."""
    folder = tmp_path_factory.mktemp("owners")
    monkeypatch_session.setattr(sys, "argv", ["hidden_owners", str(folder)])
    monkeypatch_session.setenv("TIMING_COURSE_CACHE", str(folder / "maps"))
    assert hidden_owners.main() == 0
    found = read_all(folder / "hidden.jsonl")
    assert len(found) >= 1000
    return found


@pytest.fixture(scope="session")
def monkeypatch_session():
    """As monkeypatch, for a whole run."""
    with pytest.MonkeyPatch.context() as patched:
        yield patched


@pytest.mark.benchmark
@pytest.mark.parametrize(("level", "figure", "target"), list(rows()))
def test_a_level_of_readings_reaches_its_target(owners, level, figure, target, capsys):
    """Right cause first and in three and healthy called healthy at least, faulty called healthy at most."""
    score = scored(owners, load_tables(), level)
    with capsys.disabled():
        print("\n" + score.line())
    reached = score.figures()[figure]
    assert reached <= target if figure == FAULTY_HEALTHY else reached >= target


@pytest.mark.benchmark
@pytest.mark.parametrize("level", AT_LEAST)
def test_said_odds_lie_near_the_truth(owners, level):
    """By tenths of the odds, what is said and what is true lie within ten points, where it is said often enough."""
    told = scored(owners, load_tables(), level).calibration()
    assert [one for one in told if one[2] >= OFTEN and abs(one[0] - one[1]) > WITHIN] == []


@pytest.mark.benchmark
@pytest.mark.xfail(strict=True, reason="missed: 78.8 % were measured on 1,040 owners")
def test_doubled_errors_still_leave_most_healthy_engines_healthy(owners, capsys):
    """Every error of instruments and words doubled: 80 % of healthy engines are called healthy."""
    score = scored(owners, load_tables(), SAID, "errors doubled", errors=2.0)
    with capsys.disabled():
        print("\n" + score.line())
    assert score.figures()[HEALTHY_HEALTHY] >= 80.0


@pytest.mark.benchmark
def test_chosen_tests_beat_random_ones_and_the_first_suspects_own(owners, capsys):
    """After two tests 88 % in three, at most 15 % of faulty engines called healthy; chosen by information more are
    right than at random or by the first suspect. Of 150 owners 73.1 % had the right cause first, 94.1 in three."""
    fewer = dict(list(owners.items())[:: len(owners) // TESTED_OWNERS])
    scores = {
        policy.__name__: after_tests(fewer, load_tables(), policy, policy.__name__)[-1]
        for policy in (by_information, of_first_suspect, at_random)
    }
    with capsys.disabled():
        print("", *(score.line() for score in scores.values()), sep="\n")
    first = {name: score.figures()[FIRST] for name, score in scores.items()}
    assert first["by_information"] > max(first["of_first_suspect"], first["at_random"])
    got = scores["by_information"].figures()
    assert got[IN_THREE] >= 88.0 and got[FAULTY_HEALTHY] <= 15.0
    if got[FIRST] < FIRST_AFTER_TWO:
        pytest.xfail(f"missed: {got[FIRST]:.1f} % right first after two tests, and {FIRST_AFTER_TWO:g} are wanted")


@pytest.mark.benchmark
def test_what_the_tables_do_not_have_is_measured(owners, capsys):
    """A cause taken out of the tables, and two faults at once: printed, and no worse than an owner is
    told."""
    named, none = without_its_cause(owners, load_tables())
    one_of, both = two_faults(load_tables(), OWNERS_WITH_TWO)
    with capsys.disabled():
        print(f"\ncause not in the tables: another is named {named:.0f} %, none of these comes first {none:.0f} %")
        print(f"two faults: the first named is one of them {one_of:.0f} %, both in three {both:.0f} %")
    assert named < 60.0 and one_of > 50.0


def test_small_more_readings_name_more_and_odds_stay_odds():
    """Ten owners of one hidden engine, each cause as strong as drawn: with words at least as many have the right cause
    in three as with the gauge alone, and at least half of them."""
    places = [0, *range(hidden_owners.HEALTHY_AN_ENGINE, len(causes_of("delivery_truck_six", 4)), 3)][:10]
    readings = {}
    for place in places:
        one = hidden("delivery_truck_six", 4, place)
        readings[one.name] = (one.cause, observed(one.engine, one.found, one.conditions))
    scores = {level: scored(readings, load_tables(), level) for level in (GAUGE, SAID)}
    assert sum(scores[SAID].in_three) >= max(sum(scores[GAUGE].in_three), 0.5 * len(scores[SAID].in_three))
    for name, (_, seen) in readings.items():
        shares = odds(load_tables(), evidence_of(reported(seen, said_of(name), SAID, name)))
        assert sum(shares.values()) == pytest.approx(1.0) and {HEALTHY, NONE_OF_THESE} <= set(shares)


def test_a_score_counts_as_it_says():
    """Three owners by hand: one right, one taken for healthy, one healthy and called so."""
    score = Score.empty("three")
    score.add("idle_lean", {"idle_lean": 0.6, HEALTHY: 0.3, "idle_rich": 0.1})
    score.add("idle_rich", {HEALTHY: 0.8, "idle_rich": 0.15, "idle_lean": 0.05})
    score.add(HEALTHY, {HEALTHY: 0.9, "idle_rich": 0.1, "idle_lean": 0.0})
    assert score.figures() == (50.0, 100.0, 100.0, 50.0)
    assert sum(count for *_, count in score.calibration()) == 9
    assert np.isclose(score.calibration()[-1][0], 90.0)
