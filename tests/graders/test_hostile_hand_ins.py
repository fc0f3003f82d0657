"""One class in which everything that can go wrong with a hand-in does, beside thirty honest learners."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sqlite3
from contextlib import closing

import pytest
from bs4 import BeautifulSoup
from rich.console import Console

import course as course_package
from course.commands import grade, make_class
from graders.classroom.run import JUDGED, NEEDS_PERSON, NOT_JUDGED, Classroom
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.submissions.folder import name_problem
from tests.scripted_learner import RIGHT_ANSWERS, Habits, evidence_by
from tests.submissions import hostile

LESSON = hostile.LESSON
GOOD = 30
QUICK = {"finds_peak": False, "retrims": False, "backs_off_with": "nothing", "drives": False}
VARIED = ({}, {"tightens": False}, {"hose": "off and open"}, {"reconnects": False}, {"makes_safe": False})

pytestmark = pytest.mark.classroom


def habits_of(number: int) -> Habits:
    """Four do the whole job at the bench; the others less of it, some carelessly, some with fewer answers."""
    return Habits(**(VARIED[number % 5] | (QUICK if number >= 4 else {})), answers=RIGHT_ANSWERS[: 4 - number % 4])


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """The class judged once by the command: its folder, the reports by learner, and what was printed."""
    root = tmp_path_factory.mktemp("hostile") / "spring"
    make_class.make(root, source=hostile.source_of_one_lesson(root.parent / "lessons"))
    for number in range(GOOD):
        folder = root / "submitted" / f"good_{number:02d}" / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        evidence_by(folder / hostile.EVIDENCE, folder.parent.name, habits_of(number), class_id="spring")
    for case in hostile.HOSTILE:
        folder = root / "submitted" / case.learner / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        case.lay_down(folder, case.learner, "spring")
    console = Console(width=300, record=True, file=io.StringIO())
    status = grade.run(root, LESSON, console=console)
    reports = {report.learner: report for report in Classroom(root).judge(LESSON)}
    return root, reports, console.export_text(), status


def gradebook(root) -> dict[str, dict[str, float]]:
    """Automatic points by learner and grade cell, read from the database itself and not through nbgrader."""
    with closing(sqlite3.connect(root / "gradebook.db")) as connection:
        rows = connection.execute(
            "SELECT sa.student_id, cell.name, grade.auto_score FROM grade "
            "JOIN base_cell AS cell ON grade.cell_id = cell.id "
            "JOIN submitted_notebook AS sn ON grade.notebook_id = sn.id "
            "JOIN submitted_assignment AS sa ON sn.assignment_id = sa.id"
        ).fetchall()
    found: dict[str, dict[str, float]] = {}
    for learner, cell, points in rows:
        found.setdefault(learner, {})[cell] = points or 0.0  # a written answer waits without a number
    return found


def earned(what: str) -> dict[str, float]:
    """What a hostile hand-in may earn, by grade cell."""
    kinds = {hostile.ANSWERED: ("choice", "number"), hostile.CHOSEN: ("choice",), hostile.NOTHING: ()}[what]
    return {
        exercise.id: float(exercise.points) if exercise.kind in kinds else 0.0
        for exercise in load_rubric(LESSON).exercises.values()
    }


def test_all_thirty_good_ones_have_exactly_their_grades(run):
    """What the judge says of each honest hand-in on its own is what stands in the gradebook of this class."""
    root, reports, _, _ = run
    found = gradebook(root)
    totals = set()
    for number in range(GOOD):
        learner = f"good_{number:02d}"
        verdict = judge_lesson(
            LESSON, root / "submitted" / learner / LESSON / hostile.EVIDENCE, course_package.ENGINES, learner
        )
        assert verdict.problem == "" and verdict.points > 0.0
        assert found[learner] == {result.exercise: result.points for result in verdict.exercises}, learner
        assert reports[learner].points == verdict.points and reports[learner].remarks == ()
        totals.add(verdict.points)
    assert len(totals) >= 8  # honest, and not all alike


@pytest.mark.parametrize("case", hostile.HOSTILE, ids=lambda case: ascii(case.learner)[:40])
def test_each_has_its_own_outcome_and_sentence(run, case):
    """The points are those that honest evidence earned, or none; the summary has a sentence that fits."""
    root, reports, _, _ = run
    report = reports[case.learner]
    if not case.judged:
        assert report.status == NOT_JUDGED
    else:
        assert gradebook(root)[case.learner] == earned(case.earns)
        assert report.status == NEEDS_PERSON
    said = " ".join((*report.reasons, *report.remarks))
    assert case.says in said, said[:2000]
    assert len(said) < 4000


def test_no_code_of_anybody_was_run(run):
    """The file that every planted line of code would make is nowhere, and the judge is the one that it was."""
    root, _, _, _ = run
    planted = [
        case.learner for case in hostile.HOSTILE if "was_run_by" in _text_of(root / "submitted" / case.learner / LESSON)
    ]
    assert len(planted) >= 6
    assert list(root.parent.rglob("was_run_by_*")) == []


def _text_of(folder) -> str:
    page = folder / hostile.PAGE
    return page.read_text("utf-8", "replace") if page.is_file() and page.stat().st_size < 10**7 else ""


def test_the_trap_would_have_been_sprung(tmp_path):
    """The planted code, run here on purpose, makes its file: the test above can fail."""
    folder = tmp_path / "submitted" / "eve" / LESSON
    folder.mkdir(parents=True)
    (folder / hostile.PAGE).write_text('{"cells": []}', encoding="utf-8")
    hostile.code_everywhere(folder, "")
    exec(json.loads((folder / hostile.PAGE).read_text(encoding="utf-8"))["cells"][0]["source"])
    assert hostile.trap_of(folder).exists()


def test_the_gradebook_is_whole(run):
    """SQLite finds it sound, nothing points into the void, and it has one line for each that could be judged."""
    root, reports, _, _ = run
    with closing(sqlite3.connect(root / "gradebook.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        (points,), (count,) = connection.execute(
            "SELECT SUM(max_score) FROM grade_cells UNION ALL SELECT COUNT(*) FROM grade"
        ).fetchall()
    judged = {case.learner for case in hostile.HOSTILE if case.judged} | {f"good_{n:02d}" for n in range(GOOD)}
    exercises = load_rubric(LESSON).exercises
    assert set(gradebook(root)) == judged and set(reports) == judged | set(hostile.REFUSED_NAMES)
    assert count == len(judged) * len(exercises)
    assert points == sum(exercise.points for exercise in exercises.values())


def test_the_run_ends_and_names_everybody(run):
    """The command's summary has a line for each; it says by its status that somebody could not be judged."""
    _, reports, printed, status = run
    assert status == 1
    flat = " ".join(printed.split())
    for learner in reports:
        assert repr(learner)[1:-1][:40] in flat or "\u0301" in learner
    assert len(printed) < 200_000


def test_every_page_is_inert_and_small(run):
    """No page holds anything that acts or is fetched; none is blown up by what was handed in."""
    root, reports, _, _ = run
    for learner, report in reports.items():
        if report.status == NOT_JUDGED:
            continue
        path = root / "feedback" / learner / LESSON / f"{LESSON}.html"
        page = BeautifulSoup(path.read_text(encoding="utf-8"), "html.parser")
        assert page.find(["script", "img", "iframe", "link", "object", "embed", "form", "base"]) is None, learner
        for drawing in page.find_all("svg"):  # our own, of a try that could be judged: lines and numbers
            assert {tag.name for tag in drawing.find_all(True)} <= {"rect", "line", "polyline", "circle", "text"}
            assert drawing.find_parent("figure", class_="trace") and len(page.find_all("svg")) == 1, learner
        attributes = [(name, str(value)) for tag in page.find_all(True) for name, value in tag.attrs.items()]
        assert not [name for name, value in attributes if name.startswith("on") or "javascript:" in value], learner
        assert path.stat().st_size < 400_000, learner


def test_nothing_that_was_linked_or_huge_was_copied(run):
    """Judged folders and pages hold no link, no film and nobody else's file."""
    root, _, _, _ = run
    copies = [path for step in ("autograded", "feedback") for path in (root / step).rglob("*")]
    assert not [path for path in copies if path.is_symlink() or not (path.is_file() or path.is_dir())]
    assert {path.suffix for path in copies if path.is_file()} <= {".ipynb", ".html", ".txt", ".toml", ""}
    assert sum(path.stat().st_size for path in copies if path.is_file()) < 40_000_000


def test_a_second_run_judges_only_who_could_not_be_judged_for_good(run):
    """Grading again changes no number and works on nobody a second time."""
    root, reports, _, _ = run
    before = gradebook(root)
    again = Classroom(root).judge(LESSON)
    assert [report.learner for report in again if report.judged_now] == []
    assert gradebook(root) == before
    assert {report.learner: report.points for report in again} == {n: report.points for n, report in reports.items()}


def test_the_export_is_whole(run):
    """nbgrader's own export has a row for each judged learner with the gradebook's sums."""
    root, _, _, _ = run
    from nbgrader.plugins import CsvExportPlugin

    exporter = CsvExportPlugin()
    exporter.to = str(root / "grades.csv")
    with Classroom(root).course.gradebook() as book:
        exporter.export(book)
    with (root / "grades.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["student_id"]: float(row["raw_score"]) for row in csv.DictReader(file)}
    assert rows == {learner: pytest.approx(sum(points.values())) for learner, points in gradebook(root).items()}


def test_an_honest_zero_is_not_among_those_for_a_person(run):
    """Somebody who answered nothing that waits for a mark is judged, and done."""
    _, reports, _, _ = run
    done = [name for name, report in reports.items() if report.status == JUDGED]
    assert done and all(name.startswith("good_") for name in done)


def test_names_that_are_refused_are_all_of_a_kind():
    """The rule itself refuses each of the refused names and none of the accepted."""
    assert all(name_problem(name) for name in hostile.REFUSED_NAMES)
    assert not any(name_problem(name) for name in hostile.ACCEPTED_NAMES)
