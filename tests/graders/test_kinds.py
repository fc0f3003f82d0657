"""The judging of every kind: shares of points, equal orders, bad evidence, and functions that a rubric names."""

from __future__ import annotations

import shutil
import tomllib

import pytest
from hypothesis import given, settings, strategies as st

from engine_sim import Event, Evidence, EvidenceWriter, Header, learners_engine, load_card
from graders.exercises import engine_answers, loader
from graders.exercises.engine_answers import CURVE_JUDGES, CurveFinding, curve_judge
from graders.exercises.kinds.common import AnswerError, as_text, shared_out
from graders.exercises.kinds.curve import advance_at, slopes
from graders.exercises.loader import rubric_from, rubric_in
from graders.judge import judge_exercise, judge_lesson
from graders.outcome import Outcome
from tests.every_case import check_every
from tests.graders.instrument import (
    ANSWERED_KINDS,
    ENGINES,
    TRIAL,
    GivenAnswer,
    header_of,
    judged,
    own_exercise,
    right_answer,
)

RUBRIC = rubric_in(TRIAL / "l97_forms.toml")
AT_ENGINES = rubric_in(TRIAL / "l96_inspections.toml")
EXERCISES = RUBRIC.exercises
SEVERAL, ORDER, SUM, HOSES, CURVE = (
    EXERCISES[name] for name in ("l97_before_starting", "l97_steps", "l97_total", "l97_hoses", "l97_curve")
)


def result_of(exercise, *answers_given):
    """What the judge says of these answers of several parts."""
    return judged(RUBRIC, exercise, "anna", *(GivenAnswer(as_text(one)) for one in answers_given))


@pytest.fixture
def trial_folder(monkeypatch, tmp_path):
    """The loader looks into a copy of the trial rubrics, and forgets them afterwards."""
    shutil.copytree(TRIAL, tmp_path / "rubrics")
    monkeypatch.setattr(loader, "FOLDER", tmp_path / "rubrics")
    loader.load_rubric.cache_clear()
    yield tmp_path / "rubrics"
    loader.load_rubric.cache_clear()


@pytest.mark.parametrize(
    ("ticked", "points"),
    [
        (["chocks", "extraction", "clear"], 3.0),
        (["chocks"], 1.0),
        (["chocks", "clear"], 2.0),
        (["chocks", "clear", "choke_blocked"], 0.5),
        (["chocks", "extraction", "clear", "choke_blocked"], 1.5),
        (["chocks", "choke_blocked", "helper_in_front"], 0.0),
        (["choke_blocked", "helper_in_front"], 0.0),
    ],
)
def test_several_gives_a_share_and_never_less_than_nothing(ticked, points):
    """The share of the right ones ticked less that of the wrong ones; the main criterion has all of the points."""
    result = result_of(SEVERAL, ticked)
    assert result.points == points
    assert [criterion.max_points for criterion in result.criteria][1:] == [0.0] * (len(result.criteria) - 1)


def test_ticking_everything_does_not_pay():
    """All five ticked: every right one, and every wrong one, too."""
    assert result_of(SEVERAL, [choice.id for choice in SEVERAL.choices]).points == 0.0


@pytest.mark.parametrize(
    ("order", "points"),
    [
        (["warm", "plug", "peak", "back_off", "reconnect", "road"], 4.0),
        (["plug", "warm", "peak", "back_off", "reconnect", "road"], 4.0),
        (["plug", "peak", "warm", "back_off", "reconnect", "road"], 2.4),
        (["road", "reconnect", "back_off", "peak", "plug", "warm"], 0.0),
    ],
)
def test_every_order_that_keeps_the_constraints_is_right(order, points):
    """What may be done in either order counts either way; each broken constraint costs a kept one, too."""
    assert result_of(ORDER, order).points == points


def test_all_or_nothing_is_kept():
    """Where the rubric says so, part of it earns nothing."""
    table = tomllib.loads((TRIAL / "l97_forms.toml").read_text(encoding="utf-8"))
    for item in table["exercises"]:
        if item["kind"] in ("several", "order"):
            item["partial"] = False
    strict = rubric_from(table, "strict.toml")
    for name, answer in (
        ("l97_before_starting", ["chocks"]),
        ("l97_steps", ["plug", "peak", "warm", "back_off", "reconnect", "road"]),
    ):
        assert judged(strict, strict.exercises[name], "anna", GivenAnswer(as_text(answer))).points == 0.0


def test_a_sum_is_judged_line_by_line():
    """An empty line is missing, the wrong unit and the wrong sign have their own sentences, a right one its points."""
    own = own_exercise(RUBRIC, SUM, "anna")
    lines = {line.id: line for line in own.fields}
    result = result_of(
        SUM,
        {
            "base": [-lines["base"].value, "crank degrees"],
            "centrifugal": None,
            "vacuum": [0, "distributor degrees"],
            "total": [lines["total"].value, "distributor degrees"],
        },
    )
    assert [one.outcome.value for one in result.criteria] == ["not yet", "missing", "met", "not yet"]
    said = [one.sentence for one in result.criteria]
    assert said[0] == SUM.sentences["wrong sign"] and said[3] == SUM.sentences["wrong unit"]
    assert result.points == 1.0


def test_half_of_a_hook_up_earns_half():
    """A hose that was not connected is missing; the other one has its points."""
    result = result_of(HOSES, {"gauge": "manifold", "canister": None})
    assert [one.outcome for one in result.criteria] == [Outcome.MET, Outcome.MISSING] and result.points == 1.5


def test_two_hoses_on_one_fitting_are_refused():
    """One fitting takes one hose, while plugs and open ends are there for all."""
    with pytest.raises(AnswerError, match="One fitting takes one hose"):
        HOSES.read(as_text({"gauge": "manifold", "canister": "manifold"}), None)
    assert HOSES.read(as_text({"gauge": "open", "canister": "open"}), None)
    assert HOSES.read(as_text({"gauge": None, "canister": "open"}), None)


def test_a_curve_is_straight_between_its_points():
    """Level outside, straight inside; slopes are degrees for each thousand revolutions."""
    curve = ((1000.0, 0.0), (2000.0, 12.0), (3000.0, 20.0))
    assert [advance_at(curve, rpm) for rpm in (500, 1000, 1500, 2500, 4000)] == [0.0, 0.0, 6.0, 16.0, 20.0]
    assert slopes(curve).tolist() == [12.0, 8.0]


@pytest.mark.parametrize(
    ("curve", "unmet"),
    [
        ([[1000, 0], [2000, 14], [3000, 22]], []),
        ([[1000, 0], [2000, 14.1], [3000, 20]], ["gentle"]),
        ([[1000, 0], [3000, 17.9]], ["total"]),
        ([[1000, 0], [3000, 22.1]], ["total"]),
        ([[600, 1], [1000, 0], [2500, 14], [3000, 18]], ["rising"]),
        ([[700, 2], [3000, 20]], ["idle"]),
    ],
)
def test_curve_limits_are_met_at_their_edge(curve, unmet):
    """Each check finds what lies beyond its own limit, and the limit itself is allowed."""
    result = result_of(CURVE, curve)
    assert [one.criterion.split(".")[1] for one in result.criteria if one.outcome is not Outcome.MET] == unmet


def test_a_named_function_judges_a_curve(monkeypatch):
    """`judge_with` hands curve and engine to a function of the registry, and says what that finds."""
    monkeypatch.setitem(CURVE_JUDGES, "later_than_most", None)

    @curve_judge(met={"most": float}, early={"most": float})
    def later_than_most(card, curve):
        most = max(degrees for _, degrees in curve)
        early = most > card.setting.label_base_timing_deg + 30
        return CurveFinding("early" if early else "met", 0.5 if early else 1.0, {"most": most})

    item = {
        "id": "own_curve",
        "title": "Own curve",
        "kind": "curve",
        "objective": "o",
        "engine": "delivery_truck_six",
        "axes": {"rpm": [500, 4000], "degrees": [0, 60]},
        "start": [[500, 0], [4000, 10]],
        "reference": [[500, 0], [4000, 20]],
        "checks": [
            {
                "id": "engine",
                "title": "On your engine",
                "points": 2,
                "judge_with": "later_than_most",
                "sentences": {"met": "Fits.", "early": "{most:g} degrees is too early here."},
            }
        ],
    }
    rubric = rubric_from({"lesson": "l97_forms", "title": "t", "exercises": [item]}, "own.toml")
    result = judged(rubric, rubric.exercises["own_curve"], "anna", GivenAnswer(as_text([[500, 0], [4000, 60]])))
    assert result.points == 1.0 and result.criteria[0].sentence == "60 degrees is too early here."
    assert (
        judged(rubric, rubric.exercises["own_curve"], "anna", GivenAnswer(as_text([[500, 0], [4000, 20]]))).points
        == 2.0
    )


def test_shares_add_up():
    """Points shared out in hundredths are worth the whole again."""
    for points in (1.0, 2.0, 3.5, 10.0):
        for count in range(1, 12):
            shares = shared_out(points, count)
            assert len(shares) == count and sum(shares) == pytest.approx(points) and min(shares) > 0


FORGED = [
    None,
    True,
    1e300,
    "",
    "null",
    "[]",
    "{}",
    "[[]]",
    '{"gauge": 3}',
    "[1e999, 2]",
    '["chocks", "chocks"]',
    '["chocks", 3]',
    "[" * 5000,
    '{"base": ["x", "y"]}',
    '[["a", 1], [2, 3]]',
    "[[1000, 0], [1000, 5]]",
    "[[1000, 0], [9000, 5]]",
    '{"gauge": ["manifold"], "canister": {}}',
    '[["warm"], "plug"]',
]


def test_forged_answers_could_not_be_judged(trial_folder):
    """An answer that no form writes asks for a person and earns nothing; it is never an exception."""

    def check(exercise, value):
        evidence = Evidence(header_of(RUBRIC, "anna"), (Event(1.0, exercise.id, "answer", value, None),))
        result = judge_exercise(exercise.id, evidence, ENGINES)
        assert result.points == 0 and result.needs_person
        assert {one.outcome for one in result.criteria} == {Outcome.COULD_NOT_BE_JUDGED}

    answered = [one for one in EXERCISES.values() if one.kind in ANSWERED_KINDS]
    cases = [(one, number, value) for one in answered for number, value in enumerate(FORGED)]
    cases = [case for case in cases if (case[0].kind, case[2]) != ("number", 1e300)]  # a number, though a wrong one
    check_every(check, ((f"{one.id}, forged answer {number}", one, value) for one, number, value in cases))


def test_what_was_found_is_said_in_one_line():
    """A forged answer with line breaks does not break the sentence that refuses it."""

    def check(exercise, value):
        with pytest.raises(AnswerError) as refused:
            exercise.read(value, None)
        assert len(str(refused.value).splitlines()) == 1

    forged = (
        (SEVERAL, as_text(["one\n\ntwo"])),
        (ORDER, '"\n"'),
        (SUM, as_text({"\n": None})),
        (HOSES, as_text({"\r\n": None})),
        (HOSES, as_text({"gauge": "a\nb", "canister": None})),
    )
    check_every(check, ((f"{exercise.id}, {value}", exercise, value) for exercise, value in forged))


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8)
    | st.sampled_from(["gauge", "canister", "manifold", "warm", "chocks", "base", "crank degrees"]),
    lambda inner: st.lists(inner, max_size=6) | st.dictionaries(st.text(max_size=8), inner, max_size=5),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(content=anything, kind=st.sampled_from(ANSWERED_KINDS))
def test_no_answer_provokes_an_exception_that_is_not_ours(content, kind):
    """Whatever JSON an answer holds, it is read or refused with a sentence."""
    exercise = next(
        own_exercise(rubric, one, "anna")
        for rubric in (RUBRIC, AT_ENGINES)
        for one in rubric.exercises.values()
        if one.kind == kind
    )
    for value in (as_text(content), content):
        try:
            answer = exercise.read(value, None)
        except AnswerError as error:
            assert str(error).endswith((".", ";")) and "\n" not in str(error)
        else:
            assert all(one.sentence for one in exercise.judge(answer, None))


def test_the_class_run_judges_every_form(trial_folder, tmp_path):
    """From a file of evidence to full marks, each exercise with the numbers of this learner."""
    card = load_card(ENGINES / "delivery_truck_six.toml")
    digest = learners_engine(card, "evening class", "bela", RUBRIC.lesson).card.digest
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("bela", RUBRIC.lesson, "evening class", digest, "t"))
    for exercise in EXERCISES.values():
        answer = right_answer(own_exercise(RUBRIC, exercise, "bela"))
        writer.append(Event(1.0, exercise.id, "answer", answer.value, answer.unit))
    result = judge_lesson(RUBRIC.lesson, writer.path, ENGINES, "bela")
    assert not result.problem and result.points == result.max_points == 25.0


def test_registered_functions_are_described():
    """Every function that a rubric may name says what it gives, in its docstring and its table."""
    for name, answer in engine_answers.ANSWERS.items():
        assert answer.gives and answer.function.__doc__ and answer.function.__name__ == name
