"""Forgetting a learner: what a class keeps about one is shown first, and taken away when that is said once more."""

from __future__ import annotations

import shlex
from pathlib import Path

from graders.classroom.forgetting import forget, kept_about
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.command_name import command_line

from .give_back import FOLDER as GIVEN_BACK


def run(folder: Path, learner: str, yes: bool = False) -> int:
    """Print what the class keeps about a learner; with `yes`, take it away. Return 0."""
    course = NbgraderCourse(folder)
    kept = kept_about(course, learner, GIVEN_BACK)
    print(f"Kept about {learner!r}: the line on the class list, names and points in the gradebook, and")
    for path in kept:
        print(f"  {str(path.relative_to(course.root))!r}")
    if not yes:
        print("Nothing was taken away. The report and judging.log, which name everybody, would go too. To forget:")
        print(command_line(f"forget {course.typed} {shlex.quote(learner)} --yes"))
        return 0
    left = forget(course, learner, GIVEN_BACK)
    print("All of that is gone, and so are the report and judging.log, which the next run makes again.")
    print("\n".join(left))
    return 0
