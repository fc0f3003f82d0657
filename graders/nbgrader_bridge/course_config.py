"""A class folder as nbgrader sees it: its configuration, its lessons and grades, and nbgrader's three conversions."""

from __future__ import annotations

import logging
import os
import shlex
import sqlite3
import sys
import warnings
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from nbgrader.api import (
    Assignment,
    BaseCell,
    Comment,
    Grade,
    Gradebook,
    SubmittedAssignment,
    SubmittedNotebook,
)
from nbgrader.converters import Autograde, GenerateAssignment, GenerateFeedback
from nbgrader.converters.base import NbGraderException
from nbgrader.coursedir import CourseDirectory
from nbgrader.utils import parse_utc
from sqlalchemy import bindparam, event, select
from sqlalchemy.engine import Engine, make_url
from sqlalchemy.exc import DatabaseError, SAWarning
from traitlets.config import Config
from traitlets.config.loader import PyFileConfigLoader

from engine_sim import TimingCourseError
from graders.submissions.command_name import command_line
from graders.submissions.folder import name_problem

from .lateness import IN_TIME, Lateness, lateness

CONFIGURATION = "nbgrader_config.py"
JUDGE = "graders.nbgrader_bridge.Judge"
PATIENCE_S = 20.0  # with a gradebook that another program is writing to
_SQLITE = b"SQLite format 3\x00"

_SUBMISSION = (
    select(SubmittedAssignment.id)
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
    .where(Assignment.name == bindparam("lesson"), SubmittedAssignment.student_id == bindparam("learner"))
)
_NOTEBOOKS = select(SubmittedNotebook.id).where(SubmittedNotebook.assignment_id == bindparam("submission"))
_CELLS = BaseCell.__table__
_GRADES = (
    select(
        Grade.notebook_id,
        _CELLS.c.name,
        Grade.score,
        Grade.max_score,
        Grade.auto_score,
        Grade.manual_score,
        Grade.needs_manual_grade,
    )
    .outerjoin(_CELLS, _CELLS.c.id == Grade.cell_id)  # outer, so that the grades' own order stays
    .where(Grade.notebook_id.in_(bindparam("notebooks", expanding=True)))
)
_COMMENTS = select(Comment.notebook_id, Comment.comment).where(
    Comment.notebook_id.in_(bindparam("notebooks", expanding=True))
)


class CourseFolderError(TimingCourseError):
    """A folder is not a class folder that this course can judge."""


@dataclass(frozen=True)
class CellGrade:
    """One grade cell of one learner as the gradebook has it: points of the machine and of a person."""

    name: str
    points: float
    max_points: float
    auto_points: float | None
    marked_by_person: bool
    needs_person: bool


class NbgraderCourse:
    """The class in `root`. Raises CourseFolderError where it is none, its configuration does not name our judge, or its
    gradebook cannot be used."""

    def __init__(self, root: Path):
        self.root = Path(root).resolve()
        self.typed = shlex.quote(str(root))  # in a command line
        if not (self.root / CONFIGURATION).is_file():
            raise CourseFolderError(
                f"{self.root} is not a class folder, since it holds no {CONFIGURATION}: make one "
                f"with '{command_line('class FOLDER')}'."
            )
        self.config = self._configuration()
        self.directory = CourseDirectory(config=self.config)
        self.directory.root = str(self.root)
        self._notebooks: dict[str, list[str]] = {}
        _programs_on_path()
        if self.gradebook_path is not None:
            check_gradebook(self.gradebook_path)

    def _configuration(self) -> Config:
        try:
            config = PyFileConfigLoader(CONFIGURATION, path=str(self.root)).load_config()
        except Exception as error:  # the file is the instructor's own Python
            raise CourseFolderError(
                f"{self.root / CONFIGURATION} cannot be read ({error}): correct it, or make a new "
                "class folder and take the file from there."
            ) from error
        steps = [
            step if isinstance(step, str) else f"{step.__module__}.{step.__name__}"
            for step in config.Autograde.get("autograde_preprocessors", [])
        ]
        if JUDGE not in steps or any(step.endswith("Execute") for step in steps):
            raise CourseFolderError(
                f"{self.root / CONFIGURATION} must name {JUDGE} in "
                "c.Autograde.autograde_preprocessors and no Execute, or the code of learners "
                "would be run: take these lines from a new class folder."
            )
        return config

    @property
    def gradebook_path(self) -> Path | None:
        """The gradebook's file, or None where the class keeps it on a database server."""
        url = make_url(self.directory.db_url)
        return self.root / url.database if url.get_backend_name() == "sqlite" and url.database else None

    def lessons(self) -> list[str]:
        """The lessons whose learner's edition was made, in order of their ids."""
        with self.gradebook() as gradebook:
            return sorted(assignment.name for assignment in gradebook.assignments if assignment.notebooks)

    def notebooks(self, lesson: str) -> list[str]:
        """Names of the lesson's notebooks, without their ending."""
        if lesson not in self._notebooks:
            with self.gradebook() as gradebook:
                self._notebooks[lesson] = [notebook.name for notebook in gradebook.find_assignment(lesson).notebooks]
        return self._notebooks[lesson]

    def grade_cells(self, lesson: str) -> dict[str, float]:
        """The lesson's grade cells with their points, as they were released."""
        with self.gradebook() as gradebook:
            return {
                cell.name: float(cell.max_score)
                for notebook in gradebook.find_assignment(lesson).notebooks
                for cell in notebook.grade_cells
            }

    def learners(self) -> list[str]:
        """Ids of all learners in the gradebook."""
        with self.gradebook() as gradebook:
            return sorted(student.id for student in gradebook.students)

    def add_learner(self, learner: str, first_name: str = "", last_name: str = "", email: str = "") -> None:
        """Put one learner into the gradebook, or bring their names up to date."""
        with self.gradebook() as gradebook:
            gradebook.update_or_create_student(
                learner, first_name=first_name or None, last_name=last_name or None, email=email or None
            )

    def grades(self, lesson: str, learner: str) -> list[CellGrade]:
        """The learner's grades in one lesson; empty where the gradebook has none."""
        if name_problem(learner):  # a folder's name that is no id; it may not even be text that a database takes
            return []
        with self.gradebook() as gradebook:
            notebooks = _notebooks_of(gradebook, lesson, learner)
            found = gradebook.db.execute(_GRADES, {"notebooks": notebooks}).all()
        found.sort(key=lambda grade: notebooks.index(grade.notebook_id))  # as handed in, and the grades as released
        return [
            CellGrade(
                grade.name,
                float(grade.score),
                float(grade.max_score),
                grade.auto_score,
                grade.manual_score is not None,
                bool(grade.needs_manual_grade),
            )
            for grade in found
        ]

    def comments(self, lesson: str, learner: str) -> list[str | None]:
        """What the gradebook says to a learner's answers in one lesson; empty where it has none of them."""
        with self.gradebook() as gradebook:
            notebooks = _notebooks_of(gradebook, lesson, learner)
            found = gradebook.db.execute(_COMMENTS, {"notebooks": notebooks}).all()
        found.sort(key=lambda comment: notebooks.index(comment.notebook_id))
        return [comment.comment for comment in found]

    def lateness(self, lesson: str, learner: str) -> Lateness:
        """How late a hand-in was, and the points that are taken off for that."""
        if name_problem(learner):
            return IN_TIME
        with self.gradebook() as gradebook:
            return lateness(gradebook, lesson, learner)

    def folder(self, step: str, learner: str, lesson: str) -> Path:
        """The folder of one learner and lesson in one of nbgrader's steps."""
        return Path(self.directory.format_path(step, learner, lesson))

    @contextmanager
    def gradebook(self) -> Iterator[Gradebook]:
        """The open gradebook. Raises CourseFolderError where the database cannot be used."""
        try:
            with Gradebook(self.directory.db_url, self.directory.course_id) as gradebook:
                yield gradebook
        except DatabaseError as error:
            raise CourseFolderError(
                f"The gradebook {self.gradebook_path or 'of this class'} cannot be used ({error.orig}): close other "
                "programs that use it and run this again."
            ) from error

    @contextmanager
    def writing_into(self, url: str) -> Iterator[None]:
        """Let everything inside use the gradebook at `url`, a copy to work on."""
        before, self.directory.db_url = self.directory.db_url, url
        try:
            with self.gradebook() as gradebook:
                engine = gradebook.engine
            _without_waiting_for_the_disk(engine)
            yield
        finally:
            self.directory.db_url = before

    def release(self, lesson: str) -> None:
        """Make the learner's edition of a lesson from `source/`. Raises CourseFolderError where nbgrader cannot."""
        self._convert(GenerateAssignment, lesson, ".", source=None)
        self._notebooks.pop(lesson, None)

    def autograde(self, lesson: str, learner: str, submitted: str) -> None:
        """Judge one hand-in that lies in the folder `submitted` of the class."""
        self._convert(Autograde, lesson, learner, source=submitted)

    def settle(self, lesson: str, learner: str, cells: Mapping[str, float | None]) -> None:
        """Let marks by a person stand without a second look where the automatic points are still those given here."""
        if not cells:
            return
        with self.gradebook() as gradebook:
            for notebook in gradebook.find_submission(lesson, learner).notebooks:
                for grade in notebook.grades:
                    if grade.name in cells and grade.auto_score == cells[grade.name]:
                        grade.needs_manual_grade = False
            gradebook.db.commit()

    def feedback(self, lesson: str, learner: str) -> None:
        """Make the feedback pages of one learner."""
        self._convert(GenerateFeedback, lesson, learner, source=None)

    def _convert(self, converter_class, lesson: str, learner: str, source: str | None) -> None:
        directory = self.directory
        before = directory.assignment_id, directory.student_id, directory.submitted_directory
        directory.assignment_id, directory.student_id = lesson, learner
        if source is not None:
            directory.submitted_directory = source
        converter = converter_class(coursedir=directory, config=self.config)
        converter.force = True
        try:
            with _log_kept() as lines:
                converter.start()
        except (NbGraderException, SystemExit) as error:
            raise CourseFolderError(
                f"nbgrader could not work on {lesson} of {learner}: {error}\n" + "\n".join(lines)
            ) from error
        finally:
            directory.assignment_id, directory.student_id, directory.submitted_directory = before


def check_gradebook(path: Path) -> None:
    """Raise CourseFolderError where there is a file in the gradebook's place that is damaged, is something else, or is
    locked by another program. One that is not there yet is made by nbgrader."""
    if not path.is_file() or not path.stat().st_size:
        return
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, timeout=PATIENCE_S)) as connection:
            found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.OperationalError as error:
        raise CourseFolderError(
            f"The gradebook {path} cannot be opened ({error}): another program uses it, or you may not read it. Close "
            "the marking screen and other programs, and run this again."
        ) from None
    except sqlite3.DatabaseError as error:
        found, tables = str(error), set()
    if found == "ok" and (not tables or "submitted_assignment" in tables):
        return
    why = f"is damaged ({found})" if found != "ok" else "is a database of something else"
    raise CourseFolderError(f"The gradebook {path} {why}, and nothing was changed. {_way_on(path)}")


def _way_on(path: Path) -> str:
    """What an instructor can do without the gradebook: the newest sound copy beside it, where there is one."""
    beside = [one for one in path.parent.glob(f"{path.name}.*") if one.is_file() and _is_sqlite(one)]
    if not beside:
        return (
            "There is no copy beside it: put your own copy back, or move the file away, release the lessons and run "
            "this again, which judges everything; marks given by hand are then lost."
        )
    newest = max(beside, key=lambda one: one.stat().st_mtime)
    return (
        f"Move it away, give its newest copy, {newest.name}, the name {path.name}, and run this again: what was handed "
        "in since is judged, and marks that were given by hand since must be given again."
    )


def _is_sqlite(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(_SQLITE)) == _SQLITE
    except OSError:
        return False


def _notebooks_of(gradebook: Gradebook, lesson: str, learner: str) -> list[str]:
    """The gradebook's ids of one learner's notebooks in one lesson; none where nothing was graded."""
    submission = gradebook.db.execute(_SUBMISSION, {"lesson": lesson, "learner": learner}).scalar()
    return list(gradebook.db.execute(_NOTEBOOKS, {"submission": submission}).scalars()) if submission else []


def sound_time(path: Path | None) -> str:
    """The time that a timestamp file holds, or nothing where nbgrader could not read it."""
    try:
        text = path.read_text(encoding="utf-8").strip() if path else ""
        return text if text and parse_utc(text) else ""
    except Exception:  # the reader of dates raises many kinds, and a bad time must not cost a learner the grade
        return ""


def _without_waiting_for_the_disk(engine: Engine) -> None:
    """Let writes to a working copy be as quick as memory: where the power fails the copy is lost, and nothing else.

    An engine that a class run keeps is told so once.
    """
    if engine.dialect.name == "sqlite" and not event.contains(engine, "connect", _unsynchronised):
        event.listen(engine, "connect", _unsynchronised)
        engine.dispose()  # connections that were made before know nothing of it


def _unsynchronised(connection, _) -> None:
    connection.execute("PRAGMA synchronous=OFF")
    connection.execute("PRAGMA journal_mode=MEMORY")


class _Keeps(logging.Handler):
    """Keeps warnings and errors as lines."""

    def __init__(self, lines: list[str]):
        super().__init__(logging.WARNING)
        self.lines = lines

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(record.getMessage())


@contextmanager
def _log_kept():
    """Keep warnings and errors of nbgrader instead of printing them."""
    lines: list[str] = []
    handler = _Keeps(lines)
    logger = logging.getLogger("traitlets")
    before = logger.propagate
    logger.addHandler(handler)
    logger.propagate = False
    try:
        with warnings.catch_warnings():  # nbgrader's own queries make SQLAlchemy warn at every hand-in
            warnings.simplefilter("ignore", SAWarning)
            yield lines
    finally:
        logger.removeHandler(handler)
        logger.propagate = before


def _programs_on_path() -> None:
    """nbgrader runs `alembic` by name: the folder of this Python's programs must be where the shell looks."""
    programs = str(Path(sys.executable).parent)
    if programs not in os.environ.get("PATH", "").split(os.pathsep):
        os.environ["PATH"] = programs + os.pathsep + os.environ.get("PATH", "")
