"""Which lessons there are, and the learner's edition of them, which nbgrader derives from their source."""

from __future__ import annotations

import functools
import os
import shutil
import tempfile
import tomllib
from collections.abc import Iterable
from pathlib import Path

from course import EDITION, HERE, OUTLINE, SOURCE
from engine_sim import TimingCourseError

_LEFT_BEHIND = shutil.ignore_patterns(".ipynb_checkpoints", "evidence.jsonl", "__pycache__", "learner.toml")


class BuildError(TimingCourseError):
    """A lesson's source cannot be read or its learner's edition cannot be made."""


@functools.cache
def minutes_by_lesson(outline: Path = OUTLINE) -> dict[str, int]:
    """The minutes that the outline gives each lesson of the course, in the course's order."""
    content = tomllib.loads(outline.read_text(encoding="utf-8"))
    return {lesson["id"]: lesson["minutes"] for lesson in content["lessons"]}


@functools.cache
def optional_lessons(outline: Path = OUTLINE) -> dict[str, str]:
    """Lessons that somebody with one vehicle of their own may leave out, and when."""
    content = tomllib.loads(outline.read_text(encoding="utf-8"))
    return {lesson["id"]: lesson["optional"] for lesson in content["lessons"] if "optional" in lesson}


def in_order(names: Iterable[str]) -> list[str]:
    """Lessons in the order of the outline; behind them those that it does not have, by their names."""
    place = {name: number for number, name in enumerate(minutes_by_lesson())}
    return sorted(names, key=lambda name: (place.get(name, len(place)), name))


def lessons(source: Path = SOURCE) -> list[str]:
    """Ids of the lessons that have a source notebook, in their order. Raises BuildError where there are none."""
    found = in_order(folder.name for folder in source.glob("*") if (folder / f"{folder.name}.ipynb").is_file())
    if not found:
        raise BuildError(f"There are no lessons in {source}: get the whole course again.")
    return found


def make_learners_edition(target: Path, wanted: list[str] | None = None, source: Path = SOURCE) -> list[Path]:
    """Make the learner's edition of lessons below `target` by nbgrader's own generation; return their folders.

    A file that is already there is never touched. Raises BuildError where a lesson does not exist.
    """
    wanted = lessons(source) if wanted is None else wanted
    unknown = sorted(set(wanted) - set(lessons(source)))
    if unknown:
        raise BuildError(f"There is no lesson {', '.join(unknown)}; there are {', '.join(lessons(source))}.")
    missing = [lesson for lesson in wanted if not (target / lesson / f"{lesson}.ipynb").exists()]
    if missing:
        with tempfile.TemporaryDirectory(prefix="edition-") as workshop:
            _generate(Path(workshop), missing, source)
            for lesson in missing:
                copy_what_is_missing(Path(workshop) / "release" / lesson, target / lesson)
    return [target / lesson for lesson in wanted]


def write() -> Path:
    """Write the learner's edition of every lesson; return its folder. A lesson that has no source any more goes."""
    with tempfile.TemporaryDirectory(prefix="edition-") as workshop:
        made = make_learners_edition(Path(workshop))
        shutil.rmtree(EDITION, ignore_errors=True)
        for lesson in made:
            shutil.copytree(lesson, EDITION / lesson.name)
    return EDITION


def copy_what_is_missing(source: Path, target: Path) -> None:
    """Copy a tree of files, leaving alone every file that is already there. The notebooks come last: by them a lesson
    counts as complete, so that what an interruption or a full disk left out is copied the next time."""
    for path in sorted(source.rglob("*"), key=lambda path: (path.suffix == ".ipynb", path)):
        copy = target / path.relative_to(source)
        if path.is_file() and not copy.exists():
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy_whole(path, copy)


def copy_whole(path: Path, copy: Path) -> None:
    """Copy a file, which appears whole or not at all."""
    unfinished = copy.with_name(f".{copy.name}.unfinished")
    try:
        shutil.copyfile(path, unfinished)
        os.replace(unfinished, copy)
    finally:
        unfinished.unlink(missing_ok=True)


def copy_source(lesson: str, target: Path, source: Path = SOURCE) -> None:
    """Copy one lesson's source without what a trial run left beside it; evidence must never be part of a source."""
    shutil.copytree(source / lesson, target / lesson, ignore=_LEFT_BEHIND)


def _generate(workshop: Path, wanted: list[str], source: Path) -> None:
    from graders.nbgrader_bridge.course_config import (
        NbgraderCourse,  # seconds, which a learner who has the lessons need not wait for
    )

    shutil.copyfile(HERE / "nbgrader_config.py", workshop / "nbgrader_config.py")
    course = NbgraderCourse(workshop)
    for lesson in wanted:
        copy_source(lesson, workshop / "source", source)
        course.release(lesson)
