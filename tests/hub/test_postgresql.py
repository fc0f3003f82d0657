"""A class whose gradebook is on PostgreSQL, beside the same class on its own file: the same grades, and two people who
mark at once.

Needs Debian's package `postgresql`; where it is missing the test is skipped, and says so.
"""

from __future__ import annotations

import json
import os
import pwd
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import course
from course.commands.make_class import make
from engine_sim import Event, EvidenceWriter, Header
from graders.bench.assignment import engine_of
from graders.classroom.marking import MarkingDesk
from tests.submissions.hostile import source_of_one_lesson

LESSON, LETTER, CLASS = "l09_answer_the_letter", "l09_answer", "spring"
CREATED = "2026-01-05T09:00:00+00:00"
ROSTER = "id,first_name,last_name\nada,Ada,Moss\nben,Ben,Reed\ncal,Cal,Fern\n"
FULL = dict.fromkeys(("safe", "readings", "right", "followed", "honest"), 2)


def programs() -> Path | None:
    """Where PostgreSQL's programs lie, the newest first."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    return found[0].parent if found else None


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """The address of a database on a server of its own, reached by a socket alone."""
    found, is_root = programs(), os.geteuid() == 0
    if found is None:
        pytest.skip("there is no PostgreSQL on this machine: apt-get install postgresql")
    if is_root and "postgres" not in {entry.pw_name for entry in pwd.getpwall()}:
        pytest.skip("PostgreSQL does not run as the superuser, and there is no account 'postgres'")
    folder = Path("/tmp") / f"timing-course-postgresql-{os.getpid()}"
    folder.mkdir(mode=0o755)
    if is_root:
        shutil.chown(folder, "postgres", "postgres")

    def run(program: str, *words: str) -> None:
        become = {"user": "postgres", "group": "postgres", "extra_groups": []} if is_root else {}
        quietly = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        subprocess.run([found / program, *words], check=True, cwd=folder, **quietly, **become)

    data = str(folder / "data")
    run("initdb", "-D", data, "-U", "grader", "-A", "trust", "--no-sync")
    options = f"-c listen_addresses='' -c unix_socket_directories={folder} -c fsync=off"
    run("pg_ctl", "-D", data, "-o", options, "-l", str(folder / "log"), "-w", "start")
    try:
        run("createdb", "-h", str(folder), "-U", "grader", CLASS)
        yield f"postgresql+psycopg://grader@/{CLASS}?host={folder}"
    finally:
        run("pg_ctl", "-D", data, "-m", "immediate", "stop")
        shutil.rmtree(folder)


def class_with_letters(folder: Path, gradebook: str = "") -> Path:
    """The class, to which each learner has handed in a letter."""
    folder.mkdir()
    (folder / "list.csv").write_text(ROSTER, encoding="utf-8")
    source = source_of_one_lesson(folder / "lessons", LESSON)
    make(folder / CLASS, folder / "list.csv", source=source, gradebook=gradebook)
    for learner in ("ada", "ben", "cal"):
        place = folder / CLASS / "submitted" / learner / LESSON
        shutil.copytree(folder / CLASS / "release" / LESSON, place)
        drawn = engine_of(Header(learner, LESSON, CLASS, "", CREATED), course.ENGINES, "hill_hauler_eight")
        writer = EvidenceWriter(place / "evidence.jsonl", Header(learner, LESSON, CLASS, drawn.card.digest, CREATED))
        writer.append(Event(1.0, LETTER, "answer", f"Dear {learner}, what does the gauge show when it idles?"))
    return folder / CLASS


def graded(root: Path) -> list[dict]:
    """What `grade --json` says of the hand-ins."""
    command = [sys.executable, "-c", "from course.cli import main; main()", "grade", root, "--json"]
    said = subprocess.run(command, check=False, stdout=subprocess.PIPE, text=True)
    return [{key: value for key, value in one.items() if key != "new"} for one in json.loads(said.stdout)["hand_ins"]]


@pytest.mark.hub
def test_the_same_class_on_a_database_server(tmp_path, address):
    """Judged, marked by two people at once and looked at again, the class stands as it does on a file of its own; what
    a person marked survives the next run, and no file of a gradebook was made."""
    on_file, on_server = class_with_letters(tmp_path / "file"), class_with_letters(tmp_path / "server", address)
    assert graded(on_server) == graded(on_file)
    assert not list(on_server.glob("gradebook.db*")) and (on_file / "gradebook.db").is_file()

    def mark(root: Path, who: str, learners: tuple[str, ...]) -> None:
        desk = MarkingDesk(root, (course.HERE / "instructors.md").read_text(encoding="utf-8"))
        for learner in learners:
            desk.save(desk.answer(desk.place(LESSON, LETTER, learner)), FULL, False, "Well asked.", who)

    for root in (on_file, on_server):
        with ThreadPoolExecutor(2) as people:
            both = [people.submit(mark, root, "ines", ("ada", "ben")), people.submit(mark, root, "otto", ("cal",))]
            for one in both:
                one.result()
    stands = graded(on_server)
    assert stands == graded(on_file)
    assert all(one["points"] > 0 and not one["to_mark"] for one in stands)
