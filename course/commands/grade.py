"""A class run in the terminal: a progress bar with what is left, a summary, and the feedback pages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from engine_sim.version import Edition
from graders.classroom.run import NEEDS_PERSON, NOT_JUDGED, NOTHING, Classroom, HandInReport, kept_in_words
from graders.nbgrader_bridge.collect import not_taken_in

from .released_rubrics import drifted


def run(folder: Path, lesson: str | None, again: bool = False, console: Console | None = None) -> int:
    """Judge a class and print its summary; return the exit status: 0, or 1 where something could not be done."""
    console = console or Console()
    classroom = Classroom(folder, again)
    for sentence in made_with_another(classroom.made_with):
        console.print(escape(sentence), highlight=False, soft_wrap=True)
    with bar(console) as shown:
        pages: list[str] = []
        reports = classroom.judge(lesson, told(shown, "Judging"), lambda report: pages.append(classroom.page(report)))
    failures = [sentence for sentence in pages if sentence]
    print_summary(reports, console)
    for sentence in (*failures, *not_taken_in(classroom.course.root), *drifted(classroom.course)):
        console.print(escape(sentence), highlight=False)
    return 1 if failures or any(report.status == NOT_JUDGED for report in reports) else 0


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


def print_summary(reports: list[HandInReport], console: Console) -> None:
    """Print a line for each hand-in, who handed nothing in, what needs a person and why, and what else was noticed."""
    if not reports:
        console.print("Nobody is on the roster and nothing was handed in: hand-ins belong in submitted/ID/LESSON/.")
        return
    table = Table("Learner", "Lesson", "Points", "Status", title="Summary", title_justify="left")
    for report in reports:
        if report.status != NOTHING:
            status = report.status + (" (now)" if report.judged_now else " (kept)" if report.kept_from else "")
            points = f"{report.points:g} of {report.max_points:g}" if report.max_points else ""
            table.add_row(_safe(report.learner), report.lesson, points, status)
    if table.row_count:
        console.print(table)
    for sentence in kept_in_words(report.kept_from for report in reports):
        console.print(f"Kept: {sentence}", highlight=False)
    _print_missing(reports, console)
    needing = [report for report in reports if report.status in (NEEDS_PERSON, NOT_JUDGED)]
    _print_once("For a person to look at", [(one, " ".join(one.reasons)) for one in needing], console)
    _print_once("Also noticed", [(one, " ".join(one.remarks)) for one in reports if one.remarks], console)


def _safe(learner: str) -> str:
    """A learner's name as the terminal may show it."""
    return escape(repr(learner)[1:-1])


def _print_missing(reports: list[HandInReport], console: Console) -> None:
    """Who handed nothing in: a line for each lesson, not one for each learner."""
    by_lesson: dict[str, list[HandInReport]] = {}
    for report in reports:
        by_lesson.setdefault(report.lesson, []).append(report)
    missing = {
        lesson: [_safe(one.learner) for one in those if one.status == NOTHING] for lesson, those in by_lesson.items()
    }
    if any(missing.values()):
        console.print("\n[bold]Nothing handed in[/bold]")
    for lesson, names in missing.items():
        if names:
            who = f"all {len(names)}" if len(names) == len(by_lesson[lesson]) > 1 else ", ".join(names)
            console.print(f"{lesson}: {who}", highlight=False)


def _print_once(title: str, told: list[tuple[HandInReport, str]], console: Console) -> None:
    """Sentences under a title; a sentence that several lessons of a learner share is printed once."""
    lessons: dict[tuple[str, str], list[str]] = {}
    for report, sentence in told:
        lessons.setdefault((report.learner, sentence), []).append(report.lesson)
    if lessons:
        console.print(f"\n[bold]{title}[/bold]")
    for (learner, sentence), names in lessons.items():
        console.print(f"{_safe(learner)}, {', '.join(names)}: {escape(sentence)}", highlight=False)


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
