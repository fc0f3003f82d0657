"""A new try at a bench whose engine cannot be guessed: another engine after a verdict, the same one after a reload."""

from __future__ import annotations

import pytest

from course import ENGINES, widgets
from engine_sim import CLOSED, DEBRIEFED, VERDICT, read_evidence
from graders.bench.assignment import assignment_of
from graders.exercises.loader import load_rubric
from graders.model_answers.operator import SAFE
from tests.scripted_learner import BENCH, LESSON


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    """A folder of l04 of anna's, in which cells work; the path of its evidence."""
    folder = tmp_path / LESSON
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder / "evidence.jsonl"


def forget() -> None:
    """What a restart of the program behind the page does: nothing is left but the file."""
    widgets.bench.__globals__["lesson_at_work"].__globals__["_at_work"].clear()


def plate(lesson, number) -> list[list[str]]:
    """The nameplate of anna's truck of that number."""
    given = assignment_of(load_rubric(LESSON).exercises[BENCH], read_evidence(lesson).header, ENGINES, number)
    return [list(pair) for pair in given.label.nameplate(given.card).items()]


def test_a_verdict_leads_to_another_engine_and_a_reload_does_not(lesson):
    """The verdict is written down once, the next try is at another truck with its own nameplate, and a restart of the
    program finds that truck again."""
    bench = widgets.bench(BENCH)
    assert bench.nameplate == plate(lesson, 0)
    bench.act("begin")
    bench.act("brake", "on")
    forget()
    bench = widgets.bench(BENCH)
    assert bench.nameplate == plate(lesson, 0) and bench.settings["brake"] == "on"
    for _ in range(2):
        bench._handle_custom_msg({"look_over": True}, [])
    assert bench.verdict["number"] == 2 and len(bench.verdict["criteria"]) == 11
    assert "of 20 points" in bench.verdict["sentence"]
    assert bench.nameplate == plate(lesson, 0)
    bench.act("begin")
    assert bench.nameplate == plate(lesson, 1) != plate(lesson, 0)
    assert "another engine" in bench.said["sentence"]
    bench.act("brake", "on")
    forget()
    assert widgets.bench(BENCH).nameplate == plate(lesson, 1)
    controls = [one.control for one in read_evidence(lesson).of_exercise(BENCH)]
    assert controls == ["begin", "brake", DEBRIEFED, "begin", "brake"]


def test_a_verdict_on_nothing_is_not_written_down(lesson):
    """A learner who has done nothing at the bench is shown nothing of the engine."""
    bench = widgets.bench(BENCH)
    bench.look_over()
    bench.act("begin")
    assert bench.nameplate == plate(lesson, 0)
    assert [one.control for one in read_evidence(lesson).of_exercise(BENCH)] == ["begin"]


def test_a_try_is_closed_to_see_what_the_engine_does(lesson):
    """A verdict has no picture; closed, the try shows the engine's curve, its acts afterwards earn nothing, the card
    says so, and a new try is at another truck."""
    bench = widgets.bench(BENCH)
    for control, value in (*SAFE.items(), ("starter", None), ("wait_until_warm", None), ("clamp", "loose")):
        bench.act(control, value)
        bench.session.advance(4.0)
    for _ in range(3):
        bench.act("distributor", by=-1.0)
        bench.session.advance(2.0)
    bench._handle_custom_msg({"look_over": True}, [])
    assert bench.verdict["picture"] == "" and not bench.verdict["closed"]
    bench._handle_custom_msg({"close": True}, [])
    assert "<svg" in bench.verdict["picture"] and bench.verdict["closed"]
    earned = bench.verdict["points"]
    bench.act("clamp", "tight")
    bench.look_over()
    assert bench.verdict["points"] == earned and "<svg" in bench.verdict["picture"]
    bench.act("begin")
    assert bench.nameplate == plate(lesson, 1)
    values = [one.value for one in read_evidence(lesson).of_exercise(BENCH) if one.control == DEBRIEFED]
    assert values == [VERDICT, CLOSED]
