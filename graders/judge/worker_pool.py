"""Verdicts worked out ahead, on all processors, while nbgrader goes through the hand-ins one after the other.

Replaying a learner's work is most of what a class run has to compute. It is done in processes of our own, each of
which judges many hand-ins, and each verdict has a limit of processor time: a hand-in that asks for hours of engine
time, or on which two processes break down, becomes a verdict that says so, and the others go on. Where no process can
be started, or one waits for a busy computer, each hand-in that is left gets a verdict that says so. That is no fault
of the work, so the next class run judges it again.
"""

from __future__ import annotations

import logging
import os
import pickle
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from graders.judge import judge_lesson
from graders.outcome import BROKE, NO_JUDGE, LessonResult

LOG = "judging.log"  # in a class folder
TIME_LIMIT_S = 120.0  # of processor time that one verdict may take
PATIENCE = 10.0  # times that by the clock, after which a judge that waits for the processor is given up
LOOK_EVERY_S = 0.2
START_LIMIT_S = 60.0
TOO_LONG = (
    "This work could not be judged within {limit:.0f} seconds of processor time: its evidence asks for more engine "
    "time than a lesson takes. A person must look at it."
)
TOO_BUSY = (
    "This work was not judged, because its judge had no answer after {limit:.0f} seconds. That is no fault of the "
    "work: this computer is too busy, or its judge stands still. Run the judging again when it is not."
)
NOT_STARTED = (
    "This work was not judged, because no judge could be started on this computer ({reason}). That is no "
    "fault of the work: the instructor must put it right and run the judging again."
)
BROKE_DOWN = "This work could not be judged: the judge broke down on it. A person must look at it."
_READY = b"ready\n"
_OUT_OF_TIME = 75  # with which a judge's process ends itself
# The judges stand behind the one process that writes into the gradebook: whatever is ready goes in at once, and no
# processor is idle at the end while that one still writes.
_BEHIND = 10
_BEHIND_ON_WINDOWS = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)


class NoJudge(Exception):
    """A process that judges could not be started; the text is the reason."""


@dataclass(frozen=True)
class Task:
    """One hand-in to judge."""

    lesson: str
    evidence: Path
    engines: Path
    learner: str
    rubrics: Path | None = None


def default_workers() -> int:
    """One process for each processor that this program may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


_early: list[tuple[str, subprocess.Popen]] = []


def start_early(log: Path, workers: int | None = None) -> None:
    """Start the processes of the next pool with this log, before it is known what there is to judge: they get ready
    while the rest of a class run is loaded. Where that cannot be done, the pool starts them itself."""
    with suppress(OSError):
        for _ in range(default_workers() if workers is None else workers):
            _early.append((str(log), _new_process(log)))


def end_early() -> None:
    """End the processes that were started early and that no pool took."""
    while _early:
        _, process = _early.pop()
        process.kill()
        process.wait()


def _new_process(log: Path | None) -> subprocess.Popen:
    """A process that will judge, and say when it is ready. Raises OSError where it does not start."""
    path = os.pathsep.join(filter(None, (str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH"))))
    return subprocess.Popen(
        [
            *(sys.executable, "-P", "-c", "from graders.judge.worker_pool import work; work()"),
            *([str(log)] if log else []),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        creationflags=_BEHIND_ON_WINDOWS,
        env={**os.environ, "PYTHONPATH": path},
    )


class JudgePool:
    """Judges `tasks` in their order in `workers` processes; `verdict` waits for one of them. A context manager.

    What the judge logs in these processes is added to the file `log`, where there is one; else it goes to stderr.
    """

    def __init__(
        self,
        tasks: list[Task],
        workers: int | None = None,
        time_limit_s: float = TIME_LIMIT_S,
        start_limit_s: float = START_LIMIT_S,
        log: Path | None = None,
    ):
        self.log = log
        self.time_limit_s, self.start_limit_s = time_limit_s, start_limit_s
        self.workers = min(default_workers() if workers is None else workers, len(tasks))
        self._verdicts: dict[Task, Future] = {task: Future() for task in tasks} if self.workers else {}
        self._left = deque(self._verdicts)
        self._processes: set[subprocess.Popen] = set()
        self._serving, self._lock = self.workers, threading.Lock()
        self._reason, self._over = "", False

    def __enter__(self) -> JudgePool:
        self._threads = []
        for _ in range(self.workers):
            thread = threading.Thread(target=self._serve, daemon=True)
            try:
                thread.start()
            except RuntimeError:
                self._reason = "it has no more threads"
                self._leave()
            else:
                self._threads.append(thread)
        return self

    def __exit__(self, *_) -> None:
        self._over = True
        self._left.clear()
        for process in tuple(self._processes):
            process.kill()
        for thread in self._threads:
            thread.join()
        end_early()

    def verdict(
        self, lesson: str, evidence: Path, engines: Path, learner: str, rubrics: Path | None = None
    ) -> LessonResult:
        """The verdict on one hand-in; one that was not among the tasks is judged here and now."""
        waiting = self._verdicts.get(Task(lesson, evidence, engines, learner, rubrics))
        return waiting.result() if waiting else judge_lesson(lesson, evidence, engines, learner, rubrics)

    def _serve(self) -> None:
        """Serve tasks with one process, until there are no more or that cannot go on."""
        try:
            self._serve_tasks()
        except Exception as error:
            self._reason = str(error) if isinstance(error, NoJudge) else type(error).__name__
        self._leave()

    def _leave(self) -> None:
        """Serve no more. The other threads take the tasks that are left, and the last one to leave answers what nobody
        could judge."""
        with self._lock:
            self._serving -= 1
            is_last = not self._serving
        while is_last and self._left:
            task = self._left.popleft()
            sentence = NOT_STARTED.format(reason=self._reason)
            self._verdicts[task].set_result(LessonResult(task.lesson, task.learner, (), sentence, NO_JUDGE))

    def _serve_tasks(self) -> None:
        """Give one process task after task, and a new process the next ones where it had to be ended."""
        process = None
        try:
            while self._left and not self._over:
                if process is None or process.poll() is not None:
                    process = self._started()  # before a task is taken, which another process may judge meanwhile
                try:
                    task = self._left.popleft()
                except IndexError:
                    break
                try:
                    verdict = self._asked(process, task)
                    if verdict is None and not self._over:  # whatever ended it may have come from outside
                        process = self._started()
                        verdict = self._asked(process, task)
                except BaseException:
                    self._left.appendleft(task)
                    raise
                self._verdicts[task].set_result(
                    verdict or LessonResult(task.lesson, task.learner, (), BROKE_DOWN, BROKE)
                )
        finally:
            if process is not None:
                process.kill()
                process.wait()

    def _started(self) -> subprocess.Popen:
        """A new process that is ready to judge. Raises NoJudge with the reason where there is none."""
        try:
            process = self._started_early() or _new_process(self.log)
        except OSError as error:  # without its file name, which is no learner's business
            raise NoJudge(f"the program does not start: {error.strerror}") from error
        self._processes.add(process)
        with _limited(process, self.start_limit_s) as passed:
            said = _pipes(process)[1].readline(len(_READY))
        if said == _READY and not self._over:
            return process
        process.kill()
        status = process.wait()
        if said:
            raise NoJudge("its process said something else than 'ready'")
        raise NoJudge(
            f"its process was not ready within {self.start_limit_s:g} seconds"
            if passed.is_set()
            else f"its process ended at once, with status {status}"
        )

    def _started_early(self) -> subprocess.Popen | None:
        """A process that was started for this log before, and is still there; None where there is none."""
        with self._lock:
            for one in [one for one in _early if one[0] == str(self.log)]:
                _early.remove(one)
                if one[1].poll() is None:
                    return one[1]
        return None

    def _asked(self, process: subprocess.Popen, task: Task) -> LessonResult | None:
        """Send one task and wait for its verdict, but not for ever. None where the process broke down on it."""
        with _limited(process, PATIENCE * self.time_limit_s) as passed:
            try:
                to_judge, from_judge = _pipes(process)
                pickle.dump((task, self.time_limit_s), to_judge)
                to_judge.flush()
                return pickle.load(from_judge)
            except Exception:  # whatever comes back instead of a verdict, nobody may wait for it for ever
                with suppress(subprocess.TimeoutExpired):  # one that ends itself has a status to read
                    process.wait(2 * LOOK_EVERY_S)
                process.kill()
                process.wait()
        if passed.is_set():
            sentence = TOO_BUSY.format(limit=PATIENCE * self.time_limit_s)
            return LessonResult(task.lesson, task.learner, (), sentence, NO_JUDGE)
        if process.returncode == _OUT_OF_TIME:
            sentence = TOO_LONG.format(limit=self.time_limit_s)
            return LessonResult(task.lesson, task.learner, (), sentence, "too long")
        return None


def _pipes(process: subprocess.Popen) -> tuple[IO[bytes], IO[bytes]]:
    """The pipes to and from a judge's process, which were asked for when it was started."""
    assert process.stdin is not None and process.stdout is not None
    return process.stdin, process.stdout


@contextmanager
def _limited(process: subprocess.Popen, seconds: float) -> Iterator[threading.Event]:
    """Kill a process that goes on for longer, and say so in the event before; kill it, too, where that goes wrong."""
    passed = threading.Event()

    def end() -> None:
        passed.set()
        process.kill()

    late = threading.Timer(seconds, end)
    try:
        late.start()
        yield passed
    except BaseException:
        process.kill()
        process.wait()
        raise
    finally:
        late.cancel()


@contextmanager
def logged_to(path: Path) -> Iterator[None]:
    """Add what graders log as an error, tracebacks too, to a file, which is made when there is something to say."""
    handler = logging.FileHandler(path, encoding="utf-8", errors="backslashreplace", delay=True)
    handler.setLevel(logging.ERROR)
    handler.setFormatter(logging.Formatter("%(asctime)s %(message)s"))
    logger = logging.getLogger("graders")
    logger.addHandler(handler)
    try:
        yield
    finally:
        logger.removeHandler(handler)
        handler.close()


def work() -> None:
    """What each process does: read a task, judge it, write the verdict, until there are no more. The file to log to,
    where there is one, is the first argument of the process."""
    with logged_to(Path(sys.argv[1])) if sys.argv[1:] else nullcontext():
        _work()


def _work() -> None:
    if hasattr(os, "nice"):
        os.nice(_BEHIND)
    verdicts, sys.stdout = sys.stdout.buffer, sys.stderr  # prints must not mix with the verdicts
    try:
        os.write(verdicts.fileno(), _READY)
    except OSError:  # the program that started this one has ended meanwhile
        return
    while True:
        try:
            task, limit_s = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        with _ended_after(limit_s):
            verdict = _judged(task)
        pickle.dump(verdict, verdicts)
        verdicts.flush()


@contextmanager
def _ended_after(seconds: float) -> Iterator[None]:
    """End this process where what is done inside takes more processor time [s]: waiting for a busy computer is free."""
    done, until_s = threading.Event(), time.process_time() + seconds

    def look() -> None:
        while not done.wait(LOOK_EVERY_S):
            if time.process_time() > until_s:
                os._exit(_OUT_OF_TIME)

    threading.Thread(target=look, daemon=True).start()
    try:
        yield
    finally:
        done.set()


def _judged(task: Task) -> LessonResult:
    """Judge one hand-in; an exception becomes a verdict, too."""
    try:
        return judge_lesson(task.lesson, task.evidence, task.engines, task.learner, task.rubrics)
    except Exception as error:
        return LessonResult(task.lesson, task.learner, (), f"{BROKE_DOWN} ({type(error).__name__})", BROKE)
