"""A learner's own numbers: stable, inside their range, worked out safely, and the same for page and judge."""

from __future__ import annotations

import contextlib
import dataclasses
import math
import re
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from engine_sim import published
from graders.exercises.engine_answers import ANSWERS
from graders.exercises.formulas import CONVERSIONS, value_of
from graders.exercises.individualise import (
    MOST_VARIANTS_TRIED,
    check_draw,
    drawn_value,
    learners_exercise,
    some_draws,
    values_of,
)
from graders.exercises.loader import rubric_from, rubric_in
from graders.exercises.units import in_unit
from graders.schema import NumberDraw, RubricError
from tests.every_case import check_every
from tests.graders.instrument import ENGINES, TRIAL, header_of, own_exercise

ROOT = Path(__file__).parents[2]
RUBRIC = rubric_in(TRIAL / "l97_forms.toml")
TABLE = (TRIAL / "l97_forms.toml").read_text(encoding="utf-8")


def test_formulas_are_worked_out():
    """The arithmetic of school, checked by hand."""
    by_hand = {
        "base + 2 * weights": 30.0,
        "(base - weights) / 2": -1.5,
        "-base ** 2": -64.0,
        "+3": 3.0,
        "min(base, weights) + max(1, 2, 3)": 11.0,
        "sqrt(base * 2)": 4.0,
        "1e3 / base": 125.0,
        "max(base)": 8.0,
        "round(base / 3)": 3.0,
    }
    assert {formula: value_of(formula, {"base": 8.0, "weights": 11.0}) for formula in by_hand} == by_hand


NO_ARITHMETIC = (
    "",
    "base +",
    "base; 1",
    "other",
    "__import__('os')",
    "base.real",
    "base[0]",
    "(lambda: 1)()",
    "[1 for a in b]",
    "'3'",
    "True",
    "base if 1 else 2",
    "abs(base)",
    "min()",
    "max(*base)",
    "sqrt(1, 2)",
    "round(1, 2)",
    "round()",
    "sqrt(-1)",
    "1 / 0",
    "1 < 2",
    "9 ** 9 ** 9",
    "(-8) ** 0.5",
    "1e999",
    "base & 1",
    "base // 2",
    "base % 2",
    "max(1, key=2)",
    "(" * 150 + ")" * 150,
    "1" + "+1" * 200,
    "base := 3",
    "3j",
)


def test_nothing_but_arithmetic_is_worked_out():
    """Anything else, and anything without a finite value, is refused in a sentence."""

    def check(formula):
        with pytest.raises(RubricError):
            value_of(formula, {"base": 8.0})

    check_every(check, ((f"'{formula[:40]}'", formula) for formula in NO_ARITHMETIC))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(alphabet="ab0123456789.+-*/() ,minaxsqrt", max_size=25))
def test_no_formula_provokes_another_error(formula):
    """Whatever stands in a formula, there is a finite number or our own error."""
    with contextlib.suppress(RubricError):
        assert math.isfinite(value_of(formula, {"a": 2.0, "b": -3.5}))


@pytest.mark.parametrize(
    ("formula", "value"),
    [  # by NIST SP 811 (2008), appendix B.8
        ("base * metres_per_foot", 2.4384),
        ("base * mm_per_inch", 203.2),
        ("base * litres_per_cubic_inch", 0.1310965),
        ("base * kg_per_pound", 3.628739),
        ("base * kpa_per_inhg", 27.09112),
        ("base * kpa_per_psi", 55.15806),
        ("base * newton_metres_per_pound_foot", 10.84654),
        ("base * fahrenheit_per_celsius + fahrenheit_at_ice_point", 46.4),
        ("base * crank_per_distributor_degree", 16.0),
    ],
)
def test_formulas_know_the_conversions(formula, value):
    """Every conversion has its name and the standard's value; one written in digits works as before."""
    assert value_of(formula, {"base": 8.0}) == pytest.approx(value, rel=1e-6)
    assert value_of("base * 0.3048", {"base": 8.0}) == pytest.approx(2.4384)


def test_the_instructors_guide_lists_the_conversions():
    """The guide's table names every conversion that a formula knows, and no other."""
    guide = (ROOT / "course/instructors.md").read_text(encoding="utf-8")
    table = guide.partition("| name in a formula | is |")[2].partition("\n\n")[0]
    assert re.findall(r"`([a-z_]+)`", table) == list(CONVERSIONS)


def test_a_misspelled_conversion_is_told_what_there_is():
    """A formula with an unknown name is told the exercise's own names and the conversions."""
    with pytest.raises(RubricError, match=r"names 'kpa_per_inch'; there are base, and the conversions metres_per_foot"):
        value_of("base * kpa_per_inch", {"base": 8.0})


@pytest.mark.parametrize("field", ["draw", "worked_out"])
def test_no_name_takes_the_place_of_a_conversion(field):
    """A rubric whose own name is that of a conversion is refused when it is loaded, with the field named."""
    names = {"draw": {"from": [1, 2]}, "worked_out": "3"}
    item = {"id": "w", "title": "W", "kind": "written", "objective": "o", "question": "?", "points": 2}
    item |= {field: {"kpa_per_inhg": names[field]}}
    with pytest.raises(RubricError, match=rf"{field}\.kpa_per_inhg: 'kpa_per_inhg' is a conversion"):
        rubric_from({"lesson": "l", "title": "t", "exercises": [item]}, "l.toml")


def test_no_answer_of_an_engine_takes_the_place_of_a_conversion():
    """No function of `answer_from` gives a name that is a conversion's."""
    assert not set(CONVERSIONS) & {name for answer in ANSWERS.values() for name in (*answer.gives, *answer.needs)}


def test_a_draw_is_stable():
    """The values that these words draw are frozen: a later edition gives the same learner the same numbers."""
    draw = NumberDraw(low=6, high=12, step=1)
    drawn = [drawn_value(draw, f"evening class|{learner}|l97_total|base") for learner in ("anna", "bela", "chidi")]
    assert drawn == [6.0, 9.0, 11.0]


def test_words_are_drawn_too():
    """One of a list of words stands in the texts of its learner, and in the levels by which a person marks."""
    item = {
        "id": "w",
        "title": "W",
        "kind": "written",
        "objective": "o",
        "question": "Answer {letter}.",
        "draw": {"letter": {"words": ["letter A", "letter B"]}},
        "marking": [{"id": "fit", "title": "Fit", "points": 2, "levels": ["no", "nearly", "fits {letter}"]}],
    }
    rubric = rubric_from({"lesson": "l", "title": "t", "exercises": [item]}, "l.toml")
    asked = set()
    for number in range(40):
        own = own_exercise(rubric, rubric.exercises["w"], f"learner {number}")
        letter = own.question.removeprefix("Answer ").removesuffix(".")
        assert own.marking[0].levels[2] == f"fits {letter}"
        asked.add(letter)
    assert asked == {"letter A", "letter B"}


@pytest.mark.parametrize(
    ("draw", "extra", "sentence"),
    [
        ({"words": ["a", "b"], "from": [1]}, {}, "or words"),
        ({"words": ["a", " "]}, {}, "one of the words is empty"),
        ({"words": []}, {}, "or words"),
        ({"words": ["a", "b"]}, {"worked_out": {"more": "letter + 1"}}, "names 'letter'"),
        ({"words": ["a", "b"]}, {"question": "{lettre}"}, "there are letter"),
    ],
)
def test_spoiled_words_say_where(draw, extra, sentence):
    """Words beside numbers, an empty word, a word in a formula or a misspelled name are told to the instructor."""
    item = {"id": "w", "title": "W", "kind": "written", "objective": "o", "draw": {"letter": draw}, "points": 2} | extra
    with pytest.raises(RubricError, match=sentence):
        rubric_from({"lesson": "l", "title": "t", "exercises": [item]}, "l.toml")


def test_every_value_is_drawn_about_as_often():
    """A thousand learners share seven values evenly, within what chance allows."""
    draw = NumberDraw(low=6, high=12, step=1)
    drawn = [drawn_value(draw, f"|learner {number}|x|base") for number in range(7000)]
    assert set(drawn) == set(values_of(draw))
    assert all(850 <= drawn.count(value) <= 1150 for value in values_of(draw))  # five standard deviations of 1000


def test_steps_of_a_tenth_stay_round():
    """Binary rests do not reach a question."""
    assert values_of(NumberDraw(low=0, high=0.5, step=0.1)) == [0.0, 0.1, 0.2, 0.3, 0.4, 0.5]


def test_neighbours_have_other_numbers():
    """Forty learners have many different sums, and the text holds the numbers that the judge wants."""
    header = header_of(RUBRIC, "anna")
    questions = set()
    for number in range(40):
        theirs = dataclasses.replace(header, learner=f"learner {number}")
        exercise = learners_exercise(RUBRIC.exercises["l97_total"], theirs, ENGINES)
        base, total = exercise.fields[0].value, exercise.fields[3].value
        assert f"base timing is {base:g} crank" in exercise.question and total > base
        questions.add(exercise.question)
    assert len(questions) > 25


def test_page_and_judge_call_one_function():
    """The exercise of the header is the exercise of the words that the tests use."""
    for exercise in RUBRIC.exercises.values():
        assert learners_exercise(exercise, header_of(RUBRIC, "bela"), ENGINES) == own_exercise(RUBRIC, exercise, "bela")


def test_the_shown_order_is_never_right():
    """The steps are shown in an order that keeps at most half of the constraints; choices of several are shuffled."""

    def check(learner):
        own = own_exercise(RUBRIC, RUBRIC.exercises["l97_steps"], learner)
        result = own.judge([step.id for step in own.steps], None)
        assert result[0].points <= own.points / 2
        assert sorted(step.id for step in own.steps) == sorted(step.id for step in RUBRIC.exercises["l97_steps"].steps)

    names = [f"learner {number}" for number in range(25)]
    check_every(check, zip(names, names, strict=True))


def test_choices_are_shuffled_where_the_rubric_wants_it():
    """Several: yes unless said otherwise; a choice: only where said; the rubric's own order is one of many."""
    orders = {
        tuple(one.id for one in own_exercise(RUBRIC, RUBRIC.exercises["l97_before_starting"], f"l {n}").choices)
        for n in range(30)
    }
    assert len(orders) > 15
    table = tomllib.loads(TABLE)
    for item in table["exercises"]:
        if item["kind"] in ("several", "choice"):
            item["shuffle"] = False
    still = rubric_from(table, "still.toml")
    for name in ("l97_before_starting", "l97_cruise"):
        own = own_exercise(still, still.exercises[name], "anna")
        assert [one.id for one in own.choices] == [one.id for one in still.exercises[name].choices]


def test_two_steps_are_shown_the_wrong_way_round():
    """With a single constraint the one wrong order is shown to everybody."""
    item = {
        "id": "two",
        "title": "Two",
        "kind": "order",
        "points": 1,
        "objective": "o",
        "before": [["a", "b"]],
        "steps": [{"id": "a", "text": "first"}, {"id": "b", "text": "then"}],
        "sentences": {"right": "Yes.", "wrong": "No."},
    }
    rubric = rubric_from({"lesson": "l97_forms", "title": "t", "exercises": [item]}, "two.toml")
    for number in range(20):
        assert [step.id for step in own_exercise(rubric, rubric.exercises["two"], f"{number}").steps] == ["b", "a"]


@pytest.mark.parametrize("feet", [0, 1000, 3000, 5000, 7000, 10000])
def test_standard_atmosphere_against_the_published_table(feet):
    """Pressure at an altitude; source: us_standard_atmosphere_1976. The table goes by geopotential altitude, which at
    10,000 ft lies 5 ft below the geometric one that people read off a map: 0.004 inHg."""
    wanted = published(f"atmosphere_{feet}_ft_inhg").value
    told = ANSWERS["standard_atmosphere"].function(None, {"altitude_ft": float(feet)})
    assert told["pressure_inhg"] == pytest.approx(wanted, abs=0.006)
    assert told["air_share"] == pytest.approx(wanted / 29.921, abs=0.0003)
    assert told["pressure_kpa"] == pytest.approx(told["pressure_inhg"] * 3.386389, rel=1e-9)


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "found"),
    [
        (29.921, "inHg", "kPa", 101.325),
        (212.0, "°F", "°C", 100.0),
        (-40.0, "°C", "°F", -40.0),
        (1.0, "in", "mm", 25.4),
        (5000.0, "ft", "m", 1524.0),
        (3.0, "distributor degrees", "crank degrees", 6.0),
        (1.0, "minutes", "seconds", 60.0),
        (1013.25, "mbar", "kPa", 101.325),
        (600.0, "distributor rpm", "crank rpm", 1200.0),
    ],
)
def test_units_against_their_definitions(value, unit, wanted, found):
    """Conversions against well-known pairs, from memory: standard atmosphere, boiling point, inch, foot."""
    assert in_unit(value, unit, wanted) == pytest.approx(found, rel=1e-4)
    assert in_unit(found, wanted, unit) == pytest.approx(value, rel=1e-4)
    assert in_unit(value, unit, "no such unit") is None


def test_a_draw_that_cannot_be_drawn_is_refused():
    """Low, high and whole steps, or a list; not both, and not a part."""

    def check(draw):
        with pytest.raises(RubricError, match=r"draw\.base"):
            check_draw(NumberDraw(**draw), "draw.base")

    draws = (
        {},
        {"low": 1, "high": 2},
        {"low": 2, "high": 1, "step": 1},
        {"low": 1, "high": 2, "step": 0.3},
        {"low": 1, "high": 2, "step": 0},
        {"low": 0, "high": 1e6, "step": 1},
        {"low": 1, "high": 2, "step": 1, "from": [1]},
        {"low": 1, "from": [1]},
    )
    check_every(check, ((str(draw), draw) for draw in draws))


@pytest.mark.parametrize("sizes", [(7, 11, 3), (7, 11, 8, 9), (9001, 9973, 10000), (2, 2), (500,), (1, 1)])
def test_variants_are_tried_evenly(sizes):
    """However many combinations there are, some hundreds are tried, and each list is met from end to end."""
    draws = {f"name{place}": NumberDraw(one_of=tuple(map(float, range(size)))) for place, size in enumerate(sizes)}
    tried = list(some_draws(draws))
    combinations = math.prod(sizes)
    distinct = len({tuple(one.values()) for one in tried})
    assert distinct == combinations if combinations <= MOST_VARIANTS_TRIED else distinct > 0.8 * MOST_VARIANTS_TRIED
    assert len(tried) <= MOST_VARIANTS_TRIED
    for name, draw in draws.items():
        met = sorted({one[name] for one in tried})
        assert met[0] == 0.0 and met[-1] == len(draw.one_of) - 1
        assert max((later - earlier for earlier, later in pairwise(met)), default=0.0) <= max(1, len(draw.one_of) / 50)
