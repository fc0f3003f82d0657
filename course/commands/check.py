"""A learner's own result in the terminal, by the same judge that a class is judged by."""

from __future__ import annotations

import shlex
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from course import ENGINES
from course.authoring.edition import lessons
from course.jupyter.plain_page.lesson_list import lessons_in
from course.learner.lesson_folder import EVIDENCE_NAME, for_learners, learner_of
from course.learner.progress import bring_up_to_date
from engine_sim import TimingCourseError
from graders.judge import judge_lesson
from graders.outcome import ExerciseResult
from graders.submissions.command_name import command_line


class NothingToCheck(TimingCourseError):
    """There is no lesson in the folder that was given."""


def run(folder: Path, console: Console | None = None) -> int:
    """Print what every lesson in `folder` earns so far, or one lesson in detail where `folder` is that; return 0, or 1
    where the work of that lesson cannot be judged."""
    console = console or Console()
    if folder.resolve().name in lessons():
        return _check_lesson(folder.resolve(), console)
    if not any((folder / lesson).is_dir() for lesson in lessons()):
        raise NothingToCheck(
            f"There is no lesson in {folder}: give your course folder, or begin with '{command_line('start')}'."
        )
    _print_table(folder.resolve(), console)
    return 0


def _print_table(folder: Path, console: Console) -> None:
    done = bring_up_to_date(folder)
    judged = [(entry, done[entry.lesson]) for entry in lessons_in(folder) if entry.lesson in done]
    table = Table(box=None, pad_edge=False, header_style="bold", show_footer=True, footer_style="bold")
    table.add_column("Lesson", "Together")
    table.add_column("Points", f"{sum(one.points for _, one in judged):g}", justify="right")
    table.add_column("of", f"{sum(one.max_points for _, one in judged):g}", justify="right")
    table.add_column("Exercises begun", justify="right")
    for entry, one in judged:
        number = entry.label.split(" of ")[0]
        title = f"{number}: {entry.title}" if number else entry.title
        tried = f"{one.tried} of {one.exercises}"
        table.add_row(escape(title), f"{one.points:g}", f"{one.max_points:g}", tried)
    console.print(table)
    for entry, one in judged:
        if one.problem:
            console.print(escape(f"{entry.title}: {one.problem}"), highlight=False)
    begun = [entry.lesson for entry, one in judged if one.tried]
    if begun:
        command = command_line(f"check {shlex.quote(str(folder / begun[-1]))}")
        console.print(escape(f"One lesson in detail: {command}"), highlight=False, soft_wrap=True)


def _check_lesson(lesson: Path, console: Console) -> int:
    result = judge_lesson(lesson.name, lesson / EVIDENCE_NAME, ENGINES, learner_of(lesson), lesson)
    console.print(f"[bold]{escape(lesson.name)}[/bold]: {result.points:g} of {result.max_points:g} points")
    for sentence in filter(None, (result.problem, *result.notes)):
        console.print(escape(for_learners(sentence)), highlight=False)
    for exercise in () if result.problem else result.exercises:  # each would repeat the problem's sentence
        _print_exercise(exercise, console)
    return 1 if result.problem and result.problem_kind not in ("missing", "empty") else 0


def _print_exercise(exercise: ExerciseResult, console: Console) -> None:
    console.print(f"\n  {escape(exercise.title)}: {exercise.points:g} of {exercise.max_points:g}")
    for criterion in exercise.criteria:
        console.print(f"    {criterion.outcome.value}: {escape(criterion.title)}", highlight=False)
        if criterion.sentence:
            console.print(f"      {escape(criterion.sentence)}", highlight=False)
    if exercise.needs_person:
        console.print(f"    A person looks at this: {escape(exercise.needs_person)}")
