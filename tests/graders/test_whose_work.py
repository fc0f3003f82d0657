"""Whose work it is: spellings of a name, another class, and what two hand-ins have in common."""

from __future__ import annotations

import json

import pytest

import course
from engine_sim import Header
from graders.bench.assignment import engine_of
from graders.classroom.run import JUDGED, NEEDS_PERSON, Classroom
from graders.exercises.individualise import learners_exercise
from graders.exercises.loader import load_rubric
from graders.submissions.resemblance import FEWEST_ACTS, remarks_on
from tests.submissions.making import chained

LESSON = "l98_trial"
SPELLINGS = ("ada b", "Ada B.", " ÁDA_b", "adab")


@pytest.mark.parametrize("lesson", ["l04_base_timing", "l08_not_the_timing"])
def test_every_spelling_of_a_name_has_the_same_engines_and_faults(lesson):
    """Four spellings of one name gave four engines and four faults to choose from."""
    at_an_engine = [one for one in load_rubric(lesson).exercises.values() if one.engine]
    assert at_an_engine
    for exercise in at_an_engine:
        given = [Header(name, lesson, "autumn", "", "") for name in (*SPELLINGS, "ada c")]
        engines = [engine_of(header, course.ENGINES, exercise.engine).card.digest for header in given]
        told = [
            learners_exercise(exercise, header, course.ENGINES).answer_in_words(header, course.ENGINES)
            for header in given
        ]
        assert len(set(engines[:-1])) == len(set(told[:-1])) == 1 and engines[-1] != engines[0]


def judged(trial_class):
    """Run the class and return its reports by learner."""
    return {report.learner: report for report in Classroom(trial_class.root).judge(LESSON)}


def test_a_learner_is_told_the_name_that_the_class_has(trial_class, perfect):
    """The page says which name draws the engines; no point is lost."""
    (trial_class.root / "roster.csv").write_text("id,first_name\nada,Augusta\n", encoding="utf-8")
    trial_class.hand_in("ada", perfect, header_learner="Augusta")
    report = judged(trial_class)["ada"]
    assert sum(trial_class.points("ada").values()) == 5.0
    assert "under the name 'Augusta', and the class has 'ada'" in " ".join(report.remarks)
    Classroom(trial_class.root).feedback([report])
    assert "begin your next lessons as" in trial_class.page("ada")


@pytest.mark.parametrize(("handed_out", "asks"), [("autumn", True), ("", False), (None, False)])
def test_another_class_is_put_to_the_instructor(trial_class, handed_out, asks):
    """Evidence of another class, or of none, is judged, and a person is asked; without a class nobody is."""
    if handed_out is not None:
        path = trial_class.root / "source" / LESSON / "class.toml"
        path.write_text(f'class = "{handed_out}"\n', encoding="utf-8")
    trial_class.hand_in("ada", {"l98_first": 3.0})
    report = judged(trial_class)["ada"]
    assert sum(trial_class.points("ada").values()) == 3.0
    assert report.status == (NEEDS_PERSON if asks else JUDGED)
    assert ("made outside a class" in " ".join(report.reasons)) == asks


def written(folder, learner, *events):
    """The path of evidence of these (exercise, control, value, time)."""
    header = {
        "learner": learner,
        "lesson": LESSON,
        "class_id": "",
        "engine": "",
        "created": "",
        "model": "1",
        "schema": 1,
    }
    lines = [
        {"exercise": exercise, "control": control, "value": value, "time_s": time_s, "unit": None}
        for exercise, control, value, time_s in events
    ]
    path = folder / f"{learner}.jsonl"
    path.write_bytes(b"".join(chained([header, *lines])))
    return path


def test_relabelled_work_and_work_at_one_stroke_are_remarked(tmp_path):
    """A neighbour's acts and times under one's own name, sealed again, and three exercises within a second."""
    bench = [("bench", "distributor", float(number), 3.7 * number) for number in range(FEWEST_ACTS)]
    calm = [(f"q{number}", "answer", "a", 10.0 + 40.0 * number) for number in range(4)]
    quick = [(f"q{number}", "answer", "a", 10.0 + 0.2 * number) for number in range(4)]
    slower = [(exercise, control, value, time_s + 0.02) for exercise, control, value, time_s in bench]
    paths = {
        "ada": written(tmp_path, "ada", *bench, *calm),
        "bo": written(tmp_path, "bo", *quick, *bench),
        "cy": written(tmp_path, "cy", *slower, *calm),
        "di": written(tmp_path, "di", *bench[1:], *[(*one[:3], 0.0) for one in quick]),
        "nobody": tmp_path / "nobody.jsonl",
    }
    told = remarks_on(paths)
    assert set(told) == {"ada", "bo"}
    assert "in bench has the same time and value as in the work of bo" in told["ada"][0] and len(told["ada"]) == 1
    assert "the work of ada" in told["bo"][0] and "4 exercises were answered within one second" in told["bo"][1]


def test_remarks_change_no_point_and_no_status(trial_class):
    """The class run prints them beside the verdict."""
    answers = {"l98_first": 3.0, "l98_second": 2.0}
    for learner in ("ada", "bo"):
        folder = trial_class.hand_in(learner, answers)
        lines = [json.loads(line) for line in (folder / "evidence.jsonl").read_bytes().splitlines()]
        events = [{name: value for name, value in line.items() if name != "digest"} for line in lines]
        more = [events[1] | {"time_s": 5.0 + number, "control": "look"} for number in range(FEWEST_ACTS)]
        (folder / "evidence.jsonl").write_bytes(b"".join(chained([*events, *more])))
    reports = judged(trial_class)
    for learner in ("ada", "bo"):
        assert sum(trial_class.points(learner).values()) == 5.0 and reports[learner].status == JUDGED
        assert "same time and value" in " ".join(reports[learner].remarks)
