"""A learner who asks "What next?" before every step, and what that try and the next one earn."""

from __future__ import annotations

from dataclasses import replace

import pytest

from engine_sim import EvidenceWriter, Header, Session, read_evidence
from graders.bench.criteria import CHECKS
from graders.bench.method_steps import STEPS, next_step, told_away
from graders.exercises.loader import load_rubric
from graders.model_answers.method import MethodAttempt
from graders.model_answers.model_learner import CREATED
from graders.outcome import Outcome
from tests.scripted_learner import BENCH, ENGINES, LESSON, bench_of, engine_of

LEARNER = "Robin Vale"
EXERCISE = load_rubric(LESSON).exercises[BENCH]
CHECKED = {criterion.check for criterion in EXERCISE.criteria}


class HintFollower(MethodAttempt):
    """The faultless method, with a look at what comes next before each act."""

    def do(self, control, value=None, wait_s=0.6):
        """Ask, then do."""
        step = next_step(CHECKED, self.session.trajectories[-1].actions, self.session.found.prepared)
        if step is not None:
            self.session.hint(step.words)
        return super().do(control, value, wait_s)

    def turn(self, crank_degrees):
        """Turn, and read as the hint says."""
        super().turn(crank_degrees)
        super().do("read_gauges")


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    """The results of a try with every hint and of the same work without one, as the judge has them."""
    results = []
    for learner in (HintFollower, MethodAttempt):
        path = tmp_path_factory.mktemp("hints") / "evidence.jsonl"
        given = bench_of(LEARNER)
        writer = EvidenceWriter(path, Header(LEARNER, LESSON, "", engine_of(LEARNER).card.digest, CREATED))
        session = Session(
            given.engine, conditions=given.conditions, found=given.found, evidence=writer, exercise=BENCH,
            tools=given.tools,
        )  # fmt: skip
        learner(session).work()
        ((attempt, result),) = EXERCISE.judged_attempts(read_evidence(path), ENGINES)
        results.append((session.trajectories[-1].hints, attempt, result))
    return results


def test_who_follows_every_hint_earns_little(judged):
    """The hint follower does everything right and earns less than 30 % of the exercise; without a hint the same work
    earns all of it."""
    (hints, attempt, followed), (_, _, alone) = judged
    assert len(hints) > 12 and attempt.trajectory.hints == hints
    assert alone.points == alone.max_points
    assert followed.points < 0.3 * followed.max_points


def test_a_hinted_step_says_that_it_counts_again_later(judged):
    """Its outcome is "not yet", and its sentence names the hint before what was found; other steps are as they were."""
    (hints, attempt, followed), _ = judged
    alone = EXERCISE.judge(replace(attempt, trajectory=replace(attempt.trajectory, hints=[])), None)
    hinted = {criterion.id for criterion in EXERCISE.criteria if criterion.check in told_away(hints)}
    assert len(hinted) >= 9
    for one, other in zip(followed.criteria, alone, strict=True):
        if one.criterion in hinted:
            assert one.outcome is Outcome.NOT_YET and one.points == 0.0
            assert one.sentence.startswith("You asked 'What next?'") and one.sentence.endswith(other.sentence)
        else:
            assert one == other


def test_only_the_hinted_step_is_taken_out():
    """A hint about the clamp costs the clamp's criterion; words of no step cost nothing."""
    assert told_away(["clamp tightened"]) & CHECKED == {"clamped_and_read_again"}
    assert told_away([]) == told_away(["no such step"]) == frozenset()
    assert all(told_away([step.words]) <= set(CHECKS) for step in STEPS)


def test_a_hint_of_an_earlier_try_is_forgotten(tmp_path):
    """It stands in the evidence, once, and belongs to its own try."""
    given = bench_of(LEARNER)
    header = Header(LEARNER, LESSON, "", engine_of(LEARNER).card.digest, CREATED)
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", header)
    session = Session(given.engine, found=given.found, evidence=writer, exercise=BENCH)
    session.hint("chocks")
    session.hint("chocks")
    session.act("chocks", "in place")
    session.act("begin")
    session.act("brake", "on")
    assert [event.control for event in writer.events] == ["hinted", "chocks", "begin", "brake"]
    again = Session(given.engine, found=given.found, evidence=writer, exercise=BENCH)
    assert [trajectory.hints for trajectory in again.trajectories] == [["chocks"], []]
