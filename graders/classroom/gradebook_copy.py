"""A gradebook that is never left half-written: nbgrader writes into a copy, which takes its place in one step."""

from __future__ import annotations

import importlib
import os
import sqlite3
from contextlib import closing
from pathlib import Path
from types import ModuleType
from typing import BinaryIO

from engine_sim import TimingCourseError
from graders.nbgrader_bridge.course_config import PATIENCE_S
from graders.submissions.command_name import command_line

fcntl: ModuleType | None
msvcrt: ModuleType | None
try:
    fcntl, msvcrt = importlib.import_module("fcntl"), None
except ImportError:  # Windows has another way
    fcntl, msvcrt = None, importlib.import_module("msvcrt")

COPY = ".copy"


class GradebookError(TimingCourseError):
    """The gradebook cannot be read or written."""


class OneAtATime:
    """Keeps a second class run out of the folder while one is at work. A context manager; raises GradebookError."""

    def __init__(self, folder: Path):
        self.path = Path(folder) / ".judging.lock"

    def __enter__(self) -> OneAtATime:
        self._file = self.path.open("ab")
        try:
            _lock(self._file)
        except OSError:
            self._file.close()
            raise GradebookError(
                f"Another class run is at work in {self.path.parent}: wait until it is done."
            ) from None
        return self

    def __exit__(self, *_) -> None:
        _unlock(self._file)
        self._file.close()  # gives the lock back, as the end of the program does


def _lock(file: BinaryIO) -> None:
    """Lock a file for this program, or raise OSError at once where another holds it."""
    if fcntl is not None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    elif msvcrt is not None:  # the first byte, which need not be there; everybody must mean the same one
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)


def _unlock(file: BinaryIO) -> None:
    """Give the lock back where closing the file is not certain to."""
    if msvcrt is not None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)


class WorkingCopy:
    """A copy of a SQLite gradebook to work on, beside it, and the step that makes it the gradebook.

    A run that comes to its end leaves the copy under the gradebook's name with COPY after it, in the place of that of
    the run before: the way on where the gradebook is damaged. What a killed run left is removed by the next one.
    Use as a context manager. `take_over` returns False, and fetches a fresh copy, where another program (the marking
    screen) wrote to the gradebook meanwhile: the work on the copy must then be done again. `begin_again` throws away
    what was done to the copy since the last `take_over`. Raises GradebookError where the file cannot be used.
    """

    def __init__(self, gradebook: Path):
        self.gradebook = Path(gradebook)

    def __enter__(self) -> WorkingCopy:
        if not self.gradebook.is_file():
            raise GradebookError(
                f"There is no gradebook {self.gradebook}: make the class with '{command_line('class')}' "
                "or release the lesson with nbgrader first."
            )
        self.path = self.gradebook.with_name(f".{self.gradebook.name}.judging")
        self._remove()
        self._original = sqlite3.connect(self.gradebook, timeout=PATIENCE_S, isolation_level=None)
        try:
            self.begin_again()
        except BaseException:
            self._original.close()
            self._remove()
            raise
        return self

    def __exit__(self, kind: type[BaseException] | None = None, *_) -> None:
        self._original.close()
        if kind is None:
            os.replace(self.path, self.gradebook.with_name(self.gradebook.name + COPY))
        self._remove()

    def _remove(self) -> None:
        """Remove the copy, with the journal of a run that was killed over it."""
        for path in (self.path, self.path.with_name(f"{self.path.name}-journal")):
            path.unlink(missing_ok=True)

    @property
    def url(self) -> str:
        """The copy's address as nbgrader takes it."""
        return f"sqlite:///{self.path}"

    def begin_again(self) -> None:
        """Make the copy equal to the gradebook."""
        self._version = self._data_version()
        self._copy(self._original, self.path)

    def take_over(self) -> bool:
        """Write the whole copy over the gradebook as one transaction."""
        if self._data_version() != self._version:
            self.begin_again()
            return False
        self._copy(self.path, self._original)
        self._version = self._data_version()
        return True

    def _data_version(self) -> int:
        try:
            return self._original.execute("PRAGMA data_version").fetchone()[0]
        except sqlite3.Error as error:
            raise GradebookError(
                f"The gradebook {self.gradebook} cannot be read ({error}): put back the last good "
                "copy of that file and run this again."
            ) from None

    def _copy(self, source, target) -> None:
        try:
            if isinstance(source, Path):
                with closing(sqlite3.connect(source)) as connection:
                    connection.backup(target)
            else:
                with closing(sqlite3.connect(target)) as connection:
                    source.backup(connection)
        except sqlite3.Error as error:
            raise GradebookError(
                f"The gradebook {self.gradebook} cannot be copied or written ({error}): close other "
                "programs that use it and run this again."
            ) from None
