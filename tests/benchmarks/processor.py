"""Processor time of this process and of those that it started and that ended: of a busy machine it says more than the
clock."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Taken:
    """What some work took: seconds by the clock, and processor seconds of all its processes."""

    clock_s: float
    processor_s: float

    def __str__(self) -> str:
        return f"{self.clock_s:.1f} s ({self.processor_s:.1f} processor seconds)"

    def each(self, count: int) -> Taken:
        """The same for one of `count`."""
        return Taken(self.clock_s / count, self.processor_s / count)

    def __add__(self, other: Taken) -> Taken:
        return Taken(self.clock_s + other.clock_s, self.processor_s + other.processor_s)

    def times(self, other: Taken) -> str:
        """How many times as long this took as another work, in words."""
        clock, work = self.clock_s / other.clock_s, self.processor_s / other.processor_s
        return f"{clock:.1f} times as long ({work:.1f} times the work)"


def taken(work: Callable[[], object]) -> Taken:
    """Do the work and say what it took."""
    clock, processor = time.perf_counter(), _processor_s()
    work()
    return Taken(time.perf_counter() - clock, _processor_s() - processor)


def _processor_s() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)
