"""How much engine time and processor time evidence may ask a judge for, however it asks."""

from __future__ import annotations

import subprocess
import time

import pytest

import course
from engine_sim import SOUND, ControlError, Engine, Event, replay
from engine_sim.workshop.session import AHEAD_AT_MOST_S, BEGINNING_COUNTS_S, LONGEST_ENGINE_TIME_S
from graders.judge import judge_lesson
from graders.judge.worker_pool import JudgePool, Task
from graders.nbgrader_bridge import judge_step
from graders.outcome import NO_JUDGE
from tests import scripted_learner
from tests.submissions.making import BENCH, EVIDENCE, LESSON, answer, answered

REFUSED_WITHIN_S = 10.0  # of processor: within two by itself, and slower where every line is counted


def act(control, value=None, time_s=20.0):
    """One act at the bench."""
    return answer(BENCH, value, None, time_s, control)


SAFE = [act(control, value, 0.0) for control, value in scripted_learner.SAFE.items()]
RUNNING = [*SAFE, act("starter", time_s=1.0)]
TRY = [act("begin", time_s=0.0), act("brake", "on", 0.0), act("debriefed", time_s=0.0)]
WARMED = [*RUNNING, act("wait_until_warm"), act("begin")]
TOO_MUCH = {
    "waits without end at one time": [*RUNNING, *[act("wait")] * 60_000],
    "warm-ups at one time": WARMED * 3000,
    "new tries": [act("begin", time_s=0.0), act("brake", "on", 0.0)] * 30_000,
    "new engines": TRY * 20_000,
    "drives one after the other": [
        *RUNNING,
        *[act("road_check", time_s=20.0 + 40.0 * number) for number in range(1100)],
    ],
    "an engine that runs for months": [*RUNNING, act("read_gauges", time_s=9e6)],
}


@pytest.mark.parametrize("asked", TOO_MUCH.values(), ids=TOO_MUCH)
def test_what_asks_for_too_much_is_refused_soon(tmp_path, asked):
    """Waiting, beginning again and drives count: refused in two seconds, and the answers are judged."""
    answered(tmp_path, "ada", "", *asked)
    began_s = time.process_time()
    result = judge_lesson(LESSON, tmp_path / EVIDENCE, course.ENGINES, "ada")
    took_s = time.process_time() - began_s
    bench = result.exercise(BENCH)
    assert "it is not what a bench writes" in bench.needs_person and bench.points == 0.0
    assert result.points > 0.0 and took_s < REFUSED_WITHIN_S


def test_what_a_day_at_the_bench_may_ask_for_is_replayed(tmp_path):
    """Just under the bound, with waits that take their time, is no reason to refuse."""
    tries = int(LONGEST_ENGINE_TIME_S / BEGINNING_COUNTS_S) - 2
    engine = Engine(scripted_learner.engine_of("ada").card, SOUND)
    asked = [Event(0.0, BENCH, "begin", None), Event(0.0, BENCH, "brake", "on")] * tries
    assert len(replay(asked, engine, exercise=BENCH)) == tries + 1
    waited = [Event(0.0, BENCH, "wait", None), Event(10.0, BENCH, "wait", None), Event(20.0, BENCH, "brake", "on")]
    assert replay(waited, engine, exercise=BENCH)[0].actions[-1].time_s == 20.0
    behind = [*[Event(0.0, BENCH, "wait", None)] * (1 + int(AHEAD_AT_MOST_S / 10.0)), Event(0.0, BENCH, "brake", "on")]
    with pytest.raises(ControlError, match="had already taken 70 s"):
        replay(behind, engine, exercise=BENCH)


@pytest.fixture
def long_work(tmp_path):
    """A sound chain of eleven hours of a running engine that is turned at all along: within the bound, and long."""
    turned = [act("distributor", float(number % 7), 30.0 + 2.0 * number) for number in range(20_000)]
    answered(tmp_path, "ada", "", *RUNNING, act("clamp", "loose", 25.0), *turned)
    return Task(LESSON, tmp_path / EVIDENCE, course.ENGINES, "ada")


def test_the_limit_is_of_processor_time(long_work):
    """What takes its judge longer is given up with a sentence about the work."""
    with JudgePool([long_work], workers=1, time_limit_s=0.5) as pool:
        verdict = pool.verdict(long_work.lesson, long_work.evidence, long_work.engines, long_work.learner)
    assert verdict.problem_kind == "too long" and "processor time" in verdict.problem


def test_a_judge_that_waits_for_a_busy_computer_is_not_the_works_fault(tmp_path, monkeypatch):
    """Stopped for longer than the limit, it goes on and has its verdict; the clock alone takes nothing away."""
    answered(tmp_path, "ada", "")
    task = Task(LESSON, tmp_path / EVIDENCE, course.ENGINES, "ada")
    monkeypatch.setattr("graders.judge.worker_pool.PATIENCE", 1000.0)

    class Paused(JudgePool):
        def _asked(self, process, task):
            subprocess.run(["kill", "-STOP", str(process.pid)], check=True)
            subprocess.Popen(["sh", "-c", f"sleep 2; kill -CONT {process.pid}"])
            return super()._asked(process, task)

    with Paused([task], workers=1, time_limit_s=1.5) as pool:
        verdict = pool.verdict(task.lesson, task.evidence, task.engines, task.learner)
    assert verdict.problem == "" and verdict.points > 0.0
    monkeypatch.setattr("graders.judge.worker_pool.PATIENCE", 1.0)
    with Paused([task], workers=1, time_limit_s=1.5) as pool:
        verdict = pool.verdict(task.lesson, task.evidence, task.engines, task.learner)
    assert verdict.problem_kind == NO_JUDGE and "no fault of the work" in verdict.problem


def test_nbgraders_own_command_has_the_same_limits(long_work, monkeypatch):
    """The judge that nbgrader's autograde calls gives the same work up."""
    monkeypatch.setattr(
        "graders.judge.worker_pool.JudgePool.__init__.__defaults__", (None, 0.5, 60.0, None), raising=True
    )
    verdict = judge_step._judged_alone(long_work.lesson, long_work.evidence, long_work.engines, long_work.learner)
    assert verdict.problem_kind == "too long"
