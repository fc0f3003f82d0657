"""The answers of a lesson as one learner of a class has it, for the instructor: numbers, orders, faults, settings."""

from __future__ import annotations

from pathlib import Path

from course import ENGINES
from engine_sim import Header, TimingCourseError
from graders.exercises.individualise import learners_exercise
from graders.exercises.loader import rubric_for, rubric_path
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.verdict_key import own_rubrics


class AnswersError(TimingCourseError):
    """There are no such answers."""


def run(folder: Path, lesson: str, learner: str) -> int:
    """Print the answers of a lesson for a learner of the class in `folder`; return 0. Raises TimingCourseError."""
    course = NbgraderCourse(folder)
    with_rubric = [name for name in course.lessons() if rubric_path(name, own_rubrics(course.root)).is_file()]
    if lesson not in with_rubric:
        raise AnswersError(f"There is no rubric for '{lesson}' in this class; there are {', '.join(with_rubric)}.")
    header = Header(learner=learner, lesson=lesson, class_id=course.directory.course_id, engine="", created="")
    for title, answer in answers_for(header, own_rubrics(course.root)):
        print(f"{title}\n    {answer}")
    return 0


def answers_for(header: Header, rubrics: Path | None = None) -> list[tuple[str, str]]:
    """Id with title, and answer in words, of every exercise as the learner of this header has it."""
    exercises = rubric_for(header.lesson, rubrics).exercises.values()
    own = [learners_exercise(one, header, ENGINES) for one in exercises]
    return [(f"{one.id}, {one.title} ({one.points:g} points)", one.answer_in_words(header, ENGINES)) for one in own]
