"""A learner whose course was updated between two evenings: what was answered stays, engines begin again, nothing is
lost."""

from __future__ import annotations

import io
import json

import pytest
from rich.console import Console

from course import widgets
from course.commands import check as check_command
from course.learner.hand_in_archive import look_through
from course.widgets.forms.form import ANOTHER_ENGINE
from engine_sim import read_evidence, version
from graders.exercises.loader import rubric_in
from tests.graders.instrument import TRIAL, own_exercise, right_answer
from tests.scripted_learner import BENCH

LESSON = "l04_base_timing"
QUESTION, TRIAL_RUBRIC = "l04_why_back_off", rubric_in(TRIAL / "l96_inspections.toml")
NEEDLE, FAULT = TRIAL_RUBRIC.exercises["l96_needle"], TRIAL_RUBRIC.exercises["l96_fault"]


def opened(folder, monkeypatch):
    """Make that folder a lesson of anna's, in which cells work."""
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    (folder / "class.toml").write_text('class = "evening class"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder / "evidence.jsonl"


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    """The evidence of l04 after one evening: a question answered, two acts at the bench."""
    path = opened(tmp_path / LESSON, monkeypatch)
    widgets.choice(QUESTION).submit("adds_up")
    bench = widgets.bench(BENCH)
    bench.act("brake", "on")
    bench.act("tachometer", "on")
    return path


@pytest.fixture
def trial(tmp_path, monkeypatch):
    """The evidence of the trial lesson of needles and faults after one evening."""
    monkeypatch.setattr("course.widgets.at_work.rubric_for", lambda lesson, own: TRIAL_RUBRIC)
    monkeypatch.setattr("graders.judge.rubric_for", lambda lesson, _folder=None: TRIAL_RUBRIC)
    path = opened(tmp_path / TRIAL_RUBRIC.lesson, monkeypatch)
    answer_needle()
    widgets.diagnosis(FAULT.id).inspect(next(iter(FAULT.inspections)))
    return path


def answer_needle():
    """Give the right answer to anna's needle; the form in which it was given."""
    form = widgets.needle(NEEDLE.id)
    form.submit(right_answer(own_exercise(TRIAL_RUBRIC, NEEDLE, "anna")).value)
    return form


def update(monkeypatch):
    """From now on the course has another engine model."""
    monkeypatch.setattr(version, "MODEL_VERSION", f"{version.MODEL_VERSION}, improved")


def test_the_bench_begins_again_with_a_sentence_and_goes_on_from_there(lesson, monkeypatch):
    """The engine stands as found, one sentence says why, the file grows, and a reload finds the new work."""
    before = lesson.read_bytes()
    update(monkeypatch)
    bench = widgets.bench(BENCH)
    assert not bench.problem and bench.said["sentence"].startswith("The course was updated since you were here")
    assert bench.settings["brake"] == "off" and bench.tries == 2
    bench.act("brake", "on")
    assert lesson.read_bytes().startswith(before)
    assert widgets.bench(BENCH).settings["brake"] == "on"
    assert [one.control for one in read_evidence(lesson).on_this_model().of_exercise(BENCH)] == ["begin", "brake"]


def test_an_answer_that_asks_of_no_engine_stays_as_it_was(lesson, monkeypatch):
    """A question keeps its answer and its points; no word about the update stands there."""
    update(monkeypatch)
    form = widgets.choice(QUESTION)
    assert form.answer["value"] == "adds_up" and form.said == {}
    found = form.show_result()
    assert found.points == found.max_points


def test_work_of_before_is_said_to_wait_and_not_called_wrong(lesson, monkeypatch):
    """The learner's own check, by form and by command, and the hand-in say the same: it was not judged, do it again."""
    update(monkeypatch)
    bench = widgets.bench(BENCH)
    bench.look_over()
    assert {one["outcome"] for one in bench.verdict["criteria"]} == {"could not be judged"}
    reason = bench.verdict["needs_person"]
    assert "do it once more on the engine of today" in reason
    console = Console(width=400, record=True, file=io.StringIO())
    assert check_command.run(lesson.parent, console) == 0
    assert reason in console.export_text()
    (lesson.parent / f"{LESSON}.ipynb").write_text(json.dumps({}), encoding="utf-8")
    missing = look_through(lesson.parent).missing
    assert sum("before the course was updated" in sentence for sentence in missing) == 1
    widgets.bench(BENCH).act("chocks", "in place")
    assert not any("updated" in sentence for sentence in look_through(lesson.parent).missing)


def test_what_was_said_of_an_engine_is_answered_once_more(trial, monkeypatch):
    """The needle of another model shows no earlier answer but a note, and the account of the inspections is empty."""
    before, full = trial.read_bytes(), widgets.needle(NEEDLE.id).show_result().points
    update(monkeypatch)
    form = widgets.needle(NEEDLE.id)
    assert (form.answer, form.tries, form.said["sentence"]) == ({}, 0, ANOTHER_ENGINE)
    assert widgets.diagnosis(FAULT.id).account == []
    assert "could not be judged" in {one.outcome.value for one in widgets.needle(NEEDLE.id).show_result().criteria}
    assert answer_needle().tries == 1
    assert widgets.needle(NEEDLE.id).show_result().points == full > 0.0
    assert trial.read_bytes().startswith(before) and widgets.needle(NEEDLE.id).said == {}
