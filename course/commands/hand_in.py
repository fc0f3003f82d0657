"""Handing in by command: what is missing is named, and the learner asked, before the archive is made."""

from __future__ import annotations

import sys
from pathlib import Path

import typer
from rich.console import Console
from rich.markup import escape

from course.learner.hand_in_archive import FOLDER, lesson_in, look_through, make_archive


def run(folder: Path, lesson: str = "", anyway: bool = False, console: Console | None = None) -> int:
    """Make the archive of one lesson beside the lessons; return 0, or 1 where something is missing first."""
    console = console or Console()
    place = lesson_in(folder, lesson)
    ready = look_through(place)
    for sentence in ready.missing:
        console.print(f"- {escape(sentence)}", highlight=False)
    if ready.missing and not anyway and not _asked():
        console.print("No archive was made. To hand in what there is, add --anyway.")
        return 1
    path = make_archive(ready, place.parent / FOLDER)
    console.print(
        escape(f"{ready.lesson} of {ready.learner} is in {path}: upload or send that file."),
        highlight=False,
        soft_wrap=True,
    )
    return 0


def _asked() -> bool:
    return sys.stdin.isatty() and typer.confirm("Hand in all the same?")
