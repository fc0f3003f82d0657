"""The instructor's answers: every exercise of every lesson has one, and it is the one that the judge takes."""

from __future__ import annotations

import re

import pytest

from course.commands.answers import AnswersError, answers_for, run
from course.commands.make_class import make
from engine_sim import Header
from graders.exercises.loader import lessons_with_rubrics, load_rubric
from tests.submissions.hostile import source_of_one_lesson


def answers(lesson, learner="ada"):
    """Answers by the id of the exercise."""
    return {title.partition(",")[0]: answer for title, answer in answers_for(Header(learner, lesson, "autumn", "", ""))}


@pytest.mark.parametrize("lesson", lessons_with_rubrics())
def test_every_exercise_has_an_answer(lesson):
    """In words, for every exercise of the lesson, with no name of a number left open."""
    found = answers(lesson)
    assert list(found) == list(load_rubric(lesson).exercises)
    assert all(len(answer) > 1 and not re.search(r"\{\w+\}", answer) for answer in found.values())


def test_an_answer_is_the_learner_s_own():
    """Top centre is worked out from the numbers that the learner was given, inside what can be drawn."""
    told = {answers("l08_not_the_timing", learner)["l08_true_centre"] for learner in ("ada", "ben", "cara", "dov")}
    assert len(told) > 1
    for one in told:
        between, slip, true = (float(value) for value in re.findall(r": ([\d.]+) crank", one))
        assert 62 <= between <= 78 and 9 <= slip <= 17 and 20 <= true + slip <= 25


def test_known_answers_of_l04():
    """Three distributor degrees, and the share of 19 inHg that is left at 5,000 ft."""
    found = answers("l04_base_timing")
    assert found["l04_distributor_degrees"] == "3 distributor degrees" and found["l04_altitude_vacuum"] == "15.8 inHg"


def test_an_unknown_lesson_lists_the_lessons(tmp_path, schema_asked_once, capsys):
    """The command prints for a class, and says which lessons there are where one is not known."""
    make(tmp_path / "autumn", source=source_of_one_lesson(tmp_path / "lessons"))
    assert run(tmp_path / "autumn", "l04_base_timing", "ada") == 0
    assert "3 distributor degrees" in capsys.readouterr().out
    with pytest.raises(AnswersError, match="l04_base_timing"):
        run(tmp_path / "autumn", "l44_nothing", "ada")
