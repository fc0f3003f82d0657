"""A real room on a machine of its own: see namespace.py. Outside of one these tests are skipped, and say so."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from course.hub.command import run
from course.hub.room import PROGRAM, Room
from course.hub.running import stop
from tests.browser.conftest import browser  # noqa: F401 - a fixture
from tests.hub.namespace import INSIDE, PROXY

LESSON = "l04_base_timing"
ROSTER = "Student ID,First name,Surname\nada,Ada,Moss\nben,Ben,Reed\ncal,Cal,Fern\n"
INSTRUCTOR = "ines"
PATIENCE_MS = 120_000


def pytest_collection_modifyitems(items):
    """Skip what needs such a machine where there is none."""
    for item in items:
        if Path(__file__).parent == Path(item.path).parent and "running" in item.fixturenames:
            item.add_marker(pytest.mark.hub)
            if not os.environ.get(INSIDE):
                item.add_marker(pytest.mark.skip(reason="needs a machine of its own: python -m tests.hub.namespace"))


@dataclass
class Running:
    """The room spring, open, with its people's passwords."""

    room: Room
    browser: object
    pages: dict = field(default_factory=dict)

    @property
    def passwords(self) -> dict[str, str]:
        """What the command wrote down, by account."""
        with (self.room.hub / "passwords.csv").open(encoding="utf-8") as file:
            return {row["account"]: row["password"] for row in csv.DictReader(file)}

    def page(self, who: str):
        """A browser's page in which somebody is logged in."""
        if who not in self.pages:
            page = self.browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
            self.log_in(page, who, self.passwords[who])
            self.pages[who] = page
        return self.pages[who]

    def log_in(self, page, who: str, password: str) -> None:
        """Type name and password, on a page that has patience: a lesson is sent as it is made, on a slow machine for
        longer than half a minute."""
        page.set_default_timeout(PATIENCE_MS)
        page.goto(self.room.here)
        page.fill("#username_input", who)
        page.fill("#password_input", password)
        page.click("#login_submit")

    def hand_out(self, lesson: str = LESSON) -> str:
        """Give out a lesson, as the grader's account."""
        return self.as_account(
            self.room.grader, "-m", "course.hub.class_exchange", self.room.class_folder, "hand-out", lesson
        )

    def collect(self) -> str:
        """Collect, as the grader's account."""
        return self.as_account(self.room.grader, "-m", "course.hub.class_exchange", self.room.class_folder, "collect")

    def as_account(self, who: str, *words: object, home: str = "", **more: str) -> str:
        """What Python says to these words when it is run by an account; its errors, too."""
        from course.hub.configuration import environment

        home = home or (str(self.room.grader_home) if who == self.room.grader else f"/home/{who}")
        done = subprocess.run(
            [sys.executable, *map(str, words)],
            user=who, group=who, extra_groups=[], cwd=home, umask=0o077, text=True, check=False,
            env={**environment(self.room), "HOME": home, "USER": who, "JUPYTERHUB_USER": who, **more},
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        return done.stdout.strip()

    def lesson_of(self, who: str) -> Path:
        """A learner's folder of the lesson."""
        return Path("/home", who, self.room.name, LESSON)


@pytest.fixture(scope="session")
def running_room(browser) -> Iterator[Running]:  # noqa: F811
    """The room, set up from nothing by the command."""
    folder = Path("/srv/spring")
    (folder / "hub").mkdir(parents=True)
    assert (PROXY / PROGRAM).is_file()
    shutil.copytree(PROXY, folder / "hub" / "proxy", symlinks=True)
    roster = Path("/srv/list.csv")
    roster.write_text(ROSTER, encoding="utf-8")
    assert run("start", folder, roster, {"instructors": (INSTRUCTOR,)}) == 0
    yield Running(Room.of(folder), browser)
    assert stop(Room.of(folder))


@pytest.fixture
def running(running_room) -> Iterator[Running]:
    """The room for one test, which gets new pages."""
    yield running_room
    for page in running_room.pages.values():
        page.context.close()
    running_room.pages.clear()
