"""One class in which everything that can go wrong with a hand-in does, beside thirty honest learners, by one command:
release, hand-in, judge, gradebook, page, export."""

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
from course.commands.summary import Summary
from graders.classroom.run import JUDGED, NEEDS_PERSON, NOT_JUDGED, NOTHING, Classroom, HandInReport
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.submissions.folder import name_problem
from tests.scripted_learner import RIGHT_ANSWERS, Habits, evidence_by
from tests.submissions import hostile
from tests.submissions.making import chained, header, rewritten

LESSON, WRITTEN = hostile.LESSON, "l04_explain"
QUICK = {"finds_peak": False, "retrims": False, "backs_off_with": "nothing", "drives": False}
# By name: nbgrader takes them in this order, some before all hostile ones, some among them and some behind.
HONEST = {
    "aa_first": Habits(**QUICK, answers=RIGHT_ANSWERS[:3]),
    "careless": Habits(
        hose="off and open",
        backs_off_with="nothing",
        tightens=False,
        answers=(("l04_why_back_off", "peak_is_right", None), ("l04_distributor_degrees", 6.0, "distributor degrees")),
    ),
    "good_00": Habits(**QUICK, hose="off and open", answers=RIGHT_ANSWERS[:1]),
    "n_in_the_middle": Habits(**QUICK, reconnects=False, answers=RIGHT_ANSWERS[:2]),
    "perfect": Habits(),
    "zz_last": Habits(**QUICK, makes_safe=False),
}
# Good ones that did the questions alone: with those above, thirty beside the hostile ones.
ANSWERING = tuple(f"{letter}_answers" for letter in "abcdefghijklmnopqrstuvwx")
EMPTY = "empty"  # opened the lesson and did nothing

pytestmark = [pytest.mark.classroom, pytest.mark.usefixtures("schema_asked_once")]


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """The class judged by the command, and once more: its folder, the reports of the second run by learner, what the
    first one printed, its status, and its gradebook."""
    root = tmp_path_factory.mktemp("hostile") / "spring"
    make_class.make(root, source=hostile.source_of_one_lesson(root.parent / "lessons"))

    def handed_in(learner):
        folder = root / "submitted" / learner / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        return folder

    for learner, habits in HONEST.items():
        evidence_by(handed_in(learner) / hostile.EVIDENCE, learner, habits, class_id="spring")
    for learner in ANSWERING:
        hostile.answered(handed_in(learner), learner, "spring")
    rewritten(handed_in(EMPTY), chained([header(EMPTY, "spring")]))
    for case in hostile.HOSTILE:
        case.lay_down(handed_in(case.learner), case.learner, "spring")
    console = Console(width=300, record=True, file=io.StringIO())
    status = grade.run(root, LESSON, console=console, everything=True)
    first = gradebook(root)
    reports = {report.learner: report for report in Classroom(root).judge(LESSON)}
    return root, reports, console.export_text(), status, first


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
    chosen = ("choice", "several")
    kinds = {hostile.ANSWERED: (*chosen, "number"), hostile.CHOSEN: chosen, hostile.NOTHING: ()}[what]
    return {
        exercise.id: float(exercise.points) if exercise.kind in kinds else 0.0
        for exercise in load_rubric(LESSON).exercises.values()
    }


def page_of(root, learner) -> BeautifulSoup:
    """A learner's feedback page."""
    path = root / "feedback" / learner / LESSON / f"{LESSON}.html"
    return BeautifulSoup(path.read_text(encoding="utf-8"), "html.parser")


def test_all_honest_ones_have_exactly_their_grades(run):
    """What the judge says of each honest hand-in on its own is what stands in the gradebook of this class."""
    root, reports, _, _, found = run
    totals = set()
    assert len(HONEST) + len(ANSWERING) == 30
    for learner in (*HONEST, *ANSWERING, EMPTY):
        verdict = judge_lesson(
            LESSON, root / "submitted" / learner / LESSON / hostile.EVIDENCE, course_package.ENGINES, learner
        )
        assert verdict.problem == "" and (verdict.points > 0.0) == (learner != EMPTY)
        assert found[learner] == {result.exercise: result.points for result in verdict.exercises}, learner
        assert reports[learner].points == verdict.points
        assert learner in ANSWERING or reports[learner].remarks == ()  # their answers have one time, by a machine
        totals.add(verdict.points)
    assert len(totals) >= 6  # honest, and not all alike


def test_perfect_and_careless_work_come_out_as_they_should(run):
    """The perfect one has everything but the mark of a person, the careless one less."""
    _, reports, _, _, _ = run
    assert reports["perfect"].points == reports["perfect"].max_points - load_rubric(LESSON).exercises[WRITTEN].points
    assert 0.0 < reports["careless"].points < reports["perfect"].points - 8.0


def test_feedback_names_the_misconceptions_of_the_careless(run):
    """The careless learner's page says what was believed wrongly."""
    page = page_of(run[0], "careless").get_text()
    for words in ("highest vacuum", "clamp was left loose", "not yet", "half crank speed"):
        assert words in page


def test_a_page_tells_a_zero_from_what_waits_for_its_mark(run):
    """An answer that nobody has marked yet is said to wait; one that was not given has earned nothing."""
    for learner, shown in (("perfect", "waits"), (EMPTY, "0")):
        page = page_of(run[0], learner)
        row = page.find("a", href=f"#{WRITTEN}").find_parent("tr")
        assert row.find("td", class_="number").get_text() == shown
        assert ("wait for a person's mark" in page.find("header").get_text()) == (shown == "waits")


@pytest.mark.parametrize("case", hostile.HOSTILE, ids=lambda case: ascii(case.learner)[:40])
def test_each_has_its_own_outcome_and_sentence(run, case):
    """The points are those that honest evidence earned, or none; the summary has a sentence that fits."""
    _, reports, _, _, found = run
    report = reports[case.learner]
    if not case.judged:
        assert report.status == NOT_JUDGED
    else:
        assert found[case.learner] == earned(case.earns)
        assert report.status == NEEDS_PERSON
    said = " ".join((*report.reasons, *report.remarks))
    assert case.says in said, said[:2000]
    assert len(said) < 4000


def test_no_code_of_anybody_was_run(run):
    """The file that every planted line of code would make is nowhere, and the judge is the one that it was."""
    root = run[0]
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
    root, reports, _, _, found = run
    with closing(sqlite3.connect(root / "gradebook.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        (points,), (count,) = connection.execute(
            "SELECT SUM(max_score) FROM grade_cells UNION ALL SELECT COUNT(*) FROM grade"
        ).fetchall()
    judged = {case.learner for case in hostile.HOSTILE if case.judged} | {*HONEST, *ANSWERING, EMPTY}
    exercises = load_rubric(LESSON).exercises
    assert set(found) == judged and set(reports) == judged | set(hostile.REFUSED_NAMES)
    assert count == len(judged) * len(exercises)
    assert points == sum(exercise.points for exercise in exercises.values())


def test_the_run_ends_and_names_everybody(run):
    """The command's summary has a line for each, with the reason; it says by its status that somebody could not be
    judged."""
    _, reports, printed, status, _ = run
    assert status == 1
    flat = " ".join(printed.split())
    for learner in reports:
        assert repr(learner)[1:-1][:40] in flat or "\u0301" in learner
    for words in ("written by 'a friend'", "seal of this line", "There is no evidence.jsonl", "notes.txt is a link"):
        assert words in flat
    assert "could not be read" in flat and "cut off" in flat
    assert len(printed) < 200_000


def test_the_summary_says_the_same_once():
    """Who handed in nothing, or is unknown, in every lesson of several is one line, not one for each lesson."""
    reports = [
        HandInReport(learner, lesson, status, questions=reasons)
        for lesson in ("l01_one", "l02_two")
        for learner, status, reasons in (("ada", NOTHING, ()), ("bo", NOT_JUDGED, ("Who is bo?",)))
    ]
    reports.append(HandInReport("bo", "l03_three", NOTHING))
    console = Console(width=200, record=True, file=io.StringIO())
    Summary("spring", reports, ()).print_on(console)
    printed = console.export_text()
    assert "l01_one: ada\n" in printed and "Nobody handed in: l03_three\n" in printed
    assert printed.count("Who is bo?") == 1 and printed.endswith("1. bo, l01_one, l02_two: Who is bo?\n")


def test_every_page_is_whole_inert_and_small(run):
    """Each page has the points of the gradebook and every exercise; nothing in it acts, is fetched or leads into the
    world, and none is blown up by what was handed in."""
    root, reports, _, _, _ = run
    for learner, report in reports.items():
        if report.status == NOT_JUDGED:
            continue
        page = page_of(root, learner)
        assert f"{report.points:g} of {report.max_points:g} points" in page.find("header").get_text(), learner
        assert len(page.find_all("section")) == len(load_rubric(LESSON).exercises), learner
        assert page.find(["script", "img", "iframe", "link", "object", "embed", "form", "base"]) is None, learner
        for drawing in page.find_all("svg"):  # our own, of a try that could be judged: lines and numbers
            assert {tag.name for tag in drawing.find_all(True)} <= {"rect", "line", "polyline", "circle", "text"}
            assert drawing.find_parent("figure", class_="trace") and len(page.find_all("svg")) == 1, learner
        attributes = [(name, str(value)) for tag in page.find_all(True) for name, value in tag.attrs.items()]
        assert not [name for name, value in attributes if name.startswith("on") or "javascript:" in value], learner
        assert all(anchor["href"].startswith("#") for anchor in page.find_all("a")), learner
        assert hostile.EVIDENCE not in page.get_text(), learner  # learners know it as the record of their work
        path = root / "feedback" / learner / LESSON / f"{LESSON}.html"
        assert path.stat().st_size < 400_000, learner
    assert "alert(1)" in page_of(root, "script_in_the_answer").find(id=WRITTEN).get_text()


def test_nothing_that_was_linked_or_huge_was_copied(run):
    """Judged folders and pages hold no link, no film and nobody else's file."""
    root = run[0]
    copies = [path for step in ("autograded", "feedback") for path in (root / step).rglob("*")]
    assert not [path for path in copies if path.is_symlink() or not (path.is_file() or path.is_dir())]
    assert {path.suffix for path in copies if path.is_file()} <= {".ipynb", ".html", ".txt", ".toml", ""}
    assert sum(path.stat().st_size for path in copies if path.is_file()) < 40_000_000


def test_a_second_run_changes_nothing(run):
    """Grading again changes no number and works on nobody a second time."""
    root, reports, _, _, first = run
    assert [name for name, report in reports.items() if report.judged_now] == []
    assert gradebook(root) == first
    assert {name: report.points for name, report in reports.items() if report.status != NOT_JUDGED} == {
        name: sum(points.values()) for name, points in first.items()
    }


def test_the_export_is_whole(run):
    """nbgrader's own export has a row for each judged learner with the gradebook's sums."""
    root, _, _, _, found = run
    from nbgrader.plugins import CsvExportPlugin

    exporter = CsvExportPlugin()
    exporter.to = str(root / "grades.csv")
    with Classroom(root).course.gradebook() as book:
        exporter.export(book)
    with (root / "grades.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["student_id"]: float(row["raw_score"]) for row in csv.DictReader(file)}
    assert rows == {learner: pytest.approx(sum(points.values())) for learner, points in found.items()}


def test_who_has_nothing_for_a_person_is_done(run):
    """Who answered nothing that waits for a mark is judged, and done, a zero too; everybody else waits for a person."""
    _, reports, _, _, _ = run
    done = {name for name, report in reports.items() if report.status == JUDGED}
    assert done == {EMPTY, *(name for name, habits in HONEST.items() if len(habits.answers) < len(RIGHT_ANSWERS))}


def test_names_that_are_refused_are_all_of_a_kind():
    """The rule itself refuses each of the refused names and none of the accepted."""
    assert all(name_problem(name) for name in hostile.REFUSED_NAMES)
    assert not any(name_problem(name) for name in hostile.ACCEPTED_NAMES)
