"""A class's own rubrics, engine cards and lessons in what it hands out, so that a learner's own check and the class run
agree.

The rubric goes into the lesson's folder in `source/`, packed, with the cards of its engines, and its points into the
lesson's grade cells; nbgrader's own generation then takes all to `release/` and to the gradebook, now and whenever the
lesson is made again. A lesson of the class's own is a notebook in `source/` and a rubric of the same name.
"""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import nbformat

from engine_sim import TimingCourseError, load_card
from graders.exercises.loader import Rubric, RubricError, cards_folder, own_cards, rubric_for, rubric_path
from graders.exercises.packing import ENDING, packed, unpacked
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.command_name import command_line
from graders.submissions.roster import write_whole
from graders.submissions.verdict_key import own_rubrics

CLASS = "class.toml"  # in a lesson that is handed out: the class that its engines are drawn for
LESSON_NAME = re.compile(r"l\d\d_\w+")  # by which a hand-in is known, in nbgrader_config.py too


def release(folder: Path, lesson: str | None = None) -> list[str]:
    """Bring `source/` and `release/` up to date, all lessons or one; return a sentence for each that was changed.

    Raises TimingCourseError, before anything is changed, where a rubric or a card cannot be used.
    """
    course = NbgraderCourse(folder)
    own, new = own_rubrics(course.root), new_lessons(course)
    wanted = [name for name in (*new, *_behind(course)) if lesson in (None, name)]
    strange = [name for name in wanted if not LESSON_NAME.fullmatch(name)]
    if strange:
        raise RubricError(
            f"A lesson of your own wants a name such as l11_our_engine, by which hand-ins are known, and "
            f"'{strange[0]}' was found: rename its folder, its notebook and its rubric, and the name in the rubric."
        )
    rubrics = [rubric_for(name, own) for name in wanted]
    for rubric in rubrics:
        for card in own_cards(rubric.lesson, own):
            load_card(card)
    for rubric in rubrics:
        _put_into_source(course, rubric, own)
        course.release(rubric.lesson)
    return [_released_sentence(rubric.lesson, rubric.lesson in new) for rubric in rubrics]


def drifted(course: NbgraderCourse) -> list[str]:
    """A sentence for each lesson in `release/` that the class is judged otherwise than, or that is not there yet."""
    command = command_line(f"class {course.typed} --release")
    return [
        *(
            f"{lesson}: the lesson in release/ has another rubric, or another engine card, than this class is judged "
            f"by, so that a learner's own check may say something else than your run: '{command}' puts that right."
            for lesson in _behind(course)
        ),
        *(
            f"{lesson}: it lies in source/ and has a rubric, and was never released: '{command}' does that."
            for lesson in new_lessons(course)
        ),
    ]


def new_lessons(course: NbgraderCourse) -> list[str]:
    """The class's own lessons, with a notebook in `source/` and a rubric, that were never released."""
    own, known = own_rubrics(course.root), course.lessons()
    found = (path.stem for path in _source(course).glob("*/*.ipynb") if path.stem == path.parent.name)
    return sorted(lesson for lesson in found if lesson not in known and rubric_path(lesson, own).is_file())


def cells_in_source(course: NbgraderCourse, lesson: str) -> dict[str, float]:
    """The grade cells of a lesson in `source/` with their points, as they will be released."""
    cells = {}
    for path in sorted((_source(course) / lesson).glob("*.ipynb")):
        for cell in nbformat.read(path, as_version=4).cells:
            marks = cell.metadata.get("nbgrader", {})
            if marks.get("grade"):
                cells[str(marks.get("grade_id"))] = float(marks.get("points", 0.0))
    return cells


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


def _released_sentence(lesson: str, new: bool) -> str:
    again = "Hand it out" if new else "Hand it out again"
    what = "is released" if new else "goes out with the rubric and the engines that this class judges by"
    copied = f"copies {lesson}{ENDING} and engines/ from release/ into the lesson's folder"
    return f"{lesson} {what}. {again}: a learner takes it with '{command_line('start FOLDER --lessons RELEASE')}'" + (
        "." if new else f", or {copied}; nobody's work is touched."
    )


def _behind(course: NbgraderCourse) -> list[str]:
    own = own_rubrics(course.root)
    return [lesson for lesson in course.lessons() if _is_behind(course, lesson, own)]


def _is_behind(course: NbgraderCourse, lesson: str, own: Path | None) -> bool:
    """Whether the lesson in `release/` has another rubric, or other engine cards of the class's own."""
    folder = course.folder(course.directory.release_directory, ".", lesson)
    here, out = rubric_path(lesson, own), rubric_path(lesson, folder)
    if not here.is_file():
        return False
    try:
        cards = {path.name: path.read_bytes() for path in own_cards(lesson, own) if path.is_file()}
    except TimingCourseError:  # the class run says what is wrong with that rubric
        cards = {}
    handed_out = {path.name: path.read_bytes() for path in cards_folder(folder).glob("*.toml")}
    return cards != handed_out or (here != out and _content(here) != _content(out))


def _content(path: Path) -> object:
    """What a rubric says, without comments and spaces; its bytes where it cannot be read, None where none is."""
    if not path.is_file():
        return None
    try:
        text = unpacked(path) if path.suffix == ENDING else path.read_bytes()
        return tomllib.loads(text.decode("utf-8-sig"))
    except (TimingCourseError, ValueError):
        return path.read_bytes()


def _source(course: NbgraderCourse) -> Path:
    return course.root / course.directory.source_directory


def _put_into_source(course: NbgraderCourse, rubric: Rubric, own: Path | None) -> None:
    source = _source(course) / rubric.lesson
    if not (source / CLASS).is_file():
        write_whole(source / CLASS, f"class = {json.dumps(course.directory.course_id)}\n".encode())
    path = rubric_path(rubric.lesson, own)
    if _content(rubric_path(rubric.lesson, source)) != _content(path):
        write_whole(source / f"{rubric.lesson}{ENDING}", packed(path.read_bytes()))
    cards = {card.name: card for card in own_cards(rubric.lesson, own)}
    for old in cards_folder(source).glob("*.toml"):
        if old.name not in cards:
            old.unlink()
    for name, card in cards.items():
        cards_folder(source).mkdir(exist_ok=True)
        write_whole(cards_folder(source) / name, card.read_bytes())
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
