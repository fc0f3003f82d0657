"""Verdicts worked out in other processes: the same as here, in time, and never missing."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time

import pytest

import course
from engine_sim import Event, EvidenceWriter, Header, learners_engine, load_card
from graders.judge import judge_lesson, worker_pool
from graders.judge.worker_pool import JudgePool, NoJudge, Task, end_early, start_early
from graders.outcome import NO_JUDGE

LESSON = "l04_base_timing"


@pytest.fixture
def tasks(tmp_path):
    """Three hand-ins, the middle one of which asks for months of engine time."""
    truck = load_card(course.ENGINES / "delivery_truck_six.toml")
    made = []
    for learner in ("ada", "ben", "cy"):
        path = tmp_path / f"{learner}.jsonl"
        digest = learners_engine(truck, "", learner, LESSON).card.digest
        writer = EvidenceWriter(path, Header(learner, LESSON, "", digest, "2026-01-05T09:00:00+00:00"))
        writer.append(Event(1.0, "l04_why_back_off", "answer", "adds_up"))
        if learner == "ben":
            safe = {"brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear"}
            for control, value in safe.items():
                writer.append(Event(1.0, "l04_set_base_timing", control, value))
            writer.append(Event(2.0, "l04_set_base_timing", "starter", None))
            writer.append(Event(9e6, "l04_set_base_timing", "read_gauges", None))
        made.append(Task(LESSON, path, course.ENGINES, learner))
    return made


def ask(ahead, task):
    """The verdict on a task."""
    return ahead.verdict(task.lesson, task.evidence, task.engines, task.learner)


def test_other_processes_give_the_same_verdicts(tasks):
    """A verdict from ahead equals the one that is worked out here."""
    wanted = [judge_lesson(task.lesson, task.evidence, task.engines, task.learner) for task in (tasks[0], tasks[2])]
    with JudgePool([tasks[0], tasks[2]], workers=2) as ahead:
        assert [ask(ahead, tasks[0]), ask(ahead, tasks[2])] == wanted
    assert wanted[0].points == 2.0


def test_judges_that_were_started_early_are_taken_and_the_rest_are_ended(tasks, tmp_path):
    """A pool takes those that were started for its log, in the place of one that ended a new one; none is left over."""
    start_early(tmp_path / "log", 2)
    start_early(tmp_path / "another log", 1)
    (_, ended), (_, early), (_, stranger) = worker_pool._early
    ended.kill()
    ended.wait()
    with JudgePool([tasks[0], tasks[2]], workers=2, log=tmp_path / "log") as ahead:
        points = [ask(ahead, task).points for task in (tasks[0], tasks[2])]
        assert early in ahead._processes and len(ahead._processes) == 2
        assert ended not in ahead._processes and stranger not in ahead._processes
    assert points == [2.0, 2.0] and worker_pool._early == [] and stranger.poll() is not None
    assert early.poll() is not None
    end_early()


def test_a_judge_whose_program_ended_meanwhile_says_nothing(tmp_path):
    """Where a command ends before its judges are ready, they end too, and write nothing on the terminal."""
    command = [sys.executable, "-P", "-c", "from graders.judge.worker_pool import work; work()"]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdin.close()
    process.stdout.close()
    assert process.wait(60.0) == 0 and process.stderr.read() == b""
    process.stderr.close()


def test_a_judge_that_cannot_be_started_early_is_started_when_it_is_needed(tasks, tmp_path, monkeypatch):
    """No room for a process is no reason to end before anything was read."""

    def none(log):
        raise OSError("no room")

    with monkeypatch.context() as without:
        without.setattr(worker_pool, "_new_process", none)
        start_early(tmp_path / "log", 1)
    assert worker_pool._early == []
    with JudgePool([tasks[0]], workers=1, log=tmp_path / "log") as ahead:
        assert ask(ahead, tasks[0]).points == 2.0


def test_a_hand_in_that_takes_too_long_is_given_up_and_the_others_are_judged(tasks):
    """Months of engine time cost one hand-in its verdict after the time limit, and nobody else anything."""
    began = time.monotonic()
    with JudgePool(tasks, workers=1, time_limit_s=6.0) as ahead:
        results = [ask(ahead, task) for task in tasks]
    assert [result.points for result in results] == [2.0, results[1].points, 2.0]
    assert results[1].problem or results[1].exercises[0].needs_person
    assert time.monotonic() - began < 60.0


class DiesAt(JudgePool):
    """Judges whose process is killed from outside just before it is asked for the first so many times."""

    deaths = 1

    def _asked(self, process, task):
        self.deaths -= 1
        if self.deaths >= 0:
            process.kill()
            process.wait()
        return super()._asked(process, task)


def test_a_process_that_is_ended_from_outside_costs_nobody_anything(tasks):
    """Its hand-in is given to a new process, as where this computer's memory ran out, and so are the next ones."""
    wanted = [tasks[0], tasks[2]]
    with DiesAt(wanted, workers=1) as ahead:
        assert [(verdict.points, verdict.problem) for verdict in in_time(ahead, wanted)] == [(2.0, "")] * 2


def test_a_hand_in_on_which_two_processes_die_gets_a_sentence(tasks):
    """It is not tried for ever, and the next one has a new process."""
    wanted = [tasks[0], tasks[2]]
    with DiesAt(wanted, workers=1) as ahead:
        ahead.deaths = 2
        first, second = in_time(ahead, wanted)
    assert first.problem_kind == "broke down" and second.points == 2.0


def test_no_second_process_is_the_computers_fault(tasks):
    """Where the process of a hand-in dies and no other can be started, the next class run judges it."""

    class OnceOnly(DiesAt):
        started = 0

        def _started(self):
            self.started += 1
            if self.started > 1:
                raise NoJudge("no memory")
            return super()._started()

    with OnceOnly(tasks[:1], workers=1) as ahead:
        (verdict,) = in_time(ahead, tasks[:1])
    assert verdict.problem_kind == NO_JUDGE and "no memory" in verdict.problem


class SlowToReturn(subprocess.Popen):
    """A process whose kill returns late, so that a thread that waits for its end goes on before."""

    def kill(self):
        """Kill it, and come back later."""
        super().kill()
        time.sleep(0.3)


@pytest.mark.skipif(os.name == "nt", reason="the program is a shell script")
def test_what_the_timer_ended_is_named_however_slowly_it_comes_back(tasks, tmp_path, monkeypatch):
    """A judge that gives no answer is the computer's fault, even where the timer's own thread is not through yet."""
    monkeypatch.setattr("graders.judge.worker_pool.subprocess.Popen", SlowToReturn)
    monkeypatch.setattr("graders.judge.worker_pool.sys.executable", program(tmp_path, "echo ready; exec sleep 60"))
    with JudgePool(tasks[:1], workers=1, time_limit_s=0.05) as ahead:
        verdict = in_time(ahead, tasks[:1])[0]
    assert verdict.problem_kind == NO_JUDGE and "too busy" in verdict.problem
    monkeypatch.setattr("graders.judge.worker_pool.sys.executable", program(tmp_path, "exec sleep 60"))
    with JudgePool(tasks[:1], workers=1, start_limit_s=0.5) as ahead:
        assert "not ready within" in in_time(ahead, tasks[:1])[0].problem


@pytest.mark.parametrize("refused", ["every", "first", "timers"])
def test_threads_that_cannot_be_started_end_in_verdicts_and_leave_no_process(tasks, monkeypatch, refused):
    """One judge's thread is enough; with none, or with no timer, every hand-in gets the computer's sentence."""
    real, calls = threading.Thread.start, []

    def start(thread):
        is_timer, is_judge = isinstance(thread, threading.Timer), "_serve" in thread.name
        calls.extend([thread] if is_judge else [])
        is_first = is_judge and len(calls) == 1
        if {"every": is_judge, "first": is_first, "timers": is_timer}[refused]:
            raise RuntimeError("can't start new thread")
        real(thread)

    wanted = [tasks[0], tasks[2]]
    monkeypatch.setattr(threading.Thread, "start", start)
    with JudgePool(wanted, workers=2) as ahead:
        verdicts = in_time(ahead, wanted)
        if refused == "timers":
            assert all(process.poll() is not None for process in ahead._processes) and ahead._processes
    if refused == "first":
        assert [verdict.points for verdict in verdicts] == [2.0, 2.0]
    else:
        assert {verdict.problem_kind for verdict in verdicts} == {NO_JUDGE}


def test_without_processes_or_tasks_verdicts_are_worked_out_here(tasks):
    """A hand-in that was not announced is judged all the same."""
    with JudgePool([], workers=2) as nothing, JudgePool(tasks[:1], workers=0) as here:
        assert ask(nothing, tasks[0]).points == ask(here, tasks[0]).points == 2.0


def test_leaving_early_ends_the_processes(tasks):
    """Ctrl+C in a class run leaves nothing behind."""
    with pytest.raises(KeyboardInterrupt), JudgePool([tasks[1]], workers=1) as ahead:
        time.sleep(1.0)
        raise KeyboardInterrupt
    assert all(process.poll() is not None for process in ahead._processes)


def in_time(ahead, tasks, seconds=40.0):
    """The verdicts on tasks, or a failure where they do not come in time."""
    verdicts = []
    thread = threading.Thread(target=lambda: verdicts.extend(ask(ahead, task) for task in tasks), daemon=True)
    thread.start()
    thread.join(seconds)
    assert len(verdicts) == len(tasks), "a verdict never came"
    return verdicts


def program(folder, text):
    """A program of a shell script, to be started in the place of Python."""
    path = folder / "program"
    path.write_text(f"#!/bin/sh\n{text}\n", encoding="utf-8")
    path.chmod(0o755)
    return str(path)


@pytest.mark.skipif(os.name == "nt", reason="the programs are shell scripts")
@pytest.mark.parametrize(
    "text, reason",
    [
        (None, "does not start: No such file"),
        ("exit 3", "ended at once, with status 3"),
        ("exec sleep 60", "not ready within 1 seconds"),
        ("echo nonsense; exec sleep 60", "something else than 'ready'"),
    ],
    ids=["missing", "ends at once", "never ready", "says something else"],
)
def test_a_judge_that_cannot_be_started_is_a_verdict_and_no_wait(tasks, tmp_path, monkeypatch, text, reason):
    """Every hand-in gets a verdict in time, which blames the computer and not the work."""
    monkeypatch.setattr(
        "graders.judge.worker_pool.sys.executable", program(tmp_path, text) if text else str(tmp_path / "missing")
    )
    with JudgePool(tasks, workers=2, start_limit_s=1.0) as ahead:
        verdicts = in_time(ahead, tasks)
    for verdict in verdicts:
        assert verdict.problem_kind == NO_JUDGE and verdict.points == 0.0
        assert reason in verdict.problem and "no fault of the work" in verdict.problem
        assert str(tmp_path) not in verdict.problem
    assert all(process.poll() is not None for process in ahead._processes)


@pytest.mark.parametrize(
    ("module", "text", "reason"),
    [
        ("numpy.py", "raise RuntimeError('broken installation')", "ended at once, with status 1"),
        ("sitecustomize.py", "print('hello')", "something else than 'ready'"),
    ],
)
def test_an_installation_that_does_not_let_a_judge_start_is_named(tasks, tmp_path, monkeypatch, module, text, reason):
    """A process that dies while it loads the course's code, or prints before it, costs nobody anything but a second
    run."""
    (tmp_path / module).write_text(text, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with JudgePool(tasks[:1], workers=1) as ahead:
        (verdict,) = in_time(ahead, tasks[:1])
    assert verdict.problem_kind == NO_JUDGE and reason in verdict.problem


def test_one_judge_that_cannot_be_started_leaves_the_work_to_the_other(tasks):
    """The second of two processes judges what the first one had before it."""

    class OneFails(JudgePool):
        count = 0

        def _started(self):
            OneFails.count += 1
            if OneFails.count == 1:
                time.sleep(0.5)
                raise NoJudge("no memory")
            return super()._started()

    wanted = [tasks[0], tasks[2]]
    with OneFails(wanted, workers=2) as ahead:
        assert [verdict.points for verdict in in_time(ahead, wanted)] == [2.0, 2.0]


def test_whatever_breaks_beside_a_process_is_a_verdict_too(tasks):
    """Where the thread that serves a process fails, its hand-in is not left without a verdict."""

    class Breaks(JudgePool):
        def _asked(self, process, task):
            raise RuntimeError("can't start new thread")

    with Breaks(tasks[:1], workers=1) as ahead:
        (verdict,) = in_time(ahead, tasks[:1])
    assert verdict.problem_kind == NO_JUDGE and "RuntimeError" in verdict.problem


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="priorities are read so on POSIX alone")
def test_judges_stand_behind_the_one_that_writes(tasks):
    """The scheduler prefers the process that writes into the gradebook to those that judge."""
    found = []

    class Watched(JudgePool):
        def _asked(self, process, task):
            verdict = super()._asked(process, task)
            found.append(os.getpriority(os.PRIO_PROCESS, process.pid))
            return verdict

    with Watched([tasks[0]], workers=1) as ahead:
        ask(ahead, tasks[0])
    assert found == [min(os.getpriority(os.PRIO_PROCESS, 0) + 10, 19)]
