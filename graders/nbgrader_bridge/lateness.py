"""How late a hand-in was and what that costs, in the same words in summary, report, table and page."""

from __future__ import annotations

from dataclasses import dataclass

from nbgrader.api import Assignment, Gradebook, SubmittedAssignment, SubmittedNotebook
from sqlalchemy import func, select

_LATENESS = (
    select(
        SubmittedAssignment.timestamp,
        SubmittedAssignment.extension,
        Assignment.duedate,
        func.sum(SubmittedNotebook.late_submission_penalty),
    )
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
    .join(SubmittedNotebook, SubmittedNotebook.assignment_id == SubmittedAssignment.id)
    .group_by(SubmittedAssignment.id, Assignment.id)
)


@dataclass(frozen=True)
class Lateness:
    """How long after its time a hand-in came [s], and the points that are taken off for that; both 0 where in time."""

    seconds: float = 0.0
    penalty: float = 0.0

    def __str__(self) -> str:
        """In words; nothing where the hand-in was in time."""
        if not self.seconds and not self.penalty:
            return ""
        cost = f"{round(self.penalty, 2):g} points taken off" if self.penalty else "no points taken off"
        return f"{_time_in_words(self.seconds)} late, {cost}"


IN_TIME = Lateness()


def lateness(gradebook: Gradebook, lesson: str, learner: str) -> Lateness:
    """The lateness of one hand-in, by the gradebook."""
    found = gradebook.db.execute(
        _LATENESS.where(Assignment.name == lesson, SubmittedAssignment.student_id == learner)
    ).first()
    if found is None:
        return IN_TIME
    time, extension, due, penalty = found
    if extension is not None and due is not None:
        due += extension
    seconds = max((time - due).total_seconds(), 0.0) if time is not None and due is not None else 0.0
    return Lateness(seconds, float(penalty or 0.0))


def _time_in_words(seconds: float) -> str:
    """The two largest units that a time has, as in '2 days 3 hours'."""
    minutes = max(int(seconds // 60), 1)
    parts = ((minutes // 1440, "day"), (minutes // 60 % 24, "hour"), (minutes % 60, "minute"))
    largest = next(place for place, (number, _) in enumerate(parts) if number)
    return " ".join(
        f"{number} {unit}{'' if number == 1 else 's'}" for number, unit in parts[largest : largest + 2] if number
    )
