"""A learner's own result in the terminal, by the same judge that a class is judged by."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from course import ENGINES
from course.authoring.edition import lessons
from course.jupyter.plain_page.lesson_list import LessonEntry, label_of, lessons_in
from course.learner.lesson_folder import EVIDENCE_NAME, for_learners, learner_of
from course.learner.progress import LessonProgress, bring_up_to_date
from engine_sim import TimingCourseError
from graders.judge import judge_lesson
from graders.outcome import ExerciseResult, LessonResult
from graders.submissions.command_name import command_line


class NothingToCheck(TimingCourseError):
    """There is no lesson in the folder that was given."""


def run(folder: Path, console: Console | None = None, as_json: bool = False) -> int:
    """Print what every lesson in `folder` earns so far, or one lesson in detail where `folder` is that; return 0, or 1
    where the work of that lesson cannot be judged. `as_json`: the same for another program to read."""
    console = console or Console(stderr=as_json)
    name = folder.resolve().name
    if name in lessons() or (folder / f"{name}.ipynb").is_file():
        return _check_lesson(folder.resolve(), console, as_json)
    if not lessons_in(folder.resolve()):
        raise NothingToCheck(
            f"There is no lesson in {folder}: give your course folder, or begin with '{command_line('start')}'."
        )
    done = bring_up_to_date(folder.resolve())
    judged = [(entry, done[entry.lesson]) for entry in lessons_in(folder.resolve()) if entry.lesson in done]
    if as_json:
        print(json.dumps(_table_as_data(judged), indent=2))
    else:
        _print_table(folder.resolve(), judged, console)
    return 0


def _table_as_data(judged: list[tuple[LessonEntry, LessonProgress]]) -> dict:
    return {
        "points": sum(one.points for _, one in judged),
        "max_points": sum(one.max_points for _, one in judged),
        "lessons": [
            {
                "lesson": entry.lesson,
                "title": entry.title,
                "points": one.points,
                "max_points": one.max_points,
                "exercises_begun": one.tried,
                "exercises": one.exercises,
                "problem": one.problem,
            }
            for entry, one in judged
        ],
    }


def _print_table(folder: Path, judged: list[tuple[LessonEntry, LessonProgress]], console: Console) -> None:
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
    most = sum(one.own_most for _, one in judged)
    if most:
        own = sum(one.own_marks for _, one in judged)
        console.print(f"By your own marks, counted apart: {own:g} of {most:g} points.", highlight=False)
    for entry, one in judged:
        if one.problem:
            console.print(escape(f"{entry.title}: {one.problem}"), highlight=False)
    begun = [entry.lesson for entry, one in judged if one.tried]
    if begun:
        command = command_line(f"check {shlex.quote(str(folder / begun[-1]))}")
        console.print(escape(f"One lesson in detail: {command}"), highlight=False, soft_wrap=True)


def _check_lesson(lesson: Path, console: Console, as_json: bool) -> int:
    result = judge_lesson(lesson.name, lesson / EVIDENCE_NAME, ENGINES, learner_of(lesson), lesson, as_told=True)
    status = 1 if result.problem and result.problem_kind not in ("missing", "empty") else 0
    if as_json:
        print(json.dumps(_lesson_as_data(result), indent=2))
        return status
    console.print(f"[bold]{escape(_title_of(lesson))}[/bold]: {result.points:g} of {result.max_points:g} points")
    for sentence in filter(None, (result.problem, *result.notes)):
        console.print(escape(for_learners(sentence)), highlight=False)
    for exercise in () if result.problem else result.exercises:  # each would repeat the problem's sentence
        _print_exercise(exercise, console)
    return status


def _lesson_as_data(result: LessonResult) -> dict:
    return {
        "lesson": result.lesson,
        "points": result.points,
        "max_points": result.max_points,
        "problem": for_learners(result.problem),
        "notes": [*map(for_learners, result.notes)],
        "exercises": [
            {
                "exercise": exercise.exercise,
                "title": exercise.title,
                "points": exercise.points,
                "max_points": exercise.max_points,
                "needs_person": exercise.needs_person,
                "criteria": [
                    {
                        "criterion": one.criterion,
                        "title": one.title,
                        "outcome": one.outcome.value,
                        "points": one.points,
                        "max_points": one.max_points,
                        "sentence": one.sentence,
                    }
                    for one in exercise.criteria
                ],
            }
            for exercise in (() if result.problem else result.exercises)
        ],
    }


def _title_of(lesson: Path) -> str:
    """The lesson's place and title; its folder's name for a lesson of a class's own without a notebook."""
    found = next((one for one in lessons_in(lesson.parent) if one.lesson == lesson.name), None)
    names = dict.fromkeys((label_of(lesson.name), found.title if found else ""))  # a notebook without one has the label
    return ": ".join(filter(None, names)) or lesson.name


def _print_exercise(exercise: ExerciseResult, console: Console) -> None:
    console.print(f"\n  {escape(exercise.title)}: {exercise.points:g} of {exercise.max_points:g}")
    if exercise.better:
        console.print(f"    Your latest try: {exercise.shown.points:g}. The points are those of your best one.")
    for criterion in exercise.shown.criteria:
        console.print(f"    {criterion.outcome.value}: {escape(criterion.title)}", highlight=False)
        if criterion.sentence:
            console.print(f"      {escape(criterion.sentence)}", highlight=False)
    if exercise.needs_person:
        console.print(f"    A person looks at this: {escape(exercise.needs_person)}")
