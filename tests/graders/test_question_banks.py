"""Questions that can be answered by knowledge alone: no length, no place and no padding gives the right choice away."""

from __future__ import annotations

from collections import Counter

import pytest

from graders.exercises.loader import lessons_with_rubrics, load_rubric
from tests.every_case import check_every

MOST_SHARE = 0.4  # of questions, in which the right choice may be the longest, or the shortest, or of any one rank
MOST_PADDED = 1.6  # times the length of the right choice, that a wrong one may have
ONE_OF = ("choice", "needle", "diagnosis")
every_lesson = pytest.mark.parametrize("lesson", lessons_with_rubrics())


def of_kinds(lesson: str, *kinds: str) -> list:
    """The exercises of a lesson that are of these kinds."""
    return [one for one in load_rubric(lesson).exercises.values() if one.kind in kinds]


def with_choices() -> list[str]:
    """The lessons that ask for one choice of several."""
    return [lesson for lesson in lessons_with_rubrics() if of_kinds(lesson, "choice")]


def right_length(question) -> int:
    """Letters of the right choice."""
    return next(len(one.text) for one in question.choices if one.right)


@every_lesson
def test_no_length_gives_the_right_choice_away(lesson):
    """The right choice is the longest in at most 40 % and the shortest in at most 40 % of a lesson's questions, and in
    one where there are fewer than three: else it would never be either, which gives it away as well."""
    questions = of_kinds(lesson, "choice")
    for extreme in (max, min):
        caught = [one.id for one in questions if right_length(one) == extreme(len(two.text) for two in one.choices)]
        assert len(caught) <= max(MOST_SHARE * len(questions), 1), caught


def test_no_rank_by_length_gives_the_right_choice_away():
    """Over the whole course the right choice is the longest, the second longest and so on, or the shortest, in at most
    40 % of the questions each."""
    questions = [one for lesson in with_choices() for one in of_kinds(lesson, "choice")]
    ranks = Counter(sum(len(two.text) > right_length(one) for two in one.choices) for one in questions)
    shortest = sum(right_length(one) == min(len(two.text) for two in one.choices) for one in questions)
    assert max(*ranks.values(), shortest) <= MOST_SHARE * len(questions), (ranks, shortest)
    assert min(ranks[0], shortest) > 0


@pytest.mark.parametrize("lesson", with_choices())
def test_no_wrong_choice_is_padded(lesson):
    """A wrong choice is at most six tenths longer than the right one."""

    def check(question):
        wrong = [one for one in question.choices if not one.right]
        assert [one.id for one in wrong if len(one.text) > MOST_PADDED * right_length(question)] == []

    check_every(check, ((one.id, one) for one in of_kinds(lesson, "choice")))


@every_lesson
def test_every_wrong_choice_has_its_misconception(lesson):
    """A wrong choice is answered by the belief behind it; where the engine decides, every choice can be wrong."""

    def check(question):
        assert [one.id for one in question.choices if not one.right and not one.misconception] == []

    check_every(check, ((one.id, one) for one in of_kinds(lesson, *ONE_OF, "several")))


@every_lesson
def test_every_question_is_shuffled(lesson):
    """Choices stand in a learner's own order, so that no place is right for everybody."""

    def check(question):
        assert question.shuffle is not False and (question.shuffle or question.kind == "several")

    check_every(check, ((one.id, one) for one in of_kinds(lesson, *ONE_OF, "several")))


def test_what_each_step_protects_against_is_asked_of_every_step():
    """The question of the main job's lesson has one statement for each criterion by which the job is judged."""
    exercises = load_rubric("l04_base_timing").exercises
    steps = [one.id for one in exercises["l04_set_base_timing"].criteria]
    assert [one.id for one in exercises["l04_protects"].choices] == steps
