"""What the comparison of readings must reach on hidden owners, level by level; a target that is missed is a strict
expected failure with its measured value.

The hidden owners, 2,080 of sixty engines, are of a seed that was drawn once, after readings, tables, shares and weights
had been chosen. Owners of one engine read alike, so that the figures scatter: by six points from seed to seed of thirty
engines. Over eight seeds that were chosen on, 10,400 owners, 90 % of healthy engines and 43 % of faulty ones are called
healthy with the gauge, 90 and 27 with the light, 92 and 21 with words, 83 and 23 with all errors doubled. The benchmark
reads the owners' engines first (half an hour on a quick idle core); the small part reads ten.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest

from engine_sim.owned.causes import HEALTHY, NONE_OF_THESE
from engine_sim.owned.evidence import evidence_of
from engine_sim.owned.likelihood import HEALTHY_FROM, NAMED_FROM, odds, passes_for_healthy
from engine_sim.owned.observe import Observation, observed
from engine_sim.owned.tables import load_tables
from tests.benchmarks import hidden_owners
from tests.benchmarks.hidden_owners import causes_of, hidden, read_all
from tests.benchmarks.owned_benchmark import (
    GAUGE,
    LIGHTS,
    SAID,
    Score,
    after_tests,
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
ODDS_MISSED = {SAID: "one tenth: 55 % said, 41 % true of 152"}  # what is reached in the place of a target
WITHIN = 10.0  # points by which said odds may lie beside the truth
OFTEN = 100  # times that odds were said, from which they are compared with the truth
TESTED_EVERY = 4  # of the owners one, to whom tests are proposed: 520 of 2,080
OWNERS_WITH_TWO = 100  # engines with two faults at once


def missed(reached: str | None) -> tuple:
    """The mark of a target that is missed by a known amount."""
    return (pytest.mark.xfail(strict=True, reason=reached),) if reached else ()


@pytest.fixture(scope="session")
def owners(tmp_path_factory, monkeypatch_session):
    """Two thousand owners, read once."""
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


@pytest.fixture(scope="session")
def score_of(owners):
    """The figures of a level of readings, printed once and kept."""
    kept: dict[str, Score] = {}

    def score(level: str, capsys) -> Score:
        if level not in kept:
            kept[level] = scored(owners, load_tables(), level)
            with capsys.disabled():
                print("\n" + kept[level].line())
        return kept[level]

    return score


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("level", "figure", "target"),
    [(level, figure, target) for level, wanted in AT_LEAST.items() for figure, target in enumerate(wanted)],
)
def test_a_level_of_readings_reaches_its_target(score_of, level, figure, target, capsys):
    """Right cause first and in three and healthy called healthy at least, faulty called healthy at most."""
    reached = score_of(level, capsys).figures()[figure]
    assert reached <= target if figure == FAULTY_HEALTHY else reached >= target


@pytest.mark.benchmark
@pytest.mark.parametrize("level", [pytest.param(one, marks=missed(ODDS_MISSED.get(one))) for one in AT_LEAST])
def test_said_odds_lie_near_the_truth(score_of, level, capsys):
    """By tenths of the odds, what is said and what is true lie within ten points, where it is said often enough."""
    told = score_of(level, capsys).calibration()
    assert [one for one in told if one[2] >= OFTEN and abs(one[0] - one[1]) > WITHIN] == []


@pytest.mark.benchmark
def test_engines_of_kinds_that_were_not_drawn_are_called_healthy(owners, capsys):
    """No hidden kind is among those of the tables: with words, 85 % of their healthy engines are called healthy, taken
    over the kinds; one kind alone has forty, and scatters by six points."""
    scores = [
        scored({name: one for name, one in owners.items() if name.startswith(kind)}, load_tables(), SAID, kind)
        for kind in hidden_owners.CHANGED
    ]
    with capsys.disabled():
        print("", *(score.line() for score in scores), sep="\n")
    assert np.mean([score.figures()[HEALTHY_HEALTHY] for score in scores]) >= 85.0


@pytest.mark.benchmark
def test_doubled_errors_still_leave_most_healthy_engines_healthy(owners, capsys):
    """Every error of instruments and words doubled: 80 % of healthy engines are called healthy."""
    score = scored(owners, load_tables(), SAID, "errors doubled", errors=2.0)
    with capsys.disabled():
        print("\n" + score.line())
    assert score.figures()[HEALTHY_HEALTHY] >= 80.0


@pytest.fixture(scope="session")
def tested(owners):
    """The figures after two tests that each policy chooses, for one owner of TESTED_EVERY."""
    fewer = dict(list(owners.items())[::TESTED_EVERY])
    return {said: told[-1] for said, told in after_tests(fewer, load_tables()).items()}


@pytest.mark.benchmark
def test_chosen_tests_beat_random_ones_and_the_first_suspects_own(tested, capsys):
    """After two tests 88 % in three, at most 15 % of faulty engines called healthy; chosen by information more are
    right than by the first suspect's own test or at random. Of these 520 owners 76.8 % had the right cause first and
    91.8 in three, 87.5 % of healthy engines and 13.0 of faulty ones were called healthy; 75.5 had it first by the first
    suspect's own test and 67.0 at random. To look two tests ahead, for the cause that would then stand first, or at
    findings by the strength of the fault, added a point at most on two other seeds."""
    with capsys.disabled():
        print("", *(score.line() for score in tested.values()), sep="\n")
    first = {said: score.figures()[FIRST] for said, score in tested.items()}
    assert first["by information"] > max(first["first suspect's own"], first["at random"])
    got = tested["by information"].figures()
    assert got[IN_THREE] >= 88.0 and got[FAULTY_HEALTHY] <= 15.0


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("figure", "target"),
    [
        pytest.param(FIRST, 78.0, marks=missed("76.8 % of 400 faulty engines")),
        pytest.param(HEALTHY_HEALTHY, 88.0, marks=missed("87.5 % of 120 healthy engines")),
    ],
)
def test_two_chosen_tests_put_the_right_cause_first_and_clear_healthy_engines(tested, figure, target):
    """78 % right first, and 88 % of healthy engines called healthy, after two tests chosen by information."""
    assert tested["by information"].figures()[figure] >= target


@pytest.mark.benchmark
def test_what_the_tables_do_not_have_is_measured(owners, capsys):
    """A cause taken out of the tables, and two faults at once: printed, and no worse than an owner is told. Measured:
    another cause is named for 27 %, and "none of these" comes first for 14; of 100 engines with two faults the first
    named is one of them in 79 %, and both are in three in 48."""
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
    score.add("idle_lean", {"idle_lean": 0.6, HEALTHY: 0.3, "idle_rich": 0.1})  # named, whatever healthy has
    score.add("idle_rich", {HEALTHY: 0.8, "idle_rich": 0.15, "idle_lean": 0.05})
    score.add(HEALTHY, {HEALTHY: 0.9, "idle_rich": 0.1, "idle_lean": 0.0})
    assert score.figures() == (50.0, 100.0, 100.0, 50.0)
    assert sum(count for *_, count in score.calibration()) == 9
    assert np.isclose(score.calibration()[-1][0], 90.0)


def test_an_engine_passes_for_healthy_until_a_cause_is_named_or_its_share_is_small():
    """The share of healthy alone decides, as long as no cause is named; single causes may have less than it."""
    assert passes_for_healthy({HEALTHY: HEALTHY_FROM, "idle_lean": 0.56, "idle_rich": 0.2})
    assert not passes_for_healthy({HEALTHY: HEALTHY_FROM, "idle_lean": NAMED_FROM, "idle_rich": 0.16})
    assert not passes_for_healthy({HEALTHY: 0.2, "idle_lean": 0.1, "idle_rich": 0.1, NONE_OF_THESE: 0.1})


def test_an_engine_that_does_not_run_is_told_as_such_at_every_level():
    """Nothing can be read on it, and its owner says so even where only the gauge is asked for."""
    seen = Observation({}, {"cold_start": "does not start", "mild_start": "does not start", "cranks": "cranks evenly"})
    seen.words["warm_start"] = "does not start"
    for level in (GAUGE, LIGHTS):
        told = [reported(seen, said_of("farm_runabout_four|0|0"), level, f"owner {count}") for count in range(20)]
        heard = [one.readings.warm_start for one in told]
        assert heard.count("does not start") >= 12 and {one.readings.cranks for one in told} == {None}
