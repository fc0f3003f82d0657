"""The whole way of a lesson with nbgrader's own commands and marking screen, and this course's configuration.

Hand out, fetch, hand in, collect, judge, late penalty, marks by hand in a live server, feedback, export.
"""

from __future__ import annotations

import contextlib
import csv
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import tomllib
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest
from nbgrader.utils import get_username

from course.commands import make_class, released_rubrics
from graders.exercises.loader import rubric_for
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests.submissions import hostile
from tests.submissions.nbgrader_here import nbgrader_here

LESSON, PAGE = hostile.LESSON, hostile.PAGE
CLASS, EARLY = "spring", "early_bird"
DUE = "2026-02-01 12:00:00 UTC"
TOKEN = "marking"
STARTS_WITHIN_S = 90.0
AUTOMATIC, WRITTEN_POINTS = 10.0, 4.0

pytestmark = [pytest.mark.classroom, pytest.mark.usefixtures("schema_asked_once")]


@dataclass(frozen=True)
class Stage:
    """An exchange, the instructor's class and a learner's own folder; commands are run in one of the latter two."""

    exchange: Path
    instructor: Path
    learner: Path

    def environment(self) -> dict[str, str]:
        """A home without settings of the person who runs the tests."""
        programs = str(Path(sys.executable).parent)
        return {
            **os.environ,
            "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}",
            "HOME": str(self.exchange.parent),
            "JUPYTER_CONFIG_DIR": str(self.exchange.parent / "settings"),
        }

    def nbgrader(self, where: Path, *arguments: str) -> None:
        """Run one of nbgrader's commands in that folder, in this process. Fails where the command fails."""
        nbgrader_here(where, *arguments, environment=self.environment())


def made(place: Path) -> Stage:
    """A class of one lesson, an empty exchange, and a learner's folder that is configured for both."""
    stage = Stage(place / "exchange", place / CLASS, place / "learner")
    for folder in (stage.exchange, stage.learner):
        folder.mkdir()
    stage.exchange.chmod(0o777)
    make_class.make(stage.instructor, source=hostile.source_of_one_lesson(place / "lessons"))
    settings = f"\nc.Exchange.root = {str(stage.exchange)!r}\n"
    with (stage.instructor / "nbgrader_config.py").open("a", encoding="utf-8") as config:
        config.write(f"{settings}c.LateSubmissionPlugin.penalty_method = 'zero'\n")
    (stage.learner / "nbgrader_config.py").write_text(
        f"c = get_config()\nc.CourseDirectory.course_id = {CLASS!r}{settings}", encoding="utf-8"
    )
    return stage


@pytest.fixture(scope="module")
def stage(tmp_path_factory):
    """The class after everything up to the judge's verdicts: two learners, one through the exchange and late."""
    stage = made(tmp_path_factory.mktemp("whole"))
    stage.nbgrader(stage.instructor, "generate_assignment", LESSON, "--force")
    stage.nbgrader(stage.instructor, "db", "assignment", "add", LESSON, f"--duedate={DUE}")
    stage.nbgrader(stage.instructor, "release_assignment", LESSON)
    stage.nbgrader(stage.learner, "fetch_assignment", LESSON)
    hostile.answered(stage.learner / LESSON, get_username(), CLASS)
    stage.nbgrader(stage.learner, "submit", LESSON)
    stage.nbgrader(stage.instructor, "collect", LESSON)
    early = stage.instructor / "submitted" / EARLY / LESSON
    shutil.copytree(stage.instructor / "release" / LESSON, early)
    hostile.answered(early, EARLY, CLASS)
    (early / "timestamp.txt").write_text("2026-01-31 08:00:00 UTC", encoding="utf-8")
    stage.nbgrader(stage.instructor, "autograde", LESSON)
    return stage


@pytest.fixture(scope="module")
def screen(stage):
    """A Jupyter server with nbgrader's marking screen, in the class folder: its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    extensions = "{'nbgrader.server_extensions.formgrader': True}"
    with (stage.exchange.parent / "server.log").open("w") as log:
        server = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "jupyter_server",
                "--no-browser",
                "--allow-root",
                "--ServerApp.ip=127.0.0.1",
                f"--ServerApp.port={port}",
                f"--IdentityProvider.token={TOKEN}",
                f"--ServerApp.jpserver_extensions={extensions}",
                f"--ServerApp.root_dir={stage.instructor}",
            ],
            cwd=stage.instructor,
            env=stage.environment(),
            stdout=log,
            stderr=log,
        )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(address, server)
        yield address
    finally:
        server.terminate()
        server.wait(30)


def _wait_for(address: str, server: subprocess.Popen) -> None:
    until = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < until and server.poll() is None:
        with contextlib.suppress(OSError):
            ask(address, "status")
            return
        time.sleep(0.2)
    raise AssertionError("the marking screen did not come up")


def ask(address: str, what: str, put: dict | None = None):
    """One question to the marking screen's own interface."""
    request = urllib.request.Request(
        f"{address}/formgrader/api/{what}",
        method="PUT" if put else "GET",
        data=json.dumps(put).encode() if put else None,
        headers={"Authorization": f"token {TOKEN}"},
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.loads(answer.read())


@pytest.fixture(scope="module")
def marked(stage, screen):
    """The class after the written answers were marked through the live marking screen; and what was seen there."""
    seen = {}
    for learner, mark in ((EARLY, 3.5), (get_username(), 2.0)):
        (notebook,) = [
            found for found in ask(screen, f"submitted_notebooks/{LESSON}/{LESSON}") if found["student"] == learner
        ]
        grades = ask(screen, f"grades?submission_id={notebook['id']}")
        (waiting,) = [grade for grade in grades if grade["needs_manual_grade"]]
        ask(screen, f"grade/{waiting['id']}", {"manual_score": mark, "extra_credit": 0.0})
        comments = ask(screen, f"comments?submission_id={notebook['id']}")
        (comment,) = [comment for comment in comments if comment["name"] == waiting["name"]]
        ask(screen, f"comment/{comment['id']}", {"manual_comment": f"Seen, <b>{learner}</b>."})
        seen[learner] = (notebook["id"], waiting["name"])
    seen["page"] = _page_of(screen, seen[EARLY][0])
    return stage, seen


def _page_of(address: str, submission: str) -> str:
    request = urllib.request.Request(
        f"{address}/formgrader/submissions/{submission}/", headers={"Authorization": f"token {TOKEN}"}
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        return answer.read().decode()


def test_the_exchange_carries_the_evidence(stage):
    """What a learner fetched and handed in comes to the instructor with its evidence and its time."""
    folder = stage.instructor / "submitted" / get_username() / LESSON
    assert {PAGE, hostile.EVIDENCE, "timestamp.txt"} <= {path.name for path in folder.iterdir()}
    handed_in = stage.learner / LESSON / hostile.EVIDENCE
    assert (folder / hostile.EVIDENCE).read_bytes() == handed_in.read_bytes()


def test_nbgraders_own_autograde_gives_the_judges_points(stage):
    """Both learners have the points of their answers, and the written answer waits for a person."""
    course = NbgraderCourse(stage.instructor)
    for learner in (EARLY, get_username()):
        grades = course.grades(LESSON, learner)
        assert sum(grade.points for grade in grades) == AUTOMATIC
        assert [grade.name for grade in grades if grade.needs_person] == ["l04_explain"]


def test_a_late_hand_in_is_penalised_as_the_class_configured(stage):
    """nbgrader's own plugin takes the late one's points off, and leaves the early one alone."""
    with NbgraderCourse(stage.instructor).gradebook() as book:
        penalties = {
            name: book.find_submission_notebook(LESSON, LESSON, name).late_submission_penalty
            for name in (EARLY, get_username())
        }
    assert penalties == {EARLY: None, get_username(): AUTOMATIC}


def test_marks_and_comments_of_the_live_marking_screen_are_in_the_gradebook(marked):
    """A mark through the screen's own interface counts, and nothing waits any more."""
    stage, _ = marked
    grades = {grade.name: grade for grade in NbgraderCourse(stage.instructor).grades(LESSON, EARLY)}
    assert grades["l04_explain"].points == 3.5 and grades["l04_explain"].marked_by_person
    assert not any(grade.needs_person for grade in grades.values())


def test_the_live_marking_screen_shows_answer_and_verdicts(marked):
    """The page that nbgrader makes of a judged hand-in has the written answer and the judge's words."""
    _, seen = marked
    assert "The weights in the distributor" in seen["page"] and "of 2 points" in seen["page"]


def test_feedback_goes_back_by_nbgraders_own_commands(marked):
    """The learner fetches a page with points, penalty and the comment, whose letters stay letters."""
    stage, _ = marked
    stage.nbgrader(stage.instructor, "generate_feedback", LESSON, "--force")
    stage.nbgrader(stage.instructor, "release_feedback", LESSON)
    stage.nbgrader(stage.learner, "fetch_feedback", LESSON)
    (page,) = (stage.learner / LESSON / "feedback").rglob("*.html")
    text = page.read_text(encoding="utf-8")
    assert "10 points taken off" in text and "Seen, &lt;b&gt;" in text and "<script" not in text
    assert "A person marks this" not in text and "waits" not in text  # it is marked


def test_export_has_the_sums(marked):
    """nbgrader's table has raw score, penalty and what remains for each."""
    stage, _ = marked
    stage.nbgrader(stage.instructor, "export", "--CsvExportPlugin.to=table.csv")
    with (stage.instructor / "table.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["student_id"]: row for row in csv.DictReader(file) if row["assignment"] == LESSON}
    early, late = rows[EARLY], rows[get_username()]
    assert float(early["raw_score"]) == float(early["score"]) == AUTOMATIC + 3.5
    assert (float(late["raw_score"]), float(late["late_submission_penalty"])) == (AUTOMATIC + 2.0, AUTOMATIC)


def test_the_marking_screen_in_a_browser_runs_nothing_that_was_handed_in(stage, screen, chromium_path):
    """A poisoned hand-in, opened on the live screen in Chromium, raises no alert and loads nothing from outside but
    what nbgrader's own page asks for, its typesetting of formulas."""
    folder = stage.instructor / "submitted" / "eve" / LESSON
    shutil.copytree(stage.instructor / "release" / LESSON, folder)
    hostile.script_in_the_answer(folder, "eve", CLASS)
    hostile.script_around_the_cells(folder, "eve", CLASS)
    hostile.answered(folder, "eve", CLASS, hostile.answer("l04_explain", hostile.SCRIPT))
    NbgraderCourse(stage.instructor).autograde(LESSON, "eve", "submitted")
    (notebook,) = [
        found for found in ask(screen, f"submitted_notebooks/{LESSON}/{LESSON}") if found["student"] == "eve"
    ]
    page = f"{screen}/formgrader/submissions/{notebook['id']}/?token={TOKEN}"
    # in a thread of its own: another test of this process may keep a browser of its own open
    with ThreadPoolExecutor(1) as apart:
        alerts, outside, acting = apart.submit(opened, chromium_path, page).result()
    assert alerts == [] and acting == 0
    assert [address for address in outside if "mathjax" not in address.lower()] == []


def opened(chromium_path: str, address: str) -> tuple[list[str], list[str], int]:
    """Open a marking page in Chromium: alerts, addresses asked for outside this machine, scripts and pictures in it."""
    from playwright.sync_api import sync_playwright

    from tests.browser.conftest import FLAGS

    alerts, outside = [], []
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=chromium_path, args=list(FLAGS))
        page = chromium.new_page()
        page.on("dialog", lambda dialog: (alerts.append(dialog.message), dialog.dismiss()))
        page.on(
            "request",
            lambda request: (
                outside.append(request.url)
                if "127.0.0.1" not in request.url and not request.url.startswith(("data:", "blob:"))
                else None
            ),
        )
        page.goto(address)
        page.get_by_text("alert(1)").first.wait_for(timeout=30_000)
        page.wait_for_timeout(500)
        acting = page.evaluate("[...document.querySelectorAll('div.cell script, div.cell img')].length")
        chromium.close()
    return alerts, outside, acting


def test_a_rubric_of_the_class_is_fetched_with_the_lesson_and_fetched_again(tmp_path):
    """Generated again by nbgrader's own command, released and fetched, the lesson still has the class's rubric; after
    the next change a learner deletes that one file, fetches with --replace, and keeps every other as it is."""
    stage = made(tmp_path)
    rubric, packed = stage.instructor / "rubrics" / f"{LESSON}.toml", stage.learner / LESSON / f"{LESSON}.rubric"
    make_class.own_rubric(stage.instructor, LESSON)
    for number, title in enumerate(("Our first title", "Our second title")):
        text = rubric.read_text(encoding="utf-8")
        rubric.write_text(text.replace(f'title = "{tomllib.loads(text)["title"]}"', f'title = "{title}"'), "utf-8")
        assert released_rubrics.release(stage.instructor)
        stage.nbgrader(stage.instructor, "generate_assignment", LESSON, "--force")
        stage.nbgrader(stage.instructor, "release_assignment", LESSON, *["--force"] * number)
        packed.unlink(missing_ok=True)
        stage.nbgrader(stage.learner, "fetch_assignment", LESSON, *["--replace"] * number)
        assert rubric_for(LESSON, stage.learner / LESSON).title == title
        if number == 0:
            (stage.learner / LESSON / PAGE).write_text("my evening's work", encoding="utf-8")
    assert (stage.learner / LESSON / PAGE).read_text(encoding="utf-8") == "my evening's work"
    assert released_rubrics.drifted(NbgraderCourse(stage.instructor)) == []
