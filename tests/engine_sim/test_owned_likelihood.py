"""Odds of causes after readings: the density, the company of readings, what is left out, and the honesty of words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy.stats import multivariate_t

from engine_sim import FAULTS, INSPECTIONS
from engine_sim.owned import compare as comparing, words_for
from engine_sim.owned.causes import CAUSES, HEALTHY, NONE_OF_THESE
from engine_sim.owned.compare import compare, comparison
from engine_sim.owned.description import owned_from
from engine_sim.owned.evidence import evidence_of, nominal_of, read_numbers, read_words
from engine_sim.owned.likelihood import (
    NAMED_FROM,
    T_FREEDOM,
    ReadEvidence,
    instrument_covariance,
    odds,
    shrunk,
    sides_of,
    student_t,
)
from engine_sim.owned.next_test import chance_out, expected_bits, next_tests
from engine_sim.owned.tables import FEATURES, LIGHT, WORDS, load_tables

SIX = {
    "build": {"cylinders": 6, "displacement_l": 4.1, "cam": "as built", "compression_by": "paper"}
    | {"compression_ratio": 8.2},
    "ignition": {
        "hoses": 1,
        "source": "manifold",
        "curve_by": "paper",
        "curve_in": "crank",
        "centrifugal_start_rpm": 900.0,
        "centrifugal_full_rpm": 2800.0,
        "centrifugal_deg": 24.0,
        "vacuum_start_inhg": 6.0,
        "vacuum_full_inhg": 14.0,
        "vacuum_deg": 16.0,
    },
    "label": {"base_deg": 8.0, "idle_rpm": 800.0},
    "place": {"altitude_ft": 0.0, "air_c": 20.0},
}
NOTHING = np.full(len(FEATURES), np.nan)
NO_COVARIANCE = np.zeros((len(FEATURES), len(FEATURES)))


def evidence(words=None, findings=None, **differences) -> ReadEvidence:
    """Evidence of these differences from the healthy engine."""
    values = NOTHING.copy()
    for name, value in differences.items():
        values[FEATURES.index(name)] = value
    return ReadEvidence(values, NO_COVARIANCE, words or {}, findings or {})


def healthy_light(**changes) -> dict[str, float]:
    """All light readings as on the healthy engine but for these."""
    return (
        dict.fromkeys(LIGHT, 0.0)
        | {"idle_inhg": 0.0, "idle_rpm": 0.0, "idle_on_inhg": 0.0, "idle_on_rpm": 0.0}
        | changes
    )


def test_the_density_is_students():
    """Beside scipy's, for readings of which some are missing."""
    rng = np.random.default_rng(1)
    root = rng.normal(size=(len(FEATURES), len(FEATURES)))
    covariance, mean = root @ root.T + np.eye(len(FEATURES)), rng.normal(size=len(FEATURES))
    seen = rng.normal(size=len(FEATURES))
    seen[[1, 4]] = np.nan
    read = np.isfinite(seen)
    wanted = multivariate_t(mean[read], covariance[np.ix_(read, read)], df=T_FREEDOM).logpdf(seen[read])
    assert student_t(seen, mean, covariance) == pytest.approx(wanted, rel=1e-9)
    assert student_t(NOTHING, mean, covariance) == 0.0


def test_without_readings_the_odds_are_those_before():
    """Nothing read: 29 % healthy, 2 % outside the catalogue, the rest spread evenly; the tables have every cause."""
    shares = odds(load_tables(), evidence())
    assert shares[HEALTHY] == pytest.approx(0.23) and shares[NONE_OF_THESE] == pytest.approx(0.02)
    assert set(shares) == {HEALTHY, NONE_OF_THESE, *CAUSES}
    assert len({round(shares[name], 9) for name in CAUSES}) == 1


@settings(max_examples=40, deadline=None)
@given(
    st.dictionaries(st.sampled_from(FEATURES), st.floats(-60, 60), max_size=len(FEATURES)),
    st.fixed_dictionaries({}, optional={name: st.sampled_from(words) for name, words in WORDS.items()}),
    st.dictionaries(st.sampled_from(sorted(INSPECTIONS)), st.booleans(), max_size=4),
)
def test_odds_are_odds_and_words_are_honest(differences, words, findings):
    """Whatever is read the odds add up to one; no cause is named below three fifths (never below one half), and none
    is called most likely below 85 %."""
    seen = evidence(words, findings, **differences)
    told = comparison(owned_from(SIX), seen, load_tables())
    assert sum(told.odds.values()) == pytest.approx(1.0) and min(told.odds.values()) >= 0.0
    assert list(told.ranked) == sorted(told.ranked, key=lambda one: -one.odds)
    highest = max(told.odds.values())
    assert NAMED_FROM >= 0.5
    assert (told.named is not None) <= (highest >= NAMED_FROM) and told.likely == (highest >= 0.85)
    assert ("Most likely" in told.verdict) <= (highest >= 0.85)
    assert ("More likely than not" in told.verdict) <= (NAMED_FROM <= highest < 0.85)
    assert words_for.ALWAYS in told.do_not and words_for.ENGINES_LIKE_YOURS in told.sentences
    assert not {test.id for test in told.next_tests} & set(findings)


def test_a_dead_vacuum_unit_is_seen_by_the_light():
    """Sixteen degrees too little at every speed with the hose on, all else as on the healthy engine."""
    seen = evidence(**healthy_light(**{name: -16.0 for name in LIGHT if "_on_" in name}))
    shares = odds(load_tables(), seen)
    assert max(shares, key=lambda name: shares[name]) == "canister_torn"


def test_a_weak_fault_is_looked_for_as_well_as_a_strong_one():
    """Readings of a leak half as strong as the catalogue's speak for it more than those of the healthy engine do, and
    less than those of the whole leak."""
    tables = load_tables()
    leak = tables.causes["plenum_leak"].sides[0]
    told = []
    for mean in (tables.causes[HEALTHY].sides[0].mean, leak.mean_of(0.5, 6), leak.mean_of(1.0, 6)):
        told.append(odds(tables, replace(evidence(), difference=mean))["plenum_leak"])
    assert told == sorted(told) and told[1] > 2.0 * told[0]


def test_one_bad_cylinder_is_more_of_a_small_engine():
    """A gasket that leaks between two cylinders costs four cylinders more vacuum than eight."""
    gasket = load_tables().causes["gasket_between"].sides[0]
    four, eight = (gasket.mean_of(1.0, cylinders)[FEATURES.index("idle_inhg")] for cylinders in (4, 8))
    assert four < eight < 0.0


def test_a_body_turned_a_little_tells_a_late_spark_from_a_low_idle():
    """Slow and low on the gauge: where advance brings back more than it does on the healthy engine, and retard takes
    more, the spark is late; where both do what they do there, it is something else. A body turned too far moves both
    readings of that place alike."""
    slow = {"idle_inhg": -2.5, "idle_rpm": -110.0}
    late = {"turned_early_inhg": -1.5, "turned_early_rpm": -70.0, "turned_late_inhg": -4.3, "turned_late_rpm": -170.0}
    other = {name: slow[f"idle_{name.rsplit('_', 1)[1]}"] for name in late}
    told = [odds(load_tables(), evidence(**slow, **turned)) for turned in (late, other)]
    sparks = [one["timing_late"] + one["timing_some_late"] for one in told]
    assert sparks[0] > 2.0 * sparks[1]
    early = [FEATURES.index(f"turned_early_{unit}") for unit in ("inhg", "rpm")]
    covariance = instrument_covariance(evidence())
    assert covariance[early[0], early[1]] > 0.0 == covariance[early[0], FEATURES.index("turned_late_rpm")]


def test_a_hose_on_the_wrong_port_comes_from_the_other():
    """Where the description says what feeds the hose, only the side of such engines is looked at."""
    wrong = load_tables().causes["wrong_port"]
    assert {side.name for side in sides_of(wrong, evidence())} == {"manifold", "ported"}
    for source in ("manifold", "ported"):
        assert [side.name for side in sides_of(wrong, replace(evidence(), source=source))] == [source]
    early = load_tables().causes["tooth_out"]
    assert len(sides_of(early, replace(evidence(), source="ported"))) == len(early.sides) == 2


def test_readings_in_company_say_more_than_their_sum():
    """A light 10 degrees too early at every speed on an engine whose gauge and speed say nothing is a slipped ring;
    together with a speed and vacuum that rose it is a base set early, and the ring falls far behind."""
    early = dict.fromkeys(LIGHT, 12.0)
    alone = odds(load_tables(), evidence(**healthy_light(**early)))
    raised = {"idle_rpm": 130.0, "idle_inhg": 0.9, "idle_on_rpm": 130.0, "idle_on_inhg": 0.9}
    along = odds(load_tables(), evidence(**healthy_light(**early, **raised)))
    assert along["damper_slipped"] < alone["damper_slipped"]


def test_a_finding_moves_the_odds_to_its_causes():
    """A hand pump that finds a leak speaks for the torn vacuum unit, one that finds none against it; and it is not told
    as certain, since some findings are wrong."""
    before = odds(load_tables(), evidence())["canister_torn"]
    leaks = odds(load_tables(), evidence(findings={"hand_pump": False}))["canister_torn"]
    holds = odds(load_tables(), evidence(findings={"hand_pump": True}))["canister_torn"]
    assert 0.0 < holds < before < leaks < 0.95


def test_the_next_test_is_the_one_that_tells_most():
    """Its bits are those of the mutual information, worked out by the plain sum over causes and findings."""
    tables = load_tables()
    seen = evidence({"needle": "drifts"})
    shares = odds(tables, seen)
    best, *others = next_tests(tables, seen, shares, most=40)
    assert best.bits == max(one.bits for one in (best, *others))
    out = {cause: chance_out(tables, cause, best.id) for cause in shares}
    total = sum(shares[cause] * out[cause] for cause in shares)
    told = sum(
        share * chance * np.log2(chance / whole)
        for cause, share in shares.items()
        for chance, whole in ((out[cause], total), (1.0 - out[cause], 1.0 - total))
    )
    assert best.bits == pytest.approx(told, rel=1e-6) == expected_bits(shares, out)
    assert "Out of order it speaks for" in best.reason and best.minutes == INSPECTIONS[best.id].minutes


def test_readings_are_corrected_by_what_was_found_at_the_instruments():
    """A gauge that shows half an inch too much, a tachometer 50 rpm, a mark 4 degrees."""
    read = {"idle_inhg": 18.5, "idle_rpm": 850.0, "light_idle_off_deg": 12.0}
    errors = {"gauge_error_inhg": 0.5, "tachometer_error_rpm": 50.0, "light_error_deg": 4.0}
    numbers = read_numbers(owned_from(SIX | {"readings": read | errors}))
    assert numbers == {"idle_inhg": 18.0, "idle_rpm": 800.0, "light_idle_off_deg": 8.0}
    rough = instrument_covariance(evidence())[0, 0]
    assert instrument_covariance(replace(evidence(), gauge_checked=True))[0, 0] < 0.5 * rough


def test_what_says_nothing_on_this_engine_is_left_out():
    """A hot cam's vacuum and evenness; hose-on readings without a hose; points without points; a curve that was taken
    from this very engine."""
    read = {"idle_inhg": 12.0, "runs": "runs unevenly", "light_2500_off_deg": 20.0}
    hot = owned_from(SIX | {"build": SIX["build"] | {"cam": "not as built"}, "readings": read})
    assert np.isnan(evidence_of(hot).difference[FEATURES.index("idle_inhg")]) and read_words(hot) == {}
    assert any("left out" in one for one in compare(hot).sentences)
    bare = owned_from({"build": SIX["build"], "ignition": {"hoses": 0, "trigger": "electronic"}, "readings": read})
    assert set(evidence_of(bare).excluded) == {"dwell_wrong", "canister_torn", "wrong_port"}
    assert not {"dwell_wrong", "canister_torn"} & set(compare(bare).odds)
    light = {
        "curve_by": "light",
        "light": [{"rpm": rpm, "hose_off_deg": rpm / 100.0} for rpm in (800.0, 1500.0, 3000.0)],
    }
    own = owned_from({"build": SIX["build"], "ignition": light, "readings": read})
    assert np.isnan(evidence_of(own).difference[FEATURES.index("light_2500_off_deg")])
    assert any("taken by light" in one for one in compare(own).sentences)


def test_what_the_description_leaves_open_widens_the_odds():
    """The same late light says less where no label gives the base."""
    read = {"readings": {"light_idle_off_deg": -4.0}}
    known, unknown = (owned_from(base | read) for base in (SIX, {name: SIX[name] for name in SIX if name != "label"}))
    late = ("timing_late", "timing_some_late", "damper_slipped", "dwell_wrong")
    told = [sum(compare(one).odds[name] for name in late) for one in (known, unknown)]
    assert told[0] > told[1]


def test_a_cold_start_belongs_to_the_air_it_was_made_in():
    """5 °C is a cold morning; without its air it counts as a mild one, and the owner is asked."""
    cold = owned_from(SIX | {"readings": {"cold_start": "does not start", "cold_start_air_c": 5.0}})
    mild = owned_from(SIX | {"readings": {"cold_start": "does not start"}})
    assert read_words(cold) == {"cold_start": "does not start"} and read_words(mild) == {"mild_start": "does not start"}
    assert any("air temperature" in one for one in compare(mild).sentences)


def test_a_second_start_tells_of_its_own_morning():
    """A start at 5 and one at 18 °C are two words; of two in the same air the first counts."""
    cold = {"cold_start": "does not start", "cold_start_air_c": 5.0, "second_start": "takes long"}
    told = read_words(owned_from(SIX | {"readings": cold | {"second_start_air_c": 18.0}}))
    assert told == {"cold_start": "does not start", "mild_start": "takes long"}
    again = read_words(owned_from(SIX | {"readings": cold | {"second_start_air_c": 4.0}}))
    assert again == {"cold_start": "does not start"}


def test_a_reading_that_is_a_test_counts_once():
    """Dwell and the speed without each cylinder are inspections themselves: neither is proposed once more, and a
    finding of it adds nothing; without the reading the finding counts."""
    read = {"idle_inhg": 15.0, "dwell_deg": 46.0, "cut_out": "hardly falls at one"}
    found = {"findings": {"dwell_meter": "out of order", "cylinder_cut_out": "out of order"}}
    once, twice = (evidence_of(owned_from(SIX | {"readings": read | more})) for more in ({}, found))
    assert twice.findings == {} and set(twice.read) == {"dwell_meter", "cylinder_cut_out"}
    assert odds(load_tables(), once) == odds(load_tables(), twice)
    proposed = next_tests(load_tables(), once, odds(load_tables(), once), most=40)
    assert not {"dwell_meter", "cylinder_cut_out"} & {test.id for test in proposed}
    alone = evidence_of(owned_from(SIX | {"readings": {"idle_inhg": 15.0} | found}))
    assert set(alone.findings) == {"dwell_meter", "cylinder_cut_out"} and not alone.read


def test_a_dwell_beside_the_makers_speaks_for_the_points_the_more_the_better_it_is_known():
    """Nine degrees beside the figure that the owner typed in; less where only what is usual is known, and next to
    nothing where the dwell is the maker's."""
    known = SIX | {"ignition": SIX["ignition"] | {"dwell_deg": 37.0}}
    read = {"readings": {"dwell_deg": 46.0, "idle_inhg": 18.0}}
    told = [compare(owned_from(one | read)).odds["dwell_wrong"] for one in (known, SIX)]
    assert told[0] > told[1] > compare(owned_from(SIX | {"readings": {"idle_inhg": 18.0}})).odds["dwell_wrong"]
    right = compare(owned_from(known | {"readings": {"dwell_deg": 37.0, "idle_inhg": 18.0}}))
    assert right.odds["dwell_wrong"] < 0.01


def test_a_healthy_reading_is_called_healthy_as_far_as_it_goes():
    """The healthy engine of the description, read without an error, and said with its limits."""
    numbers = nominal_of(owned_from(SIX)).numbers
    words = {"needle": "stands still", "runs": "runs evenly", "misses": "none", "mark": "stands still", "smoke": "none"}
    words |= {"cold_start": "starts at once", "warm_start": "starts at once", "cranks": "cranks evenly"}
    told = compare(owned_from(SIX | {"readings": {name: round(numbers[name], 1) for name in FEATURES} | words}))
    assert told.named == HEALTHY and told.verdict.startswith("Healthy as far as these readings go")
    assert told.healthy > 0.6 and words_for.NOT_SEEN in told.sentences


def test_pairs_that_read_alike_are_told_with_the_test_that_parts_them():
    """Every pair names causes and an inspection that there are; a burnt valve and a gasket are told together."""
    for one, other, test in comparing.PAIRS:
        assert {one, other} <= {HEALTHY, *CAUSES} and test in INSPECTIONS
    seen = evidence({"needle": "flicks in rhythm", "runs": "stumbles", "misses": "at idle"})
    told = comparison(owned_from(SIX), seen, load_tables())
    assert ("valve_burnt", "gasket_between") in [(pair.one, pair.other) for pair in told.pairs]


def test_every_cause_has_its_words_and_its_row():
    """Titles, and cautions for causes that there are; what the tables hold adds up."""
    tables = load_tables()
    assert set(words_for.CAUTIONS) | set(words_for.NOT_TIMING) <= set(CAUSES)
    assert set(tables.causes) == {HEALTHY, *CAUSES} and {words_for.title_of(name) for name in CAUSES} == {
        FAULTS[name].title for name in CAUSES
    }
    for cause in tables.causes.values():
        for tables_of_words in (cause.words, *cause.words_by.values()):
            for name, shares in tables_of_words.items():
                assert sum(shares.values()) == pytest.approx(1.0, abs=0.02) and set(shares) == set(WORDS[name])
        assert len(cause.words_by) == 4
        assert all(0.0 < share < 1.0 for share in cause.out_of_order.values())
        for side in cause.sides:
            if side.covariance is not None:
                with_errors = shrunk(tables, side) + instrument_covariance(evidence())
                assert np.linalg.eigvalsh(with_errors).min() > 0.0


def test_before_anything_was_read_no_cause_is_listed():
    """Nothing read: no list, no pair, no test, and a sentence that asks for readings; one reading is enough."""
    nothing = compare(owned_from(SIX))
    assert nothing.ranked == nothing.pairs == nothing.next_tests == () and "Nothing was read yet" in nothing.verdict
    read = compare(owned_from(SIX | {"readings": {"idle_inhg": 12.0}}))
    assert read.ranked and read.next_tests
