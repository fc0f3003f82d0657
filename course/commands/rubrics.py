"""The rubrics of a class looked through in the terminal: what is wrong, and whether a faultless try meets them."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.markup import escape

from engine_sim import TimingCourseError, load_card
from graders.exercises.loader import cards_folder, own_cards, rubric_path
from graders.model_answers.check_rubric import RubricReport, check_rubric
from graders.nbgrader_bridge.course_config import CourseFolderError, NbgraderCourse
from graders.submissions.verdict_key import own_rubrics

from . import grade
from .released_rubrics import cells_in_source, drifted, new_lessons


def check(folder: Path, console: Console | None = None, only: str | None = None) -> int:
    """Check every rubric that the class judges by, or that of one lesson, and the class's own engine cards; return 0,
    or 1 where something is wrong with one. Raises CourseFolderError for a lesson without a rubric."""
    console = console or Console()
    course = NbgraderCourse(folder)
    own, engines = own_rubrics(course.root), Path(course.config.Judge.get("engines", ""))
    new = new_lessons(course)
    lessons = sorted([*(lesson for lesson in course.lessons() if rubric_path(lesson, own).is_file()), *new])
    if only is not None and only not in lessons:
        raise CourseFolderError(
            f"There is no lesson '{only}' with a rubric in this class; there are {', '.join(lessons)}."
        )
    wanted = lessons if only is None else [only]
    wrong = _about_files(own, lessons) if only is None else []
    reports = []
    with grade.bar(console) as shown:
        for lesson in wanted:
            cells = cells_in_source(course, lesson) if lesson in new else course.grade_cells(lesson)
            told = grade.told(shown, f"Trying {lesson}")
            reports.append(check_rubric(lesson, own, engines, course.directory.course_id, cells, told))
    for report in reports:
        _print(report, console)
    for sentence in (*wrong, *drifted(course)):
        console.print(escape(sentence), highlight=False)
    return 1 if wrong or any(report.wrong for report in reports) else 0


def _about_files(own: Path | None, lessons: list[str]) -> list[str]:
    """A sentence for each rubric that belongs to no lesson, and for each engine card that cannot be used or is used by
    no lesson."""
    if own is None:
        return []
    sentences, used = [], set()
    for lesson in lessons:
        try:
            used.update(own_cards(lesson, own))
        except TimingCourseError:
            continue  # said of that rubric
    for path in sorted(own.glob("*.toml")):
        if path.stem not in lessons:
            sentences.append(f"{path} belongs to no lesson of this class: name it after its lesson.")
    for path in sorted(cards_folder(own).glob("*.toml")):
        try:
            load_card(path)
        except TimingCourseError as error:
            sentences.append(str(error))
        else:
            if path not in used:
                sentences.append(f"{path} is used by no lesson: name it, without .toml, as the engine of an exercise.")
    return sentences


def _print(report: RubricReport, console: Console) -> None:
    whose = f"the class's own, {report.path}" if report.own else "the course's"
    verdict = "not as it should be" if report.wrong else "can be met in full"
    console.print(f"[bold]{escape(report.lesson)}[/bold] ({escape(whose)}): {verdict}", highlight=False)
    for sentence in (*report.wrong, *report.notes):
        console.print(f"- {escape(sentence)}", highlight=False)
