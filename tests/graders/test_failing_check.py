"""A check that fails is a fault of the course's: it takes its own criterion along, and costs no learner a point."""

from __future__ import annotations

import csv
import io
import json
import logging
import os
import shutil
from dataclasses import replace

import pytest
from bs4 import BeautifulSoup
from rich.console import Console

from course.commands import check as own_check, grade as class_run, make_class, report as class_report
from course.widgets.shared.verdict import shown_result, spoken_result
from engine_sim import DEBRIEFED, VERDICT, Event, EvidenceWriter, read_evidence
from graders.bench.attempt import CHECKS
from graders.classroom.run import NEEDS_PERSON, Classroom
from graders.exercises.kinds.bench import OTHER_ATTEMPT, best_attempt
from graders.exercises.loader import load_rubric
from graders.feedback import exercise_html, exercise_text
from graders.judge import judge_exercise, judge_lesson
from graders.judge.worker_pool import LOG
from graders.model_answers.check_rubric import CHECK_FAILED, check_rubric
from graders.outcome import CriterionOutcome, ExerciseResult, Outcome
from tests.scripted_learner import BENCH, ENGINES, LESSON, Habits, evidence_by
from tests.submissions.hostile import source_of_one_lesson

FAILS, CRITERION, TITLE, POINTS = "was_warm", "warm", "Set on a warm engine", 1.0


def broken(_attempt, _tolerances):
    """A check with a fault in it."""
    raise ZeroDivisionError("a fault of ours")


@pytest.fixture
def failing(monkeypatch):
    """The check of one criterion of the bench fails."""
    # The import linter, where its test ran before in this process, has switched off every logger that there was.
    monkeypatch.setattr(logging.getLogger("graders.judge"), "disabled", False)
    monkeypatch.setitem(CHECKS, FAILS, replace(CHECKS[FAILS], function=broken))


def judged(tmp_path, habits=None):
    """The bench of a learner with these habits."""
    return judge_exercise(BENCH, read_evidence(evidence_by(tmp_path / "evidence.jsonl", "anna", habits)), ENGINES)


def test_a_failing_check_costs_only_its_own_points(tmp_path, failing, caplog):
    """All other criteria keep their points; a person is asked, and the log has the traceback and whose work it was."""
    with caplog.at_level(logging.ERROR, logger="graders"):
        result = judged(tmp_path)
    failed = [one for one in result.criteria if one.outcome is Outcome.COULD_NOT_BE_JUDGED]
    assert [one.criterion for one in failed] == [CRITERION]
    assert failed[0].points == 0.0 and "fault in the course" in failed[0].sentence and failed[0].misconception is None
    assert result.points == result.max_points - POINTS
    assert TITLE in result.needs_person and "fault in the course" in result.needs_person
    assert "'anna'" in caplog.text and BENCH in caplog.text
    assert "ZeroDivisionError: a fault of ours" in caplog.text and "Traceback" in caplog.text


def test_a_rubric_that_meets_a_failing_check_is_not_said_to_be_too_narrow(failing):
    """The instructor who tries a rubric is told that the check failed, and not to widen a tolerance."""
    cells = {name: one.points for name, one in load_rubric(LESSON).exercises.items()}
    report = check_rubric(LESSON, None, ENGINES, "spring", cells, trials=1)
    (sentence,) = report.wrong
    assert f"{BENCH}, {CRITERION}" in sentence and sentence.endswith(CHECK_FAILED)


def test_a_sentence_that_cannot_be_filled_costs_only_its_own_points(tmp_path, monkeypatch):
    """The same where the sentence fails, should one ever get past the reading of its rubric."""
    exercise = load_rubric(LESSON).exercises[BENCH]
    spoiled = next(one for one in exercise.criteria if one.id == CRITERION)
    monkeypatch.setitem(spoiled.sentences, "met", "The coolant had {degrees} °C.")
    result = judged(tmp_path)
    assert result.points == result.max_points - POINTS and TITLE in result.needs_person


def test_a_fault_that_several_checks_share_costs_no_other(tmp_path, monkeypatch):
    """Where the method's own result cannot be worked out, what needs none of it keeps its points; so does the bench,
    whose picture cannot be drawn either."""
    monkeypatch.setattr("graders.bench.attempt.reference_for", broken)
    result = judged(tmp_path)
    failed = {one.criterion for one in result.criteria if one.outcome is Outcome.COULD_NOT_BE_JUDGED}
    assert failed == {"peak", "idle_at_peak", "back_off", "setting"} and result.trace is None
    assert all(one.points == one.max_points for one in result.criteria if one.criterion not in failed)
    assert result.points > 0.0 and result.needs_person


def test_the_learner_sees_that_nothing_was_judged_and_no_nought(tmp_path, failing):
    """Page, terminal and widget say that it could not be judged; a dash stands in the place of its points."""
    result = judged(tmp_path)
    page = exercise_html(result, result.points, result.max_points)
    item = BeautifulSoup(page, "html.parser").find("li", class_="could-not-be-judged")
    assert f"(– of {POINTS:g})" in item.get_text() and TITLE in item.get_text() and "(0 of" not in page
    assert f"could not be judged: {TITLE} " in exercise_text(result, result.points, result.max_points)
    assert result.needs_person in spoken_result(result)
    assert shown_result(result)["needs_person"] == result.needs_person


def printed(folder) -> str:
    """What the learner's own check prints."""
    console = Console(width=400, record=True, file=io.StringIO())
    assert own_check.run(folder, console) == 0
    return console.export_text()


def test_the_learners_own_check_shows_it(tmp_path, failing):
    """The command that a learner runs says nothing of an engine that was not looked over; then it names the criterion
    and the reason, and counts the rest."""
    folder = tmp_path / LESSON
    folder.mkdir()
    path = evidence_by(folder / "evidence.jsonl", "anna", Habits())
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    assert "0 of 20" in printed(folder) and "press 'Look it over'" in printed(folder)
    evidence = read_evidence(path)
    at_s = evidence.of_exercise(BENCH)[-1].time_s
    EvidenceWriter(path, evidence.header).append(Event(at_s, BENCH, DEBRIEFED, VERDICT))
    said = printed(folder)
    assert f"could not be judged: {TITLE}" in said and "A person looks at this: Because of a fault" in said
    assert "Set the base timing: 19 of 20" in said


def test_another_program_reads_the_learners_own_check(tmp_path, failing, capsys):
    """`check --json` gives the criteria of a lesson, each with its outcome."""
    folder = tmp_path / LESSON
    folder.mkdir()
    path = evidence_by(folder / "evidence.jsonl", "anna", Habits())
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    evidence = read_evidence(path)
    at_s = evidence.of_exercise(BENCH)[-1].time_s
    EvidenceWriter(path, evidence.header).append(Event(at_s, BENCH, DEBRIEFED, VERDICT))
    assert own_check.run(folder, as_json=True) == 0
    found = json.loads(capsys.readouterr().out)
    bench = next(one for one in found["exercises"] if one["max_points"] == 20)
    assert bench["points"] == 19 and "Because of a fault" in bench["needs_person"]
    assert {"could not be judged", "met"} == {one["outcome"] for one in bench["criteria"]}


# ---- several attempts ------------------------------------------------------------------------------------------------


def attempt_with(*points: float | None) -> tuple[str, ExerciseResult]:
    """An attempt with criteria of three points each; None for one that could not be judged."""
    criteria = tuple(
        CriterionOutcome(
            criterion=f"part {number}",
            title=f"Part {number}",
            outcome=Outcome.COULD_NOT_BE_JUDGED if earned is None else Outcome.NOT_YET,
            points=earned or 0.0,
            max_points=3.0,
        )
        for number, earned in enumerate(points)
    )
    why = "a fault" if None in points else ""
    return str(points), ExerciseResult("bench", "Bench", 3.0 * len(points), criteria, needs_person=why)


@pytest.mark.parametrize(
    ("attempts", "counts", "person"),
    [
        ([(1.0, 1.0), (3.0, 0.0)], 1, ""),
        ([(2.0, 1.0), (3.0, 0.0)], 0, ""),
        ([(2.0, 2.0), (2.0, None)], 0, OTHER_ATTEMPT),
        ([(2.0, None), (2.0, 2.0)], 1, OTHER_ATTEMPT),
        ([(3.0, 3.0), (2.0, None)], 0, ""),
        ([(3.0, None), (1.0, 1.0)], 0, "a fault"),
        ([(None, None), (1.0, 1.0)], 1, OTHER_ATTEMPT),
    ],
)
def test_an_attempt_judged_in_part_neither_wins_nor_loses_by_it(attempts, counts, person):
    """Points that were earned decide; a person looks where the part that was not judged might have decided."""
    made = [attempt_with(*points) for points in attempts]
    attempt, result = best_attempt(made)
    assert attempt == made[counts][0] and result.points == made[counts][1].points
    assert result.needs_person == person


# ---- a class run -----------------------------------------------------------------------------------------------------

# Python runs this file in every process that it starts with this folder on its path.
IN_EVERY_PROCESS = f"""
from dataclasses import replace
from graders.bench.criteria import CHECKS
def broken(_attempt, _tolerances):
    raise ZeroDivisionError("a fault of ours")
CHECKS["{FAILS}"] = replace(CHECKS["{FAILS}"], function=broken)
"""


@pytest.fixture(scope="module")
def run(tmp_path_factory, schema_asked_once):
    """A class of one lesson and one learner, whose judge processes have a check that fails; judged by the command."""
    folder = tmp_path_factory.mktemp("failing")
    root = folder / "spring"
    make_class.make(root, source=source_of_one_lesson(folder / "lessons"))
    lesson = root / "submitted" / "ada" / LESSON
    shutil.copytree(root / "release" / LESSON, lesson)
    evidence_by(lesson / "evidence.jsonl", "ada", Habits(), class_id="spring")
    (folder / "path").mkdir()
    (folder / "path" / "sitecustomize.py").write_text(IN_EVERY_PROCESS, encoding="utf-8")
    console = Console(width=300, record=True, file=io.StringIO())
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(folder / "path"), prepend=os.pathsep)
        assert class_run.run(root, LESSON, console=console) == 0
    class_report.run(root, LESSON, Console(file=io.StringIO()))
    return root, console.export_text()


@pytest.mark.classroom
def test_a_class_run_charges_nobody_and_tells_the_instructor(run):
    """The rest of the bench is in the gradebook, a person is asked, and the traceback lies in the log of the class."""
    root, printed = run
    whole = judge_lesson(LESSON, root / "submitted" / "ada" / LESSON / "evidence.jsonl", ENGINES, "ada")
    classroom = Classroom(root)
    grades = {grade.name: grade for grade in classroom.course.grades(LESSON, "ada")}
    assert grades[BENCH].auto_points == whole.exercise(BENCH).max_points - POINTS and grades[BENCH].needs_person
    assert TITLE in printed and f"The details are in {LOG}." in printed
    log = (root / LOG).read_text(encoding="utf-8")
    assert "Traceback" in log and "ZeroDivisionError: a fault of ours" in log and f"{BENCH} of learner 'ada'" in log
    assert [one.status for one in classroom.standing(LESSON)] == [NEEDS_PERSON]


@pytest.mark.classroom
def test_the_pages_of_a_class_show_no_nought_for_it(run):
    """A learner's page has a dash, and in the class report the bench waits for a person and no criterion looks hard."""
    root, _ = run
    page = BeautifulSoup(
        (root / "feedback" / "ada" / LESSON / f"{LESSON}.html").read_text(encoding="utf-8"), "html.parser"
    )
    item = page.find(id=BENCH).find("li", class_="could-not-be-judged")
    assert f"(– of {POINTS:g})" in item.get_text() and "fault in the course" in item.get_text()
    assert "Waits for a person's mark" in page.find(id=BENCH).get_text()
    report = (root / "report" / "index.html").read_text(encoding="utf-8")
    table = list(csv.DictReader(io.StringIO((root / "report" / "grades.csv").read_text(encoding="utf-8"))))
    assert table[0]["status"] == "needs a person" and TITLE in table[0]["why"]
    hard = BeautifulSoup(report, "html.parser").find_all("td", string=TITLE)
    assert not hard
