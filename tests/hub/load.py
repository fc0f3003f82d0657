"""`python -m tests.hub.namespace python -m tests.hub.load [LEARNERS ...]`: a real room with so many learners at work at
once, through its proxy and its login, on a machine of its own; it prints what tests/benchmarks/room_load.py prints.

Memory and processor are those of learners' programs; what hub, proxy and desk take stands below the table.
"""

from __future__ import annotations

import argparse
import asyncio
import csv
import os
import pwd
import re
import shutil
import sys
import time
import urllib.parse
import urllib.request
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from http.cookiejar import CookieJar
from pathlib import Path

from course.hub.command import run
from course.hub.room import Room
from course.hub.running import stop
from tests.benchmarks.page_alone import PageAlone
from tests.benchmarks.processes import seen
from tests.benchmarks.room_load import AT_A_TIME, HEADING, LESSON, WORKED_S, at_work
from tests.hub.conftest import INSTRUCTOR, Running
from tests.hub.namespace import INSIDE, PROXY

FORGERY = re.compile(r'name="_xsrf" value="([^"]+)"')
SERVES_WITHIN_S = 180.0


def let_in(room: Room, who: str, password: str) -> PageAlone:
    """Log somebody in, wait for the server, and return a page that may come in there."""
    jar = CookieJar()
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    login = f"{room.here}hub/login"
    forgery = FORGERY.search(browser.open(login, timeout=60).read().decode())
    assert forgery is not None, "the page of the login has no token against forgery"
    form = {"username": who, "password": password, "_xsrf": forgery[1]}
    browser.open(login, urllib.parse.urlencode(form).encode(), timeout=60)
    base, until = f"{room.here}user/{who}/", time.monotonic() + SERVES_WITHIN_S
    while True:
        try:
            if urllib.parse.urlparse(browser.open(base, timeout=60).url).path == f"/user/{who}/":
                break
        except OSError:  # it is on its way
            pass
        if time.monotonic() > until:
            raise RuntimeError(f"no server for {who}")
        time.sleep(1.0)
    request = urllib.request.Request(base)
    jar.add_cookie_header(request)
    return PageAlone(base, cookie=request.get_header("Cookie") or "")


def programs_of(accounts: Sequence[str]) -> list[int]:
    """The programs that run under these accounts."""
    uids = {pwd.getpwnam(name).pw_uid for name in accounts}
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            if place.stat().st_uid in uids or _really(place) in uids:
                found.append(int(place.name))
        except (OSError, IndexError):  # it has ended
            continue
    return found


def _really(place: Path) -> int:
    """Whose a program is, though it began as the superuser's."""
    return int((place / "status").read_text().partition("\nUid:")[2].split()[0])


def main(given: Sequence[str] | None = None) -> None:
    """Print a line for each number of learners."""
    parser = argparse.ArgumentParser(prog="python -m tests.hub.load", description=__doc__)
    parser.add_argument("learners", nargs="*", type=int, default=(5, 10, 20, 30, 40))
    parser.add_argument("--seconds", type=float, default=WORKED_S, help="how long they work [s]")
    asked = parser.parse_args(given)
    if not os.environ.get(INSIDE):
        sys.exit("This opens a room: run it on a machine of its own, by python -m tests.hub.namespace.")
    names = [f"learner{number:02d}" for number in range(max(asked.learners))]
    folder, roster = Path("/srv/spring"), Path("/srv/list.csv")
    shutil.copytree(PROXY, folder / "hub" / "proxy", symlinks=True)
    with roster.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([("id", "first_name", "last_name"), *((name, name, "Fern") for name in names)])
    assert run("start", folder, roster, {"instructors": (INSTRUCTOR,)}) == 0
    running = Running(Room.of(folder), None)
    running.hand_out(LESSON)
    passwords = running.passwords
    room = [pid for pid in map(int, (one.name for one in Path("/proc").glob("[0-9]*"))) if pid not in (1, os.getpid())]
    try:
        print(HEADING)
        for learners in asked.learners:
            with ThreadPoolExecutor(AT_A_TIME) as several:
                came = several.map(lambda name: let_in(running.room, name, passwords[name]), names[:learners])
                pages = list(came)
            before, began = seen(room), time.monotonic()
            print(asyncio.run(at_work(pages, lambda: programs_of(names), asked.seconds)), flush=True)
            after = seen(room)
            share = (after.processor_s - before.processor_s) / (time.monotonic() - began)
            print(f"hub, proxy and desk: {100 * share:.0f} % of a processor, {after.memory_mb:.0f} MB", flush=True)
    finally:
        stop(running.room)


if __name__ == "__main__":
    main()
