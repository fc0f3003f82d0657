"""The report on a class: right figures, statuses that tell a zero from nothing, inert pages, always the same bytes."""

from __future__ import annotations

import csv
import functools
import io
import json
import os
import shutil
import urllib.parse

import pytest
from bs4 import BeautifulSoup
from nbgrader.api import Gradebook
from rich.console import Console

import course
from course.commands import make_class, report as class_report
from engine_sim import read_evidence
from graders.classroom import report as report_module
from graders.classroom.report import report_on
from graders.classroom.report_files import COLUMNS, cell, page_text, plain, table_text, wide_text, write_report
from graders.classroom.report_pictures import Way, in_words, picture, way_of
from graders.classroom.report_rows import GRADED, MISSING, LessonReport, Row
from graders.classroom.run import Classroom
from graders.exercises.kinds.bench import best_attempt
from graders.exercises.loader import load_rubric
from graders.judge.worker_pool import JudgePool
from graders.palette import LIGHT
from graders.submissions.roster import Listed
from tests.scripted_learner import SAFE, Habits, evidence_by
from tests.submissions import hostile
from tests.submissions.making import BENCH

LESSON = "l04_base_timing"
WRITTEN = "l04_explain"
NO_WRITTEN = (("l04_why_back_off", "peak_is_right", None), ("l04_distributor_degrees", 6.0, "distributor degrees"))
EVIL = "<script>alert(1)</script>\u202e"

pytestmark = [pytest.mark.classroom, pytest.mark.usefixtures("schema_asked_once")]


@pytest.fixture(scope="module")
def reported(tmp_path_factory):
    """A class of seven: whole, stays at the peak, a real zero, nothing, no proof, an unknown name, marked by hand."""
    folder = tmp_path_factory.mktemp("report")
    (folder / "list.csv").write_text(
        "id,first_name,last_name\n"
        + "\n".join(f"{name},=1+1,{EVIL}" for name in ("whole", "peak", "zero", "absent", "broken", "marked"))
        + "\n",
        encoding="utf-8",
    )
    root = folder / "spring"
    make_class.make(root, folder / "list.csv", source=hostile.source_of_one_lesson(folder / "lessons"))
    for name, habits in (
        ("whole", {}),
        ("peak", {"backs_off_with": "nothing", "answers": NO_WRITTEN}),
        ("zero", None),
        ("broken", None),
        (f"stranger {EVIL}".replace("/", ""), None),
        ("marked", {}),
    ):
        lesson = root / "submitted" / name / LESSON
        shutil.copytree(root / "release" / LESSON, lesson)
        if habits is not None:
            evidence_by(lesson / "evidence.jsonl", name, Habits(**habits), class_id="spring")
    _header_only(root / "submitted" / "zero" / LESSON / "evidence.jsonl", "zero")
    (root / "submitted" / "broken" / LESSON / "evidence.jsonl").write_text("no evidence\n", encoding="utf-8")
    Classroom(root).judge(LESSON)
    with Gradebook(Classroom(root).course.directory.db_url) as gradebook:
        grade = gradebook.find_grade(WRITTEN, LESSON, LESSON, "marked")
        grade.manual_score, grade.needs_manual_grade = 3.0, False
        gradebook.db.commit()
    console = Console(width=160, record=True, file=io.StringIO())
    assert class_report.run(root, LESSON, console) == 0
    page = (root / "report" / "index.html").read_text(encoding="utf-8")
    return root, page, table_of(root), console.export_text()


def table_of(root):
    """The rows of the table that was written."""
    return list(csv.DictReader(io.StringIO((root / "report" / "grades.csv").read_text(encoding="utf-8"))))


def _header_only(path, learner):
    """Evidence of somebody who opened the lesson and did nothing."""
    from engine_sim import EvidenceWriter, Header
    from tests.scripted_learner import CREATED, engine_of

    path.unlink(missing_ok=True)
    EvidenceWriter(path, Header(learner, LESSON, "spring", engine_of(learner, "spring").card.digest, CREATED))


def files_of(root):
    """Every file of the report with what it holds."""
    return {path.name: path.read_bytes() for path in (root / "report").rglob("*") if path.is_file()}


def section(page, heading):
    """The part of the page under a heading."""
    soup = BeautifulSoup(page, "html.parser")
    return next(title.parent for title in soup.find_all("h3") if title.get_text().startswith(heading))


def test_the_table_tells_a_zero_from_nothing(reported):
    """Points stand as a number where they were earned or not earned, and empty where there is nothing to tell."""
    _, _, table, _ = reported
    found = {row["id"].split()[0]: (row["status"], row["points"]) for row in table}
    assert found == {
        "absent": ("missing", ""),
        "broken": ("could not be judged", ""),
        "marked": ("graded", "33"),
        "peak": ("graded", found["peak"][1]),
        "stranger": ("could not be judged", ""),
        "whole": ("needs a person", "30"),
        "zero": ("graded", "0"),
    }
    assert 0.0 < float(found["peak"][1]) < 26.0
    assert tuple(table[0]) == COLUMNS and {row["max_points"] for row in table} == {"34"}
    assert "line 1" in next(row["why"] for row in table if row["id"] == "broken")


def test_no_cell_is_a_formula_to_a_spreadsheet(reported):
    """A name that begins with a sign of calculation is set as text."""
    _, _, table, _ = reported
    assert {row["first_name"] for row in table if row["first_name"]} == {"'=1+1"}
    assert [cell(text) for text in ("=A1", "+1", "-1", "@x", "\tx", "a=b", "")] == [
        "'=A1",
        "'+1",
        "'-1",
        "'@x",
        " x",
        "a=b",
        "",
    ]


def test_the_page_needs_nothing_and_runs_nothing(reported):
    """No script, no address outside the page; what was typed stands there letter by letter, without turns of
    direction."""
    _, page, _, _ = reported
    soup = BeautifulSoup(page, "html.parser")
    assert soup.find(["script", "iframe", "link", "object", "form"]) is None
    assert all(image["src"].startswith("data:image/png") and image["alt"] for image in soup.find_all("img"))
    assert not [name for element in soup.find_all(True) for name in element.attrs if name.startswith("on")]
    assert "http:" not in page and "https:" not in page and "url(" not in page
    assert "alert(1)" in soup.get_text() and "\u202e" not in page


def test_misconceptions_and_hard_items_name_who_and_what(reported):
    """Who stayed at the peak is named there, and nobody else."""
    _, page, _, _ = reported
    rows = {row.th.get_text(): row.find_all("td") for row in section(page, "Misconceptions").tbody.find_all("tr")}
    belief = rows["The highest vacuum is taken for the setting."]
    assert belief[0].get_text() == "1" and belief[1].get_text().endswith("(peak)")
    assert "Distributor degrees are taken for crank degrees." in rows
    hard = section(page, "Hard items").get_text()
    assert "The same engine up the hill" in hard and "Explain it" not in hard


def test_objectives_are_counted_by_hand(reported):
    """The share of an objective is the mean over those who were judged; checked against the sum done here."""
    root, page, _, _ = reported
    room = Classroom(root)
    (one,) = report_on(room, class_report.objectives(), LESSON)
    degrees = {"whole": 2.0, "marked": 2.0, "peak": 0.0, "zero": 0.0}
    share = next(each for each in one.objectives if each.title.startswith("tell crank degrees"))
    assert share.share == pytest.approx(sum(degrees.values()) / 2.0 / 4) and share.learners == 4
    # The written answer belongs to the reasons: waiting it is left out, marked it counts, unanswered it is 0.
    reasons = next(each for each in one.objectives if each.title.startswith("say what each step"))
    assert reasons.share == pytest.approx((6 / 6 + (6 + 3) / 10 + 0 / 10 + 0 / 10) / 4)
    assert "50 % of 4 learners" in section(page, "Objectives").get_text()


def test_the_picture_is_told_in_words_and_in_a_table(reported):
    """How many ended as wanted, and each one's figures; those without a search are not in it."""
    _, page, _, _ = reported
    part = section(page, "Set the base timing")
    assert "3 learner(s)" in part.img["alt"] and "2 ended as wanted" in part.img["alt"]
    cells = {row.th.get_text(): row.find_all("td")[-1].get_text() for row in part.tbody.find_all("tr")}
    rows = {name.rpartition("(")[2].rstrip(")"): text for name, text in cells.items()}  # all have one name
    assert rows == {"whole": "yes", "marked": "yes", "peak": "no"}
    assert part.find("source")["media"] == "(prefers-color-scheme: dark)"


def test_the_same_class_gives_the_same_bytes(reported):
    """Made a second time, page and table are the same, and nothing else lies in the folder."""
    root, _, _, _ = reported
    before = files_of(root)
    class_report.run(root, LESSON, Console(file=io.StringIO()))
    assert files_of(root) == before
    shutil.rmtree(root / "report" / ".kept")
    class_report.run(root, LESSON, Console(file=io.StringIO()))
    assert files_of(root) == before
    assert set(before) == {"index.html", "grades.csv", "grades_wide.csv", f"{LESSON}.json"}


def test_the_report_judges_nothing(reported):
    """A new hand-in is not judged yet, and the command says what to do; the gradebook stays to the byte."""
    root, _, _, printed = reported
    assert "not judged yet" not in printed
    evidence = root / "submitted" / "zero" / LESSON / "evidence.jsonl"
    kept, book = evidence.read_bytes(), (root / "gradebook.db").read_bytes()
    try:
        with evidence.open("ab") as file:
            file.write(b"{")
        console = Console(width=160, record=True, file=io.StringIO())
        class_report.run(root, LESSON, console)
        assert "not judged yet" in console.export_text()
        assert next(row["status"] for row in table_of(root) if row["id"] == "zero") == "not judged yet"
        assert (root / "gradebook.db").read_bytes() == book
    finally:
        evidence.write_bytes(kept)


def test_another_program_reads_the_report(reported, capsys):
    """`report --json` prints the table's figures, a dash as null, and nothing else on the standard output."""
    root, _, table, _ = reported
    class_report.run(root, LESSON, as_json=True)
    found = json.loads(capsys.readouterr().out)
    (lesson,) = found["lessons"]
    printed = {plain(one["id"]): one for one in lesson["learners"]}
    for row in table:
        assert printed[row["id"]]["status"] == row["status"]
        assert printed[row["id"]]["points"] == (pytest.approx(float(row["points"])) if row["points"] else None)
    assert lesson["misconceptions"] and found["page"].endswith("index.html")


def test_a_report_is_never_left_half_written(tmp_path, monkeypatch):
    """Where the disk is full, the report of before is still whole."""
    write_report(tmp_path / "report", "spring", [])
    before = (tmp_path / "report" / "index.html").read_bytes()

    def breaks(*_):
        raise OSError("no space left")

    monkeypatch.setattr(os, "replace", breaks)
    with pytest.raises(OSError, match="no space"):
        write_report(tmp_path / "report", "autumn", [])
    assert (tmp_path / "report" / "index.html").read_bytes() == before
    assert sorted(path.name for path in (tmp_path / "report").iterdir()) == [
        "grades.csv",
        "grades_wide.csv",
        "index.html",
    ]


def test_everybody_stands_beside_every_lesson():
    """With several lessons the page begins with all of them for each learner; where nobody handed in, it says so."""
    ada, bo = Listed("ada", "Ada", "Berg", "+ada@school.example"), Listed("bo")
    worked = LessonReport(
        "l01_one",
        "One",
        {"one": ("One", 5.0)},
        (Row(ada, "l01_one", GRADED, 3.0, 5.0, 0.0, ""), Row(bo, "l01_one", MISSING, None, 5.0, 0.0, "")),
    )
    empty = LessonReport("l02_two", "Two", {"two": ("Two", 4.0)}, (Row(ada, "l02_two", MISSING, None, 4.0, 0.0, ""),))
    page = BeautifulSoup(page_text("spring", [worked, empty]), "html.parser")
    rows = [
        [cell.get_text(" ", strip=True) for cell in row.find_all(["th", "td"])]
        for row in page.find("table", class_="everybody").find_all("tr")
    ]
    assert rows == [
        ["Learner", "l01 of 5", "l02 of 4", "Total of 5", "%"],
        ["Ada Berg ada", "✓ 3", "–", "3", "60 %"],
        ["bo", "–", "", "0", "0 %"],
    ]
    assert page.find(id="l02_two").find("table") is None and "Nobody has handed" in page.find(id="l02_two").get_text()
    wide = list(csv.DictReader(io.StringIO(wide_text([worked, empty]))))
    assert list(wide[0]) == [
        *("email", "id", "last_name", "first_name", "l01_one", "l02_two", "points", "max_points", "per_cent")
    ]
    assert list(wide[0].values()) == ["'+ada@school.example", "ada", "Berg", "Ada", "3", "", "3", "5", "60.0"]
    assert list(wide[1].values()) == ["", "bo", "", "", "", "", "0", "5", "0.0"]


def test_only_what_has_changed_is_worked_out_again(reported, monkeypatch):
    """A second report works out nothing; a mark, a comment or a page since works that lesson out again."""
    root, _, _, _ = reported
    worked = []
    monkeypatch.setattr(
        "graders.classroom.report._lesson",
        lambda *given, real=report_module._lesson: worked.append(given[1]) or real(*given),
    )

    def reports():
        worked.clear()
        class_report.run(root, LESSON, Console(file=io.StringIO()))
        return list(worked)

    reports()
    assert reports() == []
    with Gradebook(Classroom(root).course.directory.db_url) as gradebook:
        grade = gradebook.find_grade(WRITTEN, LESSON, LESSON, "marked")
        grade.manual_score = 2.0
        gradebook.db.commit()
        assert reports() == [LESSON] and reports() == []
        grade.manual_score = 3.0
        gradebook.db.commit()
    roster = root / "roster.csv"
    before = roster.read_bytes()
    roster.write_bytes(before + b"new,New,One,,\n")
    assert reports() == [LESSON] and any(row["id"] == "new" for row in table_of(root))
    roster.write_bytes(before)
    (root / "report" / ".kept" / f"{LESSON}.json").write_text("spoiled", encoding="utf-8")
    assert reports() == [LESSON] and reports() == []


def test_a_name_leads_to_the_learners_page(reported, tmp_path):
    """Where a page was made, points lead to it by an address that a browser finds from the report's folder."""
    root = shutil.copytree(reported[0], tmp_path / "spring")
    classroom = Classroom(root)
    for one in classroom.standing(LESSON):
        classroom.page(one)
    class_report.run(root, LESSON, Console(file=io.StringIO()))
    page = BeautifulSoup((root / "report" / "index.html").read_text(encoding="utf-8"), "html.parser")
    targets = {link["href"] for link in page.find_all("a") if not link["href"].startswith("#")}
    assert f"../feedback/whole/{LESSON}/{LESSON}.html" in targets
    assert all((root / "report" / urllib.parse.unquote(one)).resolve().is_file() for one in targets)


LEARNERS = ("whole", "digits", "months", "huge", "slow", "no_judge")


@pytest.fixture(scope="module")
def strained(tmp_path_factory):
    """Hand-ins that break what is not limited, each once as judged and once as marked by hand since; one honest; and
    the report made where no replay is allowed: its class folder, its rows by learner, the page's text."""
    root = tmp_path_factory.mktemp("strained") / "spring"
    make_class.make(root, source=hostile.source_of_one_lesson(root.parent / "lessons"))
    lay_down = {
        "digits": hostile.hostile_evidence.number_of_four_hundred_digits,
        "months": hostile.hostile_evidence.months_of_engine_time,
        "huge": hostile.hostile_evidence.evidence_of_500_mb,
        "slow": hours_at_idle,
    }

    def handed_in(*names):
        for name in names:
            for learner in (name, f"{name}_marked"):
                folder = root / "submitted" / learner / LESSON
                shutil.copytree(root / "release" / LESSON, folder)
                if name in lay_down:
                    lay_down[name](folder, learner, "spring")
                else:
                    evidence_by(folder / "evidence.jsonl", learner, Habits(), class_id="spring")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("graders.classroom.run.JudgePool", functools.partial(JudgePool, time_limit_s=0.5))
        handed_in("slow")
        Classroom(root, workers=2).judge(LESSON)
    handed_in("whole", "digits", "months", "huge")
    Classroom(root, workers=1).judge(LESSON)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("graders.judge.worker_pool.sys.executable", str(root / "missing"))
        handed_in("no_judge")
        Classroom(root, workers=2).judge(LESSON)
    with Gradebook(Classroom(root).course.directory.db_url) as gradebook:
        for name in LEARNERS:
            for grade in gradebook.find_submission_notebook(LESSON, LESSON, f"{name}_marked").grades:
                grade.manual_score, grade.needs_manual_grade = 1.0, False
        gradebook.db.commit()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("graders.bench.replay.replay", _refuse)
        patch.setattr("graders.judge.read_evidence", _refuse)
        assert class_report.run(root, LESSON, Console(file=io.StringIO())) == 0
    page = (root / "report" / "index.html").read_text(encoding="utf-8")
    return root, {row["id"]: row for row in table_of(root)}, page


def hours_at_idle(folder, learner, class_id):
    """A sound chain of eleven hours of a running engine: within the limit of engine time, and long to go through."""
    safe = [hostile.answer(BENCH, value, None, 1.0, control) for control, value in SAFE.items()]
    turns = [
        hostile.answer(BENCH, 0.2 + 0.2 * (number % 2), None, 3.0 + 2.0 * number, "throttle")
        for number in range(11 * 1800)
    ]
    starter = hostile.answer(BENCH, None, None, 2.0, "starter")
    hostile.answered(folder, learner, class_id, *safe, starter, *turns)


def _refuse(*_, **__):
    raise AssertionError("the report read or replayed a hand-in")


@pytest.mark.parametrize(
    "learner, says",
    [
        ("digits", "value must be a number"),
        ("months", "hours of engine time"),
        ("huge", "MB long"),
        ("slow", "could not be judged within"),
        ("no_judge", "no judge could be started"),
    ],
)
def test_the_report_shows_a_hand_in_beyond_a_limit_with_its_sentence_and_goes_on(strained, learner, says):
    """As judged it has no points or waits, marked by hand it counts, and each time the sentence says why."""
    root, rows, page = strained
    judged, marked = rows[learner], rows[f"{learner}_marked"]
    assert judged["status"] == ("needs a person" if learner == "months" else "could not be judged")
    assert marked["status"] == "graded" and marked["points"] == "6"
    assert says in judged["why"] and "Marked by hand" not in judged["why"]
    assert says in marked["why"] and marked["why"].startswith("Marked by hand. The judge said:")
    texts = {term.get_text(): term.find_next("dd").get_text() for term in BeautifulSoup(page, "html.parser")("dt")}
    assert says in texts[learner] and says in texts[f"{learner}_marked"]
    grades = {grade.name: grade for grade in Classroom(root).course.grades(LESSON, learner)}
    bench = grades["l04_set_base_timing"]
    assert bench.points == 0.0 and bench.needs_person


def test_the_report_draws_the_others_beside_them(strained):
    """The honest one, marked or not, has a way in the picture, and no other has."""
    _, rows, page = strained
    part = section(page, "Set the base timing")
    assert {row.th.get_text() for row in part.tbody.find_all("tr")} == {"whole", "whole_marked"}
    assert rows["whole"]["status"] == "needs a person" and rows["whole"]["points"] == "30"
    assert rows["whole_marked"]["why"] == "" and rows["whole_marked"]["status"] == "graded"


def test_a_hand_in_that_no_judge_was_started_for_is_judged_by_the_next_run(strained, tmp_path):
    """The fault was the computer's: the same hand-in has its points once a judge can be started; marks stay."""
    shutil.copytree(strained[0], tmp_path / "spring")
    reports = {report.learner: report for report in Classroom(tmp_path / "spring", workers=1).judge(LESSON)}
    assert {name for name, report in reports.items() if report.judged_now} == {"no_judge", "no_judge_marked"}
    assert reports["no_judge"].points == 30.0 and reports["no_judge_marked"].points == 6.0


def test_a_way_is_the_same_as_that_of_a_new_replay(strained):
    """What the judge kept of a way agrees with the replayed try: where it ended, the peak, the highest vacuum."""
    root, _, _ = strained
    room = Classroom(root)
    exercise = load_rubric(LESSON).exercises["l04_set_base_timing"]
    way = way_of(exercise, "whole", room.record(LESSON, "whole")["exercises"][exercise.id])
    evidence = read_evidence(root / "submitted" / "whole" / LESSON / "evidence.jsonl")
    attempt, _ = best_attempt(exercise.judged_attempts(evidence, course.ENGINES))
    method = attempt.reference.method
    assert way.as_wanted and way.learner == "whole"
    assert way.ended_off_deg == pytest.approx(attempt.final_timing_deg - method.timing_deg, abs=0.02)
    assert way.peak_off_deg == pytest.approx(method.peak_timing_deg - method.timing_deg, abs=0.02)
    assert max(way.off_deg) == pytest.approx(
        max(one.base_timing_deg for one in attempt.search) - method.timing_deg, abs=0.5
    )
    assert way.highest_vacuum_inhg == pytest.approx(max(one.vacuum_inhg for one in attempt.search), abs=0.15)


def test_a_record_without_a_way_draws_none():
    """An exercise that was not judged, a try over time, and a record of an edition that kept less."""
    exercise = load_rubric(LESSON).exercises["l04_set_base_timing"]
    kept = {
        "over": "timing",
        "along": [0.0, 5.0],
        "vacuum_inhg": [18.0, 18.5],
        "speed_rpm": [700, 720],
        "peak": 9.0,
        "acts": [],
        "method": 4.0,
        "left_at": 5.0,
    }
    assert way_of(exercise, "ada", {"trace": kept, "criteria": []}).ended_off_deg == 1.0
    for trace in (
        None,
        {},
        kept | {"method": None},
        kept | {"over": "time"},
        kept | {"left_at": float("inf")},
        {name: value for name, value in kept.items() if name != "method"},
    ):
        assert way_of(exercise, "ada", {"trace": trace, "criteria": []}) is None


def test_an_empty_class_has_a_report_too(tmp_path):
    """No lessons and no learners: a page that says so, and a table with its first line."""
    page, table, _ = write_report(tmp_path / "report", EVIL, [])
    assert "no lesson with learners" in page.read_text(encoding="utf-8")
    assert table.read_text(encoding="utf-8").strip() == ",".join(COLUMNS) == table_text([]).strip()


def test_text_that_no_file_can_hold_is_mended():
    """Halves of characters, control characters and turns of direction become spaces."""
    assert plain("a\ud800b\x07c\u202ed\u2066e") == "a b c d e"


@pytest.fixture
def ways():
    """Two ways: one up to the peak and back, one that stopped short and stayed early."""
    return [
        Way("ada", (8.0, 20.0, 33.0, 10.0, 0.5), (18.0, 19.0, 19.5, 18.8, 18.4), (780.0,) * 5, 0.5, 33.0, True),
        Way("<b>", (8.0, 12.0), (18.0, 18.5), (800.0, 820.0), 12.0, 31.0, False),
    ]


def test_words_count_what_the_picture_shows(ways):
    """Ended as wanted, too early, turned back before the peak: counted by hand."""
    words = in_words(ways)
    for part in ("2 learner(s)", "1 ended as wanted, 0 too late, 1 too early", "1 turned back more than 4 degrees"):
        assert part in words


def test_a_picture_is_the_same_to_the_byte(ways):
    """Nothing of the day or the machine is in it."""
    assert picture(ways, LIGHT) == picture(ways, LIGHT)
    assert picture(ways, LIGHT) != picture(ways[:1], LIGHT)
