"""What a class folder keeps about one learner, and taking all of it away."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from nbgrader.api import MissingEntry

from graders.judge.worker_pool import LOG
from graders.nbgrader_bridge.course_config import CourseFolderError, NbgraderCourse
from graders.nbgrader_bridge.marks import forget_marks_of_nobody
from graders.submissions.roster import ROSTER, Roster, read_rows, write_list

from .collecting import DOWNLOADED, TAKEN_APART
from .gradebook_copy import COPY, OneAtATime

ABOUT_EVERYBODY = ("report", LOG)  # made again by the next report and the next run


def kept_about(course: NbgraderCourse, learner: str, given_back: str) -> list[Path]:
    """The files and folders that are this learner's alone: hand-ins, archives, what was judged, pages. The folder
    `given_back` of the class has the archives of pages. Raises CourseFolderError where nobody is called so."""
    roster = Roster.of(course.root, course.learners())
    if learner not in roster.entries:
        raise CourseFolderError(
            f"There is no learner '{learner}' in the class: give the id as it stands in {ROSTER} or in the gradebook."
        )
    directory = course.directory
    steps = (directory.submitted_directory, directory.autograded_directory, directory.feedback_directory)
    folders = [path for step in steps for path in (course.root / step).glob("*/")]
    archives = [
        path
        for pattern in ("*/archive/*--*--*", "*/extracted/*--*--*")
        for path in (course.root / DOWNLOADED).glob(pattern)
    ]
    pages = (course.root / given_back).glob("*.zip")
    named = [
        *((path.name, path) for path in folders),
        *((path.name.split("--")[0], path) for path in archives),
        *((path.stem, path) for path in pages),
    ]
    return sorted(path for name, path in named if name == learner or roster.ids_for(name) == (learner,))


def forget(course: NbgraderCourse, learner: str, given_back: str) -> list[str]:
    """Take away all that the class keeps about a learner; return sentences on what is left to a person.

    The gradebook is written again, whole, so that nothing of the learner stays in its file. Raises CourseFolderError.
    """
    with OneAtATime(course.root):
        for path in kept_about(course, learner, given_back):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            else:
                path.unlink()
        for name in ABOUT_EVERYBODY:
            place = course.root / name
            if place.is_dir():
                shutil.rmtree(place)
            else:
                place.unlink(missing_ok=True)
        with course.gradebook() as gradebook, suppress(MissingEntry):  # who is on the class list alone
            gradebook.remove_student(learner)
            forget_marks_of_nobody(gradebook.db)
            gradebook.db.commit()
        if course.gradebook_path is not None:
            with closing(sqlite3.connect(course.gradebook_path)) as connection:
                connection.execute("VACUUM")
            course.gradebook_path.with_name(course.gradebook_path.name + COPY).unlink(missing_ok=True)
        if (course.root / ROSTER).is_file():
            columns, rows = read_rows(course.root / ROSTER)
            write_list(course.root / ROSTER, [row for row in rows if row["id"] != learner], columns)
    apart = sorted((course.root / DOWNLOADED).glob(f"*/{TAKEN_APART}/*")) + sorted(
        (course.root / DOWNLOADED).glob("*.zip")
    )
    left = ["Copies of this folder, sent archives, and what lies on the learner's own machine are not touched."]
    if apart:
        left.append(
            f"An archive of several learners may hold this one's work, too: {', '.join(path.name for path in apart)} "
            f"in {DOWNLOADED}/. Delete it when you need it no more."
        )
    return left
