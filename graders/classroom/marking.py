"""Marking written answers: who waits, one answer with all that helps to mark it, and saving a mark.

nbgrader's own screen was tried first. It has one box for points in a cell, shows the whole notebook (7,000 px for one
answer), and can neither add up criteria nor keep a limit over several of them; a cell for each criterion would change
lessons that are handed out. So the marking page is ours, over the same gradebook; nbgrader's screen stays for whole
notebooks (`mark --nbgrader`).
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any

from nbgrader.api import (
    Assignment,
    BaseCell,
    Comment,
    Grade,
    GradeCell,
    SubmittedAssignment,
    SubmittedNotebook,
)
from sqlalchemy import select
from sqlalchemy.orm import Session

from engine_sim import Header, TimingCourseError
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.written import WrittenExercise
from graders.exercises.loader import Rubric, rubric_for
from graders.exercises.marking import MarkedAnswer, MarkingError, ToMark, UnsafeLimit, marked
from graders.feedback import sanitised
from graders.nbgrader_bridge.marks import KeptMark, counting, keep, kept_marks_of
from graders.nbgrader_bridge.notebook import answer_alone
from graders.submissions.roster import Filed, Listed, filed_hand_ins

from .marker_notes import MarkerNotes, marker_notes
from .run import Classroom

LONGEST_COMMENT = 4000
MOST_COMMENTS_OFFERED = 6
_TAG = re.compile(r"<[^>]*>")
_GRADES = (
    select(
        Assignment.name.label("lesson"),
        GradeCell.name.label("exercise"),
        SubmittedAssignment.student_id.label("learner"),
        Grade.id,
        Grade.manual_score,
        Grade.needs_manual_grade,
    )
    .join_from(Grade, GradeCell, GradeCell.id == Grade.cell_id)
    .join(SubmittedNotebook, SubmittedNotebook.id == Grade.notebook_id)
    .join(SubmittedAssignment, SubmittedAssignment.id == SubmittedNotebook.assignment_id)
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
)
_COMMENTS = (
    select(Comment.manual_comment)
    .join_from(Comment, BaseCell, BaseCell.id == Comment.cell_id)
    .where(Comment.manual_comment.is_not(None))
)


@dataclass(frozen=True)
class Place:
    """One written answer of the class: `waits` is whether it wants a mark, `points` what a person gave."""

    lesson: str
    exercise: str
    learner: Listed
    drawn: tuple[str, ...]
    waits: bool
    points: float | None
    grade_id: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What it is found by: lesson, exercise and the learner's id."""
        return self.lesson, self.exercise, self.learner.id


@dataclass(frozen=True)
class AnswerToMark:
    """One answer with all that helps to mark it: `text` is sanitised HTML, `marks` every person's, the newest first,
    `counts` the one that the gradebook's points were made of, and `is_new` whether the answer changed since."""

    place: Place
    title: str
    question: str
    max_points: float
    text: str
    to_mark: tuple[ToMark, ...]
    limit: UnsafeLimit | None
    notes: MarkerNotes
    marks: tuple[KeptMark, ...]
    counts: KeptMark | None
    comment: str
    is_new: bool

    @property
    def words(self) -> int:
        """How many words the answer has."""
        return len(unescape(_TAG.sub(" ", self.text)).split())

    @property
    def digest(self) -> str:
        """A digest of what is marked."""
        return hashlib.sha256(self.text.encode()).hexdigest()[:32]

    @property
    def limit_in_words(self) -> str:
        """What an answer that could hurt somebody earns; nothing where the rubric does not say."""
        return self.limit.in_words({one.id: one.title for one in self.to_mark}) if self.limit else ""

    def mark_by(self, marker: str) -> KeptMark | None:
        """What this person gave."""
        return next((one for one in self.marks if one.marker == marker), None)


class MarkingDesk:
    """The written answers of the class in `root`. `guide` is the instructor's guide, as Markdown.

    Hand-ins, names and rubrics are those of the time when it was made: a new desk sees what has come since. Raises
    TimingCourseError where the class cannot be used or a mark cannot be given.
    """

    def __init__(self, root: Path, guide: str = ""):
        self.classroom, self.guide = Classroom(root), guide
        self.course = self.classroom.course
        self._rubrics: dict[str, Rubric | None] = {}
        self._filed: dict[str, dict[str, Filed]] = {}
        self._records: dict[tuple[str, str], dict] = {}

    def places(self, lesson: str | None = None) -> list[Place]:
        """Every written answer that waits for a mark or has one: by exercise, then by what was drawn, so that answers
        to the same thing come one after the other, then by name."""
        with self.course.gradebook() as gradebook:
            rows = gradebook.db.execute(_GRADES).all()
        found = []
        for row in rows:
            written = self._written(row.lesson, row.exercise)
            if lesson not in (None, row.lesson) or written is None:
                continue
            if row.manual_score is None and not (row.needs_manual_grade and self._is_answered(row)):
                continue
            found.append(
                Place(
                    lesson=row.lesson,
                    exercise=row.exercise,
                    learner=self.classroom.roster.entries.get(row.learner) or Listed(row.learner),
                    drawn=self._drawn(row.lesson, row.learner, written),
                    waits=bool(row.needs_manual_grade),
                    points=row.manual_score,
                    grade_id=row.id,
                )
            )
        return sorted(found, key=lambda one: (one.lesson, one.exercise, one.drawn, one.learner.shown.casefold()))

    def place(self, lesson: str, exercise: str, learner: str) -> Place:
        """One of them. Raises MarkingError where there is no such answer."""
        for one in self.places(lesson):
            if one.key == (lesson, exercise, learner):
                return one
        raise MarkingError(f"There is no answer of '{learner}' to {exercise} of {lesson} to be marked in this class.")

    def title(self, place: Place) -> str:
        """The title of an answer's exercise."""
        return self._needed(place).title

    def answer(self, place: Place) -> AnswerToMark:
        """One answer with everything beside it."""
        own = self._own(place.lesson, place.learner.id, self._needed(place))
        with self.course.gradebook() as gradebook:
            marks = kept_marks_of(gradebook.db, [place.grade_id]).get(place.grade_id, [])
            comment = self._comment(gradebook.db, place)
        source = self.course.root / self.course.directory.source_directory / place.lesson
        found = AnswerToMark(
            place=place,
            title=own.title,
            question=own.question,
            max_points=own.points,
            text=sanitised(answer_alone(self._cell(place))),
            to_mark=own.to_mark(),
            limit=own.unsafe,
            notes=marker_notes(source, self.guide, place.exercise, place.drawn, own.shown_samples()),
            marks=tuple(marks),
            counts=counting(marks, place.points),
            comment=comment,
            is_new=False,
        )
        return replace(found, is_new=bool(marks) and marks[0].answer != found.digest)

    def sum(self, answer: AnswerToMark, levels: Mapping[str, int], unsafe: bool) -> MarkedAnswer:
        """What these levels earn. Raises MarkingError where one is missing."""
        return marked(answer.to_mark, levels, answer.limit, unsafe)

    def save(
        self, answer: AnswerToMark, levels: Mapping[str, int], unsafe: bool, comment: str, marker: str
    ) -> KeptMark:
        """Keep a mark, points, comment and criteria in one transaction; what this person gave before is replaced.

        Raises MarkingError where a level is missing, nobody is named, or the comment is a book.
        """
        comment, marker = comment.strip().replace("\r\n", "\n"), marker.strip()
        if not marker or len(marker) > 100 or not marker.isprintable():
            raise MarkingError("A mark needs the name of the person who gives it, one line of at most 100 letters.")
        if len(comment) > LONGEST_COMMENT:
            raise MarkingError(f"The comment has {len(comment)} letters, and {LONGEST_COMMENT} are kept: shorten it.")
        found = self.sum(answer, levels, unsafe)
        kept = KeptMark(marker, datetime.now(UTC).isoformat(), found, comment, answer.digest)
        with self.course.gradebook() as gradebook:
            grade = gradebook.db.get(Grade, answer.place.grade_id)
            if grade is None:
                raise MarkingError("The gradebook has this answer no more: open the list of answers again.")
            keep(gradebook, grade, kept)
            gradebook.db.commit()
        return kept

    def comments_used(self, exercise: str) -> list[str]:
        """Comments that were given to others in this exercise, the most frequent first."""
        with self.course.gradebook() as gradebook:
            texts = gradebook.db.execute(_COMMENTS.where(BaseCell.name == exercise)).scalars().all()
        lines = Counter(line.strip() for text in texts for line in text.splitlines() if line.strip())
        return [line for line, _ in lines.most_common(MOST_COMMENTS_OFFERED)]

    def others_waiting(self, lesson: str | None = None) -> int:
        """How many answers and exercises wait that are no written exercise of a rubric: for nbgrader's screen."""
        with self.course.gradebook() as gradebook:
            rows = gradebook.db.execute(_GRADES.where(Grade.needs_manual_grade)).all()
        return sum(
            lesson in (None, row.lesson)
            and not (self._written(row.lesson, row.exercise) is not None and self._is_answered(row))
            for row in rows
        )

    # ---- what one answer is made of ------------------------------------------------------------------------------

    def _rubric(self, lesson: str) -> Rubric | None:
        if lesson not in self._rubrics:
            try:
                self._rubrics[lesson] = rubric_for(lesson, self.classroom.rubrics)
            except TimingCourseError:  # a lesson of the instructor's own, or a rubric that cannot be used
                self._rubrics[lesson] = None
        return self._rubrics[lesson]

    def _written(self, lesson: str, exercise: str) -> WrittenExercise | None:
        rubric = self._rubric(lesson)
        found = rubric.exercises.get(exercise) if rubric else None
        return found if isinstance(found, WrittenExercise) else None

    def _needed(self, place: Place) -> WrittenExercise:
        found = self._written(place.lesson, place.exercise)
        if found is None:
            raise MarkingError(f"The rubric of {place.lesson} has no written exercise {place.exercise} any more.")
        return found

    def _own(self, lesson: str, learner: str, exercise: WrittenExercise) -> WrittenExercise:
        """The exercise as the learner has it, by the name under which the work was made."""
        if lesson not in self._filed:
            submitted = self.course.root / self.classroom.submitted
            filed = filed_hand_ins(self.classroom.roster, submitted, lesson, self.course.typed)
            self._filed[lesson] = {one.learner: one for one in filed}
        one = self._filed[lesson].get(learner)
        header = Header(
            learner=(one.name if one else "") or learner,
            lesson=lesson,
            class_id=self.course.directory.course_id,
            engine="",
            created="",
        )
        own = learners_exercise(exercise, header, self.classroom.engines)
        if not isinstance(own, WrittenExercise):
            raise TypeError(f"{exercise.id} is a written exercise, and the learner's own form of it is not")
        return own

    def _drawn(self, lesson: str, learner: str, exercise: WrittenExercise) -> tuple[str, ...]:
        if not exercise.draw:
            return ()
        question = self._own(lesson, learner, exercise).question
        return tuple(word for draw in exercise.draw.values() for word in draw.words if word in question)

    def _is_answered(self, row: Any) -> bool:
        key = (row.lesson, row.learner)
        if key not in self._records:
            self._records[key] = self.classroom.record(*key)
        record = self._records[key]
        return not record.get("problem") and bool(record.get("exercises", {}).get(row.exercise, {}).get("answered"))

    def _cell(self, place: Place) -> str:
        folder = self.course.folder(self.course.directory.autograded_directory, place.learner.id, place.lesson)
        try:
            for name in self.course.notebooks(place.lesson):
                for cell in json.loads((folder / f"{name}.ipynb").read_text(encoding="utf-8"))["cells"]:
                    if cell["metadata"].get("nbgrader", {}).get("grade_id") == place.exercise:
                        return "".join(cell["source"])
        except (OSError, ValueError, KeyError, TypeError):
            pass
        raise MarkingError(
            f"The judged work of {place.learner.id} in {place.lesson} is missing or damaged: judge it again first."
        )

    def _comment(self, session: Session, place: Place) -> str:
        grade = session.get(Grade, place.grade_id)
        comments = grade.notebook.comments if grade else []
        return next((one.manual_comment or "" for one in comments if one.name == place.exercise), "")
