"""The report on a class: a page for the instructor and a table for the school, from gradebook and verdicts.

Nothing is judged or replayed here: everything comes from the gradebook and from the judge's records. So no hand-in,
however large or long, can hold up the report. The same class gives the same files to the byte.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from engine_sim import TimingCourseError
from graders.exercises.loader import Rubric, rubric_for
from graders.feedback import DIRECTION_OVERRIDES
from graders.nbgrader_bridge.lateness import IN_TIME, Lateness
from graders.palette import DARK, LIGHT, THEMES, css_variables
from graders.submissions.roster import Listed, write_whole

from .report_pictures import Way, in_words, picture_address, way_of
from .run import JUDGED, NEEDS_PERSON, NOT_JUDGED, NOTHING, WAITING, Classroom, HandInReport, kept_in_words

PAGE, TABLE = "index.html", "grades.csv"
GRADED, MISSING, NOT_JUDGEABLE, UNJUDGED = "graded", "missing", "could not be judged", WAITING
COLUMNS = ("id", "last_name", "first_name", "lesson", "status", "points", "max_points", "late_penalty", "late", "why")
HARD_ITEMS = 8
_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_TEMPLATE = Path(__file__).parent / "report_template"

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Row:
    """One learner's line of one lesson. `points` is None where there is nothing that could have earned any, which a
    real zero is not; `exercises` holds the points by exercise, None where they are not settled. `kept_from` names
    another edition of the course whose verdict stands."""

    learner: Listed
    lesson: str
    status: str
    points: float | None
    max_points: float
    late: Lateness
    why: str
    exercises: Mapping[str, float | None] = field(default_factory=dict)
    criteria: tuple[dict, ...] = ()
    by_present_rules: bool = True
    kept_from: str = ""


@dataclass(frozen=True)
class Share:
    """How much of something the class earned: from 0 to 1 of its points, by how many learners."""

    title: str
    share: float
    learners: int


@dataclass(frozen=True)
class Belief:
    """A misconception and who showed it."""

    sentence: str
    learners: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """Everybody's way in one exercise, in both themes and in words."""

    title: str
    light: str
    dark: str
    words: str
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class LessonReport:
    """The report on one lesson."""

    lesson: str
    title: str
    exercises: Mapping[str, tuple[str, float]]  # id -> title, points
    rows: tuple[Row, ...]
    objectives: tuple[Share, ...] = ()
    beliefs: tuple[Belief, ...] = ()
    hard: tuple[Share, ...] = ()
    pictures: tuple[Picture, ...] = ()

    def count(self, status: str) -> int:
        """How many learners have this status."""
        return sum(row.status == status for row in self.rows)

    @property
    def kept(self) -> list[str]:
        """A sentence for each other edition of the course whose verdicts stand."""
        return kept_in_words(row.kept_from for row in self.rows)

    @property
    def short(self) -> str:
        """The lesson's number, as in l04, or its id where it has none."""
        return self.lesson.split("_")[0]

    @property
    def untouched(self) -> bool:
        """Whether nobody handed anything in."""
        return all(row.status == MISSING for row in self.rows)


def report_on(
    classroom: Classroom,
    objectives: Mapping[str, Mapping[str, str]],
    lesson: str | None = None,
    progress: Progress = lambda *_: None,
) -> list[LessonReport]:
    """The report on every lesson of the class, or on one. `objectives` has each lesson's objectives by id, in words."""
    by_lesson: dict[str, list[HandInReport]] = {}
    for standing in classroom.standing(lesson):
        by_lesson.setdefault(standing.lesson, []).append(standing)
    return [
        _lesson(classroom, name, standings, objectives.get(name, {}), progress) for name, standings in by_lesson.items()
    ]


def write_report(folder: Path, class_name: str, lessons: list[LessonReport]) -> tuple[Path, Path]:
    """Write page and table into `folder`, each in one step; return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    page, table = folder / PAGE, folder / TABLE
    write_whole(page, page_text(class_name, lessons).encode("utf-8", "replace"))
    write_whole(table, table_text(lessons).encode("utf-8", "replace"))
    return page, table


# ---- from the gradebook to the report --------------------------------------------------------------------------------


def _lesson(
    classroom: Classroom, lesson: str, standings: list[HandInReport], objectives: Mapping[str, str], progress: Progress
) -> LessonReport:
    rubric = _rubric(lesson, classroom)
    cells = classroom.course.grade_cells(lesson)
    titles = {
        name: (rubric.exercises[name].title if rubric and name in rubric.exercises else name, most)
        for name, most in cells.items()
    }
    rows = tuple(_row(classroom, standing) for standing in standings)
    judged = [row for row in rows if row.status in (GRADED, NEEDS_PERSON)]
    if rubric is None:
        return LessonReport(lesson=lesson, title=lesson, exercises=titles, rows=rows)
    return LessonReport(
        lesson=lesson,
        title=rubric.title,
        exercises=titles,
        rows=rows,
        objectives=tuple(_objectives(rubric, objectives, cells, judged)),
        beliefs=tuple(_beliefs(rubric, judged)),
        hard=tuple(_hard(rubric, judged)),
        pictures=tuple(_pictures(classroom, rubric, judged, progress)),
    )


def _rubric(lesson: str, classroom: Classroom) -> Rubric | None:
    """The lesson's rubric, or None for a lesson of the instructor's own that has none."""
    try:
        return rubric_for(lesson, classroom.rubrics)
    except TimingCourseError:
        return None


def status_of(standing: HandInReport, problem: str) -> str:
    """Graded, needs a person, missing, could not be judged, or not judged yet."""
    plain = {JUDGED: GRADED, NOTHING: MISSING, NOT_JUDGED: NOT_JUDGEABLE, WAITING: UNJUDGED}
    return plain.get(standing.status) or (NOT_JUDGEABLE if problem else NEEDS_PERSON)


def _row(classroom: Classroom, standing: HandInReport) -> Row:
    lesson, learner = standing.lesson, standing.learner
    record = classroom.record(lesson, learner) if standing.status in (JUDGED, NEEDS_PERSON) else {}
    status = status_of(standing, record.get("problem", ""))
    grades = classroom.course.grades(lesson, learner)
    marked = {grade.name for grade in grades if grade.marked_by_person}
    if status == NOT_JUDGEABLE and record and marked:  # a person has judged what the machine could not
        status = NEEDS_PERSON if any(grade.needs_person for grade in grades) else GRADED
    settled = status in (GRADED, NEEDS_PERSON)
    entry = classroom.roster.entries.get(learner) or Listed(learner)
    return Row(
        learner=entry,
        lesson=lesson,
        status=status,
        points=standing.counted if settled else None,
        max_points=sum(classroom.course.grade_cells(lesson).values()),
        late=standing.late if settled else IN_TIME,
        why=_why(standing, record),
        exercises={
            grade.name: None if grade.needs_person and not grade.marked_by_person else grade.points for grade in grades
        }
        if settled
        else {},
        criteria=tuple(
            dict(one, exercise=name)
            for name, found in record.get("exercises", {}).items()
            for one in found.get("criteria", ())
        ),
        by_present_rules=not record or bool(standing.kept_from) or classroom.is_by_present_rules(lesson, learner),
        kept_from=standing.kept_from,
    )


def _why(standing: HandInReport, record: Mapping) -> str:
    """Why a person must look, or had to: the sentences of the class run, and those that a mark by hand has settled."""
    could_not = (
        [record["problem"]]
        if record.get("problem")
        else dict.fromkeys(
            found["needs_person"]
            for found in record.get("exercises", {}).values()
            if found["needs_person"] and not found.get("answered")
        )
    )  # an answer waits for its mark, and nothing failed
    settled = [sentence for sentence in could_not if sentence not in standing.reasons]
    return " ".join((*standing.reasons, *(f"Marked by hand. The judge said: {sentence}" for sentence in settled)))


def _mean(shares: list[float]) -> float:
    return sum(shares) / len(shares)


def _objectives(rubric: Rubric, words: Mapping[str, str], cells: Mapping[str, float], rows: list[Row]):
    """The share of the points of all exercises that serve an objective; what still waits for a mark is left out."""
    for objective in dict.fromkeys(exercise.objective for exercise in rubric.exercises.values()):
        names = [name for name in cells if name in rubric.exercises and rubric.exercises[name].objective == objective]
        shares = []
        for row in rows:
            earned = {name: points for name in names if (points := row.exercises.get(name)) is not None}
            if earned:
                shares.append(sum(earned.values()) / sum(cells[name] for name in earned))
        if shares:
            yield Share(words.get(objective, objective), _mean(shares), len(shares))


def _beliefs(rubric: Rubric, rows: list[Row]):
    """Each misconception that somebody showed, the most frequent first."""
    showed: dict[str, list[str]] = {}
    for row in rows:
        for name in dict.fromkeys(one["misconception"] for one in row.criteria if one["misconception"]):
            showed.setdefault(name, []).append(row.learner.id)
    for name, learners in sorted(showed.items(), key=lambda item: (-len(item[1]), item[0])):
        known = rubric.misconceptions.get(name)
        yield Belief(known.sentence if known else name, tuple(learners))


def _hard(rubric: Rubric, rows: list[Row]) -> list[Share]:
    """The criteria of which the class earned least, the hardest first; what a person marks has none."""
    written = {name for name, exercise in rubric.exercises.items() if exercise.marked_by_person}
    shares: dict[tuple[str, str], list[float]] = {}
    for row in rows:
        for one in row.criteria:
            if one["max_points"] and one["outcome"] != NOT_JUDGEABLE and one["exercise"] not in written:
                shares.setdefault((one["exercise"], one["title"]), []).append(one["points"] / one["max_points"])
    found = [Share(title, _mean(each), len(each)) for (_, title), each in shares.items()]
    return sorted((one for one in found if one.share < 1.0), key=lambda one: (one.share, one.title))[:HARD_ITEMS]


def _pictures(classroom: Classroom, rubric: Rubric, rows: list[Row], progress: Progress):
    for exercise in rubric.exercises.values():
        if not exercise.searches_timing():
            continue
        ways = []
        for done, row in enumerate(rows):
            progress(f"{rubric.lesson}: the way of {row.learner.id}", done, len(rows))
            found = classroom.record(rubric.lesson, row.learner.id).get("exercises", {}).get(exercise.id, {})
            way = way_of(exercise, row.learner.id, found)
            ways += [way] if way else []
        if ways:
            yield Picture(
                exercise.title, picture_address(ways, LIGHT), picture_address(ways, DARK), in_words(ways), tuple(ways)
            )


# ---- page and table --------------------------------------------------------------------------------------------------


def page_text(class_name: str, lessons: list[LessonReport]) -> str:
    """The page: self-contained, without script; what learners wrote is plain text in it."""
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"points": _points, "percent": lambda share: f"{100 * share:.0f} %", "plain": plain}
    return environment.get_template("index.html.j2").render(
        class_name=class_name,
        lessons=lessons,
        everybody=everybody(lessons),
        colours={name: css_variables(theme) for name, theme in THEMES.items()},
        statuses=(GRADED, NEEDS_PERSON, NOT_JUDGEABLE, MISSING, UNJUDGED),
    )


def everybody(lessons: list[LessonReport]) -> list[tuple[Listed, list[Row | None]]]:
    """Each learner with a row for each lesson, in their order; None where the lesson does not know them."""
    learners = {row.learner.id: row.learner for lesson in lessons for row in lesson.rows}
    rows = [{row.learner.id: row for row in lesson.rows} for lesson in lessons]
    return [(learners[name], [lesson.get(name) for lesson in rows]) for name in sorted(learners)]


def _points(points: float | None) -> str:
    return "–" if points is None else f"{round(points, 2):g}"


def plain(text: str) -> str:
    """A text without control characters, halves of characters and turns of direction."""
    return "".join(
        sign if sign not in DIRECTION_OVERRIDES and unicodedata.category(sign) not in ("Cc", "Cs", "Cn") else " "
        for sign in text
    )


def as_data(lessons: list[LessonReport]) -> dict:
    """The report as plain data, for another program."""
    return {
        "lessons": [
            {
                "lesson": lesson.lesson,
                "title": lesson.title,
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
        ]
    }


def table_text(lessons: list[LessonReport]) -> str:
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


def cell(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    text = plain(text)
    return f"'{text}" if text.startswith(_BEGINS_A_FORMULA) else text
