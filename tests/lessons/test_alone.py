"""Somebody who learns alone can earn, or mark, and see every point of the course."""

from __future__ import annotations

import pytest

from course import ENGINES
from course.authoring.edition import lessons
from course.learner.progress import progress_in
from course.widgets import written
from engine_sim import EvidenceWriter
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.model_answers.model_learner import faultless_evidence, tried

MOST_DRIVES = {"l05": 12, "l06": 26, "l07": 9, "l11": 4}  # of a faultless learner; one in the other lessons


@pytest.mark.parametrize("lesson", lessons())
def test_every_point_is_earned_by_the_program_or_marked_by_oneself(tmp_path, monkeypatch, lesson):
    """What a machine can do without a fault earns every point of its exercises, and each other exercise is a text whose
    table and samples are shown once it is saved, with marks that add up to all of its points and are counted apart. Nor
    do the benches ask for more drives than they did."""
    exercises = load_rubric(lesson).exercises.values()
    evidence = faultless_evidence(load_rubric(lesson), "anna", "", ENGINES)
    folder = tmp_path / lesson
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    assert sum(event.control == "road_check" for event in evidence.events) <= MOST_DRIVES.get(lesson[:3], 1)
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", evidence.header)
    for event in evidence.events:
        writer.append(event)
    verdict = judge_lesson(lesson, writer.path, ENGINES, "anna")
    by_program = {one.exercise: one.points for one in verdict.exercises}
    assert {one.id: by_program[one.id] for one in exercises if tried(one)} == {
        one.id: one.points for one in exercises if tried(one)
    }
    monkeypatch.chdir(folder)
    texts = [one for one in exercises if not tried(one)]
    for text in texts:
        form = written(text.id)
        assert not form.marking
        form.submit("First of all: nobody drives it before the danger is put right.")
        marks = {one["id"]: one["points"] for one in form.marking}
        assert sum(marks.values()) == text.points and len(form.samples) >= 2
        form.mark(marks)
    far = progress_in(folder)
    assert (far.own_marks, far.own_most) == (sum(one.points for one in texts),) * 2
