"""A learner's side of the exchange: lessons that were handed out, a hand-in by nbgrader, and pages that came back.

`python -m course.hub.handing_in LESSON` hands in; without a lesson it fetches what came back. It runs as a process of
its own, so that nobody's lesson carries nbgrader along.
"""

from __future__ import annotations

import contextlib
import logging
import os
import shutil
import sys
from pathlib import Path
from typing import Any

from course.learner.at_a_hub import CLASS, EXCHANGE
from engine_sim import TimingCourseError

from .room import outbound

FULL = "The place where hand-ins are collected is full"


class ExchangeTrouble(TimingCourseError):
    """Something could not be handed in or fetched; the text is for the learner."""


def hand_in(home: Path, lesson: str) -> str:
    """Hand in one lesson; return a sentence with the time. Raises ExchangeTrouble; then nothing was handed in."""
    from nbgrader.exchange import ExchangeError
    from nbgrader.exchange.default import ExchangeSubmit

    if not (outbound(Path(os.environ[EXCHANGE]), os.environ[CLASS]) / lesson).is_dir():
        raise ExchangeTrouble(
            f"Your class has not handed out {lesson}, so nobody collects it. Your work is kept: ask your instructor."
        )
    submit = exchange_step(ExchangeSubmit, home, lesson)
    try:
        submit.start()
    except ExchangeError as error:
        raise ExchangeTrouble(
            f"This lesson could not be handed in ({error}). Your work is kept: tell your instructor."
        ) from None
    except (OSError, RuntimeError, shutil.Error) as error:
        _take_back(submit)
        why = FULL if "No space left" in str(error) or "quota" in str(error) else f"Nothing was handed in ({error})"
        raise ExchangeTrouble(
            f"{why}. Nothing of yours is lost, and what you handed in before stands. Tell your instructor, and press "
            "the button again."
        ) from None
    return f"Handed in: {lesson}, {submit.timestamp.partition('.')[0]} UTC. The newest one counts."


def _take_back(submit) -> None:
    """Leave no half of a hand-in behind."""
    name = getattr(submit, "assignment_filename", "")
    if name:
        shutil.rmtree(Path(submit.inbound_path) / name, ignore_errors=True)
        shutil.rmtree(Path(submit.cache_path) / name.rsplit("+", 1)[0], ignore_errors=True)


def fetch_pages(home: Path) -> None:
    """Fetch all pages that the instructor gave back, lesson by lesson, into `feedback/` beside the notebook."""
    from nbgrader.exchange import ExchangeError
    from nbgrader.exchange.default import ExchangeFetchFeedback

    for lesson in sorted((home / os.environ[CLASS]).glob("l*/")):
        with contextlib.suppress(ExchangeError, OSError):  # nothing was given back yet, or it cannot be read today
            exchange_step(ExchangeFetchFeedback, home, lesson.name).start()


def exchange_step(kind: type, home: Path, lesson: str) -> Any:
    """One of nbgrader's steps, of the class `kind`, for a lesson in a learner's home; it says nothing by itself."""
    from nbgrader.auth import Authenticator
    from nbgrader.coursedir import CourseDirectory

    directory = CourseDirectory()
    directory.course_id, directory.assignment_id = os.environ[CLASS], lesson
    step = kind(coursedir=directory, authenticator=Authenticator())
    step.log = logging.getLogger("quiet")
    step.log.addHandler(logging.NullHandler())
    step.log.propagate = False
    step.root, step.path_includes_course, step.assignment_dir = os.environ[EXCHANGE], True, str(home)
    step.cache = str(home / os.environ[CLASS] / ".handed_in")
    return step


def main(arguments: list[str]) -> int:
    """Hand in the lesson that is named, or fetch pages."""
    os.umask(0o077)
    home = Path.home()
    if not arguments:
        fetch_pages(home)
        return 0
    try:
        print(hand_in(home, arguments[0]))
    except TimingCourseError as error:
        print(error)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
