"""The rubrics of a class looked through in the terminal: what is wrong, and whether a faultless try meets them."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.markup import escape

from graders.exercises.loader import rubric_path
from graders.model_answers.check_rubric import RubricReport, check_rubric
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.verdict_key import own_rubrics

from . import grade
from .released_rubrics import drifted


def check(folder: Path, console: Console | None = None) -> int:
    """Check every rubric that the class judges by; return 0, or 1 where something is wrong with one."""
    console = console or Console()
    course = NbgraderCourse(folder)
    own, engines = own_rubrics(course.root), Path(course.config.Judge.get("engines", ""))
    lessons = [lesson for lesson in course.lessons() if rubric_path(lesson, own).is_file()]
    strange = sorted(path for path in own.glob("*.toml") if path.stem not in lessons) if own else []
    reports = []
    with grade.bar(console) as shown:
        for lesson in lessons:
            reports.append(
                check_rubric(
                    lesson,
                    own,
                    engines,
                    course.directory.course_id,
                    course.grade_cells(lesson),
                    grade.told(shown, f"Trying {lesson}"),
                )
            )
    for report in reports:
        _print(report, console)
    for path in strange:
        console.print(f"{path} belongs to no lesson of this class: name it after its lesson.", highlight=False)
    for sentence in drifted(course):
        console.print(escape(sentence), highlight=False)
    return 1 if strange or any(report.wrong for report in reports) else 0


def _print(report: RubricReport, console: Console) -> None:
    whose = f"the class's own, {report.path}" if report.own else "the course's"
    verdict = "not as it should be" if report.wrong else "can be met in full"
    console.print(f"[bold]{escape(report.lesson)}[/bold] ({escape(whose)}): {verdict}", highlight=False)
    for sentence in (*report.wrong, *report.notes):
        console.print(f"- {escape(sentence)}", highlight=False)
