"""A class run in the terminal: a progress bar with what is left, a summary, and the feedback pages."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from engine_sim.version import Edition
from graders.classroom.class_list import about_ghost, ghosts
from graders.classroom.run import NOT_JUDGED, Classroom, faults_of_ours
from graders.nbgrader_bridge.collect import not_taken_in

from .released_rubrics import drifted, without_cell
from .summary import Summary


def run(
    folder: Path,
    lesson: str | None = None,
    again: bool = False,
    console: Console | None = None,
    *,
    everything: bool = False,
    as_json: bool = False,
) -> int:
    """Judge a class and print its summary; return the exit status: 0, or 1 where something could not be done."""
    console = console or Console(stderr=as_json)
    classroom = Classroom(folder, again)
    course = classroom.course
    with bar(console) as shown:
        pages: list[str] = []
        reports = classroom.judge(lesson, told(shown, "Judging"), lambda report: pages.append(classroom.page(report)))
    summary = Summary(
        course.directory.course_id,
        reports,
        {(one.lesson, one.learner) for one in reports if one.judged_now} | classroom.pages_made,
        about_class=[
            *made_with_another(classroom.made_with),
            *drifted(course),
            *without_cell(course),
            *(about_ghost(course, ghost) for ghost in ghosts(course)),
        ],
        left_alone=not_taken_in(course.root),
        failures=[
            *(sentence for name, sentence in classroom.unusable.items() if lesson in (None, name)),
            *(sentence for sentence in (*pages, *faults_of_ours(reports)) if sentence),
        ],
        folder=course.typed,
    )
    if as_json:
        print(json.dumps(summary.as_data(), indent=2))
    else:
        summary.print_on(console, everything)
    return 1 if summary.failures or any(report.status == NOT_JUDGED for report in reports) else 0


def made_with_another(made_with: Edition | None) -> list[str]:
    """What an instructor should know whose class was made with another edition of the course than this one."""
    here = Edition.here()
    if made_with is None or made_with == here:
        return []
    held = ""
    if made_with.model != here.model:
        held = f" Work at an engine of model {made_with.model} that was never judged waits for a person."
    return [
        f"This class was made with {made_with}; this is {here}. What was judged keeps its points.{held} To judge with "
        "the edition that the class was made with, install it and run this again:",
        f"    {made_with.install_command}",
    ]


def bar(console: Console) -> Progress:
    """A progress bar with what is left, and what is being done."""
    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[what]}"),
        console=console,
        transient=True,
    )


def told(shown: Progress, title: str) -> Callable[[str, int, int], None]:
    """A function that shows in the bar what is being done, how much is done, and how much there is."""
    task = shown.add_task(title, total=None, what="")

    def tell(what: str, done: int, total: int) -> None:
        shown.update(task, completed=done, total=total, what=escape(repr(what)[1:-1]))

    return tell
