"""The live needle and the fault to find without a browser: what runs, what is written down, what never leaves."""

from __future__ import annotations

import dataclasses
import json
import re

import pytest

from course import widgets
from course.widgets.bench.bench import NOBODY_WATCHED
from course.widgets.forms.diagnosis import DiagnosisForm
from course.widgets.forms.needle import DOES_NOT_RUN, STOPPED, NeedleForm
from engine_sim import INSPECTIONS, read_evidence
from graders.exercises.loader import rubric_in
from tests.graders.instrument import TRIAL, own_exercise, right_answer

RUBRIC = rubric_in(TRIAL / "l96_inspections.toml")
NEEDLE, FAULT = RUBRIC.exercises["l96_needle"], RUBRIC.exercises["l96_fault"]


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    """A lesson folder of the trial rubric, in which cells work."""
    folder = tmp_path / RUBRIC.lesson
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    (folder / "class.toml").write_text('class = "evening class"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    monkeypatch.setattr("course.widgets.at_work.rubric_for", lambda lesson, own: RUBRIC)
    monkeypatch.setattr("graders.judge.rubric_for", lambda lesson, _folder=None: RUBRIC)
    return folder


def send(form, **content) -> None:
    """What the browser sends."""
    form._on_message(form, content, [])


def events_of(lesson) -> list[tuple]:
    """Exercise, control and value of everything that is written down."""
    return [(one.exercise, one.control, one.value) for one in read_evidence(lesson / "evidence.jsonl").events]


# ---- the needle ------------------------------------------------------------------------------------------------------


def test_the_engine_runs_when_somebody_watches_and_not_before(lesson):
    """Nothing is simulated until a browser shows itself; then the engine runs, warm and settled."""
    form = widgets.needle(NEEDLE.id)
    assert form.needle == {} and form.session is None and not form.problem
    send(form, heartbeat=1)
    assert form.session.running and 1.0 < form.needle["vacuum_inhg"] < 24.0 and form.needle["heard"]


def needle_of(fault, monkeypatch):
    """The needle of an engine with this fault."""
    only = dataclasses.replace(NEEDLE, faults=(fault,))
    rubric = dataclasses.replace(RUBRIC, exercises=RUBRIC.exercises | {NEEDLE.id: only})
    monkeypatch.setattr("course.widgets.at_work.rubric_for", lambda lesson, own: rubric)
    return widgets.needle(NEEDLE.id)


def test_hands_hold_and_let_go_and_snap(lesson, monkeypatch):
    """Held, the engine turns at 2,500 rpm; let go it idles again; a snapped throttle lets the needle fall."""
    form = needle_of("timing_late", monkeypatch)
    send(form, hand="hold")
    form.step(10.0)
    assert form.session._motion.speed_rpm == pytest.approx(2500.0, abs=60.0) and form.needle["held"]
    send(form, hand="let_go")
    form.step(10.0)
    idle = form.needle["vacuum_inhg"]
    assert form.session._motion.speed_rpm < 1200.0 and not form.needle["held"]
    send(form, hand="snap")
    form.step(0.4)
    assert form.needle["vacuum_inhg"] < 0.5 * idle
    send(form, hand="choke")
    assert form.session.running


def test_an_engine_that_stops_by_itself_is_started_again(lesson, monkeypatch):
    """One that dies when its throttle is let go, hot exhaust and all, idles again, and the page says so."""
    form = needle_of("exhaust_blocked", monkeypatch)
    send(form, hand="hold")
    form.step(30.0)
    send(form, hand="let_go")
    form.step(10.0)
    assert form.session.running and form.said["sentence"] == STOPPED and form.needle["vacuum_inhg"] > 10.0


def test_watching_writes_nothing_down(lesson):
    """Only the answer is evidence."""
    form = widgets.needle(NEEDLE.id)
    send(form, hand="hold")
    send(form, answer={"value": "drifts"})
    assert events_of(lesson) == [(NEEDLE.id, "answer", "drifts")] and form.tries == 1 and form.result


def test_an_engine_that_nobody_watches_stops_and_starts_again(lesson):
    """Left alone the engine is switched off and says so; the person who comes back finds it running."""
    form = widgets.needle(NEEDLE.id)
    send(form, heartbeat=1)
    form.leave()
    assert form.session is None and form.needle == {} and form.said["sentence"] == NOBODY_WATCHED
    form.step(1.0)
    send(form, heartbeat=2)
    assert form.session.running


def test_an_engine_that_does_not_run_is_said():
    """Where it does not start, one sentence says so, once."""
    form = NeedleForm(start=lambda: None)
    send(form, heartbeat=1)
    send(form, hand="hold")
    assert form.said["sentence"] == DOES_NOT_RUN and form.said["number"] == 1 and form.needle == {}


def test_an_answer_needs_a_choice(lesson):
    """Nothing chosen is said and not recorded."""
    form = widgets.needle(NEEDLE.id)
    send(form, answer={"value": None})
    assert form.said["kind"] == "wrong" and form.tries == 0


# ---- the fault -------------------------------------------------------------------------------------------------------


def test_an_inspection_is_written_down_and_told(lesson):
    """Each look is an event and a line of the account; a second look costs again and tells the same."""
    form = widgets.diagnosis(FAULT.id)
    send(form, inspect="hand_pump")
    send(form, inspect="hand_pump")
    assert [one["minutes"] for one in form.account] == [INSPECTIONS["hand_pump"].minutes] * 2
    assert form.account[0] == form.account[1] and form.account[0]["text"].endswith(".")
    assert events_of(lesson) == [(FAULT.id, "inspect", "hand_pump")] * 2


def test_the_account_comes_back_after_a_restart(lesson):
    """The cell run again shows what was told; a new account is empty and written down."""
    first = widgets.diagnosis(FAULT.id)
    send(first, inspect="compression")
    assert widgets.diagnosis(FAULT.id).account == first.account
    send(first, begin=True)
    assert first.account == [] and widgets.diagnosis(FAULT.id).account == []
    assert events_of(lesson)[-1] == (FAULT.id, "begin", None)


def test_looking_and_naming_is_judged_on_the_page(lesson):
    """The right cause after looking has full marks, by the same judge as in the class run."""
    right = right_answer(own_exercise(RUBRIC, FAULT, "anna"))
    form = widgets.diagnosis(FAULT.id)
    for name in right.looked:
        send(form, inspect=name)
    send(form, answer={"value": right.value})
    assert form.result["points"] == FAULT.points and form.tries == 1


def test_an_account_has_an_end(lesson):
    """After a hundred looks a new account is asked for, and nothing is written down."""
    form = widgets.diagnosis(FAULT.id)
    form.account = [{"title": "A look", "minutes": 1, "text": "Nothing."}] * 100
    send(form, inspect="hand_pump")
    assert "begin a new account" in form.said["sentence"] and len(form.account) == 100


def test_an_inspection_that_is_not_offered_is_said(lesson):
    """A forged message changes nothing and is answered."""
    form = widgets.diagnosis(FAULT.id)
    send(form, inspect="degree_wheel")
    assert form.said["kind"] == "wrong" and form.account == []


@pytest.mark.parametrize("exercise", [NEEDLE, FAULT], ids=lambda one: one.id)
def test_the_page_is_never_told_what_is_right(lesson, exercise):
    """No trait holds the fault, a pattern's mark, or a sentence of feedback before an answer."""
    form = {"needle": widgets.needle, "diagnosis": widgets.diagnosis}[exercise.kind](exercise.id)
    names = [name for name in form.traits(sync=True) if not name.startswith("_")]
    text = json.dumps(
        {name: getattr(form, name) for name in names if name not in ("layout", "comm", "tabbable", "tooltip")},
        default=str,
    )
    assert all(one.sentence not in text for one in exercise.choices)
    assert not {"right", "pattern", "fault", "misconception"} & set(text.split('"'))


def test_an_exercise_of_another_kind_is_said(lesson):
    """The cell of one kind names the exercises that it could show."""
    assert "l96_needle" in widgets.needle(FAULT.id).problem
    assert (
        isinstance(widgets.diagnosis(NEEDLE.id), DiagnosisForm) and "l96_fault" in widgets.diagnosis(NEEDLE.id).problem
    )


def test_the_gauge_of_an_inspection_is_what_its_sentence_says(lesson, monkeypatch):
    """The needle at idle lies where the sentence has it, a snap goes from the lowest to the highest that it tells, and
    an inspection without a vacuum gauge shows none."""
    watching = dataclasses.replace(FAULT, inspections=(*FAULT.inspections, "snap_and_hold"), faults=("none",))
    rubric = dataclasses.replace(RUBRIC, exercises=RUBRIC.exercises | {FAULT.id: watching})
    monkeypatch.setattr("course.widgets.at_work.rubric_for", lambda lesson, own: rubric)
    form = widgets.diagnosis(FAULT.id)
    form.inspect("snap_and_hold")
    form.inspect("hose_trace")
    watched, traced = form.account
    told = [float(number) for number in re.findall(r"([\d.]+) inHg", watched["text"])]
    seen = {when: (lowest, highest) for when, lowest, highest in watched["seen"]}
    assert seen["at idle"][0] <= told[0] + 0.06 and told[0] - 0.06 <= seen["at idle"][1]
    assert seen["on a snap"] == pytest.approx(tuple(told[1:3]), abs=0.06)
    assert len(seen) == 4 and traced["seen"] == []
