"""A class run in the terminal: a progress bar with what is left, a summary, and the feedback pages."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from course.released_rubrics import drifted
from graders.classroom import NEEDS_PERSON, NOT_JUDGED, Classroom, HandInReport
from graders.nbgrader_collect import not_taken_in


def run(folder: Path, lesson: str | None, again: bool = False, console: Console | None = None) -> int:
    """Judge a class and print its summary; return the exit status: 0, or 1 where something could not be done."""
    console = console or Console()
    classroom = Classroom(folder, again)
    with bar(console) as shown:
        pages: list[str] = []
        reports = classroom.judge(lesson, told(shown, "Judging"), lambda report: pages.append(classroom.page(report)))
    failures = [sentence for sentence in pages if sentence]
    print_summary(reports, console)
    for sentence in (*failures, *not_taken_in(classroom.course.root), *drifted(classroom.course)):
        console.print(escape(sentence), highlight=False)
    return 1 if failures or any(report.status == NOT_JUDGED for report in reports) else 0


def print_summary(reports: list[HandInReport], console: Console) -> None:
    """Print one line a learner and lesson, then what needs a person and why, then what else was noticed."""
    if not reports:
        console.print("Nobody is on the roster and nothing was handed in: hand-ins belong in submitted/ID/LESSON/.")
        return
    table = Table("Learner", "Lesson", "Points", "Status", title="Summary", title_justify="left")
    for report in reports:
        status = report.status + (" (now)" if report.judged_now else "")
        points = f"{report.points:g} of {report.max_points:g}" if report.max_points else ""
        table.add_row(escape(repr(report.learner)[1:-1]), report.lesson, points, status)
    console.print(table)
    needing = [report for report in reports if report.status in (NEEDS_PERSON, NOT_JUDGED)]
    if needing:
        console.print("\n[bold]For a person to look at[/bold]")
    for report in needing:
        console.print(f"{escape(repr(report.learner)[1:-1])}, {report.lesson}: {escape(' '.join(report.reasons))}",
                      highlight=False)
    remarked = [report for report in reports if report.remarks]
    if remarked:
        console.print("\n[bold]Also noticed[/bold]")
    for report in remarked:
        console.print(f"{escape(report.learner)}, {report.lesson}: {escape(' '.join(report.remarks))}", highlight=False)


def bar(console: Console) -> Progress:
    """A progress bar with what is left, and what is being done."""
    return Progress(TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn(),
                    TextColumn("{task.fields[what]}"), console=console, transient=True)


def told(shown: Progress, title: str):
    """A function that shows in the bar what is being done, how much is done, and how much there is."""
    task = shown.add_task(title, total=None, what="")

    def tell(what: str, done: int, total: int) -> None:
        shown.update(task, completed=done, total=total, what=escape(repr(what)[1:-1]))

    return tell
