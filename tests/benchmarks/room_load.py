"""`python -m tests.benchmarks.room_load [LEARNERS ...]`: learners at work at once, each with a server and a page of the
own, and how long a key waits for its needle.

A learner here is a page without a browser (page_alone.py): the lesson is opened, the engine started, and every few
seconds the distributor is turned by a quarter of a degree; what is timed is from that message to the one that brings
settings and readings. So the browser's own share (drawing the needle) is left out, and so are login and proxy of a hub.
Servers, programs behind the pages and the generator share the machine's processors, as no real room does; what the
generator takes of them is printed, to be subtracted. It prints, and never judges.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from course.commands.start import lay_out
from tests.benchmarks.page_alone import PageAlone
from tests.benchmarks.processes import family, seen
from tests.tiers import ROOT

LESSON = "l04_base_timing"
SIZES = (5, 10, 20, 30, 40)
WORKED_S = 60.0
PAUSE_S = 4.0  # between two turns of one learner, on average
AT_A_TIME = 3  # learners who open their page at once, as a hub lets servers start
STARTS_WITHIN_S = 120.0
# As a room has it (course/hub/configuration.py): a learner's program is one of many.
ONE_OF_MANY = {
    "MALLOC_ARENA_MAX": "2",
    **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"),
}


@dataclass(frozen=True)
class Load:
    """What was measured with so many learners: waits [s], shares of one processor, memory a learner [MB]."""

    learners: int
    waits_s: Sequence[float]
    working: float
    resting: float
    generator: float
    memory_mb: float
    frames_at_rest: int

    def __str__(self) -> str:
        waits = sorted(self.waits_s)
        median, most = (1000.0 * waits[int(share * (len(waits) - 1))] for share in (0.5, 0.95))
        return (
            f"| {self.learners} | {len(waits)} | {median:.0f} ms | {most:.0f} ms | {100 * self.working:.0f} % "
            f"| {100 * self.working / self.learners:.1f} % | {100 * self.resting / self.learners:.2f} % "
            f"| {100 * self.generator:.0f} % | {self.memory_mb:.0f} MB | {self.frames_at_rest} |"
        )


HEADING = (
    "| learners | turns | median | 95 of 100 | all programs | each | each, engine stopped | generator | memory each "
    "| messages at rest |\n|---|---|---|---|---|---|---|---|---|---|"
)


def server(folder: Path) -> tuple[subprocess.Popen, PageAlone]:
    """Serve plain pages over a folder with one lesson; the program, and the page that will be opened."""
    lay_out(folder, folder.name)
    token = os.urandom(16).hex()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "course.jupyter.plain_page", str(folder), "--no-browser"]
    process = subprocess.Popen(
        [*command, f"--port={port}", f"--Voila.token={token}"],
        cwd=ROOT,
        env={**os.environ, **ONE_OF_MANY},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    until = time.monotonic() + STARTS_WITHIN_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), 1.0).close()
            break
        except OSError:
            if process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(f"no server over {folder}") from None
            time.sleep(0.2)
    return process, PageAlone(f"http://127.0.0.1:{port}/", token=token)


async def at_work(pages: Sequence[PageAlone], programs: Callable[[], list[int]], seconds: float) -> Load:
    """Have these pages work for so long, and then rest; `programs()` are those behind them."""
    turns = asyncio.Semaphore(AT_A_TIME)

    async def opens(page: PageAlone) -> None:
        async with turns:
            await page.open(LESSON)
            await page.start_engine()

    await asyncio.gather(*map(opens, pages))
    await asyncio.sleep(10.0)  # until every engine idles evenly

    async def works(page: PageAlone, draws: random.Random) -> None:
        until, by = time.monotonic() + seconds, 0.25
        await asyncio.sleep(draws.uniform(0.0, PAUSE_S))
        while time.monotonic() < until:
            await page.turn(by)
            by = -by
            await asyncio.sleep(draws.uniform(0.5, 1.5) * PAUSE_S)

    for page in pages:
        page.waits_s.clear()
    before, own, began = seen(programs()), seen([os.getpid()]), time.monotonic()
    await asyncio.gather(*(works(page, random.Random(number)) for number, page in enumerate(pages)))
    after, own_after, worked_s = seen(programs()), seen([os.getpid()]), time.monotonic() - began
    for page in pages:
        await page.stop_engine()
    await asyncio.sleep(12.0)  # the needles come to rest
    for page in pages:
        page.frames = 0
    rests, began = seen(programs()), time.monotonic()
    await asyncio.sleep(seconds / 2.0)
    rested, rested_s = seen(programs()), time.monotonic() - began
    frames = sum(page.frames for page in pages)
    for page in pages:
        await page.close()
    return Load(
        len(pages),
        [wait for page in pages for wait in page.waits_s],
        (after.processor_s - before.processor_s) / worked_s,
        (rested.processor_s - rests.processor_s) / rested_s,
        (own_after.processor_s - own.processor_s) / worked_s,
        after.memory_mb / len(pages),
        frames,
    )


def load_of(learners: int, seconds: float = WORKED_S) -> Load:
    """So many learners on servers of their own."""
    with ExitStack() as open_:
        place = Path(open_.enter_context(tempfile.TemporaryDirectory()))
        running = []
        for number in range(learners):
            process, page = server(place / f"learner{number:02d}")
            open_.callback(process.wait)
            open_.callback(process.terminate)
            running.append((process.pid, page))
        started = [pid for pid, _ in running]
        programs = lambda: [one for pid in started for one in family(pid)]  # noqa: E731
        return asyncio.run(at_work([page for _, page in running], programs, seconds))


def main(given: Sequence[str] | None = None) -> None:
    """Print a line for each number of learners."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.room_load", description=__doc__)
    parser.add_argument("learners", nargs="*", type=int, default=SIZES)
    parser.add_argument("--seconds", type=float, default=WORKED_S, help="how long they work [s]")
    asked = parser.parse_args(given)
    print(HEADING)
    for learners in asked.learners:
        print(load_of(learners, asked.seconds), f"load of the machine {os.getloadavg()[0]:.1f}", flush=True)


if __name__ == "__main__":
    main()
