"""What the index page says of each lesson in a folder: its title, its minutes, whether work on it has begun."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

from course.learner.lesson_folder import EVIDENCE_NAME

_TITLE = re.compile(r"^# +(?P<title>.+?) *$", re.MULTILINE)
_MINUTES = re.compile(r"\babout (?P<minutes>\d+) minutes\b")
UNREADABLE = "This lesson's notebook cannot be read; lay the lesson out again with 'timing-course start'."


@dataclass(frozen=True)
class LessonEntry:
    """One line of the index; `problem` holds the sentence to show where the notebook cannot be read."""

    lesson: str
    path: str  # of the notebook, below the folder, with forward slashes
    title: str
    minutes: int | None
    begun: bool
    problem: str = ""


def lessons_in(folder: Path) -> list[LessonEntry]:
    """The lessons in `folder` (`<lesson>/<lesson>.ipynb`), in the order of their names."""
    found = sorted(path for path in folder.glob("*/*.ipynb") if path.stem == path.parent.name)
    return [_entry(path) for path in found]


def _entry(path: Path) -> LessonEntry:
    lesson, place = path.stem, f"{path.parent.name}/{path.name}"
    evidence = path.with_name(EVIDENCE_NAME)
    begun = evidence.is_file() and evidence.stat().st_size > 0
    try:
        opening = _opening_text(path)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return LessonEntry(lesson, place, lesson, None, begun, UNREADABLE)
    title, minutes = _TITLE.search(opening), _MINUTES.search(opening)
    return LessonEntry(
        lesson, place, title["title"] if title else lesson, int(minutes["minutes"]) if minutes else None, begun
    )


def _opening_text(path: Path) -> str:
    """The first Markdown cell of a notebook."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    texts = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"]
    return texts[0] if texts else ""
