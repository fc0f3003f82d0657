"""Every rubric as an instrument: what is right earns all, what is empty nothing, each misconception gets its name."""

from __future__ import annotations

import functools
import re

import pytest

from graders.exercises.kinds.exercise import Exercise
from graders.outcome import ExerciseResult, Outcome
from tests.every_case import check_every

from .instrument import (
    LEARNERS,
    LESSONS,
    GivenAnswer,
    answered_in,
    judged,
    mistaken_answers,
    numbers_wanted,
    own_exercise,
    right_answer,
    rubric_of,
)

every_lesson = pytest.mark.parametrize("lesson", LESSONS)


class Learner:
    """An exercise as one learner has it, made once; judged by the rubric of its lesson."""

    def __init__(self, lesson: str, exercise: Exercise, name: str):
        self.rubric, self.exercise, self.name = rubric_of(lesson), exercise, name
        self.own = own_exercise(self.rubric, exercise, name)

    def judged(self, *answers: GivenAnswer) -> ExerciseResult:
        """What the judge says of these answers, one try after the other."""
        return judged(self.rubric, self.exercise, self.name, *answers)

    @functools.cached_property
    def right(self) -> ExerciseResult:
        """What the judge says of the right answer."""
        return self.judged(right_answer(self.own))


@functools.cache
def learners_of(lesson: str) -> list[tuple[str, Learner]]:
    """Every exercise of a lesson with each of the learners, under a name that a failure shows."""
    return [
        (f"{exercise.id}, {name}", Learner(lesson, exercise, name))
        for exercise in answered_in(lesson)
        for name in LEARNERS
    ]


def of_the_first(lesson: str) -> list[tuple[str, Learner]]:
    """Every exercise of a lesson with the first learner."""
    return [case for case in learners_of(lesson) if case[1].name == LEARNERS[0]]


@every_lesson
def test_the_right_answer_earns_all(lesson):
    """The reference answer has full marks and no remark, for whatever numbers and order the learner has."""

    def check(learner):
        assert learner.right.points == pytest.approx(learner.exercise.points, abs=1e-9)
        assert {criterion.outcome for criterion in learner.right.criteria} == {Outcome.MET}
        assert all(criterion.sentence and not criterion.misconception for criterion in learner.right.criteria)

    check_every(check, learners_of(lesson))


@every_lesson
def test_nothing_done_earns_nothing(lesson):
    """Without an answer everything is missing, and the parts still add up to the whole."""

    def check(learner):
        result = learner.judged()
        assert result.points == 0 and {criterion.outcome for criterion in result.criteria} == {Outcome.MISSING}
        assert sum(criterion.max_points for criterion in result.criteria) == pytest.approx(learner.exercise.points)

    check_every(check, of_the_first(lesson))


@every_lesson
def test_every_misconception_gets_its_name(lesson):
    """Each catalogued mistake loses points, is named, and is told so in a sentence that the right answer never gets."""

    def check(learner):
        answers = mistaken_answers(learner.own)
        assert {answer.shows for answer in answers} == learner.own.misconceptions()
        praise = {one.sentence for one in learner.right.criteria}
        for answer in answers:
            result = learner.judged(answer)
            assert result.points < learner.exercise.points, answer
            said = [one.sentence for one in result.criteria if one.misconception == answer.shows]
            assert said and all(said) and not praise & set(said), answer

    check_every(check, learners_of(lesson))


@every_lesson
def test_the_best_try_counts(lesson):
    """A mistake after the right answer takes nothing away."""

    def check(learner):
        result = learner.judged(right_answer(learner.own), *mistaken_answers(learner.own))
        assert result.points == pytest.approx(learner.exercise.points)

    check_every(check, of_the_first(lesson))


@every_lesson
def test_no_feedback_prints_the_right_number(lesson):
    """What is said of a mistake does not hold the number that was wanted, unless the question itself does."""

    def check(learner):
        in_question = numbers_in(learner.own.question)
        for wanted in numbers_wanted(learner.own):
            wrong = [text for name, text in wanted.sentences.items() if name != "right"]
            for text in (*wrong, *(mistake.sentence for mistake in wanted.wrong)):
                assert wanted.value not in numbers_in(text) - in_question, text

    check_every(check, learners_of(lesson))


def numbers_in(text: str) -> set[float]:
    """Every number that stands in a text."""
    return {float(found.replace(",", "")) for found in re.findall(r"\d[\d,]*(?:\.\d+)?", text)}
