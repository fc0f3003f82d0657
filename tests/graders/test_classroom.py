"""Class runs through nbgrader: exact grades, nobody stopped by anybody else, nothing lost, nothing run."""

from __future__ import annotations

import copy
import json
import os
import re
import sqlite3
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from nbgrader.api import Gradebook

from graders.classroom.run import JUDGED, NEEDS_PERSON, NOT_JUDGED, NOTHING, Classroom
from graders.nbgrader_bridge.course_config import CourseFolderError

LESSON = "l98_trial"
PAGE = f"{LESSON}.ipynb"
WRITTEN = "l98_explain"
FULL = {"l98_first": 3.0, "l98_second": 2.0, WRITTEN: 0.0}
NOTHING_EARNED = {"l98_first": 0.0, "l98_second": 0.0, WRITTEN: 0.0}

pytestmark = pytest.mark.classroom


def judged(trial_class, **options):
    """Run the class and return its reports by learner."""
    return {report.learner: report for report in Classroom(trial_class.root, **options).judge(LESSON)}


def give_mark(trial_class, learner, cell, points, comment=""):
    """Mark one cell by hand, as the marking screen does."""
    with Gradebook(trial_class.course.directory.db_url) as gradebook:
        grade = gradebook.find_grade(cell, LESSON, LESSON, learner)
        grade.manual_score, grade.needs_manual_grade = points, False
        if comment:
            gradebook.find_comment(cell, LESSON, LESSON, learner).manual_comment = comment
        gradebook.db.commit()


def test_grades_are_exact_and_a_written_answer_waits_for_a_person(trial_class, perfect):
    """A perfect, a careless and an empty hand-in stand in the gradebook with exactly their points."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("ben", {"l98_first": 1.25})
    trial_class.hand_in("cy", {})
    reports = judged(trial_class)
    assert trial_class.points("ada") == FULL
    assert trial_class.points("ben") == NOTHING_EARNED | {"l98_first": 1.25}
    assert trial_class.points("cy") == NOTHING_EARNED
    assert [reports[name].status for name in ("ada", "ben", "cy")] == [NEEDS_PERSON, JUDGED, JUDGED]
    assert "written answer" in reports["ada"].reasons[0]


def test_bad_hand_ins_stop_nobody_and_never_earn_full_points(trial_class, perfect):
    """Every known kind of bad hand-in, sorted before and after good ones, ends in its own line."""
    trial_class.hand_in("a_good", perfect)
    (trial_class.hand_in("b_not_json", perfect) / PAGE).write_text("{ not JSON", encoding="utf-8")
    trial_class.hand_in("c_no_evidence")
    trial_class.hand_in("d_of_another", perfect, header_learner="a_good")
    (trial_class.hand_in("e_no_notebook", perfect) / PAGE).unlink()
    (trial_class.hand_in("f_binary", None) / "evidence.jsonl").write_bytes(b"\xff\x00\n" * 9)
    trial_class.hand_in("z_good", perfect)
    reports = judged(trial_class)
    assert {name: trial_class.points(name) for name in reports} == {
        "a_good": FULL,
        "b_not_json": FULL,
        "c_no_evidence": NOTHING_EARNED,
        "d_of_another": NOTHING_EARNED,
        "e_no_notebook": FULL,
        "f_binary": NOTHING_EARNED,
        "z_good": FULL,
    }
    for name in ("c_no_evidence", "d_of_another", "f_binary"):
        assert reports[name].status == NEEDS_PERSON and reports[name].reasons
    assert "belongs to a_good" in reports["d_of_another"].reasons[0]
    assert "could not be read" in reports["b_not_json"].remarks[0]


def test_copied_forged_removed_and_old_cells_are_mended(trial_class, perfect):
    """Cells copied in JupyterLab, forged marks, removed cells and old formats cost nobody a grade nor raise one."""

    def copy_cells(content):
        content["cells"] += [dict(cell, id=f"copy{number}") for number, cell in enumerate(content["cells"])]

    def forge(content):
        for cell in content["cells"]:
            if "nbgrader" in cell["metadata"]:
                cell["metadata"]["nbgrader"] |= {"schema_version": 99, "points": 1000, "locked": False}
                cell["metadata"]["tags"] = ["skip-execution"]

    changes = {
        "copied": copy_cells,
        "forged": forge,
        "old_marks": lambda content: [
            cell["metadata"].get("nbgrader", {}).update(schema_version=2) for cell in content["cells"]
        ],
        "stripped": lambda content: [cell.update(metadata={}) for cell in content["cells"]],
        "emptied": lambda content: content.update(cells=[]),
        "turned_round": lambda content: [cell.update(cell_type="raw") for cell in content["cells"]],
        "old_format": lambda content: content.update(nbformat=3, nbformat_minor=0),
        "not_cells": lambda content: content.update(cells=[1, None, "x", {}]),
    }
    for name, change in changes.items():
        trial_class.hand_in(name, perfect | {"l98_first": 2.0})
        trial_class.change_notebook(name, change)
    judged(trial_class)
    assert {name: trial_class.points(name) for name in changes} == dict.fromkeys(changes, FULL | {"l98_first": 2.0})


def test_links_are_neither_followed_nor_copied(trial_class, perfect):
    """A link to the gradebook, to another's evidence or notebook, or to another's whole folder earns nothing."""
    good = trial_class.hand_in("ada", perfect)
    linked = trial_class.hand_in("eve")
    os.symlink(good / "evidence.jsonl", linked / "evidence.jsonl")
    os.symlink(trial_class.root / "gradebook.db", linked / "notes.txt")
    (linked / PAGE).unlink()
    os.symlink(good / PAGE, linked / PAGE)
    os.symlink(good.parent, trial_class.root / "submitted" / "mischief")
    reports = judged(trial_class)
    Classroom(trial_class.root).feedback(list(reports.values()))
    assert trial_class.points("eve") == trial_class.points("mischief") == NOTHING_EARNED
    assert reports["eve"].status == reports["mischief"].status == NEEDS_PERSON
    assert any("link" in reason for reason in reports["mischief"].reasons)
    copies = [path for step in ("autograded", "feedback") for path in (trial_class.root / step).rglob("*")]
    assert not [path for path in copies if path.is_symlink() or path.name == "notes.txt"]
    assert trial_class.points("ada") == FULL


def test_files_that_are_too_big_are_not_read(trial_class, perfect):
    """A huge notebook is replaced, huge evidence is refused, and a huge stranger is left where it lies."""
    for name, file in (("notebook", PAGE), ("evidence", "evidence.jsonl"), ("stranger", "video.bin")):
        folder = trial_class.hand_in(name, perfect)
        with (folder / file).open("ab") as big:
            big.truncate(20_000_000)
    reports = judged(trial_class)
    assert trial_class.points("notebook") == trial_class.points("stranger") == FULL
    assert trial_class.points("evidence") == NOTHING_EARNED
    assert reports["evidence"].status == NEEDS_PERSON and "MB" in reports["evidence"].reasons[0]
    assert not list((trial_class.root / "autograded").rglob("video.bin"))


@pytest.mark.parametrize("learner", ["s[1]", "two\nlines", "star*", " spaced"])
def test_ids_that_nbgrader_would_trip_over_get_a_sentence(trial_class, perfect, learner):
    """A folder whose name nbgrader would skip or stop at is named in the summary, and the others are judged."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in(learner, perfect)
    reports = judged(trial_class)
    assert reports[learner].status == NOT_JUDGED and "rename the folder" in reports[learner].reasons[0]
    assert trial_class.points("ada") == FULL


def test_a_learner_who_handed_in_nothing_is_told_apart_from_a_zero(trial_class):
    """Someone on the roster without a hand-in has a status of their own."""
    trial_class.course.add_learner("dora")
    trial_class.hand_in("cy", {})
    reports = judged(trial_class)
    assert (reports["dora"].status, reports["cy"].status) == (NOTHING, JUDGED)


@pytest.mark.parametrize(
    "time, late",
    [
        ("2026-01-05 10:00:00 UTC", True),
        ("2026-01-01 10:00:00 UTC", False),
        ("not a time", False),
        ("9999999999999999999 x y", False),
    ],
)
def test_a_late_hand_in_is_known_and_a_bad_time_costs_nothing(trial_class, perfect, time, late):
    """nbgrader gets the time of the hand-in; one that cannot be read is left out."""
    with trial_class.course.gradebook() as gradebook:
        gradebook.update_or_create_assignment(LESSON, duedate="2026-01-04 00:00:00 UTC")
    (trial_class.hand_in("ada", perfect) / "timestamp.txt").write_text(time, encoding="utf-8")
    judged(trial_class)
    assert trial_class.points("ada") == FULL
    with trial_class.course.gradebook() as gradebook:
        assert (gradebook.find_submission(LESSON, "ada").total_seconds_late > 0) == late


def test_nothing_of_the_learners_is_executed(trial_class, perfect):
    """Code in a handed-in cell, even in a graded one, leaves no trace."""
    trap = trial_class.root / "was_run"

    def plant(content):
        for cell in content["cells"]:
            if cell["cell_type"] == "code":
                cell["source"] = f"open({str(trap)!r}, 'w')"

    folder = trial_class.hand_in("eve", perfect)
    (folder / "graders").mkdir()
    (folder / "graders" / "__init__.py").write_text(f"open({str(trap)!r}, 'w')", encoding="utf-8")
    trial_class.change_notebook("eve", plant)
    judged(trial_class)
    assert not trap.exists()
    assert trial_class.points("eve") == FULL


def test_a_second_run_changes_nothing(trial_class, perfect):
    """The same hand-ins give the same gradebook, and nothing is judged a second time unless asked."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("c_no_evidence")
    first = judged(trial_class)
    before = (trial_class.root / "autograded" / "ada" / LESSON / PAGE).read_bytes()
    second = judged(trial_class)
    assert [report.judged_now for report in first.values()] == [True, True]
    assert [report.judged_now for report in second.values()] == [False, False]
    assert {name: (report.points, report.status, report.reasons) for name, report in first.items()} == {
        name: (report.points, report.status, report.reasons) for name, report in second.items()
    }
    judged(trial_class, again=True)
    assert (trial_class.root / "autograded" / "ada" / LESSON / PAGE).read_bytes() == before


def test_marks_given_by_hand_survive_and_are_shown_again_after_a_new_hand_in(trial_class, perfect):
    """A person's mark stays through a second run and through a new hand-in, after which it asks for review."""
    trial_class.hand_in("ada", perfect)
    judged(trial_class)
    give_mark(trial_class, "ada", WRITTEN, 3.5, "Well said.")
    assert judged(trial_class)["ada"].status == JUDGED
    assert trial_class.points("ada") == FULL | {WRITTEN: 3.5}
    trial_class.hand_in("ada", perfect | {"l98_first": 1.0})
    report = judged(trial_class)["ada"]
    assert report.judged_now and report.status == NEEDS_PERSON
    assert trial_class.points("ada") == FULL | {WRITTEN: 3.5, "l98_first": 1.0}


def test_an_answer_that_is_nothing_gets_zero_without_a_person(trial_class, perfect):
    """An unanswered written question leaves its cell as released, so that nbgrader itself gives it zero."""
    perfect.pop(WRITTEN)
    trial_class.hand_in("ada", perfect)
    assert judged(trial_class)["ada"].status == JUDGED
    assert trial_class.judged_notebook("ada").cells[-1].source.startswith("*Your answer")


def test_a_failing_judge_fails_closed(trial_class, perfect, monkeypatch):
    """A judge that breaks on one learner gives 0.0 and calls a person; it never passes for full points."""
    real = __import__("graders.judge.worker_pool", fromlist=["x"]).judge_lesson

    def breaks(lesson, path, engines, learner=None, rubrics=None):
        if learner == "ben":
            raise RuntimeError("unforeseen")
        return real(lesson, path, engines, learner=learner)

    monkeypatch.setattr("graders.judge.worker_pool.judge_lesson", breaks)
    for name in ("ada", "ben", "cy"):
        trial_class.hand_in(name, perfect)
    reports = judged(trial_class)
    assert (trial_class.points("ben"), trial_class.points("cy")) == (NOTHING_EARNED, FULL)
    assert reports["ben"].status == NEEDS_PERSON and "could not be judged" in reports["ben"].reasons[0]


@pytest.mark.parametrize("value, earned", [(1e9, 3.0), (-5.0, 0.0)])
def test_points_outside_the_range_are_clamped(trial_class, value, earned):
    """A verdict above the maximum or below zero cannot throw a learner's grades away."""
    trial_class.hand_in("ada", {"l98_first": value})
    judged(trial_class)
    assert trial_class.points("ada")["l98_first"] == earned


def test_the_gradebook_is_taken_over_whole_or_not_at_all(trial_class, perfect, monkeypatch):
    """Where nbgrader breaks down in the middle of a learner, the gradebook is as it was, and the next run mends it."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("ben", perfect)
    from nbgrader.preprocessors import AssignLatePenalties

    def breaks(self, nb, resources):
        if resources["nbgrader"]["student"] == "ada":
            raise RuntimeError("power cut")
        return nb, resources

    with monkeypatch.context() as patch:
        patch.setattr(AssignLatePenalties, "preprocess", breaks)
        reports = judged(trial_class)
    assert reports["ada"].status == NEEDS_PERSON and "left as it was" in reports["ada"].reasons[0]
    assert trial_class.points("ada") == {} and trial_class.points("ben") == FULL
    judged(trial_class)
    assert trial_class.points("ada") == FULL


def test_a_mark_saved_during_the_run_is_not_lost(trial_class, perfect, monkeypatch):
    """The marking screen may write while a class run is on: the learner in hand is simply judged once more."""
    for name in ("ada", "ben"):
        trial_class.hand_in(name, perfect)
    judged(trial_class)
    trial_class.hand_in("ben", perfect | {"l98_first": 2.0})
    room = Classroom(trial_class.root)
    autograde, calls = room.course.autograde, []

    def and_mark(*arguments):
        autograde(*arguments)
        if not calls:
            with sqlite3.connect(trial_class.root / "gradebook.db") as connection:
                connection.execute("UPDATE grade SET manual_score = 3.0 WHERE auto_score IS NULL")
        calls.append(arguments)

    monkeypatch.setattr(room.course, "autograde", and_mark)
    room.judge(LESSON)
    assert len(calls) == 2
    assert trial_class.points("ada")[WRITTEN] == 3.0
    assert trial_class.points("ben") == FULL | {"l98_first": 2.0, WRITTEN: 3.0}


def test_pages_are_self_contained_and_nothing_typed_can_act(trial_class, perfect):
    """Script, HTML, Markdown links and MathJax commands in answers and cells reach no page as anything but letters."""
    poison = (
        "<script>alert(1)</script> [x](javascript:alert(2)) $\\href{javascript:alert(3)}{x}$ "
        "<img src=x onerror=alert(4)>\n\n<b>&amp;</b> \x07 `code`"
    )
    trial_class.hand_in("eve", perfect | {WRITTEN: poison})

    def plant(content):
        content["cells"][0]["source"] = poison
        content["cells"].append(
            {
                "cell_type": "raw",
                "id": "raw1",
                "metadata": {"raw_mimetype": "text/html"},
                "source": "<script>alert(5)</script>",
            }
        )
        content["cells"][1]["outputs"] = [
            {"output_type": "display_data", "metadata": {}, "data": {"text/html": "<script>alert(6)</script>"}}
        ]
        content["metadata"]["title"] = "<script>alert(7)</script>"

    trial_class.change_notebook("eve", plant)
    reports = judged(trial_class)
    assert Classroom(trial_class.root).feedback(list(reports.values())) == []
    judged_notebook = trial_class.judged_notebook("eve")
    text = json.dumps(judged_notebook)
    assert "<script" not in text and "<img" not in text and "](javascript" not in text and "$\\\\" not in text
    for page in (trial_class.page("eve"), marking_screen(trial_class, judged_notebook)):
        assert active_elements(page) == []
        assert "alert(1)" in page
    assert fetched(trial_class.page("eve")) == []


def marking_screen(trial_class, notebook):
    """The judged notebook's cells as nbgrader's marking screen prints them."""
    import nbgrader.server_extensions.formgrader as formgrader
    from nbconvert.exporters import HTMLExporter

    config = copy.deepcopy(trial_class.course.config)
    config.HTMLExporter.template_name = "formgrade"
    config.HTMLExporter.extra_template_basedirs = [str(Path(formgrader.__file__).parent / "templates")]
    resources = dict.fromkeys(
        (
            "base_url",
            "mathjax_url",
            "assignment_id",
            "notebook_id",
            "submission_id",
            "last_name",
            "first_name",
            "notebook_path",
            "keybindings",
            "code_url",
        ),
        "",
    )
    resources |= {"index": 0, "total": 1, "nbgrader": {"notebook": LESSON, "assignment": LESSON, "student": "eve"}}
    page = HTMLExporter(config=config).from_notebook_node(notebook, resources=resources)[0]
    soup = BeautifulSoup(page, "html.parser")
    return "".join(str(cell) for cell in soup.select("div.cell"))


def active_elements(page):
    """Elements and attributes in which a page could run something."""
    found = []
    for element in BeautifulSoup(page, "html.parser").find_all(True):
        if element.name in ("script", "iframe", "img", "object", "embed", "form", "svg", "base", "link"):
            found.append(element.name)
        found += [
            name
            for name, value in element.attrs.items()
            if name.startswith("on") or "javascript:" in str(value) or name == "src"
        ]
    return found


def fetched(page):
    """Addresses outside the page that it would fetch or lead to."""
    return re.findall(r"https?://[^\s\"'<]+|url\([^)]+\)|@import", page)


def test_pages_follow_the_marks(trial_class, perfect):
    """A mark and a comment given by hand appear on the page after the next run."""
    trial_class.hand_in("ada", perfect)
    room = Classroom(trial_class.root)
    room.feedback(room.judge())
    assert "5 of 9 points" in trial_class.page("ada") and "Because the needle falls." in trial_class.page("ada")
    give_mark(trial_class, "ada", WRITTEN, 4.0, "Well said.")
    room.feedback(room.judge())
    assert "9 of 9 points" in trial_class.page("ada") and "Well said." in trial_class.page("ada")


def test_a_class_that_would_run_learners_code_is_refused(trial_class):
    """A configuration without the judge, or with nbgrader's Execute, is refused with a sentence."""
    path = trial_class.root / "nbgrader_config.py"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("graders.nbgrader_bridge.Judge", "nbgrader.preprocessors.Execute"), encoding="utf-8")
    with pytest.raises(CourseFolderError, match="code of learners would be run"):
        Classroom(trial_class.root)


def test_a_folder_that_is_no_class_or_lesson_gets_a_sentence(trial_class, tmp_path):
    """A wrong folder or lesson is said in one sentence that tells what to do."""
    with pytest.raises(CourseFolderError, match="timing-course class"):
        Classroom(tmp_path)
    with pytest.raises(CourseFolderError, match=LESSON):
        Classroom(trial_class.root).judge("l77_nowhere")
