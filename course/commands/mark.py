"""Marking written answers: the marking page, or nbgrader's own screen for whole notebooks, opened in the browser."""

from __future__ import annotations

import getpass
import os
import subprocess
import sys
from pathlib import Path

from graders.classroom.waiting import waiting
from graders.nbgrader_bridge.course_config import CourseFolderError, NbgraderCourse
from graders.submissions.command_name import command_line

SCREEN = "/formgrader/gradebook"


def run(
    folder: Path,
    lesson: str | None = None,
    browser: bool = True,
    port: int = 0,
    marker: str = "",
    by_nbgrader: bool = False,
) -> int:
    """Say what waits for a mark and serve the marking page until it is stopped; return its exit status.

    `marker` is the name of the person who marks, else the name of the login; `by_nbgrader` serves nbgrader's screen.
    """
    course = NbgraderCourse(folder)
    if lesson is not None and lesson not in course.lessons():
        raise CourseFolderError(
            f"There is no lesson '{lesson}' in this class; there are {', '.join(course.lessons())}."
        )
    print("\n".join(in_words(course, lesson)))
    print(f"When you have marked: {command_line(f'give-back {course.typed}')}", flush=True)
    if by_nbgrader:
        return _nbgraders_screen(course, lesson, browser, port)
    from course.marking.server import serve

    return serve(course, marker or getpass.getuser(), lesson, browser, port)


def _nbgraders_screen(course: NbgraderCourse, lesson: str | None, browser: bool, port: int) -> int:
    print("The marking screen opens in your browser; this window must stay open. To stop: press Ctrl+C here, twice.")
    sys.stdout.flush()
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        f"--ServerApp.root_dir={course.root}",
        f"--LabApp.default_url={address(course, lesson)}",
        "--IdentityProvider.cookie_options=path=/",  # the screen's own would not be sent with what it asks for later
        "--log-level=ERROR",
        *([] if browser else ["--no-browser"]),
        *([f"--port={port}"] if port else []),
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # as in a container, where there is no other user
        command.append("--allow-root")
    try:
        return subprocess.call(command, cwd=course.root, env={**os.environ, "PYTHONWARNINGS": "ignore"})
    except KeyboardInterrupt:
        return 0


def address(course: NbgraderCourse, lesson: str | None) -> str:
    """Where on the marking screen the answers of a lesson lie, or the list of lessons."""
    return "/".join((SCREEN, lesson, course.notebooks(lesson)[0])) if lesson else SCREEN


def in_words(course: NbgraderCourse, lesson: str | None = None) -> list[str]:
    """What waits for a mark, a line for each exercise."""
    found = {place: count for place, count in waiting(course).items() if lesson in (None, place[0])}
    if not found:
        return ["Nothing waits for a mark."]
    return [
        "Waits for a mark:",
        *(f"  {count:4d}  {exercise}, {of}" for (of, exercise), count in found.items()),
    ]
