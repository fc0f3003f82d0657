"""The class list and the gradebook together: names that the marking screen shows, and learners who are there twice."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from nbgrader.api import Gradebook, MissingEntry, Student, SubmittedAssignment
from nbgrader.utils import parse_utc

from graders.nbgrader_bridge.course_config import CourseFolderError, NbgraderCourse
from graders.submissions.folder import name_problem
from graders.submissions.roster import COLUMNS, ROSTER, Listed, Roster, read_list, read_rows, same_command, write_list


@dataclass(frozen=True)
class Ghost:
    """A learner of the gradebook who is not on the class list: `ids` are those on the list whose name it may be."""

    name: str
    ids: tuple[str, ...]


@dataclass(frozen=True)
class TakenIn:
    """What a list changed: ids that came, ids that are in the class and not on it, and sentences about ghosts."""

    new: tuple[str, ...]
    not_listed: tuple[str, ...]
    ghosts: tuple[str, ...]


def take_in(course: NbgraderCourse, columns: Sequence[str], rows: Iterable[dict[str, str]]) -> TakenIn:
    """Bring the class list and the gradebook up to date with these rows. Nobody is taken off, and what was said of a
    name (`also_known_as`) stays. Ghosts whose name is one learner's are merged."""
    path = course.root / ROSTER
    before_columns, before = read_rows(path) if path.is_file() else (list(COLUMNS), [])
    kept = {row["id"]: row for row in before}
    coming = {row["id"]: row for row in rows}
    for name, row in coming.items():
        kept[name] = kept.get(name, {}) | {key: value for key, value in row.items() if value or name not in kept}
    write_list(path, kept.values(), dict.fromkeys((*before_columns, *columns)))
    bring_names(course, read_list(path))
    sentences = [
        merge(course, ghost.name, ghost.ids[0]) if len(ghost.ids) == 1 else about_ghost(course, ghost)
        for ghost in ghosts(course)
    ]
    earlier = {row["id"] for row in before}
    return TakenIn(
        tuple(name for name in coming if name not in earlier),
        tuple(name for name in kept if name not in coming),
        tuple(sentences),
    )


def bring_names(course: NbgraderCourse, learners: Iterable[Listed]) -> None:
    """Let the gradebook have every learner, by name; without a name it shows the id, where it would say None."""
    with course.gradebook() as gradebook:
        known = {student.id: student for student in gradebook.students}
        for one in learners:
            if name_problem(one.id):
                continue
            student = known.get(one.id)
            if student is None:
                student = Student(id=one.id)
                gradebook.db.add(student)
            first, last = one.first_name, one.last_name
            if not first and not last:
                first, last = student.first_name or "", student.last_name or ("" if student.first_name else one.id)
            wanted = (first, last, one.email or student.email)
            if (student.first_name, student.last_name, student.email) != wanted:
                student.first_name, student.last_name, student.email = wanted
        gradebook.db.commit()


def set_due(course: NbgraderCourse, lesson: str, time: str) -> datetime:
    """Write into the gradebook when a lesson is due, and return that. Raises CourseFolderError."""
    if lesson not in course.lessons():
        raise CourseFolderError(
            f"There is no lesson '{lesson}' in this class; there are {', '.join(course.lessons())}."
        )
    try:
        due = parse_utc(time)
    except Exception:  # the reader of dates raises many kinds
        raise CourseFolderError(f"'{time}' is no day and time: write it as in '2026-02-01 12:00 UTC'.") from None
    with course.gradebook() as gradebook:
        gradebook.update_or_create_assignment(lesson, duedate=due)
    return due


def ghosts(course: NbgraderCourse) -> list[Ghost]:
    """Who is in the gradebook and not on the class list; none where the class has no list."""
    path = course.root / ROSTER
    if not path.is_file():
        return []
    listed = Roster.of(course.root)
    return [Ghost(name, listed.ids_for(name)) for name in course.learners() if name not in listed.entries]


def about_ghost(course: NbgraderCourse, ghost: Ghost) -> str:
    """A sentence for the instructor, with the command that puts it right."""
    listed = Roster.of(course.root)
    near = ghost.ids or listed.nearest(ghost.name)
    which = f" (is it {' or '.join(near)}?)" if near else ""
    return (
        f"'{ghost.name}' is in the gradebook and not on the class list{which}. Add a line to {ROSTER}, or say who it "
        f"is with\n{same_command(course.typed, ghost.name, near)}"
    )


def merge(course: NbgraderCourse, ghost: str, learner: str) -> str:
    """Give a learner everything that the gradebook has under another name, and take that name out; return a sentence.

    Of a lesson that both have, the one with marks by hand stays. Where both have some, nothing of that lesson is moved.
    """
    left: list[str] = []
    with course.gradebook() as gradebook:
        student = gradebook.find_student(ghost)
        gradebook.update_or_create_student(learner)
        for submission in list(student.submissions):
            lesson = submission.assignment.name
            own = _submission(gradebook, lesson, learner)
            if own is not None and _is_marked(own) and _is_marked(submission):
                left.append(lesson)
                continue
            if own is not None:
                gradebook.remove_submission(lesson, learner if _is_marked(submission) else ghost)
            if own is None or _is_marked(submission):
                submission.student = gradebook.find_student(learner)
                gradebook.db.commit()
                _move(course, lesson, ghost, learner, replace=own is not None)
        if not left:
            gradebook.remove_student(ghost)
    if left:
        return (
            f"'{ghost}' and {learner} both have marks by hand in {', '.join(left)}, so these were left as they are: "
            "take one of the two marks away on the marking screen, and run this again."
        )
    return f"What the gradebook had under '{ghost}' is {learner}'s now."


def _submission(gradebook: Gradebook, lesson: str, learner: str) -> SubmittedAssignment | None:
    try:
        return gradebook.find_submission(lesson, learner)
    except MissingEntry:
        return None


def _is_marked(submission: SubmittedAssignment) -> bool:
    return any(grade.manual_score is not None for notebook in submission.notebooks for grade in notebook.grades)


def _move(course: NbgraderCourse, lesson: str, ghost: str, learner: str, replace: bool) -> None:
    """Let what was judged and the pages follow the grades."""
    for step in (course.directory.autograded_directory, course.directory.feedback_directory):
        source, target = course.folder(step, ghost, lesson), course.folder(step, learner, lesson)
        if replace:
            shutil.rmtree(target, ignore_errors=True)
        if source.is_dir() and not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            os.replace(source, target)
            _remove_where_empty(source.parent)


def _remove_where_empty(folder: Path) -> None:
    if not any(folder.iterdir()):
        folder.rmdir()
