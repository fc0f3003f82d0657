"""The report on a class, by command: its page and its table, with a progress bar."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

from rich.console import Console
from rich.markup import escape

from course import OUTLINE
from graders.classroom.report import FOLDER, report_on
from graders.classroom.report_files import as_data, plain, write_report
from graders.classroom.report_items import to_talk_about
from graders.classroom.report_rows import GRADED, UNJUDGED
from graders.classroom.run import Classroom, kept_in_words
from graders.submissions.command_name import command_line

from . import grade
from .summary import say


def run(folder: Path, lesson: str | None = None, console: Console | None = None, as_json: bool = False) -> int:
    """Make the report in the class's folder `report/` and say where it is; return 0. `as_json`: print what is in it for
    another program to read."""
    console = console or Console(stderr=as_json)
    classroom = Classroom(folder)
    with grade.bar(console) as shown:
        lessons = report_on(classroom, objectives(), lesson, grade.told(shown, "Reporting"))
    course = classroom.course
    judge = command_line(f"grade {course.typed}")
    page, table, wide = write_report(course.root / FOLDER, course.directory.course_id, lessons)
    if as_json:
        print(
            json.dumps({"page": str(page), "table": str(table), "wide_table": str(wide), **as_data(lessons)}, indent=2)
        )
        return 0
    for one in lessons:
        others = sum(row.status != GRADED for row in one.rows)
        console.print(
            f"[bold]{escape(one.lesson)}[/bold]: {one.count(GRADED)} graded, {others} not, or not in full.",
            highlight=False,
        )
    if any(one.count(UNJUDGED) for one in lessons):
        say(console, f"Some hand-ins are not judged yet: run '{judge}' and this once more.")
    for sentence in classroom.unusable.values():
        say(console, sentence)
    for sentence in kept_in_words(row.kept_from for one in lessons for row in one.rows):
        console.print(sentence)
    earlier = sum(not row.by_present_rules for one in lessons for row in one.rows)
    if earlier:
        say(
            console,
            f"{earlier} hand-in(s) were judged by an earlier rubric or edition of the course, and count as they were "
            f"judged: '{judge}' judges them again.",
        )
    latest, sentences = to_talk_about(lessons)
    if latest is not None and sentences:
        console.print(f"To talk about next, after {escape(latest.title)}:", highlight=False)
        for sentence in sentences:
            console.print(escape(f"  - {plain(sentence)}"), highlight=False)
    say(console, f"The report is {page}, the tables {table} and {wide}.")
    return 0


def objectives(outline: Path = OUTLINE) -> dict[str, dict[str, str]]:
    """Each lesson's objectives, in words, by id."""
    lessons = tomllib.loads(outline.read_text(encoding="utf-8"))["lessons"]
    return {lesson["id"]: lesson["objectives"] for lesson in lessons}
