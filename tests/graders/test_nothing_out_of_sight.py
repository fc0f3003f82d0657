"""What a class run must say: lateness everywhere alike, an exercise without a cell, unasked marks, a broken rubric."""

from __future__ import annotations

import csv
import io
import json
import re

import nbformat
import pytest
from nbgrader.api import Gradebook
from rich.console import Console

from course.commands import grade, make_class
from course.commands.released_rubrics import without_cell
from course.commands.summary import Summary
from graders.classroom.report import report_on
from graders.classroom.report_files import page_text, table_text
from graders.classroom.run import Classroom, HandInReport
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.nbgrader_bridge.lateness import Lateness
from tests.submissions.making import source_of_one_lesson

LESSON, WRITTEN = "l98_trial", "l98_explain"
OURS = "l00_before_you_touch"

pytestmark = pytest.mark.classroom


def said_by_run(root, **options) -> str:
    """What the command prints."""
    console = Console(width=200, record=True, file=io.StringIO())
    grade.run(root, console=console, **options)
    return console.export_text()


@pytest.mark.parametrize(("method", "points", "taken"), [("none", 5, "no points"), ("zero", 0, "5 points")])
def test_lateness_reads_alike_everywhere(trial_class, perfect, method, points, taken):
    """Summary, page, report and table have the same points and the same words, whether lateness costs or not."""
    configuration = trial_class.root / "nbgrader_config.py"
    text = configuration.read_text(encoding="utf-8")
    configuration.write_text(f"{text}\nc.LateSubmissionPlugin.penalty_method = '{method}'\n", encoding="utf-8")
    make_class.say_due(trial_class.root, LESSON, "2026-02-01 12:00 UTC")
    folder = trial_class.hand_in("ada", perfect | {WRITTEN: ""})
    (folder / "timestamp.txt").write_text("2026-02-03 15:10:00 UTC", encoding="utf-8")
    words = f"2 days 3 hours late, {taken} taken off"
    said = said_by_run(trial_class.root)
    assert words in said and re.search(rf"^ada +{points}~$", said, re.MULTILINE)
    page = trial_class.page("ada")
    assert f"Handed in {words}." in page and f"<strong>{points} of 9 points</strong>" in page
    lessons = report_on(Classroom(trial_class.root), {})
    (row,) = csv.DictReader(io.StringIO(table_text(lessons)))
    assert (row["points"], row["late"]) == (str(points), words)
    assert words in page_text("class", lessons) and f"{points} of 9" in page_text("class", lessons)


def test_a_day_that_is_set_after_judging_is_seen(trial_class, perfect):
    """Lateness is worked out from what the gradebook has now, and the page is made again."""
    folder = trial_class.hand_in("ada", perfect | {WRITTEN: ""})
    (folder / "timestamp.txt").write_text("2026-02-01 12:30:00 UTC", encoding="utf-8")
    assert "minutes late" not in said_by_run(trial_class.root) and "minutes late" not in trial_class.page("ada")
    make_class.say_due(trial_class.root, LESSON, "2026-02-01 12:00 UTC")
    assert "30 minutes late, no points taken off" in said_by_run(trial_class.root)
    assert "30 minutes late, no points taken off" in trial_class.page("ada")


@pytest.mark.parametrize(
    ("seconds", "words"), [(1, "1 minute"), (3600, "1 hour"), (90000, "1 day 1 hour"), (86400 * 9 + 60, "9 days")]
)
def test_a_time_has_its_two_largest_units(seconds, words):
    """From a minute to many days."""
    assert str(Lateness(seconds)) == f"{words} late, no points taken off"
    assert str(Lateness()) == ""


def test_a_mark_where_nothing_waited_is_said(trial_class, perfect):
    """A mark by hand in an exercise that the judge had settled stands in the summary of the run after it, once."""
    trial_class.hand_in("ada", perfect)
    said_by_run(trial_class.root)
    with Gradebook(trial_class.course.directory.db_url) as gradebook:
        found = gradebook.find_grade("l98_first", LESSON, LESSON, "ada")
        found.manual_score, found.needs_manual_grade = 1.0, False
        gradebook.db.commit()
    sentence = "l98_first has a mark by hand (1 points) where nothing waited for one: the judge gave 3."
    assert sentence in said_by_run(trial_class.root)
    assert sentence not in said_by_run(trial_class.root)
    assert sentence in said_by_run(trial_class.root, everything=True)


def test_the_summary_has_what_is_new_and_the_questions_last(trial_class, perfect):
    """A second run shows no old line again; what waits for marks is counted; the one question stands at the end."""
    (trial_class.root / "roster.csv").write_text("id\nada\nben\n", encoding="utf-8")
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("stranger", perfect)
    first = said_by_run(trial_class.root)
    assert "New, in points" in first and f"1 answer(s): {WRITTEN} 1" in first
    question = first[first.index("1 question for you") :]
    assert "stranger" in question and question.rstrip().endswith('--same "stranger" ID')
    second = said_by_run(trial_class.root)
    assert "Nothing is new since the last run" in second and question in second and "New, in points" not in second
    assert len(second.splitlines()) < 16


def test_every_row_of_points_has_its_name_however_narrow_the_terminal_is():
    """Twelve lessons that do not fit side by side stand below each other, each table with everybody's name."""
    lessons = [f"l{number:02d}_lesson" for number in range(12)]
    reports = [HandInReport(name, lesson, "judged", 27.33, 30.0) for name in ("ada", "benedikta") for lesson in lessons]
    for width in (100, 72, 40):
        said = io.StringIO()
        Summary("spring", reports, ()).print_on(Console(file=said, width=width), everything=True)
        points = said.getvalue().partition("\nPoints\n")[2].partition("\n\n")[0].splitlines()
        rows = [line for line in points if "27.33" in line]
        assert {row.split()[0] for row in rows} == {"ada", "benedikta"} and max(map(len, points)) <= width
        assert said.getvalue().count("27.33") == len(reports)


def test_the_summary_for_another_program(trial_class, perfect, capsys):
    """--json prints one object, with each hand-in, its points and what is open."""
    trial_class.hand_in("ada", perfect)
    grade.run(trial_class.root, as_json=True)
    (one,) = json.loads(capsys.readouterr().out)["hand_ins"]
    assert (one["learner"], one["points"], one["to_mark"], one["questions"]) == ("ada", 5.0, [WRITTEN], [])


@pytest.fixture
def two_lessons(tmp_path):
    """A class of two of the course's lessons, in one of which somebody handed in nothing but the notebook."""
    source = source_of_one_lesson(tmp_path / "lessons", OURS)
    source_of_one_lesson(source, "l04_base_timing")
    make_class.make(tmp_path / "autumn", source=source)
    for lesson in (OURS, "l04_base_timing"):
        folder = tmp_path / "autumn" / "submitted" / "ada" / lesson
        folder.mkdir(parents=True)
        folder.joinpath(f"{lesson}.ipynb").write_bytes(
            (tmp_path / "autumn" / "release" / lesson / f"{lesson}.ipynb").read_bytes()
        )
    return tmp_path / "autumn"


def test_an_unreadable_rubric_stops_its_own_lesson_only(two_lessons):
    """The other lesson is judged; the one with the rubric is named, and the status says that something is left."""
    make_class.own_rubric(two_lessons, "l04_base_timing")
    (two_lessons / "rubrics" / "l04_base_timing.toml").write_text("no = [toml", encoding="utf-8")
    console = Console(width=200, record=True, file=io.StringIO())
    assert grade.run(two_lessons, console=console) == 1
    said = console.export_text()
    assert "Not done" in said and "l04_base_timing" in said[said.index("Not done") :]
    assert NbgraderCourse(two_lessons).grades(OURS, "ada") and not NbgraderCourse(two_lessons).grades(
        "l04_base_timing", "ada"
    )
    assert report_on(Classroom(two_lessons), {})


def test_an_exercise_without_a_cell_is_said(two_lessons):
    """An instructor who takes a cell out of a lesson hears which points nobody can earn any more."""
    course = NbgraderCourse(two_lessons)
    assert without_cell(course) == []
    path = two_lessons / "source" / OURS / f"{OURS}.ipynb"
    notebook = nbformat.read(path, as_version=4)
    gone = next(cell for cell in notebook.cells if cell.metadata.get("nbgrader", {}).get("grade"))
    notebook.cells.remove(gone)
    nbformat.write(notebook, path)
    course.release(OURS)
    (sentence,) = without_cell(NbgraderCourse(two_lessons))
    assert gone.metadata.nbgrader.grade_id in sentence and OURS in sentence
