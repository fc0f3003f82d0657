"""Taking in what learners handed in, by command: from a folder, a stick or a school's archive of everything."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

from rich.console import Console
from rich.markup import escape

from graders.classroom.collecting import collect
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.command_name import command_line


def run(
    folder: Path,
    sources: Iterable[Path] = (),
    lesson: str | None = None,
    as_json: bool = False,
    console: Console | None = None,
) -> int:
    """Take in the archives below `sources` and those in the class's downloaded/; return 0, or 1 where something was
    left alone."""
    console = console or Console()
    course = NbgraderCourse(folder)
    found, left = collect(course, sources, lesson)
    if as_json:
        print(json.dumps({"lessons": [asdict(one) for one in found], "left_alone": left}, indent=2))
        return 1 if left else 0
    for one in found:
        parts = [
            f"{len(one.new)} new" if one.new else "",
            f"{len(one.newer)} with newer work" if one.newer else "",
            f"{one.unchanged} as before" if one.unchanged else "",
        ]
        console.print(f"{one.lesson}: {', '.join(filter(None, parts)) or 'nothing'}", highlight=False)
    if not found and not left:
        console.print(
            "No archive was found. Name the folder or the archive in which the hand-ins lie, as in "
            f"'{command_line(f'collect {course.typed} FOLDER')}'.",
            highlight=False,
            soft_wrap=True,
        )
    if left:
        console.print("\n[bold]Left alone[/bold]")
    for sentence in left:
        console.print(escape(repr(sentence)[1:-1]), highlight=False, soft_wrap=True)
    if any(one.new or one.newer for one in found):
        console.print(f"\nNow judge them: {command_line(f'grade {course.typed}')}", highlight=False, soft_wrap=True)
    return 1 if left else 0
