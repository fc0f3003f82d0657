"""Lessons of the report before, so that only those are worked out in which something has changed.

What a lesson's report is made of has a digest: the rubric and the words, the class list, the gradebook's rows of the
lesson, and the time and size of each file that was handed in, judged or made. It is kept beside the page.
"""

from __future__ import annotations

import functools
import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path

from nbgrader.api import (
    Assignment,
    Comment,
    Grade,
    SubmittedAssignment,
    SubmittedNotebook,
)
from pydantic import TypeAdapter, ValidationError
from sqlalchemy import inspect, select

from engine_sim.version import Edition, code_digest
from graders.exercises.loader import rubric_path
from graders.nbgrader_bridge.marks import TABLE
from graders.submissions.roster import ROSTER, write_whole

from .report_rows import LessonReport
from .run import Classroom

KEPT = ".kept"
_REPORT = TypeAdapter(LessonReport)
_NOTEBOOKS = (
    select(SubmittedNotebook.id)
    .join(SubmittedAssignment, SubmittedAssignment.id == SubmittedNotebook.assignment_id)
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
)


class KeptLessons:
    """The lessons that were kept in the report's `folder`."""

    def __init__(self, classroom: Classroom, folder: Path):
        self.classroom, self.folder = classroom, folder / KEPT

    def read(self, lesson: str, words: Mapping[str, str]) -> LessonReport | None:
        """The report on a lesson as it was kept; None where there is none, or anything has changed since."""
        try:
            key, _, text = (self.folder / f"{lesson}.json").read_text(encoding="utf-8").partition("\n")
            return _REPORT.validate_json(text) if key == self.key(lesson, words) else None
        except (OSError, ValueError, ValidationError):  # nothing is kept, or somebody changed it
            return None

    def write(self, key: str, report: LessonReport) -> None:
        """Keep a lesson's report under the key that it had when it was begun."""
        self.folder.mkdir(parents=True, exist_ok=True)
        text = _REPORT.dump_json(report).decode("utf-8")
        write_whole(self.folder / f"{report.lesson}.json", f"{key}\n{text}".encode())

    def key(self, lesson: str, words: Mapping[str, str]) -> str:
        """A digest of all that the report on this lesson is made of."""
        course, total = self.classroom.course, hashlib.sha256()
        given = [str(Edition.here()), _code(), dict(words), course.directory.course_id, *self._rows(lesson)]
        total.update(json.dumps(given, sort_keys=True, default=str).encode("utf-8", "surrogatepass"))
        for path in (course.root / ROSTER, rubric_path(lesson, self.classroom.rubrics), rubric_path(lesson)):
            total.update(path.read_bytes() if path.is_file() else b"none")
        steps = (
            course.directory.submitted_directory,
            course.directory.autograded_directory,
            course.directory.feedback_directory,
        )
        for step in steps:
            for folder in sorted((course.root / step).glob(f"*/{lesson}")):
                total.update(f"{step} {folder.parent.name}\n".encode("utf-8", "surrogatepass"))
                for entry in sorted(os.scandir(folder), key=lambda one: one.name) if folder.is_dir() else ():
                    status = entry.stat(follow_symlinks=False)
                    about = f"{entry.name} {status.st_mtime_ns} {status.st_size}\n"
                    total.update(about.encode("utf-8", "surrogatepass"))
        return total.hexdigest()

    def _rows(self, lesson: str) -> list:
        """The gradebook's rows of a lesson: hand-ins, points, comments, marks by criterion, and when it is due."""
        with self.classroom.course.gradebook() as gradebook:
            notebooks = _NOTEBOOKS.where(Assignment.name == lesson)
            grades = select(Grade.__table__).where(Grade.notebook_id.in_(notebooks)).order_by(Grade.id)
            rows = [
                sorted(student.id for student in gradebook.students),
                gradebook.db.execute(select(Assignment.__table__).where(Assignment.name == lesson)).all(),
                gradebook.db.execute(
                    select(SubmittedAssignment.__table__)
                    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
                    .where(Assignment.name == lesson)
                    .order_by(SubmittedAssignment.id)
                ).all(),
                gradebook.db.execute(
                    select(SubmittedNotebook.__table__)
                    .where(SubmittedNotebook.id.in_(notebooks))
                    .order_by(SubmittedNotebook.id)
                ).all(),
                gradebook.db.execute(grades).all(),
                gradebook.db.execute(
                    select(Comment.__table__).where(Comment.notebook_id.in_(notebooks)).order_by(Comment.id)
                ).all(),
            ]
            if inspect(gradebook.db.connection()).has_table(TABLE.name):
                ids = select(Grade.id).where(Grade.notebook_id.in_(notebooks))
                marks = select(TABLE).where(TABLE.c.grade_id.in_(ids)).order_by(TABLE.c.grade_id, TABLE.c.marker)
                rows.append(gradebook.db.execute(marks).all())
        return [[[*map(str, row)] if not isinstance(row, str) else row for row in part] for part in rows]


@functools.cache
def _code() -> str:
    """A digest of the code that makes the report."""
    here = Path(__file__).parent
    return code_digest([*sorted(here.glob("*.py")), here.parent / "palette", here.parent / "feedback.py"])
