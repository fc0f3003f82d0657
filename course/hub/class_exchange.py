"""The grader's side of the exchange: lessons out, hand-ins in, pages back, all by nbgrader; what claims to be somebody
else's is refused first.

`python -m course.hub.class_exchange CLASS hand-out [LESSON] | collect | give-back` does one of the three.
"""

from __future__ import annotations

import logging
import os
import pwd
import shutil
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from nbgrader.auth import Authenticator
from nbgrader.coursedir import CourseDirectory
from nbgrader.exchange import ExchangeError
from nbgrader.exchange.default import ExchangeCollect, ExchangeReleaseAssignment, ExchangeReleaseFeedback
from nbgrader.utils import parse_utc

from course.learner.at_a_hub import EXCHANGE
from engine_sim import LARGEST_FILE_BYTES, TimingCourseError
from graders.classroom.gradebook_copy import OneAtATime
from graders.classroom.run import JUDGED, NEEDS_PERSON, Classroom
from graders.nbgrader_bridge.course_config import CourseFolderError, NbgraderCourse
from graders.submissions.folder import EVIDENCE_NAME, SECRET_NAME, TIMESTAMP_NAME, printable

ONE_ACCOUNT = "TIMING_COURSE_ONE_ACCOUNT"  # set where every learner's programs run under the same account, as in pods
REFUSED = ".refused-"
CLOCKS_DIFFER = timedelta(minutes=5)
TIME_FORMAT = "%Y-%m-%d %H:%M:%S.%f UTC"  # as nbgrader writes it


@dataclass(frozen=True)
class RoomClass:
    """A class and the exchange of its room."""

    course: NbgraderCourse
    exchange: Path

    @classmethod
    def of(cls, folder: Path) -> RoomClass:
        """The class in `folder`, at the exchange that the environment names."""
        return cls(NbgraderCourse(folder), Path(os.environ[EXCHANGE]))

    @property
    def name(self) -> str:
        """The name of the class."""
        return self.course.directory.course_id

    @property
    def inbound(self) -> Path:
        """Where hand-ins arrive."""
        return self.exchange / self.name / "inbound"

    def handed_out(self) -> set[str]:
        """The lessons that learners have."""
        return {path.name for path in (self.exchange / self.name / "outbound").glob("*/")}

    def waiting(self) -> dict[str, int]:
        """How many hand-ins of each lesson lie in the exchange, those that were collected among them."""
        counts: dict[str, int] = {}
        for path in self.inbound.glob("[!.]*+*+*"):
            lesson = path.name.split("+")[1]
            counts[lesson] = counts.get(lesson, 0) + 1
        return counts

    def hand_out(self, lesson: str) -> str:
        """Give a lesson to the learners, or today's edition of it; return a sentence."""
        if lesson not in self.course.lessons():
            raise CourseFolderError(f"There is no lesson '{lesson}' in this class.")
        step = self._step(ExchangeReleaseAssignment, lesson)
        step.force = True
        _start(step)
        return f"{lesson} is handed out: learners find it when they load their home page."

    def collect(self) -> list[str]:
        """Take in what was handed in, by its owners alone; return sentences about everything that was left alone."""
        with OneAtATime(self.course.root):
            left = refuse_what_is_not_its_owners(self.inbound)
            for lesson in sorted(self.handed_out() & set(self.course.lessons())):
                step = self._step(_StrictCollect, lesson)
                step.update = True
                _start(step)
        return left

    def give_back(self) -> list[str]:
        """Make the pages that are not up to date, and put all into the exchange; return sentences."""
        room = Classroom(self.course.root)
        standings = [one for one in room.standing() if one.status in (JUDGED, NEEDS_PERSON)]
        failures = room.feedback(standings)
        for lesson in sorted({one.lesson for one in standings}):
            _start(self._step(ExchangeReleaseFeedback, lesson))
        count = len({one.learner for one in standings})
        return [*failures, f"{count} learner(s) find their pages when they load their home page."]

    def _step(self, kind, lesson: str):
        directory = CourseDirectory(config=self.course.config)
        directory.root, directory.assignment_id = str(self.course.root), lesson
        step = kind(coursedir=directory, authenticator=Authenticator(), config=self.course.config)
        step.root = str(self.exchange)
        return step


class _StrictCollect(ExchangeCollect):
    """nbgrader's own, which takes the files of a hand-in and nothing else, and follows no link."""

    def do_copy(self, src: str, dest: str, log: object = None) -> None:
        """Copy a hand-in's own files; its time is the one in its name, which was looked at."""
        wanted = {f"{self.coursedir.assignment_id}.ipynb", EVIDENCE_NAME, "class.toml", SECRET_NAME}
        os.makedirs(dest)
        Path(dest, TIMESTAMP_NAME).write_text(_stamp_of(Path(src)), encoding="utf-8")
        for name in sorted(wanted & set(os.listdir(src))):
            with _opened(os.path.join(src, name)) as file:
                if file is not None:
                    with open(os.path.join(dest, name), "wb") as copy:
                        shutil.copyfileobj(file, copy)


@contextmanager
def _opened(path: str) -> Iterator:
    """A plain file that is no larger than a hand-in's may be; None for anything else."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except OSError:
        yield None
        return
    with os.fdopen(handle, "rb") as file:
        found = os.fstat(file.fileno())
        yield file if stat.S_ISREG(found.st_mode) and found.st_size <= LARGEST_FILE_BYTES else None


def refuse_what_is_not_its_owners(inbound: Path) -> list[str]:
    """Put aside every hand-in whose name is not its owner's, so that nbgrader does not come upon it; return a sentence
    for each. What is still being written is left for the next time. A hand-in with a time to come would count before
    all that follow: it gets the time at which it was made."""
    left, by_owner = [], not os.environ.get(ONE_ACCOUNT)
    if not by_owner:
        left.append(
            "All hand-ins in this exchange belong to one account, so whose they are was taken from their names."
        )
    for path in sorted(inbound.glob("[!.]*")):
        owner, claimed = _owner(path), path.name.partition("+")[0]
        if path.name.count("+") < 2 or path.is_symlink() or not path.is_dir() or (by_owner and owner != claimed):
            left.append(
                f"A hand-in under the name '{claimed}' was made by the account '{owner}' and was refused: talk to them."
            )
            os.replace(path, path.with_name(f"{REFUSED}{path.name}"))
        elif not (path / SECRET_NAME).is_file():  # the last that nbgrader writes
            left.append(f"A hand-in of '{claimed}' is not whole yet and was left for the next time.")
        else:
            left += _put_in_its_time(path, claimed)
    return list(map(printable, left))


def _stamp_of(path: Path) -> str:
    return path.name.split("+")[2]


def _put_in_its_time(path: Path, claimed: str) -> list[str]:
    """Correct the time in the name of a hand-in that has none, or one to come; a sentence where that was so."""
    now, stamp = datetime.now(UTC), _stamp_of(path)
    try:
        told = parse_utc(stamp).replace(tzinfo=UTC)
        if told <= now + CLOCKS_DIFFER:
            return []
    except (ValueError, OverflowError):
        pass
    made = min(datetime.fromtimestamp(path.lstat().st_mtime, UTC), now).strftime(TIME_FORMAT)
    parts = path.name.split("+")
    os.replace(path, path.with_name("+".join([*parts[:2], made, *parts[3:]])))
    return [
        f"A hand-in of '{claimed}' says that it is of {stamp}, which is no time or still to come: it counts as of "
        f"{made}, when it was made. See that this machine's clock is right, or talk to them."
    ]


def _owner(path: Path) -> str:
    uid = path.lstat().st_uid
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return f"number {uid}"


def _start(step) -> None:
    step.log = logging.getLogger("exchange")
    step.log.propagate = False
    step.log.addHandler(logging.NullHandler())
    try:
        step.start()
    except (ExchangeError, OSError, shutil.Error) as error:
        raise CourseFolderError(
            f"The exchange could not be used ({error}): is its disk full, and does it belong to this account? "
            "'hub check' says what is wrong. Nothing was lost."
        ) from None


def main(arguments: list[str]) -> int:
    """Do one of the three, and say what came of it."""
    try:
        room = RoomClass.of(Path(arguments[0]))
        if arguments[1] == "hand-out":
            print("\n".join(map(room.hand_out, arguments[2:] or sorted(room.course.lessons()))))
        else:
            print("\n".join(room.collect() if arguments[1] == "collect" else room.give_back()))
    except TimingCourseError as error:
        print(error)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
