"""A prediction is recorded before it is tried: wrong or right it earns its points, and afterwards it is compared."""

from __future__ import annotations

import tomllib

import pytest

from course import ENGINES
from engine_sim import Event, EvidenceWriter, Header, read_evidence
from graders.bench.assignment import engine_of
from graders.exercises.kinds.choice import RECORDED, SAID_BEFORE_A_PREDICTION
from graders.exercises.loader import load_rubric, rubric_from, rubric_path
from graders.judge import judge_exercise
from graders.model_answers.model_learner import CREATED
from graders.outcome import Outcome
from graders.schema import RubricError

PREDICTIONS = {"l01_predict": "l01_why_the_spark_leads", "l07_predict": "l07_altitude_weather_fuel"}
every_prediction = pytest.mark.parametrize(("name", "lesson"), PREDICTIONS.items())


def judged(tmp_path, name: str, lesson: str, *done: str):
    """What the judge says of a prediction; `done` are answers by id, and "bench" for an act at its bench."""
    rubric = load_rubric(lesson)
    engine = next(one.engine for one in rubric.exercises.values() if one.engine)
    header = Header("anna", lesson, "", "", CREATED)
    digest = engine_of(header, ENGINES, engine).card.digest
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("anna", lesson, "", digest, CREATED))
    for one in done:
        at_bench = one == "bench"
        event = (rubric.exercises[name].predicts, "brake", "on") if at_bench else (name, "answer", one)
        writer.append(Event(1.0, *event))
    return judge_exercise(name, read_evidence(writer.path), ENGINES)


def choices(name: str, lesson: str) -> tuple:
    """A wrong and the right choice."""
    every = load_rubric(lesson).exercises[name].choices
    return next(one for one in every if not one.right), next(one for one in every if one.right)


def test_the_predictions_of_the_course_are_these():
    """Each lesson that says "predict, then try" has its prediction, in front of the bench that it names."""
    found = {}
    for lesson in PREDICTIONS.values():
        names = list(load_rubric(lesson).exercises)
        for name, exercise in load_rubric(lesson).exercises.items():
            if getattr(exercise, "predicts", ""):
                found[name] = lesson
                assert names.index(name) < names.index(exercise.predicts)
    assert found == PREDICTIONS


@every_prediction
def test_before_the_try_nothing_is_said_of_what_will_come(tmp_path, name, lesson):
    """Recorded, it earns its points; neither wrong nor right is told, because nothing has happened yet."""
    exercise = load_rubric(lesson).exercises[name]
    for place, one in enumerate(choices(name, lesson)):
        (folder := tmp_path / str(place)).mkdir()
        (outcome,) = judged(folder, name, lesson, one.id).criteria
        assert (outcome.points, outcome.sentence, outcome.misconception) == (exercise.points, RECORDED, None)


@every_prediction
def test_after_the_try_it_is_compared_and_costs_nothing(tmp_path, name, lesson):
    """A wrong prediction keeps its points; its own words and the misconception stand in the feedback."""
    wrong, _ = choices(name, lesson)
    (outcome,) = judged(tmp_path, name, lesson, wrong.id, "bench").criteria
    assert outcome.outcome is Outcome.MET and outcome.misconception == wrong.misconception
    assert wrong.text in outcome.sentence and wrong.sentence in outcome.sentence


@every_prediction
def test_what_is_said_after_the_try_is_no_prediction(tmp_path, name, lesson):
    """Answered only after an act at the bench it earns nothing; one from before stays, whatever is answered later."""
    wrong, right = choices(name, lesson)
    for place, done in enumerate((("bench", right.id), (wrong.id, "bench", right.id), ())):
        (folder := tmp_path / str(place)).mkdir()
        (outcome,) = judged(folder, name, lesson, *done).criteria
        if done[:1] == ("bench",):
            assert outcome.points == 0 and "no prediction" in outcome.sentence and right.text in outcome.sentence
        elif done:
            assert outcome.points == outcome.max_points and wrong.text in outcome.sentence
        else:
            assert outcome.outcome is Outcome.MISSING


@every_prediction
def test_the_rule_is_read_before_it(name, lesson):
    """The form says that it has to be recorded first, and that being wrong costs nothing."""
    assert load_rubric(lesson).exercises[name].said_before == SAID_BEFORE_A_PREDICTION


def test_a_prediction_of_a_bench_that_is_not_there_is_refused():
    """A rubric that predicts what the lesson does not try is told which benches there are."""
    path = rubric_path("l01_why_the_spark_leads")
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    next(one for one in content["exercises"] if one["id"] == "l01_predict")["predicts"] = "l01_adds_up"
    with pytest.raises(RubricError, match="predicts names 'l01_adds_up'; the lesson's benches are l01_three_speeds"):
        rubric_from(content, path.name)
