"""The report as files: a page for the instructor, two tables for the school, and plain data for other programs."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from graders.feedback import DIRECTION_OVERRIDES
from graders.palette import THEMES, css_variables
from graders.submissions.roster import Listed, write_whole

from .report_items import beliefs_across, to_talk_about
from .report_rows import GRADED, MISSING, NOT_JUDGEABLE, UNJUDGED, LessonReport, Row
from .run import NEEDS_PERSON

PAGE, TABLE, WIDE = "index.html", "grades.csv", "grades_wide.csv"
COLUMNS = ("id", "last_name", "first_name", "lesson", "status", "points", "max_points", "late_penalty", "late", "why")
WHO = ("email", "id", "last_name", "first_name")
_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_TEMPLATE = Path(__file__).parent / "report_template"


@dataclass(frozen=True)
class Line:
    """One learner over all lessons: `rows` has one for each lesson, None where the lesson does not know them. `points`
    are those of all lessons together, of `max_points` in the lessons that somebody has handed in."""

    learner: Listed
    rows: tuple[Row | None, ...]
    points: float
    max_points: float

    @property
    def share(self) -> float | None:
        """The share of these points."""
        return self.points / self.max_points if self.max_points else None


def write_report(folder: Path, class_name: str, lessons: Sequence[LessonReport]) -> tuple[Path, Path, Path]:
    """Write page and tables into `folder`, each in one step; return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    page, table, wide = folder / PAGE, folder / TABLE, folder / WIDE
    write_whole(page, page_text(class_name, lessons).encode("utf-8", "replace"))
    write_whole(table, table_text(lessons).encode("utf-8", "replace"))
    write_whole(wide, wide_text(lessons).encode("utf-8", "replace"))
    return page, table, wide


def page_text(class_name: str, lessons: Sequence[LessonReport]) -> str:
    """The page: self-contained, without script; what learners wrote is plain text in it."""
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"points": _points, "percent": _percent, "plain": plain}
    latest, next_time = to_talk_about(lessons)
    return environment.get_template("index.html.j2").render(
        class_name=class_name,
        lessons=lessons,
        everybody=everybody(lessons),
        latest=latest,
        next_time=next_time,
        across=beliefs_across(lessons),
        names=names_of(lessons),
        colours={name: css_variables(theme) for name, theme in THEMES.items()},
        statuses=(GRADED, NEEDS_PERSON, NOT_JUDGEABLE, MISSING, UNJUDGED),
    )


def everybody(lessons: Sequence[LessonReport]) -> list[Line]:
    """Each learner's line, sorted by id."""
    learners = {row.learner.id: row.learner for lesson in lessons for row in lesson.rows}
    rows = [{row.learner.id: row for row in lesson.rows} for lesson in lessons]
    most = sum(lesson.max_points for lesson in lessons if not lesson.untouched)
    found = []
    for name in sorted(learners):
        own = tuple(lesson.get(name) for lesson in rows)
        found.append(Line(learners[name], own, sum(row.points or 0.0 for row in own if row), most))
    return found


def names_of(lessons: Sequence[LessonReport]) -> dict[str, str]:
    """Each learner's name by id, with the id beside it where two have the same."""
    learners = {row.learner.id: row.learner for lesson in lessons for row in lesson.rows}
    times = Counter(one.shown for one in learners.values())
    return {name: one.shown if times[one.shown] == 1 else f"{one.shown} ({name})" for name, one in learners.items()}


def _points(points: float | None) -> str:
    return "–" if points is None else f"{round(points, 2):g}"


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.0f} %"


def plain(text: str) -> str:
    """A text without control characters, halves of characters and turns of direction."""
    return "".join(
        sign if sign not in DIRECTION_OVERRIDES and unicodedata.category(sign) not in ("Cc", "Cs", "Cn") else " "
        for sign in text
    )


def as_data(lessons: Sequence[LessonReport]) -> dict:
    """The report as plain data, for another program."""
    latest, next_time = to_talk_about(lessons)
    return {
        "talk_about_next": {"after": latest.lesson if latest else None, "sentences": next_time},
        "lessons": [
            {
                "lesson": lesson.lesson,
                "title": lesson.title,
                "share": lesson.share,
                "objectives": [asdict(one) for one in lesson.objectives],
                "hard_items": [asdict(one) for one in lesson.hard],
                "misconceptions": [asdict(one) for one in lesson.beliefs],
                "learners": [
                    {
                        "id": row.learner.id,
                        "last_name": row.learner.last_name,
                        "first_name": row.learner.first_name,
                        "email": row.learner.email,
                        "status": row.status,
                        "points": row.points,
                        "max_points": row.max_points,
                        "late": str(row.late),
                        "late_penalty": row.late.penalty,
                        "why": row.why,
                        "exercises": dict(row.exercises),
                    }
                    for row in lesson.rows
                ],
            }
            for lesson in lessons
        ],
    }


def table_text(lessons: Sequence[LessonReport]) -> str:
    """One line a learner and lesson, as CSV; points stand empty where there are none to tell, and 0 where they are."""
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    for row in (row for lesson in lessons for row in lesson.rows):
        texts = (row.learner.id, row.learner.last_name, row.learner.first_name, row.lesson, row.status)
        points = "" if row.points is None else _points(row.points)
        lateness = (_points(row.late.penalty), str(row.late))
        table.writerow([*map(cell, texts), points, _points(row.max_points), *lateness, cell(row.why)])
    return text.getvalue()


def wide_text(lessons: Sequence[LessonReport]) -> str:
    """One line a learner, as CSV, with the e-mail address first, by which schools' systems know a learner; a column for
    each lesson, empty where there are no points, then their sum, how many there are, and the per cent."""
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow([*WHO, *(cell(lesson.lesson) for lesson in lessons), "points", "max_points", "per_cent"])
    for line in everybody(lessons):
        who = (line.learner.email, line.learner.id, line.learner.last_name, line.learner.first_name)
        each = ["" if row is None or row.points is None else _points(row.points) for row in line.rows]
        per_cent = "" if line.share is None else f"{100 * line.share:.1f}"
        table.writerow([*map(cell, who), *each, _points(line.points), _points(line.max_points), per_cent])
    return text.getvalue()


def cell(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    text = plain(text)
    return f"'{text}" if text.startswith(_BEGINS_A_FORMULA) else text
