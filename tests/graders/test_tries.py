"""What a question earns when it is answered more than once: said before, counted after, and never taken away."""

from __future__ import annotations

import json

import pytest

from graders.exercises.kinds import KINDS
from graders.exercises.kinds.tries import COUNTED, SAID_BEFORE, points_of_tries
from tests.every_case import check_every

from .instrument import TRIAL, GivenAnswer, answered_in, judged, mistaken_answers, own_exercise, right_answer, rubric_of

LEARNER = "anna"
TRIALS = tuple(path.stem for path in TRIAL.glob("*.toml"))
ALL_COUNT = {"bench", "curve", "engine_card", "written"}  # work that is done until it fits, and a text of one's own


def of_kind(kind: str):
    """The rubric and the first exercise of a kind among those that are there for tests."""
    return next((rubric_of(one), two) for one in TRIALS for two in answered_in(one) if two.kind == kind)


def points(kind: str, *answers: GivenAnswer) -> float:
    """The share of an exercise's points that these answers earn."""
    rubric, exercise = of_kind(kind)
    return judged(rubric, exercise, LEARNER, *answers).points / exercise.points


@pytest.mark.parametrize(
    ("shares", "tries", "earned"),
    [
        ((1.0, 0.5), [("a", 4.0)], 4.0),
        ((1.0, 0.5), [("a", 0.0), ("b", 4.0)], 2.0),
        ((1.0, 0.5), [("a", 2.0), ("b", 4.0)], 3.0),
        ((1.0, 0.5), [("a", 4.0), ("b", 0.0)], 4.0),
        ((1.0, 0.5), [("a", 0.0), ("a", 0.0), ("b", 4.0)], 2.0),
        ((1.0, 0.5), [("a", 0.0), ("b", 0.0), ("c", 4.0)], 0.0),
        ((1.0, 1.0, 0.5), [("a", 0.0), ("b", 4.0)], 4.0),
        ((1.0, 1.0, 0.5), [("a", 0.0), ("b", 0.0), ("c", 4.0)], 2.0),
    ],
)
def test_each_further_answer_earns_its_share_of_what_is_open(shares, tries, earned):
    """The first counts in full, the last share halves, the same answer again is no further one, and nothing is lost."""
    assert points_of_tries(shares, tries) == earned


def test_every_kind_says_how_its_answers_count():
    """A kind has one of the rules that are put into words; those whose answers all count are work, and no choice."""
    assert {kind for kind, one in KINDS.items() if not one.answers_count} == ALL_COUNT
    assert all(one.answers_count in SAID_BEFORE for one in KINDS.values())


def test_the_rule_is_said_of_every_question():
    """Each exercise whose answers do not all count has the sentence that its form shows before the first of them."""

    def check(exercise):
        assert bool(exercise.said_before) == bool(exercise.answers_count)

    check_every(check, [(one.id, one) for lesson in TRIALS for one in answered_in(lesson)])


@pytest.mark.parametrize("kind", ["choice", "several", "order", "needle"])
def test_a_second_answer_earns_half(kind):
    """Wrong and then right earns half of what was open; the remark says why, in the words that were read before."""
    rubric, exercise = of_kind(kind)
    own = own_exercise(rubric, exercise, LEARNER)
    wrong, right = mistaken_answers(own)[0], right_answer(own)
    first = judged(rubric, exercise, LEARNER, wrong).points
    result = judged(rubric, exercise, LEARNER, wrong, right)
    assert result.points == pytest.approx(first + (exercise.points - first) / 2, abs=0.01)
    assert [one.sentence for one in result.criteria if one.title == COUNTED] == [exercise.said_before]


def test_a_third_answer_to_a_choice_earns_nothing():
    """Two wrong ones before the right one leave nothing; the sentence of the right one is said all the same."""
    rubric, exercise = of_kind("choice")
    own = own_exercise(rubric, exercise, LEARNER)
    wrong = [GivenAnswer(one.id) for one in own.choices if not one.right]
    result = judged(rubric, exercise, LEARNER, wrong[0], wrong[1], right_answer(own))
    assert result.points == 0
    assert result.criteria[0].sentence == next(one.sentence for one in own.choices if one.right)


def test_a_number_has_two_answers_in_full():
    """A slip of the unit costs nothing; after a second wrong number the right one earns half."""
    own = own_exercise(*of_kind("number"), LEARNER)
    slip, off = (GivenAnswer(own.value * factor + 1.0, own.unit) for factor in (3.0, 5.0))
    assert points("number", slip, right_answer(own)) == 1.0
    assert points("number", slip, off, right_answer(own)) == 0.5
    assert points("number", slip, off, GivenAnswer(own.value * 7.0 + 1.0, own.unit), right_answer(own)) == 0.0


@pytest.mark.parametrize(("kind", "empty"), [("sum", None), ("hook_up", None)])
def test_parts_of_an_answer_are_counted_one_by_one(kind, empty):
    """Recording line by line, each filled in when its turn comes, costs nothing: an empty entry is no try."""
    own = own_exercise(*of_kind(kind), LEARNER)
    entries = json.loads(right_answer(own).value)
    so_far, answers = dict.fromkeys(entries, empty), []
    for name, entry in entries.items():
        so_far = so_far | {name: entry}
        answers.append(GivenAnswer(json.dumps(so_far)))
    assert points(kind, *answers) == 1.0


def test_the_order_in_which_a_table_names_its_parts_does_not_count():
    """An answer whose entries stand in another order is read by their names."""
    own = own_exercise(*of_kind("sum"), LEARNER)
    entries = json.loads(right_answer(own).value)
    assert points("sum", GivenAnswer(json.dumps(dict(reversed(entries.items()))))) == 1.0
