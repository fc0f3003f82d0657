"""Whoever does the work of a bench another way that is as good has all its points: after a first try that went wrong,
slowly, looking again and again, and seeing to what is in order already."""

from __future__ import annotations

import pytest

from course.build import lessons
from engine_sim import EvidenceWriter, Header, Session, read_evidence
from graders.judge import judge_exercise
from graders.reference_try import CREATED, tried
from graders.rubrics import load_rubric
from graders.subject import engine_of, subject_of
from graders.tries import WORKS
from graders.tries.hands import Hands
from graders.tries.method import MethodTry

from .hands import ENGINES

BENCHES = [(lesson, name) for lesson in lessons() for name, exercise in load_rubric(lesson).exercises.items()
           if exercise.kind == "bench" and tried(exercise)]
SAFE = {"brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear"}
THINKS_FOR_S = 6.0


class Unhurried(Session):
    """Hands that began with the starter and then began again as one should; that think before whatever they do, read
    the gauges once more, and put the chocks where they are already."""

    def __init__(self, *given, **named):
        super().__init__(*given, **named)
        super().act("starter")
        self.advance(2.0)
        super().act("begin")

    def act(self, control, value=None):
        """Do it, but not at once."""
        self.advance(THINKS_FOR_S)
        if control != "read_gauges":
            super().act("read_gauges")
        if control not in SAFE and not self.on_road:
            for name, wanted in SAFE.items():
                if self.settings[name] == wanted:
                    super().act(name, wanted)
        return super().act(control, value)


@pytest.mark.parametrize(("lesson", "name"), BENCHES, ids=[name for _, name in BENCHES])
def test_an_equivalent_way_has_all_points(tmp_path, lesson, name):
    """At every bench of the course: no criterion loses anything."""
    exercise = load_rubric(lesson).exercises[name]
    header = Header("mira", lesson, "", "", CREATED)
    header = Header("mira", lesson, "", engine_of(header, ENGINES, exercise.engine).card.digest, CREATED)
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", header)
    given = subject_of(exercise, header, ENGINES)
    session = Unhurried(given.engine, conditions=given.conditions, found=given.found, evidence=writer, exercise=name,
                        tools=given.tools)
    WORKS[name](Hands(session)) if name in WORKS else MethodTry(session).work()
    assert len(session.trajectories) == 2
    result = judge_exercise(name, read_evidence(writer.path), ENGINES)
    assert [one for one in result.criteria if one.points < one.max_points] == []
