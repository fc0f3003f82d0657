"""Marks by criterion, kept in the gradebook beside nbgrader's own points: in one transaction, so never half of them.

nbgrader knows one number and one comment for each cell. A table of ours in the same database holds what that number was
made of, who gave it and when, once for each person who marked. It names nbgrader's row of the grade, so that it follows
a learner who is merged with another name, stays when a hand-in is judged again, and is in every copy of the gradebook.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from nbgrader.api import (
    Assignment,
    Comment,
    Grade,
    Gradebook,
    GradeCell,
    MissingEntry,
    SubmittedAssignment,
    SubmittedNotebook,
)
from sqlalchemy import Column, MetaData, String, Table, Text, bindparam, delete, insert, inspect, select
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from graders.exercises.marking import Marked, MarkedAnswer

TABLE = Table(
    "timing_course_marks",
    MetaData(),
    Column("grade_id", String(32), primary_key=True),
    Column("marker", String(200), primary_key=True),
    Column("at", String(40), nullable=False),
    Column("mark", Text(), nullable=False),
)
_BY_HAND = (
    select(GradeCell.name, Grade.id, Grade.manual_score)
    .join_from(Grade, GradeCell, GradeCell.id == Grade.cell_id)
    .join(SubmittedNotebook, SubmittedNotebook.id == Grade.notebook_id)
    .join(SubmittedAssignment, SubmittedAssignment.id == SubmittedNotebook.assignment_id)
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
    .where(
        Grade.manual_score.is_not(None),
        Assignment.name == bindparam("lesson"),
        SubmittedAssignment.student_id == bindparam("learner"),
    )
)


@dataclass(frozen=True)
class KeptMark:
    """One person's mark of one answer: `at` is a time in UTC as text, `answer` a digest of what was marked."""

    marker: str
    at: str
    mark: MarkedAnswer
    comment: str = ""
    answer: str = ""


def kept_marks(session: Session, grade_id: str) -> list[KeptMark]:
    """Every person's mark of one grade, the newest first; that one counts."""
    return kept_marks_of(session, [grade_id]).get(grade_id, [])


def kept_marks_of(session: Session, grade_ids: Sequence[str]) -> dict[str, list[KeptMark]]:
    """Every person's marks by the ids of the grades, the newest first; without the grades that have none."""
    if not grade_ids or not inspect(session.connection()).has_table(TABLE.name):
        return {}
    found: dict[str, list[KeptMark]] = {}
    rows = session.execute(select(TABLE).where(TABLE.c.grade_id.in_(grade_ids)).order_by(TABLE.c.at.desc())).all()
    for row in rows:
        found.setdefault(row.grade_id, []).append(_read(row.marker, row.at, json.loads(row.mark)))
    return found


def counting(marks: Sequence[KeptMark], manual_score: float | None) -> KeptMark | None:
    """The mark that the points in the gradebook were made of; None where somebody typed other points since."""
    newest = marks[0] if marks else None
    return newest if newest and manual_score is not None and abs(newest.mark.points - manual_score) < 1e-9 else None


def marks_that_count(gradebook: Gradebook, lesson: str, learner: str) -> dict[str, KeptMark]:
    """The marks by criterion of one learner's lesson that the points in the gradebook were made of, by exercise."""
    by_hand = gradebook.db.execute(_BY_HAND, {"lesson": lesson, "learner": learner}).all()
    kept = kept_marks_of(gradebook.db, [row.id for row in by_hand])
    found = {row.name: counting(kept.get(row.id, ()), row.manual_score) for row in by_hand}
    return {name: mark for name, mark in found.items() if mark is not None}


def keep(gradebook: Gradebook, grade: Grade, kept: KeptMark) -> None:
    """Write one person's mark: its points and comment as nbgrader has them, its criteria beside them. In one
    transaction, which the caller commits."""
    session = gradebook.db
    _make_table(session)
    session.execute(delete(TABLE).where(TABLE.c.grade_id == grade.id, TABLE.c.marker == kept.marker))
    mark = {"mark": asdict(kept.mark), "comment": kept.comment, "answer": kept.answer}
    text = json.dumps(mark, ensure_ascii=False)
    session.execute(insert(TABLE).values(grade_id=grade.id, marker=kept.marker, at=kept.at, mark=text))
    grade.manual_score, grade.needs_manual_grade = kept.mark.points, False
    where = (grade.name, grade.notebook.name, grade.assignment.name)
    try:
        comment = gradebook.find_comment(*where, grade.student.id)
    except MissingEntry:
        comment = Comment(cell=gradebook.find_solution_cell(*where), notebook=grade.notebook)
        session.add(comment)
    comment.manual_comment = kept.comment or None


def _make_table(session: Session) -> None:
    """Make the table where it is missing. Nothing else may be under way in the session."""
    try:
        TABLE.create(session.connection(), checkfirst=True)
    except DatabaseError:
        session.rollback()
        if not inspect(session.connection()).has_table(TABLE.name):  # else another person's first mark has made it
            raise


def forget_marks_of_nobody(session: Session) -> None:
    """Take away the marks of grades that the gradebook has no more."""
    if inspect(session.connection()).has_table(TABLE.name):
        session.execute(delete(TABLE).where(TABLE.c.grade_id.not_in(select(Grade.id))))


def as_shown(kept: KeptMark | None) -> dict[str, Any]:
    """A mark as a page's template takes it; empty where there is none."""
    return {"marker": kept.marker, "at": kept.at, **asdict(kept.mark)} if kept else {}


def _read(marker: str, at: str, content: dict[str, Any]) -> KeptMark:
    mark = content["mark"]
    criteria = tuple(Marked(**one) for one in mark["criteria"])
    return KeptMark(
        marker,
        at,
        MarkedAnswer(criteria, mark["points"], mark["sum"], mark["unsafe"]),
        content["comment"],
        content["answer"],
    )
