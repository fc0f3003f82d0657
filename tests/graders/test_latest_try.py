"""A verdict speaks of the latest try, with the best one beside it; the points are those of the best."""

from __future__ import annotations

import io

from rich.console import Console

from course.commands import check
from engine_sim import Event, EvidenceWriter, read_evidence
from graders.bench.assignment import session_at
from graders.exercises.loader import load_rubric
from graders.feedback import exercise_html, exercise_text
from graders.judge import judge_exercise
from tests.scripted_learner import BENCH, ENGINES, LESSON, Habits, evidence_by

LATEST, BEST = "Your latest try: 0 of 20", "Your best try, which counts: 20 of 20"
QUESTION = "l04_why_back_off"


def after_a_second_try(folder):
    """The evidence of faultless work at the bench, and of a second try in which only the brake was put on."""
    path = evidence_by(folder / "evidence.jsonl", "anna", Habits())
    writer = EvidenceWriter(path, read_evidence(path).header)
    session = session_at(load_rubric(LESSON).exercises[BENCH], writer.header, ENGINES, writer)
    for control, value in (("begin", None), ("brake", "on")):
        session.act(control, value)
    return writer


def test_a_bad_second_try_is_not_called_met(tmp_path):
    """The best try keeps its points, the verdict has the latest one's criteria first, on the page and in words."""
    result = judge_exercise(BENCH, read_evidence(after_a_second_try(tmp_path).path), ENGINES)
    assert result.points == 20.0 and result.shown.points == 0.0 and result.better is result
    for said in (exercise_html(result, 20.0, 20.0), exercise_text(result, 20.0, 20.0)):
        latest, best = said.split(BEST)
        assert LATEST in latest and "missing" in latest and "met" not in latest.split(LATEST)[1].replace("method", "")
        assert "met" in best and "missing" not in best.split("label")[0]


def test_one_try_alone_has_no_heading_of_its_own(tmp_path):
    """Where the latest try is the best, there is one list."""
    path = evidence_by(tmp_path / "evidence.jsonl", "anna", Habits())
    result = judge_exercise(BENCH, read_evidence(path), ENGINES)
    assert result.better is None and "try" not in exercise_text(result, 20.0, 20.0).split("\n")[1]


def test_a_worse_answer_after_a_better_one_is_shown(tmp_path):
    """A question that was right and is answered wrongly keeps its points, and the check says what the latest earns."""
    (tmp_path / LESSON).mkdir()
    writer = after_a_second_try(tmp_path / LESSON)
    (tmp_path / LESSON / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    writer.append(Event(500.0, QUESTION, "answer", "peak_is_right"))
    result = judge_exercise(QUESTION, read_evidence(writer.path), ENGINES)
    assert (result.points, result.shown.points) == (2.0, 0.0)
    assert "at full" not in result.shown.criteria[0].sentence and "idle only" in result.shown.criteria[0].sentence
    console = Console(width=400, record=True, file=io.StringIO())
    check.run(tmp_path / LESSON, console)
    said = console.export_text()
    assert "Your latest try: 0. The points are those of your best one." in said and "idle only" in said
