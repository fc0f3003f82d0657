"""A learner's own result in the terminal, by the same judge that a class is judged by."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.markup import escape

from course import ENGINES
from course.authoring.edition import lessons
from course.learner.lesson_folder import EVIDENCE_NAME, learner_of
from engine_sim import TimingCourseError
from graders.judge import judge_lesson
from graders.outcome import ExerciseResult


class NothingToCheck(TimingCourseError):
    """There is no lesson in the folder that was given."""


def run(folder: Path, console: Console | None = None) -> int:
    """Print what every lesson in `folder` earns so far; return 0, or 1 where a lesson's evidence cannot be judged."""
    console = console or Console()
    found = (
        [folder]
        if folder.resolve().name in lessons()
        else [folder / lesson for lesson in lessons() if (folder / lesson).is_dir()]
    )
    if not found:
        raise NothingToCheck(
            f"There is no lesson in {folder}: give your course folder, or begin with 'timing-course start'."
        )
    return max(_check_lesson(lesson.resolve(), console) for lesson in found)


def _check_lesson(lesson: Path, console: Console) -> int:
    result = judge_lesson(lesson.name, lesson / EVIDENCE_NAME, ENGINES, learner_of(lesson), lesson)
    console.print(f"[bold]{escape(lesson.name)}[/bold]: {result.points:g} of {result.max_points:g} points")
    for sentence in filter(None, (result.problem, *result.notes)):
        console.print(escape(sentence), highlight=False)
    for exercise in () if result.problem else result.exercises:  # each would repeat the problem's sentence
        _print_exercise(exercise, console)
    return 1 if result.problem else 0


def _print_exercise(exercise: ExerciseResult, console: Console) -> None:
    console.print(f"\n  {escape(exercise.title)}: {exercise.points:g} of {exercise.max_points:g}")
    for criterion in exercise.criteria:
        console.print(f"    {criterion.outcome.value}: {escape(criterion.title)}", highlight=False)
        if criterion.sentence:
            console.print(f"      {escape(criterion.sentence)}", highlight=False)
    if exercise.needs_person:
        console.print(f"    A person looks at this: {escape(exercise.needs_person)}")
