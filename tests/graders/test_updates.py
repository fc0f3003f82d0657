"""A course that was updated in the middle of a term: nobody's points are lost, and each page says who judged."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
from contextlib import closing

import pytest
from nbgrader.api import Gradebook
from rich.console import Console

import course
from course.commands import grade, make_class, report
from engine_sim import Event, EvidenceWriter, Header, Session, version
from graders.classroom.run import JUDGED, NEEDS_PERSON, Classroom
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.nbgrader_bridge.judge_step import RECORD
from tests.scripted_learner import (
    BENCH,
    CREATED,
    LESSON,
    RIGHT_ANSWERS,
    Habits,
    ScriptedLearner,
    bench_of,
    engine_of,
    evidence_by,
)
from tests.submissions.hostile import source_of_one_lesson

OLDER = version.Edition.here()
NEWER = version.Edition("9.8.7", f"{OLDER.model}, improved")
QUESTIONS = tuple(exercise for exercise, _, _ in RIGHT_ANSWERS[:3])
WRITTEN = RIGHT_ANSWERS[3][0]
MOST = load_rubric(LESSON).exercises[BENCH].points
HASTY = Habits(finds_peak=False, retrims=False, backs_off_with="nothing", drives=False, answers=RIGHT_ANSWERS[:3])
KEPT = f"hand-in(s) keep the points that {OLDER} gave them."

pytestmark = [pytest.mark.classroom, pytest.mark.usefixtures("schema_asked_once")]


def updated(monkeypatch, edition=NEWER) -> None:
    """From now on this edition of the course is the one that runs."""
    monkeypatch.setattr(version, "COURSE_VERSION", edition.course)
    monkeypatch.setattr(version, "MODEL_VERSION", edition.model)
    monkeypatch.setattr("graders.submissions.verdict_key._code", lambda: f"the code of {edition}")


def hand_in(root, learner, habits=None):
    """Lay down a hand-in, with evidence of today's edition where there are habits; return the evidence's path."""
    folder = root / "submitted" / learner / LESSON
    shutil.copytree(root / "release" / LESSON, folder)
    path = folder / "evidence.jsonl"
    return evidence_by(path, learner, habits, class_id="spring") if habits else path


def judged(root, again=False):
    """Run the class in this process, which alone knows that the course was updated; the reports by learner."""
    return {one.learner: one for one in Classroom(root, again, workers=0).judge(LESSON)}


def gradebook(root, learner) -> dict[str, tuple]:
    """The marks of machine and person, and whether a person must look, by cell, from the database itself."""
    with closing(sqlite3.connect(root / "gradebook.db")) as connection:
        rows = connection.execute(
            "SELECT cell.name, grade.auto_score, grade.manual_score, grade.needs_manual_grade FROM grade "
            "JOIN base_cell AS cell ON grade.cell_id = cell.id "
            "JOIN submitted_notebook AS sn ON grade.notebook_id = sn.id "
            "JOIN submitted_assignment AS sa ON sn.assignment_id = sa.id WHERE sa.student_id = ?",
            [learner],
        ).fetchall()
    return {name: (auto, manual, bool(waits)) for name, auto, manual, waits in rows}


def printed(command, *arguments) -> str:
    """What a command prints on a wide terminal."""
    console = Console(width=400, record=True, file=io.StringIO())
    command(*arguments, console=console)
    return console.export_text()


@pytest.fixture(scope="module")
def before_update(tmp_path_factory):
    """A class in which one learner's whole work was judged and marked, and another's hasty work was judged."""
    root = tmp_path_factory.mktemp("update") / "spring"
    make_class.make(root, source=source_of_one_lesson(root.parent / "lessons"))
    hand_in(root, "ada", Habits())
    hand_in(root, "ben", HASTY)
    judged(root)
    with Gradebook(Classroom(root).course.directory.db_url) as book:
        mark = book.find_grade(WRITTEN, LESSON, LESSON, "ada")
        mark.manual_score, mark.needs_manual_grade = 3.5, False
        book.db.commit()
    Classroom(root, workers=0).feedback(list(judged(root).values()))
    return root


@pytest.fixture
def spring(before_update, tmp_path):
    """A copy of that class for one test."""
    return shutil.copytree(before_update, tmp_path / "spring")


# ---- what was judged -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("again", [False, True], ids=["run", "run again"])
def test_what_was_judged_keeps_points_marks_and_page(spring, monkeypatch, again):
    """After an update of the engine model nothing in the gradebook moves, even where all is to be judged again, and the
    run, the learner's page and the report say which edition judged."""
    before = {learner: gradebook(spring, learner) for learner in ("ada", "ben")}
    page = spring / "feedback" / "ada" / LESSON / f"{LESSON}.html"
    page_before = page.read_bytes()
    updated(monkeypatch)
    reports = judged(spring, again)
    assert {learner: gradebook(spring, learner) for learner in before} == before
    assert [one.judged_now for one in reports.values()] == [False, False]
    assert reports["ada"].status == JUDGED and reports["ada"].points == 33.5
    assert {one.kept_from for one in reports.values()} == {str(OLDER)}
    assert Classroom(spring, workers=0).page(reports["ada"]) == "" and page.read_bytes() == page_before
    assert f"Judged by {OLDER}." in page.read_text(encoding="utf-8")
    assert f"2 {KEPT}" in printed(grade.run, spring, LESSON)
    assert f"2 {KEPT}" in printed(report.run, spring, LESSON)
    assert f"2 {KEPT}" in (spring / "report" / "index.html").read_text(encoding="utf-8")


def test_an_update_without_another_model_judges_again_when_asked(spring, monkeypatch):
    """The verdict stands until it is wanted again, or the class changes its own rubric; then today's edition judges."""
    updated(monkeypatch, version.Edition(NEWER.course, OLDER.model))
    assert not any(one.judged_now for one in judged(spring).values())
    assert all(one.judged_now and not one.kept_from for one in judged(spring, again=True).values())
    assert not any(one.kept_from for one in judged(spring).values())
    updated(monkeypatch, version.Edition("9.9.9", OLDER.model))
    own = spring / make_class.OWN_RUBRICS
    make_class.own_rubric(spring, LESSON)
    own.joinpath(f"{LESSON}.toml").write_bytes(own.joinpath(f"{LESSON}.toml").read_bytes() + b"\n# ours\n")
    assert all(one.judged_now for one in judged(spring).values())


def test_what_could_not_be_judged_for_a_fault_of_ours_is_judged_by_the_next_edition(spring, monkeypatch):
    """A verdict was not reached where a person was asked because a check failed: an update may put it right."""
    path = spring / "autograded" / "ben" / LESSON / f"{LESSON}.ipynb"
    notebook = json.loads(path.read_text(encoding="utf-8"))
    notebook["metadata"][RECORD]["exercises"][BENCH]["needs_person"] = "Because of a fault in the course, …"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    updated(monkeypatch, version.Edition(NEWER.course, OLDER.model))
    reports = judged(spring)
    assert (reports["ada"].judged_now, reports["ben"].judged_now) == (False, True)


def test_a_verdict_from_before_editions_were_named_is_kept(spring, monkeypatch):
    """Records of older class folders name no edition and have a key of one part; their points stand as well."""
    path = spring / "autograded" / "ada" / LESSON / f"{LESSON}.ipynb"
    notebook = json.loads(path.read_text(encoding="utf-8"))
    record = notebook["metadata"][RECORD]
    record["key"] = record["key"].replace(".", "")[:32]
    del record["edition"]
    for found in record["exercises"].values():
        found.pop("other_models", None)
    path.write_text(json.dumps(notebook), encoding="utf-8")
    before = gradebook(spring, "ada")
    updated(monkeypatch)
    reports = judged(spring)
    assert gradebook(spring, "ada") == before and not reports["ada"].judged_now
    assert reports["ada"].kept_from == "an earlier edition of the course"


def test_nbgraders_own_autograde_takes_no_points_either(spring, monkeypatch):
    """Where nbgrader itself judges again, which throws the older verdict away, the points at the bench stand."""
    before = gradebook(spring, "ada")
    updated(monkeypatch)
    Classroom(spring).course.autograde(LESSON, "ada", "submitted")
    after = gradebook(spring, "ada")
    assert {name: marks[:2] for name, marks in after.items()} == {name: marks[:2] for name, marks in before.items()}
    assert not after[BENCH][2]  # nothing more can be earned there


# ---- what was not judged ---------------------------------------------------------------------------------------------


def test_work_on_another_model_is_held_and_never_a_nought(spring, monkeypatch):
    """Questions that are asked of no engine earn their points; the bench waits for a person, without points, and the
    edition of its model judges it later on."""
    hand_in(spring, "cy", Habits())
    whole = judge_lesson(LESSON, spring / "submitted" / "cy" / LESSON / "evidence.jsonl", course.ENGINES, "cy")
    updated(monkeypatch)
    shown = judged(spring)["cy"]
    assert shown.status == NEEDS_PERSON and f"on engine model {OLDER.model}, and" in shown.reasons[0]
    marks = gradebook(spring, "cy")
    assert marks[BENCH] == (None, None, True) and all(marks[name][0] > 0 for name in QUESTIONS)
    Classroom(spring, workers=0).feedback([shown])
    page = (spring / "feedback" / "cy" / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")
    assert f"Set the base timing: – of {MOST:g} points" in page and "Set the base timing: 0 of" not in page
    printed(report.run, spring, LESSON)
    table = (spring / "report" / "grades.csv").read_text(encoding="utf-8").splitlines()
    assert any(line.startswith(f"cy,,,{LESSON},needs a person,") for line in table)
    updated(monkeypatch, OLDER)
    assert judged(spring)["cy"].points == whole.points == 30.0
    updated(monkeypatch)
    assert judged(spring)["cy"].kept_from == str(OLDER) and gradebook(spring, "cy")[BENCH][0] == MOST


def test_a_mark_by_hand_settles_what_was_held(spring, monkeypatch):
    """A person may give the points: the next runs leave them, and ask no more."""
    hand_in(spring, "cy", Habits(answers=RIGHT_ANSWERS[:3]))
    updated(monkeypatch)
    judged(spring)
    with Gradebook(Classroom(spring).course.directory.db_url) as book:
        mark = book.find_grade(BENCH, LESSON, LESSON, "cy")
        mark.manual_score, mark.needs_manual_grade = MOST - 2.0, False
        book.db.commit()
    for again in (False, True):
        one = judged(spring, again)["cy"]
        assert (one.status, one.points) == (JUDGED, 24.0), again


@pytest.mark.parametrize("learner", ["ada", "ben"])
def test_a_later_hand_in_of_the_same_work_keeps_its_points(spring, monkeypatch, learner):
    """One more answer after the update: the bench, which today's edition cannot judge, keeps what it earned, and says
    so; a person is asked where there was more to earn."""
    path = spring / "submitted" / learner / LESSON / "evidence.jsonl"
    before = gradebook(spring, learner)[BENCH][0]
    assert (before < MOST) == (learner == "ben")
    updated(monkeypatch)
    on_this_model(path, learner).append(Event(999.0, QUESTIONS[0], "answer", "peak_is_right"))
    one = judged(spring)[learner]
    assert one.judged_now and gradebook(spring, learner)[BENCH] == (before, None, before < MOST)
    said = f"Set the base timing: its {before:g} points are those that it had before the course was updated."
    assert said in one.remarks
    Classroom(spring, workers=0).page(one)
    assert said in (spring / "feedback" / learner / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")


def test_a_forged_act_after_an_update_takes_nothing_away(spring, monkeypatch):
    """What cannot be replayed on today's model asks for a person; the points from before stand."""
    path = spring / "submitted" / "ben" / LESSON / "evidence.jsonl"
    before = gradebook(spring, "ben")[BENCH][0]
    updated(monkeypatch)
    writer = on_this_model(path, "ben")
    writer.append(Event(0.0, BENCH, "begin", None))
    writer.append(Event(0.0, BENCH, "no such control", "on"))
    one = judged(spring)["ben"]
    assert gradebook(spring, "ben")[BENCH] == (before, None, True) and one.status == NEEDS_PERSON


def on_this_model(path, learner) -> EvidenceWriter:
    """The writer with which this learner goes on."""
    digest = engine_of(learner, "spring").card.digest
    return EvidenceWriter(path, Header(learner, LESSON, "spring", digest, CREATED))


def work_on(path, learner, habits) -> None:
    """Let the learner work at the bench once more."""
    given = bench_of(learner, "spring")
    session = Session(given.engine, found=given.found, evidence=on_this_model(path, learner), exercise=BENCH)
    ScriptedLearner(session, habits).work()


@pytest.mark.parametrize(
    ("first", "then", "points", "asks"),
    [(Habits(), HASTY, None, True), (HASTY, Habits(), MOST, False)],
    ids=["better before", "faultless after"],
)
def test_both_before_and_after_an_update(tmp_path, monkeypatch, first, then, points, asks):
    """What was done on today's model is judged; a person looks at the rest, unless nothing more can be earned."""
    path = evidence_by(tmp_path / "evidence.jsonl", "ada", first, class_id="spring")
    updated(monkeypatch)
    work_on(path, "ada", then)
    found = judge_lesson(LESSON, path, course.ENGINES, "ada").exercise(BENCH)
    assert found.other_models == ((OLDER.model,) if asks else ()) and bool(found.needs_person) == asks
    assert found.points == points if points else 0.0 < found.points < MOST
    assert not asks or "It may be worth more." in found.needs_person


def test_a_bench_that_was_opened_and_left_after_an_update_is_held(tmp_path, monkeypatch):
    """To look at the new engine is no attempt: it does not take the place of the work before."""
    path = evidence_by(tmp_path / "evidence.jsonl", "ada", HASTY, class_id="spring")
    updated(monkeypatch)
    given = bench_of("ada", "spring")
    Session(given.engine, found=given.found, evidence=on_this_model(path, "ada"), exercise=BENCH)
    found = judge_lesson(LESSON, path, course.ENGINES, "ada").exercise(BENCH)
    assert {one.outcome.value for one in found.criteria} == {"could not be judged"} and found.other_models


# ---- which edition a class was made with -----------------------------------------------------------------------------


def test_a_class_names_its_edition_and_a_run_with_another_says_how_to_install_it(spring, monkeypatch):
    """With its own edition nothing is said; with another one the run names both, gives the command, and goes on."""
    assert Classroom(spring).made_with == OLDER
    assert "made with" not in printed(grade.run, spring, LESSON)
    assert str(OLDER) in (spring / "README.md").read_text(encoding="utf-8")
    updated(monkeypatch)
    said = printed(grade.run, spring, LESSON)
    assert f"This class was made with {OLDER}; this is {NEWER}." in said and "waits for a person" in said
    assert f'python -m pip install "timing-course=={OLDER.course}"\n' in said
    assert f"2 {KEPT}" in said


@pytest.mark.parametrize("line", ["", "c.Judge.made_with = {}", 'c.Judge.made_with = {"course": 1, "model": "4"}'])
def test_a_class_that_names_no_edition_is_judged_as_before(spring, line):
    """Class folders made before, or with a line that names nothing, are judged without a word about it."""
    path = spring / "nbgrader_config.py"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(line if "made_with" in one else one for one in lines) + "\n", encoding="utf-8")
    assert Classroom(spring).made_with is None
    said = printed(grade.run, spring, LESSON)
    assert "made with" not in said and "hand-in(s) of" in said
