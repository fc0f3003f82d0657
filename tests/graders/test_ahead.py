"""Verdicts worked out in other processes: the same as here, in time, and never missing."""

from __future__ import annotations

import os
import time

import pytest

import course
from engine_sim import Event, EvidenceWriter, Header, learners_engine, load_card
from graders.ahead import JudgedAhead, Task
from graders.judge import judge_lesson

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
    with JudgedAhead([tasks[0], tasks[2]], workers=2) as ahead:
        assert [ask(ahead, tasks[0]), ask(ahead, tasks[2])] == wanted
    assert wanted[0].points == 2.0


def test_a_hand_in_that_takes_too_long_is_given_up_and_the_others_are_judged(tasks):
    """Months of engine time cost one hand-in its verdict after the time limit, and nobody else anything."""
    began = time.monotonic()
    with JudgedAhead(tasks, workers=1, time_limit_s=6.0) as ahead:
        results = [ask(ahead, task) for task in tasks]
    assert [result.points for result in results] == [2.0, results[1].points, 2.0]
    assert results[1].problem or results[1].exercises[0].needs_person
    assert time.monotonic() - began < 60.0


def test_a_process_that_dies_is_replaced(tasks):
    """Where a process is ended from outside, its hand-in gets a sentence and the next ones a new process."""
    class Dies(JudgedAhead):
        count = 0

        def _asked(self, process, task):
            Dies.count += 1
            if Dies.count == 1:
                process.kill()
            return super()._asked(process, task)

    with Dies([tasks[0], tasks[2]], workers=1) as ahead:
        first, second = ask(ahead, tasks[0]), ask(ahead, tasks[2])
    assert "broke down" in first.problem_kind and second.points == 2.0


def test_without_processes_or_tasks_verdicts_are_worked_out_here(tasks):
    """A hand-in that was not announced is judged all the same."""
    with JudgedAhead([], workers=2) as nothing, JudgedAhead(tasks[:1], workers=0) as here:
        assert ask(nothing, tasks[0]).points == ask(here, tasks[0]).points == 2.0


def test_leaving_early_ends_the_processes(tasks):
    """Ctrl+C in a class run leaves nothing behind."""
    with pytest.raises(KeyboardInterrupt), JudgedAhead([tasks[1]], workers=1) as ahead:
        time.sleep(1.0)
        raise KeyboardInterrupt
    assert all(process.poll() is not None for process in ahead._processes)


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="priorities are read so on POSIX alone")
def test_judges_stand_behind_the_one_that_writes(tasks):
    """The scheduler prefers the process that writes into the gradebook to those that judge."""
    found = []

    class Watched(JudgedAhead):
        def _asked(self, process, task):
            verdict = super()._asked(process, task)
            found.append(os.getpriority(os.PRIO_PROCESS, process.pid))
            return verdict

    with Watched([tasks[0]], workers=1) as ahead:
        ask(ahead, tasks[0])
    assert found == [min(os.getpriority(os.PRIO_PROCESS, 0) + 10, 19)]
