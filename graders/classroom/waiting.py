"""Which answers wait for a mark by a person, by the gradebook alone."""

from __future__ import annotations

from nbgrader.api import Assignment, BaseCell, Grade, SubmittedAssignment, SubmittedNotebook
from sqlalchemy import func, select

from graders.nbgrader_bridge.course_config import NbgraderCourse

_WAITING = (
    select(Assignment.name, BaseCell.name, func.count())
    .select_from(Grade)
    .join(BaseCell, BaseCell.id == Grade.cell_id)
    .join(SubmittedNotebook, SubmittedNotebook.id == Grade.notebook_id)
    .join(SubmittedAssignment, SubmittedAssignment.id == SubmittedNotebook.assignment_id)
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
    .where(Grade.needs_manual_grade)
    .group_by(Assignment.name, BaseCell.name)
    .order_by(Assignment.name, BaseCell.name)
)


def waiting(course: NbgraderCourse) -> dict[tuple[str, str], int]:
    """Lesson and exercise -> how many learners' work waits for a person there."""
    with course.gradebook() as gradebook:
        return {(lesson, exercise): count for lesson, exercise, count in gradebook.db.execute(_WAITING)}
