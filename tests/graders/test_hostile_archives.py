"""Archives that would fill the disk, break out of their folder or end the collection are left alone, and said."""

from __future__ import annotations

import hashlib
import io
import subprocess
import sys
from pathlib import Path

import pytest
from rich.console import Console

from course.commands import grade, make_class
from graders.nbgrader_bridge.collect import NOT_TAKEN_IN, archive_problem, not_taken_in
from tests.submissions.hostile import source_of_one_lesson
from tests.submissions.hostile_archives import EVIDENCE, HOSTILE_ARCHIVES, LESSON, TIME, zipped
from tests.submissions.nbgrader_here import nbgrader_here

GOOD = ("aa_first", "zz_last", "Юлия")
TAKEN = {one.make.__name__ for one in HOSTILE_ARCHIVES if one.taken}


def state(root):
    """Every file of a class but what a collection may write, with a digest of its content."""
    return {
        str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in root.rglob("*")
        if path.is_file() and path.relative_to(root).parts[0] not in ("submitted", "downloaded")
    }


@pytest.fixture(scope="module")
def collected(tmp_path_factory, schema_asked_once):
    """A class in which all these archives and three good ones were collected by stock zip_collect: its folder, what
    the command printed, and the class's files before and after."""
    folder = tmp_path_factory.mktemp("archives")
    root = folder / "spring"
    make_class.make(root, source=source_of_one_lesson(folder / "lessons"))
    archives = root / "downloaded" / LESSON / "archive"
    archives.mkdir(parents=True)
    for name in GOOD:
        zipped(archives / f"{name}--{LESSON}--{TIME}.zip", **{f"{LESSON}.ipynb": b"{}"})
    for one in HOSTILE_ARCHIVES:
        one.make(archives / one.name)
    before = state(root)
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", "zip_collect", LESSON], cwd=root, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return root, done.stderr, before, state(root)


@pytest.mark.classroom
def test_every_good_archive_is_collected_whatever_lies_beside_it(collected):
    """Good ones whole, hostile ones not at all, and of those with honest work in them the work alone."""
    root = collected[0]
    found = {
        path.parent.name: sorted(one.name for one in path.iterdir())
        for path in (root / "submitted").glob(f"*/{LESSON}")
    }
    assert found == {
        **{name: sorted([EVIDENCE, f"{LESSON}.ipynb", "timestamp.txt"]) for name in GOOD},
        **{name: [EVIDENCE, "timestamp.txt"] for name in TAKEN},
    }
    for path in (root / "submitted").glob(f"*/{LESSON}/{EVIDENCE}"):
        assert path.read_bytes() == b"{}\n"


@pytest.mark.classroom
@pytest.mark.parametrize("one", [one for one in HOSTILE_ARCHIVES if not one.taken], ids=lambda one: one.make.__name__)
def test_each_gets_its_sentence_in_log_list_and_class_run(collected, one):
    """The command says it as it runs, the list beside the archives keeps it, and the class run prints it."""
    root, printed, *_ = collected
    lines = [line for line in not_taken_in(root) if one.says in line and Path(one.name).stem in line]
    assert len(lines) == 1 and lines[0].startswith(f"{LESSON}, not taken in: ")
    assert lines[0].split(": ", 1)[1] in printed


@pytest.mark.classroom
def test_nothing_else_is_written(collected):
    """The class's other files are as they were, nothing large was unpacked, and nothing lies outside."""
    root, _, before, after = collected
    assert before == after and not Path("/tmp/was_unpacked_from_the_root").exists()
    unpacked = root / "downloaded" / LESSON / "extracted"
    assert sum(path.stat().st_size for path in unpacked.rglob("*")) < 1_000_000
    assert not [path for path in root.rglob("*") if path.is_symlink() and "archive" not in path.parts]


@pytest.mark.classroom
def test_the_class_run_names_them_until_the_next_collection(collected):
    """One line for each; a collection in which all is well empties the list."""
    root = collected[0]
    console = Console(width=400, record=True, file=io.StringIO())
    grade.run(root, None, console=console)
    wanted = [one for one in HOSTILE_ARCHIVES if not one.taken]
    assert console.export_text().count("not taken in: ") == len(wanted) == len(not_taken_in(root))
    archives = root / "downloaded" / LESSON / "archive"
    for path in archives.iterdir():
        if path.name.split("--")[0] not in GOOD:
            path.unlink()
    nbgrader_here(root, "zip_collect", LESSON, "--force")
    assert not (archives.parent / NOT_TAKEN_IN).exists()


def test_an_archive_as_the_course_makes_it_is_in_order(tmp_path):
    """The look at the table of contents has nothing against a sound one."""
    zipped(tmp_path / "a.zip", **{f"{LESSON}.ipynb": b"{}" * 100_000})
    assert archive_problem(tmp_path / "a.zip") == ""
