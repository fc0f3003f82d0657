"""Whoever does the work of a bench another way that is as good has all its points: after a first try that went wrong,
slowly, looking again and again, and seeing to what is in order already."""

from __future__ import annotations

from functools import partial

import pytest

from course.authoring.edition import lessons
from engine_sim import Session
from graders.exercises.loader import load_rubric
from graders.model_answers import WORKS
from graders.model_answers.method import MethodAttempt
from graders.model_answers.model_learner import tried
from graders.model_answers.operator import SAFE, Operator

from .working import judged, lost

BENCHES = [
    (lesson, name)
    for lesson in lessons()
    for name, exercise in load_rubric(lesson).exercises.items()
    if exercise.kind == "bench" and tried(exercise)
]
THINKS_FOR_S = 3.0


class Unhurried(Session):
    """A learner who began with the starter and then began again as one should, who thinks before each act, reads the
    gauges once more, and puts the chocks where they are already."""

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


def faultlessly(name: str, operator: Operator) -> None:
    """The work of a bench as a faultless learner does it."""
    WORKS[name](operator) if name in WORKS else MethodAttempt(operator.session).work()
    assert len(operator.session.trajectories) == 2


@pytest.mark.parametrize(("lesson", "name"), BENCHES, ids=[name for _, name in BENCHES])
def test_an_equivalent_way_has_all_points(tmp_path, lesson, name):
    """At every bench of the course: no criterion loses anything."""
    assert lost(judged(tmp_path, lesson, name, "mira", partial(faultlessly, name), Unhurried)) == {}
