"""Taking in what comes back: hand-ins are found wherever they lie, also within a school's "download all" archive,
sorted by lesson, and put into submitted/ by nbgrader's own zip_collect.

Whatever is not taken in has its sentence. A hand-in that lies in submitted/ is never replaced by an older one.
"""

from __future__ import annotations

import io
import logging
import os
import re
import shutil
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from nbgrader.apps import ZipCollectApp
from nbgrader.coursedir import CourseDirectory
from nbgrader.utils import parse_utc

from graders.nbgrader_bridge.collect import LARGEST_UNPACKED_BYTES, not_taken_in
from graders.nbgrader_bridge.course_config import CourseFolderError, NbgraderCourse, sound_time
from graders.submissions.folder import EVIDENCE_NAME, TIMESTAMP_NAME, look_at
from graders.submissions.roster import write_whole

from .gradebook_copy import OneAtATime

DOWNLOADED, ARCHIVES, TAKEN_APART = "downloaded", "archive", "taken_apart"
DEEPEST = 3  # archives in an archive for each learner in an archive of all
MOST_MEMBERS = 20_000
NAMED_AS = "LEARNER--LESSON--TIME.zip"
_NAME = re.compile(r".+?--(?P<lesson>l\d\d_\w+?)--\d{8}T\d{6}Z[^/\\]*\.zip$")
_OTHER_ARCHIVES = (".7z", ".rar", ".tar", ".gz", ".tgz", ".bz2", ".xz")
_ASIDE = ".collecting-"
_SHOWN = 4


@dataclass(frozen=True)
class Collected:
    """What came of the archives of one lesson: the folders in submitted/ that are new, those that hold newer work than
    before, and how many are as they were."""

    lesson: str
    new: tuple[str, ...]
    newer: tuple[str, ...]
    unchanged: int


def collect(
    course: NbgraderCourse, sources: Iterable[Path] = (), lesson: str | None = None
) -> tuple[list[Collected], list[str]]:
    """Take in the archives below `sources` and those that lie in downloaded/, of one lesson or of all; return what came
    of each lesson, and a sentence for everything that was left alone. Raises CourseFolderError."""
    lessons = course.lessons()
    if lesson is not None and lesson not in lessons:
        raise CourseFolderError(f"There is no lesson '{lesson}' in this class; there are {', '.join(lessons)}.")
    with OneAtATime(course.root):
        return _collect(course, sources, lesson, lessons)


def _collect(
    course: NbgraderCourse, sources: Iterable[Path], lesson: str | None, lessons: list[str]
) -> tuple[list[Collected], list[str]]:
    sorting = _Sorting(course.root / DOWNLOADED, lessons, lesson)
    for source in sources:
        if not source.exists():
            raise CourseFolderError(f"There is no file or folder {source}: name the archive, or the folder it lies in.")
        sorting.look_through(source)
    sorting.look_through_downloaded()
    found = []
    for name in [lesson] if lesson else lessons:
        if any((course.root / DOWNLOADED / name / ARCHIVES).glob("*")):
            found.append(_collected(course, name, sorting.left))
    left_by_nbgrader = [line for line in not_taken_in(course.root) if not lesson or line.startswith(f"{lesson},")]
    return found, [*sorting.left, *left_by_nbgrader]


class _Sorting:
    """Puts each archive into downloaded/LESSON/archive/. `left` has a sentence for each file that is none."""

    def __init__(self, downloaded: Path, lessons: list[str], wanted: str | None):
        self.downloaded, self.lessons, self.wanted = downloaded, lessons, wanted
        self.left: list[str] = []

    def look_through(self, source: Path) -> None:
        """File the archives in a folder and all below it, or one archive."""
        for path in _files_in(source):
            if path.suffix.lower() == ".zip":
                self._file(path)
            elif path.suffix.lower() in _OTHER_ARCHIVES:
                self.left.append(f"{path.name} is no zip archive: unpack it, and collect the archives that were in it.")
            elif path.name == EVIDENCE_NAME:
                self.left.append(
                    f"{path} lies in a folder and in no archive: ask for the archive, or copy the lesson's whole "
                    "folder to submitted/ID/LESSON."
                )

    def look_through_downloaded(self) -> None:
        """What an instructor put there: an archive of another lesson goes to that lesson, and one of archives is taken
        apart and put beside them, where nbgrader does not come upon it."""
        for path in sorted(self.downloaded.glob("*.zip")):
            self._file(path)
        for path in sorted(self.downloaded.glob(f"*/{ARCHIVES}/*.zip")):
            if path.is_symlink() or not path.is_file():
                continue  # nbgrader's collector says so
            named, lesson = _NAME.match(path.name), path.parent.parent.name
            if named and named["lesson"] != lesson and named["lesson"] in self.lessons and self._file(path):
                path.unlink()
            elif not named and _holds_archives(path) and self._file(path):
                aside = path.parent.parent / TAKEN_APART
                aside.mkdir(exist_ok=True)
                os.replace(path, aside / path.name)

    def _file(self, path: Path) -> bool:
        """File what one archive is or holds; return whether anything was."""
        if _NAME.match(path.name):
            if path.stat().st_size > LARGEST_UNPACKED_BYTES:
                self.left.append(f"{path.name} is larger than a hand-in ever is: ask for the archive once more.")
                return False
            return self._put(path.name, path.read_bytes())
        return self._take_apart(path.name, path, DEEPEST)

    def _take_apart(self, name: str, file: Path | io.BytesIO, depth: int) -> bool:
        others, filed = [], False
        try:
            with zipfile.ZipFile(file) as archive:
                members = [member for member in archive.infolist() if not member.is_dir()]
                if any(Path(member.filename).name == EVIDENCE_NAME for member in members):
                    self.left.append(
                        f"{name} holds a hand-in and is not named {NAMED_AS}: give it back the name that it had when "
                        "it was handed in."
                    )
                    return False
                for member in members[:MOST_MEMBERS]:
                    inner = re.split(r"[/\\]", member.filename)[-1]
                    if not inner.lower().endswith(".zip"):
                        others.append(member.filename)
                    elif member.file_size > LARGEST_UNPACKED_BYTES or depth == 0:
                        self.left.append(
                            f"{name}: {member.filename} is too large or too deep in it: unpack it by hand."
                        )
                    else:
                        with archive.open(member) as stream:
                            content = stream.read(LARGEST_UNPACKED_BYTES)
                        is_filed = (
                            self._put(inner, content)
                            if _NAME.match(inner)
                            else self._take_apart(f"{name}: {member.filename}", io.BytesIO(content), depth - 1)
                        )
                        filed = filed or is_filed
        except Exception as error:  # a damaged archive raises what its method of packing raises
            self.left.append(f"{name} cannot be read ({str(error) or type(error).__name__}): download it again.")
            return False
        if others or not filed:
            shown = ", ".join(others[:_SHOWN]) + (f" and {len(others) - _SHOWN} more" if len(others) > _SHOWN else "")
            self.left.append(
                f"{name}: left out, because no archive of a hand-in: {shown}."
                if others
                else f"{name} holds no hand-in."
            )
        return filed

    def _put(self, name: str, content: bytes) -> bool:
        lesson = _NAME.match(name)["lesson"]  # type: ignore[index] # who calls has looked
        if lesson not in self.lessons:
            self.left.append(f"{name} is of lesson {lesson}, which this class does not have.")
            return False
        if self.wanted and lesson != self.wanted:
            return False
        folder = self.downloaded / lesson / ARCHIVES
        folder.mkdir(parents=True, exist_ok=True)
        path, number = folder / name, 2
        while path.exists() and path.read_bytes() != content:
            path, number = folder / f"{name[:-4]}-{number}.zip", number + 1
        if not path.exists():
            write_whole(path, content)
        return True


def _files_in(source: Path) -> Iterator[Path]:
    """The plain files of a folder and of all below it; links are not followed."""
    if source.is_file():
        yield source
        return
    for parent, folders, files in os.walk(source):
        folders.sort()
        for name in sorted(files):
            path = Path(parent) / name
            if path.is_file() and not path.is_symlink():
                yield path


def _holds_archives(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as archive:
            return any(member.filename.lower().endswith(".zip") for member in archive.infolist()[:MOST_MEMBERS])
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return False


# ---- nbgrader's zip_collect, with what lay in submitted/ kept safe ---------------------------------------------------


def _collected(course: NbgraderCourse, lesson: str, left: list[str]) -> Collected:
    submitted = course.root / course.directory.submitted_directory
    with _set_aside(course.root, submitted, lesson) as before:
        _zip_collect(course, lesson)
        kinds: dict[str, list[str]] = {"new": [], "newer": [], "same": []}
        for folder in sorted(submitted.glob(f"*/{lesson}")):
            earlier = before / folder.parent.name / lesson
            if not earlier.is_dir():
                kinds["new"].append(folder.parent.name)
            elif _digest(before, earlier) == _digest(submitted, folder):
                kinds["same"].append(folder.parent.name)
            elif _time(earlier) > _time(folder):
                shutil.rmtree(folder)  # and what was set aside comes back
                left.append(
                    f"{folder.parent.name}, {lesson}: the work in submitted/ is newer than the archive in "
                    f"{DOWNLOADED}/{lesson}/{ARCHIVES}/ and was kept."
                )
            else:
                kinds["newer"].append(folder.parent.name)
    return Collected(lesson, tuple(kinds["new"]), tuple(kinds["newer"]), len(kinds["same"]))


def _digest(root: Path, folder: Path) -> str:
    return look_at(root.parent, root.name, folder.parent.name, folder.name).digest()


def _time(folder: Path) -> float:
    """When the work in a folder was handed in [s since 1970]; 0 where nothing says so."""
    text = sound_time(folder / TIMESTAMP_NAME)
    return parse_utc(text).timestamp() if text else 0.0


@contextmanager
def _set_aside(root: Path, submitted: Path, lesson: str) -> Iterator[Path]:
    """Put the hand-ins of a lesson aside while nbgrader collects, and put back each one that has no successor then; so
    does the next collection where this one was killed."""
    submitted.mkdir(exist_ok=True)
    for left in root.glob(f"{_ASIDE}*"):
        _put_back(left, submitted)
    aside = Path(tempfile.mkdtemp(prefix=_ASIDE, dir=root))
    try:
        for folder in sorted(submitted.glob(f"*/{lesson}")):
            if folder.is_dir() and not folder.is_symlink() and not folder.parent.is_symlink():
                (aside / folder.parent.name).mkdir(exist_ok=True)
                os.replace(folder, aside / folder.parent.name / lesson)
        yield aside
    finally:
        _put_back(aside, submitted)


def _put_back(aside: Path, submitted: Path) -> None:
    for folder in sorted(aside.glob("*/*")):
        place = submitted / folder.parent.name / folder.name
        if not place.exists():
            place.parent.mkdir(exist_ok=True)
            os.replace(folder, place)
    shutil.rmtree(aside)


class _QuietCollection(ZipCollectApp):
    """nbgrader's own, which says nothing but why it cannot go on, and does not end the program for that."""

    def fail(self, msg: str, *args: object) -> NoReturn:
        """Raise CourseFolderError with what nbgrader says."""
        raise CourseFolderError(f"nbgrader could not collect {self.coursedir.assignment_id}: {msg % args}")


def _zip_collect(course: NbgraderCourse, lesson: str) -> None:
    app = _QuietCollection(config=course.config, force=True, log_level=logging.CRITICAL)
    app.coursedir = CourseDirectory(config=course.config)
    app.coursedir.root, app.coursedir.assignment_id = str(course.root), lesson
    app.init_plugins()
    app.extract_archive_files()
    app.process_extracted_files()
