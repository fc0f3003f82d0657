"""The whole of a class run on lesson l04 as it is: release, hand-in, judge, gradebook, page, from one command."""

from __future__ import annotations

import io
import shutil

import pytest
from bs4 import BeautifulSoup
from rich.console import Console

import course as course_package
from course.commands import grade as class_run, make_class
from graders.classroom.run import JUDGED, NEEDS_PERSON, NOT_JUDGED, NOTHING, Classroom, HandInReport
from graders.judge import judge_lesson
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests.submissions.l04_hand_ins import HAND_INS

LESSON = "l04_base_timing"

pytestmark = pytest.mark.classroom


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """A class in which every named hand-in was handed in by a learner of that name; judged once by the command."""
    root = tmp_path_factory.mktemp("l04") / "spring"
    make_class.make(root)
    for name, lay_down in HAND_INS.items():
        folder = root / "submitted" / name / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        lay_down(folder, name, "spring")
    console = Console(width=200, record=True, file=io.StringIO())
    status = class_run.run(root, LESSON, console=console)
    reports = {report.learner: report for report in Classroom(root).judge(LESSON)}
    return root, reports, console.export_text(), status


def points(root, learner):
    """The points in the gradebook by grade cell."""
    return {grade.name: grade.points for grade in NbgraderCourse(root).grades(LESSON, learner)}


def test_the_gradebook_holds_exactly_what_the_judge_says(run):
    """For everyone whose evidence is sound, each grade cell has the judge's points."""
    root, _, _, _ = run
    for learner in (
        "perfect",
        "careless",
        "empty",
        "damaged",
        "power_cut",
        "copied_cell",
        "link_out_of_folder",
        "poison",
    ):
        verdict = judge_lesson(
            LESSON, root / "submitted" / learner / LESSON / "evidence.jsonl", course_package.ENGINES, learner
        )
        assert verdict.problem == ""
        assert points(root, learner) == {result.exercise: result.points for result in verdict.exercises}, learner


def test_good_and_bad_hand_ins_come_out_as_they_should(run):
    """The perfect one has everything but the mark of a person; the careless one less; those without proof nothing."""
    _, reports, _, _ = run
    most = reports["perfect"].max_points
    written = 4.0
    assert reports["perfect"].points == most - written
    assert 0.0 < reports["careless"].points < reports["perfect"].points - 8.0
    for learner in ("empty", "no_evidence", "of_another", "altered", "half_a_letter"):
        assert reports[learner].points == 0.0 and reports[learner].max_points == most
    for learner in ("damaged", "power_cut", "copied_cell", "link_out_of_folder"):
        assert reports[learner].points > most / 2


def test_who_needs_a_person_is_named_with_the_reason(run):
    """Written answers and unbelievable evidence wait for a person; an empty or careless hand-in does not."""
    _, reports, printed, status = run
    waiting = {learner for learner, report in reports.items() if report.status == NEEDS_PERSON}
    assert waiting == set(reports) - {"careless", "empty"}
    assert all(reports[learner].status == JUDGED for learner in ("careless", "empty"))
    for words in (
        "written by 'a friend'",
        "seal of this line",
        "There is no evidence.jsonl",
        "notes.txt is a link",
        "could not be read",
        "cut off",
    ):
        assert words in printed
    assert status == 0


def test_every_page_is_whole_and_harmless(run):
    """Each learner has a page with the points of the gradebook, no script, no link into the world."""
    root, reports, _, _ = run
    for learner, report in reports.items():
        page = BeautifulSoup(
            (root / "feedback" / learner / LESSON / f"{LESSON}.html").read_text(encoding="utf-8"), "html.parser"
        )
        assert f"{report.points:g} of {report.max_points:g} points" in page.find("header").get_text()
        assert page.find(["script", "img", "iframe", "link", "object"]) is None
        assert all(anchor["href"].startswith("#") for anchor in page.find_all("a"))
        assert len(page.find_all("section")) == 5
    poisoned = (root / "feedback" / "poison" / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")
    assert "alert(1)" in BeautifulSoup(poisoned, "html.parser").find(id="l04_explain").get_text()


def test_a_page_tells_a_zero_from_what_waits_for_its_mark(run):
    """An answer that nobody has marked yet is said to wait; one that was not given has earned nothing."""
    root, _, _, _ = run
    for learner, shown in (("perfect", "waits"), ("empty", "0")):
        page = BeautifulSoup(
            (root / "feedback" / learner / LESSON / f"{LESSON}.html").read_text(encoding="utf-8"), "html.parser"
        )
        row = page.find("a", href="#l04_explain").find_parent("tr")
        assert row.find("td", class_="number").get_text() == shown
        assert ("wait for a person's mark" in page.find("header").get_text()) == (shown == "waits")


def test_the_summary_says_the_same_once():
    """Who handed in nothing, or is unknown, in every lesson of several is one line, not one for each lesson."""
    reports = [
        HandInReport(learner, lesson, status, reasons=reasons)
        for lesson in ("l01_one", "l02_two")
        for learner, status, reasons in (("ada", NOTHING, ()), ("bo", NOT_JUDGED, ("Who is bo?",)))
    ]
    reports.append(HandInReport("bo", "l03_three", NOTHING))
    console = Console(width=200, record=True, file=io.StringIO())
    class_run.print_summary(reports, console)
    printed = console.export_text()
    assert "l01_one: ada\n" in printed and "l03_three: bo\n" in printed
    assert printed.count("Who is bo?") == 1 and "bo, l01_one, l02_two: Who is bo?" in printed


def test_feedback_names_the_misconceptions_of_the_careless(run):
    """The careless learner's page says what was believed wrongly."""
    root, _, _, _ = run
    page = (root / "feedback" / "careless" / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")
    for words in ("highest vacuum", "clamp was left loose", "not yet", "half crank speed"):
        assert words in page
