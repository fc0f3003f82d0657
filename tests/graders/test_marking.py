"""A person's mark by criterion: one definition of sum and limit, kept with the gradebook, shown wherever points are."""

from __future__ import annotations

import pytest

from graders.exercises.loader import RubricError, lessons_with_rubrics, load_rubric, rubric_from
from graders.exercises.marking import MarkingError, marked

LETTER = load_rubric("l09_answer_the_letter").exercises["l09_answer"]
ALL = {one.id: 2 for one in LETTER.to_mark()}


def mark(*levels, unsafe=False):
    """The letter's mark by these levels, in the order of the rubric."""
    to_mark = LETTER.to_mark()
    return marked(to_mark, dict(zip((one.id for one in to_mark), levels, strict=True)), LETTER.unsafe, unsafe)


@pytest.mark.parametrize(
    ("levels", "unsafe", "points"),
    [
        ((2, 2, 2, 2, 2), False, 10),  # the strong, the middling and the unsafe sample of the rubric
        ((1, 1, 2, 1, 1), False, 6),
        ((0, 0, 1, 1, 0), True, 2),
        ((2, 2, 2, 2, 2), True, 4),
        ((0, 1, 2, 0, 1), True, 4),
        ((0, 2, 2, 2, 2), False, 8),  # the danger is passed over, and nothing in it hurts: no limit
    ],
)
def test_the_sum_and_the_limit_are_the_rubrics(levels, unsafe, points):
    """Levels add up; what could hurt somebody earns nothing under 'safe' and four points at most in all."""
    found = mark(*levels, unsafe=unsafe)
    assert found.points == points and bool(found.unsafe) == unsafe
    assert not unsafe or found.criteria[0].points == 0.0


def test_a_level_comes_with_its_words():
    """Every criterion says what such an answer is like, and what one with all points is, where there are more."""
    found = mark(1, 2, 0, 2, 2)
    assert [one.said for one in found.criteria] == [
        one.levels[level] for one, level in zip(LETTER.marking, (1, 2, 0, 2, 2), strict=True)
    ]
    assert [bool(one.best) for one in found.criteria] == [True, False, True, False, False]


def test_a_mark_without_a_level_is_refused():
    """A criterion without a level, a level that does not exist and a limit that is nowhere: nothing is guessed."""
    with pytest.raises(MarkingError, match="'Honest about its limits' has no level yet"):
        marked(LETTER.to_mark(), {name: 2 for name in ALL if name != "honest"}, LETTER.unsafe)
    with pytest.raises(MarkingError, match="choose one of 0 to 2"):
        marked(LETTER.to_mark(), ALL | {"safe": 3})
    with pytest.raises(MarkingError, match="no limit for unsafe answers"):
        marked(LETTER.to_mark(), ALL, None, unsafe=True)


def test_every_written_exercise_of_the_course_is_marked_by_criterion():
    """Each has criteria with three levels and a limit for unsafe answers, and its criteria make its points."""
    written = [
        one
        for lesson in lessons_with_rubrics()
        for one in load_rubric(lesson).exercises.values()
        if one.marked_by_person
    ]
    assert {one.id for one in written} == {"l04_explain", "l05_door_card", "l09_answer", "l09_two_sentences"}
    for one in written:
        assert one.marking and one.unsafe and sum(each.points for each in one.marking) == one.points


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"unsafe": {"nothing_for": "sure"}}, "names 'sure'; there are safe"),
        ({"unsafe": {}}, "at least one of"),
        ({"unsafe": {"most": 3}}, "limit from 0 up to the exercise's points"),
        ({"unsafe": {"most": 1, "at": 2}}, "at"),
    ],
)
def test_a_spoiled_limit_says_where(change, sentence):
    """An instructor who spoils the limit reads what is wrong with it."""
    marking = [{"id": "safe", "title": "Safe", "points": 2, "levels": ["no", "half", "all"]}]
    item = {"id": "q", "title": "Q", "kind": "written", "objective": "o", "marking": marking}
    with pytest.raises(RubricError, match=sentence):
        rubric_from({"lesson": "l", "title": "t", "exercises": [item | change]}, "l.toml")


def test_an_answer_without_criteria_is_marked_by_whole_points():
    """A class's own written exercise without criteria has one line, of as many steps as points."""
    item = {"id": "q", "title": "Q", "kind": "written", "objective": "o", "points": 4}
    own = rubric_from({"lesson": "l", "title": "t", "exercises": [item]}, "l.toml").exercises["q"]
    (one,) = own.to_mark()
    assert len(one.levels) == 5 and marked(own.to_mark(), {"q": 3}).points == 3.0
