"""The clock of a running engine: it steps while somebody watches and ends by itself when nobody does."""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections.abc import Callable

STEP_S = 0.06  # three ticks; a needle takes 0.1 s for its way on the page (bench.css), so more could not be seen
LONGEST_STEP_S = 0.25
AT_REST_S = 5.0  # between two steps where nothing but the time changes
WATCHED_FOR_S = 120.0
RESTS_FOR_S = 600.0  # a page at rest sends no heartbeat: so long its time passes all the same, and then it waits


class EngineClock:
    """Call `step(elapsed_s)` every `STEP_S` seconds from the first heartbeat of a browser on, and every `AT_REST_S`
    while `at_rest()`; a heartbeat, which comes with every act, ends such a pause at once.

    When no heartbeat came for `WATCHED_FOR_S` seconds, at rest for `RESTS_FOR_S`, `abandoned()` is called once and the
    clock stands until the next heartbeat; otherwise an open engine would keep its kernel from ever being culled.
    Heartbeats may come on any thread. Made outside an event loop the clock never steps by itself; a test calls what
    it needs.
    """

    def __init__(
        self,
        step: Callable[[float], None],
        abandoned: Callable[[], None],
        now: Callable[[], float] = time.monotonic,
        at_rest: Callable[[], bool] = lambda: False,
    ):
        self._step, self._abandoned, self._now, self._at_rest = step, abandoned, now, at_rest
        self._heard = float("-inf")
        self._task: asyncio.Task | None = None
        self._closed, self._woken = False, asyncio.Event()
        self._stepped_until, self._turn = self._now(), threading.Lock()
        try:
            self._loop: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            self._loop = None

    @property
    def watched(self) -> bool:
        """Whether a browser showed itself lately."""
        patience_s = RESTS_FOR_S if self._at_rest() else WATCHED_FOR_S
        return not self._closed and self._now() - self._heard <= patience_s

    @property
    def running(self) -> bool:
        """Whether the clock steps by itself at present."""
        return self._task is not None and not self._task.done()

    def heartbeat(self) -> None:
        """Note that somebody watches; start the clock where it rests."""
        self._heard = self._now()
        if self._loop is not None and not self.running:
            self._loop.call_soon_threadsafe(self._start)
        self.wake()

    def wake(self) -> None:
        """End a pause: something was done, and the engine may move."""
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._woken.set)

    def elapsed_s(self, at_least_s: float = 0.0) -> float:
        """Time [s] that the engine has to be given, counted from when this was last asked. What goes beyond the real
        time, to make up `at_least_s`, is taken off the next answer. Any thread may ask."""
        with self._turn:
            due = self._now() - self._stepped_until
            # A long pause (another cell ran, the lid was shut) is not caught up with: the engine waited.
            given = min(max(due, at_least_s), AT_REST_S if self._at_rest() else LONGEST_STEP_S)
            self._stepped_until += max(due, given)
            return max(given, 0.0)

    def close(self) -> None:
        """Stop for good."""
        self._closed = True

    def _start(self) -> None:
        if not self.running and not self._closed:
            self._task = self._loop.create_task(self._run())

    async def _run(self) -> None:
        self._stepped_until = self._now()
        while self.watched:
            await self._pause()
            self._step(self.elapsed_s())
        if not self._closed:
            self._abandoned()

    async def _pause(self) -> None:
        await asyncio.sleep(STEP_S)
        if self._at_rest():
            self._woken.clear()
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._woken.wait(), AT_REST_S - STEP_S)
