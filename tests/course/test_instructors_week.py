"""An instructor's week by the commands that the class README prints, typed as they stand there, with nothing on the
path: from a school's list and a school's archive to pages in the learners' hands."""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

import course
from course.commands import make_class
from engine_sim import EvidenceWriter
from graders.exercises.loader import load_rubric
from graders.model_answers.model_learner import faultless_evidence
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests.submissions.making import source_of_one_lesson

LESSON, CLASS = "l04_base_timing", "my-class"
CHECKOUT = Path(course.__file__).parent.parent
SCHOOL_LIST = "Form;Surname;Given name;Pupil number;E-mail\n9b;Berg;Ada;a17;ada@school.example\n9b;Lind;Ben;b22;\n"
LEARNERS = {"a17": "Ada Berg", "b22": "b22"}  # id on the list -> the name that the learner typed

pytestmark = pytest.mark.classroom


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """The folder in which the instructor types, with a class of one lesson in it, made there by its name."""
    folder = tmp_path_factory.mktemp("school")
    (folder / "list.csv").write_text(SCHOOL_LIST, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("TIMING_COURSE_COMMAND", f"{sys.executable} -m course")
        make_class.make(Path(CLASS), source=source_of_one_lesson(folder / "lessons"))
    return folder


def printed_in_readme(place: Path, word: str) -> list[str]:
    """The command with this word that stands on a line of its own in the class README, as words."""
    lines = (place / CLASS / "README.md").read_text(encoding="utf-8").splitlines()
    found = [line.strip() for line in lines if line.startswith("    ") and f" -m course {word}" in line]
    return shlex.split(next(line for line in found if shlex.split(line)[0] == sys.executable))


def environment(place: Path) -> dict[str, str]:
    """No folder of programs, and nothing but what the course is found by."""
    kept = {name: value for name, value in os.environ.items() if name in ("HOME", "TIMING_COURSE_CACHE", "LANG")}
    return kept | {
        "PATH": "",
        "PYTHONPATH": str(CHECKOUT),
        "TIMING_COURSE_HERE": "1",
        "JUPYTER_RUNTIME_DIR": str(place / "runtime"),
    }


def typed(place: Path, words: list[str], status: int = 0, **instead: str) -> str:
    """Type a command, with what stands in capitals replaced; what it prints."""
    words = [instead.get(word, word) for word in words]
    done = subprocess.run(words, cwd=place, env=environment(place), capture_output=True, text=True, timeout=300)
    assert done.returncode == status, done.stdout + done.stderr
    return done.stdout


def test_from_a_schools_list_and_archive_to_pages_in_the_learners_hands(place):
    """Every command of the README's steps, in their order: list, hand out, collect, judge, mark, give back."""
    assert "id from 'Pupil number'" in typed(place, printed_in_readme(place, "class"), **{"LIST.csv": "list.csv"})
    start = printed_in_readme(place, "start")
    archives = {}
    for learner, name in LEARNERS.items():
        home = place / f"home of {learner}"
        home.mkdir()
        release = str(place / CLASS / "release")
        typed(home, [*start, "--lay-out-only"], ID=name, RELEASE=release)
        folder = home / "my-course" / LESSON
        evidence = faultless_evidence(load_rubric(LESSON), name, CLASS, course.ENGINES)
        writer = EvidenceWriter(folder / "evidence.jsonl", evidence.header)
        for event in evidence.events:
            writer.append(event)
        typed(home, [*start[:3], "hand-in", LESSON, "--anyway"])
        (archives[learner],) = (home / "my-course" / "hand-in").glob("*.zip")
    (place / "stick").mkdir()
    with zipfile.ZipFile(place / "stick" / "all of the course.zip", "w") as everything:
        for number, path in enumerate(archives.values()):
            everything.write(path, f"Pupil {number}_assignment/{path.name}")
    assert f"{LESSON}: 2 new" in typed(place, printed_in_readme(place, "collect"), FOLDER="stick")

    said = typed(place, printed_in_readme(place, "grade"))
    assert f"{CLASS}: 2 hand-in(s) of 2 learner(s)" in said and said.rstrip().endswith("No questions.")
    with NbgraderCourse(place / CLASS).gradebook() as gradebook:
        shown = {student.id: (student.last_name, student.first_name) for student in gradebook.students}
    assert shown == {"a17": ("Berg", "Ada"), "b22": ("Lind", "Ben")}

    assert "2 of them new or changed" in typed(place, printed_in_readme(place, "give-back"))
    for learner in LEARNERS:
        with zipfile.ZipFile(place / CLASS / "given_back" / f"{learner}.zip") as archive:
            assert archive.namelist() == [f"{LESSON}.html"]
            assert "of 34 points" in archive.read(f"{LESSON}.html").decode("utf-8")
    again = json.loads(typed(place, [*printed_in_readme(place, "give-back"), "--json"]))
    assert again["changed"] == [] and set(again["archives"]) == set(LEARNERS)


@contextmanager
def printed_by(place: Path, words: list[str], pattern: str) -> Iterator[str]:
    """Type a command that serves something; the address that it prints. It is ended afterwards."""
    process = subprocess.Popen(
        words,
        cwd=place,
        env=environment(place),
        start_new_session=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        said = ""
        while not (found := re.search(pattern, said)):
            line = process.stdout.readline()
            assert line, f"it ended: {said}"
            said += line
        yield found[0]
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


def test_the_marking_page_opens_with_nothing_on_the_path(place):
    """The README's own command prints an address with the class's answers, and lets in nobody without its key."""
    with printed_by(
        place, [*printed_in_readme(place, "mark"), "--no-browser"], r"http://localhost:\d+/\?token=\S+"
    ) as url:
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        assert f"Marking: class {CLASS}".encode() in _answer(browser, url, time.monotonic() + 60)
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(url.split("?")[0], timeout=60)


def test_nbgraders_marking_screen_opens_with_nothing_on_the_path(place):
    """`mark --nbgrader` serves nbgrader's screen, and a browser at the address that it opens sees the class."""
    process = subprocess.Popen(
        [*printed_in_readme(place, "mark"), "--nbgrader"],
        cwd=place,
        env=environment(place),
        start_new_session=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        deadline = time.monotonic() + 120
        while not (found := list((place / "runtime").glob("jpserver-*-open.html"))):
            assert process.poll() is None and time.monotonic() < deadline, "no server came up"
            time.sleep(0.2)
        opened = re.search(r'href="(http[^"]+)"', found[0].read_text(encoding="utf-8"))
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        assert b"Manual Grading" in _answer(browser, opened[1], deadline)
        server = opened[1].split("/formgrader")[0]
        lessons = json.loads(_answer(browser, f"{server}/formgrader/api/assignments", deadline))
        assert [lesson["name"] for lesson in lessons] == [LESSON]
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


def _answer(browser: urllib.request.OpenerDirector, address: str, deadline: float) -> bytes:
    """What a server that is just coming up answers to a browser, which keeps what it was given to be known by."""
    while True:
        try:
            with browser.open(address, timeout=60) as reply:
                return reply.read()
        except OSError:
            assert time.monotonic() < deadline, "the server does not answer"
            time.sleep(0.2)


def test_nbgraders_own_programs_run_on_the_class(place):
    """`nbgrader FOLDER ...` passes its words on, its options too."""
    words = [sys.executable, "-m", "course", "nbgrader", CLASS, "db", "assignment", "list", "--log-level=ERROR"]
    assert "There are 1 assignments" in typed(place, words)


def test_the_edition_is_printed(place):
    """`--version` names course and engine model."""
    assert "engine model" in typed(place, [sys.executable, "-m", "course", "--version"])
