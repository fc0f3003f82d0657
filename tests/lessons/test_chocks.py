"""At every bench with a road: the chocks of a running engine are not touched; trying costs safety alone."""

from __future__ import annotations

import pytest

from course.authoring.edition import lessons
from engine_sim import Session
from graders.exercises.loader import load_rubric
from graders.model_answers import WORKS
from graders.model_answers.method import MethodAttempt
from graders.model_answers.operator import Operator

from .working import judged, lost

FROM = "l04"  # the first lesson whose bench has a drive
BENCHES = [
    (lesson, name)
    for lesson in lessons()
    if lesson >= FROM
    for name, exercise in load_rubric(lesson).exercises.items()
    if exercise.kind == "bench"
]


class Hasty(Session):
    """Reaches for the chocks before the engine is switched off, and then does it as it should be done."""

    stopped = 0

    def act(self, control, value=None):
        """The chocks first, where the engine runs; then what was wanted."""
        if control == "stop" and self.running and self.settings["chocks"] == "in place":
            assert super().act("chocks", "away").kind == "stopped"
            self.stopped += 1
        return super().act(control, value)


@pytest.mark.parametrize(("lesson", "name"), BENCHES, ids=[name for _, name in BENCHES])
def test_chocks_taken_from_a_running_engine_cost_safety_alone(tmp_path, lesson, name):
    """All else faultless: the bench stops it each time, and the criterion of safety alone loses points."""

    def work(operator: Operator) -> None:
        WORKS[name](operator) if name in WORKS else MethodAttempt(operator.session).work()
        assert operator.session.stopped

    assert set(lost(judged(tmp_path, lesson, name, "mira", work, Hasty))) == {"make_safe"}
