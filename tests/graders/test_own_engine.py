"""An engine of one's own: what is taken, what contradicts itself, what follows, and that nothing is invented."""

from __future__ import annotations

import copy
import json
import math

import pytest
from hypothesis import given, settings, strategies as st

from graders.exercises.kinds.common import AnswerError, as_text
from graders.exercises.kinds.own_engine import (
    CRANK,
    DISTRIBUTOR,
    ENTRIES,
    EXAMPLE,
    conflicts,
    displacement_l,
    number,
    read_card,
)
from graders.exercises.kinds.own_engine_advice import ARITHMETIC, SIMULATED, advice_for
from graders.exercises.loader import rubric_in
from tests.graders.instrument import ENGINES, TRIAL, GivenAnswer, judged

RUBRIC = rubric_in(TRIAL / "l96_inspections.toml")
CARD = RUBRIC.exercises["l96_card"]
EMPTY = dict.fromkeys(ENTRIES)


def card(**changed):
    """The example as it is read, with changes."""
    return read_card(as_text({**copy.deepcopy(EXAMPLE), **changed}))


def points(**changed) -> list[float]:
    """Points of every criterion for the example with changes."""
    answer = GivenAnswer(as_text({**copy.deepcopy(EXAMPLE), **changed}))
    return [one.points for one in judged(RUBRIC, CARD, "anna", answer).criteria]


def told(title: str, **changed):
    """What is told under a title, or None."""
    return next((one for one in advice_for(card(**changed), ENGINES) if one.title == title), None)


def test_a_whole_card_earns_all():
    """Complete and consistent entries have full marks."""
    assert points() == [2.0, 2.0, 2.0, 1.0, 1.0]


def test_what_is_left_empty_costs_its_share_and_is_named():
    """Two of six entries of the distributor are empty: the share that is there counts, and their names are said."""
    answer = GivenAnswer(as_text(EXAMPLE | {"canister": None, "all_in": None}))
    criterion = judged(RUBRIC, CARD, "anna", answer).criteria[1]
    assert criterion.points == pytest.approx(2.0 * 5 / 7, abs=0.01)
    assert "The vacuum unit adds at most" in criterion.sentence and "all in" in criterion.sentence


@pytest.mark.parametrize(
    "changed",
    [
        {"trigger": "electronic", "dwell": None},
        {"source": "there is none", "canister": None},
        {"bore": None, "stroke": None, "displacement": [3.5, "litres"]},
    ],
)
def test_what_an_engine_does_not_have_need_not_be_entered(changed):
    """No dwell for an electronic trigger, no canister without a hose, no bore where the displacement is known."""
    assert points(**changed) == [2.0, 2.0, 2.0, 1.0, 1.0]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"displacement": [5.0, "litres"]}, "make 3.55 litres, and 5.00"),
        ({"dwell": [62.0, DISTRIBUTOR]}, "turns 60 degrees; the dwell cannot be 62"),
        ({"source": "there is none"}, "There is no advance hose"),
        ({"idle": [900.0, "rpm"], "all_in": [850.0, "rpm"]}, "cannot be all in at 850 rpm"),
        ({"weights": [18.0, DISTRIBUTOR], "canister": [14.0, DISTRIBUTOR]}, "add up to 70 crank degrees"),
    ],
)
def test_what_cannot_be_true_together_is_said(changed, said):
    """Nothing counts while two entries contradict each other, and the sentence says which."""
    found = conflicts(card(**changed))
    assert len(found) == 1 and said in found[0]
    assert not any(points(**changed))


def test_the_example_contradicts_nothing():
    """A sensible card has no conflicts."""
    assert conflicts(card()) == []


@pytest.mark.parametrize(
    ("name", "found", "said"),
    [
        ("bore", [3500.0, "mm"], "lies between 40 and 150 mm"),
        ("bore", [89.0, "in"], "lies between 1.575 and 5.906 in"),
        ("bore", [89.0, "feet"], "one of the units mm, in"),
        ("bore", "89 mm", "wants a number"),
        ("bore", [True, "mm"], "wants a number"),
        ("rotor", "left", "can be clockwise, anticlockwise; 'left' was found"),
        ("cylinders", [6, ""], "can be 3, 4, 5, 6, 8"),
    ],
)
def test_an_entry_that_cannot_be_is_refused(name, found, said):
    """What was wanted and what was found, in the entry's own words."""
    with pytest.raises(AnswerError, match=said):
        card(**{name: found})


def test_an_empty_card_is_no_answer():
    """Nothing filled in, and a table of other things, are refused."""
    with pytest.raises(AnswerError, match="Nothing is filled in yet"):
        read_card(as_text(EMPTY))
    with pytest.raises(AnswerError, match="each once"):
        read_card('{"bore": [1.0, "mm"]}')


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(sorted(ENTRIES)),
        st.one_of(
            st.none(),
            st.text(max_size=8),
            st.tuples(st.floats(), st.sampled_from(["mm", "in", "rpm", CRANK])).map(list),
        ),
    )
)
def test_any_forged_card_is_read_or_refused(entries):
    """Whatever stands in the evidence, the reader answers with a card or with its own error."""
    try:
        read = read_card(json.dumps(EMPTY | entries))
    except AnswerError:
        return
    assert all(math.isfinite(number(read, name)) for name in ENTRIES if isinstance(read[name], tuple))


# ---- what follows ----------------------------------------------------------------------------------------------------


def test_displacement_is_bore_stroke_and_cylinders():
    """pi/4 x 3.5^2 x 3.75 x 6 = 216.5 cubic inches = 3.547 litres, worked out by hand."""
    assert displacement_l(card()) == pytest.approx(3.547, abs=0.002)
    assert "216 cubic inches" in told("Displacement").text or "217 cubic inches" in told("Displacement").text


def test_vacuum_is_expected_by_the_one_altitude_rule():
    """The same share of the air outside: 12.6 to 15.6 inHg at 8,000 ft (12.6 is 17 times 0.743 of the standard
    atmosphere), and what is read is judged by the same band."""
    assert "13 to 16 inHg" in told("Vacuum to expect", altitude=(8000.0, "ft")).text
    assert (
        "is what a healthy engine shows there"
        in told("Your vacuum", altitude=(8000.0, "ft"), read_vacuum=(13.0, "inHg")).text
    )


def test_coil_time_is_what_the_trade_counts():
    """60 degrees of dwell at 5,000 rpm are 4 ms (key coil_on_time): here 37 degrees at 800 rpm, 15.4 ms."""
    assert "15.4 ms at 800 rpm" in told("Dwell and the coil").text
    assert told("Dwell and the coil", trigger="electronic") is None


@pytest.mark.parametrize(("rotor", "way"), [("clockwise", "anticlockwise"), ("anticlockwise", "clockwise")])
def test_turning_against_the_rotor_advances(rotor, way):
    """Common practice of the trade, and the geometry of it."""
    assert f"turning the body {way} advances" in told("Turning the distributor", rotor=rotor).text


def test_distributor_degrees_become_crank_degrees_in_the_sum():
    """6 + 2 x 11 = 28 at full throttle, and 40 with the vacuum unit's 12."""
    text = told("What the spark adds up to").text
    assert "6 + 22 = 28 crank degrees" in text and ": 40." in text


def test_what_the_simulated_engine_does_is_marked_and_warned_of():
    """Its basis says that it is not the learner's engine, and the text forbids setting by it."""
    one = told("Peak and setting, in order of size")
    assert one.basis == SIMULATED and "Never set a real engine" in one.text
    assert told("Peak and setting, in order of size", cylinders="5", displacement=None) is None


@pytest.mark.parametrize(
    ("changed", "title", "said"),
    [
        ({"read_vacuum": [11.0, "inHg"]}, "Your vacuum", "below what a healthy engine shows"),
        ({"read_vacuum": [56.0, "kPa"]}, "Your vacuum", "is what a healthy engine shows"),
        ({"read_vacuum": [25.0, "inHg"]}, "Your vacuum", "above what a healthy engine shows"),
        ({"read_needle": "drifts"}, "Your needle", "found and repaired first"),
        ({"read_timing": [19.0, CRANK]}, "Your timing", "13 more than the label"),
        ({"read_timing": [-2.0, CRANK]}, "Your timing", "8 less than the label"),
        ({"read_idle": [950.0, "rpm"]}, "Your idle", "set the idle first"),
    ],
)
def test_readings_are_held_beside_label_and_altitude(changed, title, said):
    """Each reading gets the sentence that a careful colleague would say."""
    assert said in told(title, **changed).text


def test_nothing_is_told_that_was_not_entered():
    """With the altitude alone, only the vacuum to expect is told; every line says what it rests on."""
    few = advice_for(read_card(as_text(EMPTY | {"altitude": [1500.0, "m"]})), ENGINES)
    assert [one.title for one in few] == ["Vacuum to expect"] and "4921 ft (1500 m)" in few[0].text
    assert all(one.basis for one in advice_for(card(), ENGINES))
    assert ARITHMETIC in {one.basis for one in advice_for(card(), ENGINES)}
