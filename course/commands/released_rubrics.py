"""A class's own rubrics in the lessons that it hands out, so that a learner's own check and the class run agree.

The rubric goes into the lesson's folder in `source/`, packed, and its points into the lesson's grade cells; nbgrader's
own generation then takes both to `release/` and to the gradebook, now and whenever the lesson is made again.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import nbformat

from engine_sim import TimingCourseError
from graders.exercises.loader import Rubric, rubric_for, rubric_path
from graders.exercises.packing import ENDING, packed, unpacked
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.command_name import command_line
from graders.submissions.roster import write_whole
from graders.submissions.verdict_key import own_rubrics


def release(folder: Path) -> list[str]:
    """Bring the rubrics in `source/` and `release/` up to date; return a sentence for each lesson that was changed.

    Raises TimingCourseError, before anything is changed, where one of them cannot be used.
    """
    course = NbgraderCourse(folder)
    own = own_rubrics(course.root)
    rubrics = [rubric_for(lesson, own) for lesson in _behind(course)]
    for rubric in rubrics:
        _put_into_source(course, rubric, rubric_path(rubric.lesson, own))
        course.release(rubric.lesson)
    return [
        f"{rubric.lesson} goes out with the rubric that this class judges by. Hand it out again: a learner takes "
        f"it with '{command_line('start FOLDER --lessons RELEASE')}', or copies {rubric.lesson}{ENDING} from release/ "
        "into the lesson's folder; nobody's work is touched."
        for rubric in rubrics
    ]


def drifted(course: NbgraderCourse) -> list[str]:
    """A sentence for each lesson in `release/` whose rubric is not the one that the class is judged by."""
    command = command_line(f"class {course.typed} --release-rubrics")
    return [
        f"{lesson}: the lesson in release/ has another rubric than this class is judged by, so that a learner's "
        f"own check may say something else than your run: '{command}' puts that right."
        for lesson in _behind(course)
    ]


def without_cell(course: NbgraderCourse) -> list[str]:
    """A sentence for each exercise of a rubric for which its lesson has no cell, so that nobody can earn its points."""
    own, sentences = own_rubrics(course.root), []
    for lesson in course.lessons():
        try:
            exercises = rubric_for(lesson, own).exercises if rubric_path(lesson, own).is_file() else {}
        except TimingCourseError:
            continue  # the class run says what is wrong with that rubric
        cells = course.grade_cells(lesson)
        sentences += [
            f"{lesson}: the rubric has the exercise {name} ({exercise.points:g} points), and the lesson has no cell "
            "for it, so that nobody can earn them. Put the cell back in source/ and release the lesson again, or take "
            "the exercise out of the rubric."
            for name, exercise in exercises.items()
            if name not in cells
        ]
    return sentences


def _behind(course: NbgraderCourse) -> list[str]:
    own = own_rubrics(course.root)
    pairs = [
        (lesson, rubric_path(lesson, own), rubric_path(lesson, _released(course, lesson)))
        for lesson in course.lessons()
    ]
    return [lesson for lesson, here, out in pairs if here.is_file() and here != out and _content(here) != _content(out)]


def _released(course: NbgraderCourse, lesson: str) -> Path:
    return course.folder(course.directory.release_directory, ".", lesson)


def _content(path: Path) -> object:
    """What a rubric says, without comments and spaces; its bytes where it cannot be read, None where none is."""
    if not path.is_file():
        return None
    try:
        text = unpacked(path) if path.suffix == ENDING else path.read_bytes()
        return tomllib.loads(text.decode("utf-8"))
    except (TimingCourseError, ValueError):
        return path.read_bytes()


def _put_into_source(course: NbgraderCourse, rubric: Rubric, path: Path) -> None:
    source = course.folder(course.directory.source_directory, ".", rubric.lesson)
    write_whole(source / f"{rubric.lesson}{ENDING}", packed(path.read_bytes()))
    for notebook in sorted(source.glob("*.ipynb")):
        _give_points(notebook, rubric)


def _give_points(path: Path, rubric: Rubric) -> None:
    """Let the grade cells of a source notebook be worth what the rubric says."""
    notebook, changed = nbformat.read(path, as_version=4), False
    for cell in notebook.cells:
        marks = cell.metadata.get("nbgrader", {})
        exercise = rubric.exercises.get(marks.get("grade_id")) if marks.get("grade") else None
        if exercise is not None and marks["points"] != exercise.points:
            marks["points"], changed = exercise.points, True
    if changed:
        write_whole(path, (nbformat.writes(notebook) + "\n").encode("utf-8"))
