"""Closing a try to see what the engine does: what is shown, when, and that it cannot be copied into points."""

from __future__ import annotations

import pytest

from engine_sim import CLOSED, EvidenceWriter, Header, read_evidence
from graders.bench.assignment import engine_of, session_at
from graders.bench.reference import reference_for, worst_ping_share
from graders.exercises.loader import load_rubric
from graders.judge import judge_exercise
from graders.model_answers.method import MethodAttempt
from graders.model_answers.model_learner import CREATED
from graders.model_answers.operator import SAFE
from tests.scripted_learner import BENCH, ENGINES, LESSON

EXERCISE = load_rubric(LESSON).exercises[BENCH]
COPIED_AT_MOST = 0.3  # of the exercise's points


class AtTheBench:
    """One learner at the bench of l04, with what the judge says so far."""

    def __init__(self, folder, learner):
        digest = engine_of(Header(learner, LESSON, "", "", CREATED), ENGINES, EXERCISE.engine).card.digest
        self.writer = EvidenceWriter(folder / f"{learner}.jsonl", Header(learner, LESSON, "", digest, CREATED))
        self.session = session_at(EXERCISE, self.writer.header, ENGINES, self.writer)

    def result(self):
        """The judge's word, from the file alone."""
        return judge_exercise(BENCH, read_evidence(self.writer.path), ENGINES)

    def sets(self, turn_deg: float) -> None:
        """Start safely, warm up, turn the body by so many crank degrees, and clamp it: nothing of the method."""
        for control, value in {**SAFE, "starter": None, "wait_until_warm": None, "clamp": "loose"}.items():
            self.session.act(control, value)
            self.session.advance(6.0)
        self.turn(turn_deg)

    def turn(self, turn_deg: float) -> None:
        """Turn the body by so many crank degrees, clamp it and read the gauges."""
        hands = MethodAttempt(self.session)
        self.session.act("clamp", "loose")
        hands.turn(turn_deg)
        hands.tighten()


@pytest.mark.parametrize("learner", ["anna", "bela", "cleo"])
def test_a_debrief_copier_earns_little(tmp_path, learner):
    """Closing at once, and setting exactly what was then shown, earns nothing more at that engine and little at the
    next one."""
    copier = AtTheBench(tmp_path, learner)
    copier.sets(2.0)
    before = copier.result()
    assert before.to_see is None
    copier.session.debrief(CLOSED)
    shown = copier.result().to_see
    copier.turn(shown.method - shown.left_at)
    assert copier.result().points == before.points and copier.result().shown.trace == shown
    copier.session.act("begin")
    copier.sets(shown.method)
    assert copier.session.engine_number == 1
    assert copier.result().points / EXERCISE.points < COPIED_AT_MOST


@pytest.fixture(scope="module")
def faultless(tmp_path_factory):
    """A learner after the faultless work."""
    learner = AtTheBench(tmp_path_factory.mktemp("debrief"), "anna")
    MethodAttempt(learner.session).work()
    return learner


def test_full_marks_show_the_engine_as_it_is(faultless):
    """Without closing: the curve is this engine's own, highest at the peak, with the flat top before it; from the ping
    mark on it pings clearly, and not before."""
    result = faultless.result()
    assert not result.closed and result.points == result.max_points
    seen, engine, day = result.to_see, faultless.session.engine, faultless.session.conditions
    found = faultless.session.found.base_timing_deg
    highest = max(seen.own_line, key=lambda point: point[1])
    assert highest[0] == pytest.approx(seen.peak, abs=4.0) and seen.flat_from < seen.peak
    method = reference_for(engine.card, day, engine.wear).method
    assert seen.method + found == pytest.approx(method.timing_deg, abs=0.01)
    near = min(seen.own_line, key=lambda point: abs(point[0] - seen.method))
    assert near[1] == pytest.approx(method.vacuum_inhg, abs=0.4) and near[2] == pytest.approx(method.speed_rpm, abs=40)
    assert worst_ping_share(engine, seen.pings_from + found + 0.5, day) >= 0.15
    assert worst_ping_share(engine, seen.pings_from + found - 0.5, day) < 0.15


def test_a_try_that_is_not_done_shows_nothing_of_the_engine(tmp_path):
    """A verdict alone does not bring the curve to the learner's eyes."""
    learner = AtTheBench(tmp_path, "bela")
    learner.sets(4.0)
    learner.session.debrief()
    assert learner.result().to_see is None
