"""The report on a class, from gradebook and verdicts: what `report_files` prints.

Nothing is judged or replayed here: everything comes from the gradebook and from the judge's records. So no hand-in,
however large or long, can hold up the report. A lesson of which nothing has changed is taken from the report before
(`report_kept`); the same class gives the same files to the byte.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from urllib.parse import quote

from engine_sim import TimingCourseError
from graders.exercises.loader import Rubric, rubric_for
from graders.nbgrader_bridge.lateness import IN_TIME
from graders.nbgrader_bridge.marks import KeptMark, marks_that_count
from graders.outcome import Outcome
from graders.palette import DARK, LIGHT
from graders.submissions.roster import Listed

from .nbgrader_cache import kept_engines
from .report_items import beliefs, hard_items, objectives as objectives_of
from .report_kept import KeptLessons
from .report_pictures import in_words, picture_address, way_of
from .report_rows import GRADED, MISSING, NOT_JUDGEABLE, UNJUDGED, LessonReport, Picture, Row
from .run import JUDGED, NEEDS_PERSON, NOT_JUDGED, NOTHING, WAITING, Classroom, HandInReport

FOLDER = "report"  # in the class's folder: pages are linked from there

Progress = Callable[[str, int, int], None]


def report_on(
    classroom: Classroom,
    objectives: Mapping[str, Mapping[str, str]],
    lesson: str | None = None,
    progress: Progress = lambda *_: None,
) -> list[LessonReport]:
    """The report on every lesson of the class, or on one. `objectives` has each lesson's objectives by id, in words."""
    kept = KeptLessons(classroom, classroom.course.root / FOLDER)
    reports = []
    with kept_engines():
        for name in classroom.lessons(lesson):
            words = objectives.get(name, {})
            found = kept.read(name, words)
            if found is None:
                key = kept.key(name, words)  # before it is worked out: what changes meanwhile makes it old
                found = _lesson(classroom, name, classroom.standing(name), words, progress)
                kept.write(key, found)
            reports.append(found)
    return [one for one in reports if one.rows]


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
    rows = tuple(_row(classroom, standing, sum(cells.values())) for standing in standings)
    judged = [row for row in rows if row.status in (GRADED, NEEDS_PERSON)]
    if rubric is None:
        return LessonReport(lesson=lesson, title=lesson, exercises=titles, rows=rows)
    return LessonReport(
        lesson=lesson,
        title=rubric.title,
        exercises=titles,
        rows=rows,
        objectives=tuple(objectives_of(rubric, objectives, cells, judged)),
        beliefs=tuple(beliefs(rubric, judged)),
        hard=tuple(hard_items(judged)),
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


def _row(classroom: Classroom, standing: HandInReport, max_points: float) -> Row:
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
        max_points=max_points,
        late=standing.late if settled else IN_TIME,
        why=_why(standing, record),
        exercises={
            grade.name: None if grade.needs_person and not grade.marked_by_person else grade.points for grade in grades
        }
        if settled
        else {},
        criteria=(
            *(
                dict(one, exercise=name)
                for name, found in record.get("exercises", {}).items()
                for one in found.get("criteria", ())
            ),
            *_criteria_by_hand(classroom, lesson, learner, marked),
        ),
        by_present_rules=not record or bool(standing.kept_from) or classroom.is_by_present_rules(lesson, learner),
        kept_from=standing.kept_from,
        page=_page(classroom, lesson, learner) if settled else "",
    )


def _criteria_by_hand(classroom: Classroom, lesson: str, learner: str, marked: set[str]) -> Iterator[dict]:
    """The criteria that a person marked, as the judge's records have theirs."""
    marks: dict[str, KeptMark] = {}
    if marked:
        with classroom.course.gradebook() as gradebook:
            marks = marks_that_count(gradebook, lesson, learner)
    for exercise, kept in marks.items():
        for one in kept.mark.criteria:
            yield {
                "exercise": exercise,
                "criterion": one.id,
                "title": one.title,
                "outcome": (Outcome.NOT_YET if one.best else Outcome.MET).value,
                "points": one.points,
                "max_points": one.max_points,
                "misconception": "",
            }


def _page(classroom: Classroom, lesson: str, learner: str) -> str:
    """The address of a learner's page from the report's folder; empty where there is none."""
    course = classroom.course
    folder = course.folder(course.directory.feedback_directory, learner, lesson)
    pages = [folder / f"{name}.html" for name in course.notebooks(lesson)]
    if not pages or not pages[0].is_file():
        return ""
    return quote(Path(os.path.relpath(pages[0], course.root / FOLDER)).as_posix())


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
