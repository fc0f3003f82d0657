"""Every rubric as an instrument: what is right earns all, what is empty nothing, each misconception gets its name."""

from __future__ import annotations

import re

import pytest

from graders.outcome import Outcome

from .instrument import (
    LEARNERS,
    exercises_to_prove,
    judged,
    mistaken_answers,
    numbers_wanted,
    own_exercise,
    right_answer,
)

EXERCISES = exercises_to_prove()
every_exercise = pytest.mark.parametrize(("rubric", "exercise"), EXERCISES, ids=[one.id for _, one in EXERCISES])


@every_exercise
@pytest.mark.parametrize("learner", LEARNERS)
def test_the_right_answer_earns_all(rubric, exercise, learner):
    """The reference answer has full marks and no remark, for whatever numbers and order the learner has."""
    result = judged(rubric, exercise, learner, right_answer(own_exercise(rubric, exercise, learner)))
    assert result.points == pytest.approx(exercise.points, abs=1e-9)
    assert {criterion.outcome for criterion in result.criteria} == {Outcome.MET}
    assert all(criterion.sentence and not criterion.misconception for criterion in result.criteria)


@every_exercise
def test_nothing_done_earns_nothing(rubric, exercise):
    """Without an answer everything is missing, and the parts still add up to the whole."""
    result = judged(rubric, exercise, "anna")
    assert result.points == 0 and {criterion.outcome for criterion in result.criteria} == {Outcome.MISSING}
    assert sum(criterion.max_points for criterion in result.criteria) == pytest.approx(exercise.points)


@every_exercise
@pytest.mark.parametrize("learner", LEARNERS)
def test_every_misconception_gets_its_name(rubric, exercise, learner):
    """Each catalogued mistake loses points, is named, and is told so in a sentence that the right answer never gets."""
    own = own_exercise(rubric, exercise, learner)
    answers = mistaken_answers(own)
    assert {answer.shows for answer in answers} == own.misconceptions()
    praise = {one.sentence for one in judged(rubric, exercise, learner, right_answer(own)).criteria}
    for answer in answers:
        result = judged(rubric, exercise, learner, answer)
        assert result.points < exercise.points
        said = [one.sentence for one in result.criteria if one.misconception == answer.shows]
        assert said and all(said) and not praise & set(said)


@every_exercise
def test_the_best_try_counts(rubric, exercise):
    """A mistake after the right answer takes nothing away."""
    own = own_exercise(rubric, exercise, "anna")
    result = judged(rubric, exercise, "anna", right_answer(own), *mistaken_answers(own))
    assert result.points == pytest.approx(exercise.points)


@every_exercise
@pytest.mark.parametrize("learner", LEARNERS)
def test_no_feedback_prints_the_right_number(rubric, exercise, learner):
    """What is said of a mistake does not hold the number that was wanted, unless the question itself does."""
    own = own_exercise(rubric, exercise, learner)
    in_question = numbers_in(own.question)
    for wanted in numbers_wanted(own):
        wrong = [text for name, text in wanted.sentences.items() if name != "right"]
        for text in (*wrong, *(mistake.sentence for mistake in wanted.wrong)):
            assert wanted.value not in numbers_in(text) - in_question, text


def numbers_in(text: str) -> set[float]:
    """Every number that stands in a text."""
    return {float(found.replace(",", "")) for found in re.findall(r"\d[\d,]*(?:\.\d+)?", text)}
