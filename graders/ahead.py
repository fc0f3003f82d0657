"""Verdicts worked out ahead, on all processors, while nbgrader goes through the hand-ins one after the other.

Replaying a learner's work is most of what a class run has to compute. It is done in processes of our own, each of
which judges many hand-ins, and each verdict has a time limit: a hand-in that asks for hours of engine time, or on
which a process breaks down, becomes a verdict that says so, and the others go on.
"""

from __future__ import annotations

import multiprocessing
import os
from dataclasses import dataclass
from pathlib import Path

from .judge import judge_lesson
from .outcome import LessonResult

TIME_LIMIT_S = 120.0
TOO_LONG = ("This work could not be judged within {limit:.0f} seconds: its evidence asks for more engine time than a "
            "lesson takes. A person must look at it.")


@dataclass(frozen=True)
class Task:
    """One hand-in to judge."""

    lesson: str
    evidence: Path
    engines: Path
    learner: str


def default_workers() -> int:
    """One process for each processor that this program may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class JudgedAhead:
    """Judges `tasks` in their order on `workers` processes; `verdict` waits for one of them. A context manager."""

    def __init__(self, tasks: list[Task], workers: int | None = None, time_limit_s: float = TIME_LIMIT_S):
        self.tasks, self.time_limit_s = tasks, time_limit_s
        self.workers = min(default_workers() if workers is None else workers, len(tasks))

    def __enter__(self) -> JudgedAhead:
        self._pool, self._waiting = None, {}
        self._begin(self.tasks)
        return self

    def __exit__(self, *_) -> None:
        if self._pool is not None:
            self._pool.terminate()
            self._pool.join()

    def verdict(self, lesson: str, evidence: Path, engines: Path, learner: str) -> LessonResult:
        """The verdict on one hand-in; one that was not among the tasks is judged here and now."""
        task = Task(lesson, evidence, engines, learner)
        waiting = self._waiting.pop(task, None)
        if waiting is None:
            return judge_lesson(lesson, evidence, engines, learner=learner)
        try:
            return waiting.get(self.time_limit_s)
        except multiprocessing.TimeoutError:
            self._begin_again()
            return LessonResult(lesson, learner, (), TOO_LONG.format(limit=self.time_limit_s), "too long")

    def _begin(self, tasks: list[Task]) -> None:
        if self.workers and tasks:
            self._pool = multiprocessing.get_context("spawn").Pool(self.workers)
            self._waiting = {task: self._pool.apply_async(_judged, (task,)) for task in tasks}

    def _begin_again(self) -> None:
        """End the processes, one of which is stuck or gone, and give what is left to new ones."""
        self.__exit__()
        done = {task: waiting for task, waiting in self._waiting.items() if waiting.ready()}
        left = [task for task in self._waiting if task not in done]
        self._begin(left)
        self._waiting = {**self._waiting, **done}


def _judged(task: Task) -> LessonResult:
    return judge_lesson(task.lesson, task.evidence, task.engines, learner=task.learner)
