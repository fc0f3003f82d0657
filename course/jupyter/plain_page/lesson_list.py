"""What the home page says of each lesson in a folder: its title, minutes, points and picture, and how far it is."""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from course.authoring.edition import in_order, lessons as lessons_of_course, optional_lessons
from course.learner.known_lessons import known_lessons, lesson_digest
from course.learner.lesson_folder import EVIDENCE_NAME
from course.learner.progress import LessonProgress, begun, kept_progress
from graders.exercises.loader import RubricError, rubric_for, rubric_path

VIGNETTES = Path(__file__).resolve().parent / "vignettes"
_TITLE = re.compile(r"^# +(?P<title>.+?) *$", re.MULTILINE)
_MINUTES = re.compile(r"\babout (?P<minutes>\d+) minutes\b")
UNREADABLE = (
    "This lesson's notebook cannot be read. Move it out of the folder and start the course again: the lesson is laid "
    "out afresh, and your work is kept."
)
NOT_HANDED_OUT = (
    "This page does not run it: it is not the lesson as the course or your class handed it out. Move the notebook out "
    "of the folder and start the course again: the lesson is laid out afresh, and your work is kept."
)
OLDER_EDITION = (
    "This notebook is another edition of the lesson, or was changed, so this page does not run it. Today's edition can "
    "take its place: your work and its points stay, and the notebook is kept beside it."
)
NOT_JUDGED = (
    "The rubric that your class handed out with this lesson cannot be read, so its exercises do not open. Ask your "
    "instructor to hand the lesson out again. Your work is kept."
)


@dataclass(frozen=True)
class LessonEntry:
    """One lesson; `problem` holds the sentence to show where its page cannot be opened, `remark` one where it opens and
    cannot be judged, `replaceable` says whether the course has an edition to put in its place, `label` is its place
    among the lessons of the course, which a lesson of a class's own has not, and `optional` says to somebody who learns
    alone when it may be left out."""

    lesson: str
    title: str
    label: str = ""
    minutes: int | None = None
    points: float = 0.0
    begun: bool = False
    progress: LessonProgress = field(default_factory=LessonProgress)
    problem: str = ""
    remark: str = ""
    replaceable: bool = False
    optional: str = ""

    @property
    def vignette(self) -> str:
        """Its small picture, an SVG element in the colours of the page."""
        return _vignette(self.lesson)

    @property
    def address(self) -> str:
        """Where its page stands, below the home page; at the exercise of the last act, where there was one."""
        return f"lesson/{self.lesson}" + (f"#{self.progress.last}" if self.progress.last else "")


@dataclass(frozen=True)
class Opening:
    """What the first text of a lesson says: its title, and how long it takes."""

    title: str = ""
    minutes: int | None = None


def opening_of(cells: Iterable[Any]) -> Opening:
    """The opening of a notebook's cells, as JSON or nbformat has them."""
    text = next(("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"), "")
    title, minutes = _TITLE.search(text), _MINUTES.search(text)
    return Opening(title["title"] if title else "", int(minutes["minutes"]) if minutes else None)


def label_of(lesson: str) -> str:
    """The lesson's place among those of the course, such as "Lesson 4 of 11"; nothing for a class's own."""
    known = lessons_of_course()
    return f"Lesson {known.index(lesson) + 1} of {len(known)}" if lesson in known else ""


def lessons_in(folder: Path) -> list[LessonEntry]:
    """The lessons in `folder` (`<lesson>/<lesson>.ipynb`), those of the course in its order, others by their names."""
    known, kept = known_lessons(folder), kept_progress(folder)
    found = {path.stem: path for path in folder.glob("*/*.ipynb") if path.stem == path.parent.name}
    return [_entry(found[name], known, kept.get(name, LessonProgress())) for name in in_order(found)]


def other_notebooks(folder: Path) -> list[str]:
    """The notebooks in `folder` and the folders in it that are no lesson, by their path: they are named, not run."""
    found = sorted({*folder.glob("*.ipynb"), *folder.glob("*/*.ipynb")})
    return [
        path.relative_to(folder).as_posix() for path in found if path.parent == folder or path.stem != path.parent.name
    ]


def where_you_were(found: list[LessonEntry], folder: Path) -> LessonEntry | None:
    """The lesson to go on with: the one worked on last, or the first after it that is not complete."""
    open_ones = [one for one in found if not one.problem]
    at = max((one for one in open_ones if one.begun), key=lambda one: _worked_at(folder / one.lesson), default=None)
    start = open_ones.index(at) if at else 0
    round_again = [*open_ones[start:], *open_ones[:start]]
    return next((one for one in round_again if not one.progress.complete), None)


def _worked_at(lesson: Path) -> float:
    return max((path.stat().st_mtime for path in lesson.glob(EVIDENCE_NAME)), default=0.0)


def _entry(path: Path, known: set[str], progress: LessonProgress) -> LessonEntry:
    lesson = path.stem
    try:
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        opening, digest = opening_of(cells), lesson_digest(cells)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return LessonEntry(
            lesson=lesson, title=label_of(lesson) or lesson, problem=UNREADABLE, replaceable=bool(label_of(lesson))
        )
    ours, runs = bool(label_of(lesson)), digest in known
    points, remark = _points(path.parent)
    return LessonEntry(
        lesson=lesson,
        title=opening.title or lesson,
        label=label_of(lesson),
        minutes=opening.minutes,
        points=points,
        begun=begun(path.parent),
        progress=progress,
        problem="" if runs else OLDER_EDITION if ours else NOT_HANDED_OUT,
        remark=remark,
        replaceable=ours and not runs,
        optional=_optional(path.parent),
    )


def _optional(lesson: Path) -> str:
    """When somebody who learns alone may leave it out; in a class the instructor decides."""
    return "" if (lesson / "class.toml").exists() else optional_lessons().get(lesson.name, "")


def _points(lesson: Path) -> tuple[float, str]:
    """The points of a lesson, and what to say where its rubric cannot be read; no points where it has none."""
    try:
        if not rubric_path(lesson.name, lesson).is_file():
            return 0.0, ""
        return sum(float(exercise.points) for exercise in rubric_for(lesson.name, lesson).exercises.values()), ""
    except RubricError:
        return 0.0, NOT_JUDGED


@functools.cache
def _vignette(lesson: str) -> str:
    own = VIGNETTES / f"{lesson}.svg"
    return (own if own.is_file() else VIGNETTES / "lesson.svg").read_text(encoding="utf-8")
