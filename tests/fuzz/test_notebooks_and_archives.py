"""Whatever stands in a notebook, in archives in archives, in a school's list or in a hand-in's folder, no error comes
that is not one of ours."""

from __future__ import annotations

import json
import os
import shutil
import zipfile

import nbformat
import pytest
from hypothesis import example, given, strategies as st

from course.commands.school_list import HEADINGS, SchoolList, read_school_list
from engine_sim import LARGEST_FILE_BYTES
from graders.classroom.collecting import _Sorting
from graders.nbgrader_bridge.collect import MOST_FILES, archive_problem
from graders.nbgrader_bridge.notebook import MOST_CELLS, legible_notebook
from graders.submissions.folder import EVIDENCE_NAME, LARGEST_NOTEBOOK_BYTES, look_at
from graders.submissions.roster import RosterError
from tests.fuzz.test_archives_and_rosters import archive_of, texts
from tests.fuzz.test_evidence_and_cards import json_values, odd_values, search

LESSON = "l04_base_timing"
HAND_IN = f"ada--{LESSON}--20260105T090000Z.zip"
marks = st.fixed_dictionaries(
    {}, optional={"nbgrader": odd_values | st.fixed_dictionaries({"grade_id": odd_values}), "tags": odd_values}
)
cells = st.fixed_dictionaries(
    {"cell_type": st.sampled_from(["code", "markdown", "raw", "other"]) | odd_values},
    optional={
        "id": st.sampled_from(["a", "b", "a b", "x" * 70]) | odd_values,
        "source": st.text(max_size=20) | st.lists(st.text(max_size=8), max_size=3) | odd_values,
        "metadata": marks | odd_values,
        "outputs": odd_values,
    },
)


@search(80)
@given(
    held=st.lists(cells, max_size=5) | odd_values,
    version=st.sampled_from([4, 3, 2, 99]) | odd_values,
    junk=st.binary(max_size=4),
    place=st.floats(0.0, 1.0),
)
@example(held=[{"cell_type": "code", "source": "1"}] * (MOST_CELLS + 1), version=4, junk=b"", place=0.0)
def test_any_notebook(tmp_path, held, version, junk, place):
    """It is whole cells of known kinds with ids that differ, and valid, or an empty notebook that says why."""
    path = tmp_path / "x.ipynb"
    data = json.dumps({"cells": held, "metadata": {}, "nbformat": version, "nbformat_minor": 5}).encode()
    at = int(place * len(data))
    path.write_bytes(data[:at] + junk + data[at:])
    read = legible_notebook(path)
    nbformat.validate(read)
    assert len({cell.id for cell in read.cells}) == len(read.cells) <= MOST_CELLS
    assert read.cells or read.metadata or not held


@search(10)
@given(kind=st.sampled_from(["missing", "empty", "link", "folder", "large", "deep"]))
@example(kind="link")
@example(kind="large")
@example(kind="deep")
@example(kind="missing")
def test_a_notebook_that_is_no_file_of_ours(tmp_path, kind):
    """A link, a folder, nothing, too much or too deep: an empty notebook that says why."""
    path = tmp_path / kind / "x.ipynb"
    shutil.rmtree(path.parent, ignore_errors=True)
    path.parent.mkdir()
    if kind == "link":
        path.symlink_to("/etc/hostname")
    elif kind == "folder":
        path.mkdir()
    elif kind != "missing":
        path.write_bytes({"empty": b"", "large": b" " * (LARGEST_NOTEBOOK_BYTES + 1), "deep": b"[" * 200_000}[kind])
    read = legible_notebook(path)
    assert read.cells == [] and "could not be read" in str(read.metadata)


members = st.tuples(
    st.sampled_from(
        [HAND_IN, "a.zip", "b.ZIP", f"x/{EVIDENCE_NAME}", "notes.txt", "bo--l99_none--20260105T090000Z.zip"]
    )
    | texts,
    st.binary(max_size=40),
)
archives = st.recursive(
    st.lists(members, max_size=3).map(archive_of),
    lambda inner: st.lists(st.tuples(members.map(lambda one: one[0]), inner), min_size=1, max_size=3).map(archive_of),
    max_leaves=5,
)


@search(60)
@pytest.mark.filterwarnings("ignore:Duplicate name")
@given(held=archives, name=st.sampled_from([HAND_IN, "all.zip", "all.7z", EVIDENCE_NAME]), cut=st.integers(0, 9))
def test_any_archive_of_archives(tmp_path, held, name, cut):
    """Hand-ins are filed below their lesson and nowhere else; of everything else there is a sentence."""
    place = tmp_path / "place"
    shutil.rmtree(place, ignore_errors=True)
    (place / "stick" / "inner").mkdir(parents=True)
    (place / "stick" / "inner" / name).write_bytes(held[: len(held) - cut])
    waiting = place / "downloaded" / LESSON / "archive"
    waiting.mkdir(parents=True)
    (waiting / "many.zip").write_bytes(held)
    (place / "downloaded" / "all.zip").write_bytes(held)
    (waiting / "link.zip").symlink_to("/etc/hostname")
    sorting = _Sorting(place / "downloaded", [LESSON, "l05_road_check"], None)
    sorting.look_through(place / "stick")
    sorting.look_through(place / "stick" / "inner" / name)
    sorting.look_through_downloaded()
    assert all(isinstance(sentence, str) and sentence for sentence in sorting.left)
    filed = {one.relative_to(place / "downloaded").parts[0] for one in (place / "downloaded").rglob("*--*.zip")}
    assert filed <= {LESSON}


def test_archives_of_every_kind_that_is_refused(tmp_path):
    """Empty, too many files, too large, outside its folder, a link, a password, a file twice: a sentence each."""

    def problem(*held, **changed) -> str:
        path = tmp_path / "a.zip"
        with zipfile.ZipFile(path, "w") as archive:
            for name in held:
                member = zipfile.ZipInfo(name)
                for field, value in changed.items():
                    setattr(member, field, value)
                archive.writestr(member, b"x")
        data = path.read_bytes()
        if changed.get("locked"):
            place = data.index(b"PK\x01\x02") + 8
            path.write_bytes(data[:place] + b"\x01" + data[place + 1 :])
        return archive_problem(path)

    assert "is empty" in problem()
    assert "more than a hand-in" in problem(*map(str, range(MOST_FILES + 1)))
    assert "outside its folder" in problem("../x") and "outside its folder" in problem("/x")
    assert "links are not followed" in problem("x", external_attr=0o120777 << 16)
    (tmp_path / "a.zip").write_bytes(b"PK")
    assert "not a whole zip archive" in archive_problem(tmp_path / "a.zip")
    assert "not a whole zip archive" in archive_problem(tmp_path)


names = st.sampled_from([name for known in HEADINGS.values() for name in known]) | texts
lines = st.lists(st.lists(texts | st.sampled_from(["a@b", "Lo, Ada", "Ada Lo"]), max_size=5), max_size=4)


@search(150)
@given(
    headings=st.lists(names, max_size=5),
    rows=lines,
    comma=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
    stated=st.dictionaries(st.sampled_from(["id", "name", "email", "pupil"]), texts, max_size=2),
    answers=st.lists(st.integers(0, 5), max_size=5),
)
@example(headings=["name"], rows=[["Ada Lo"], ["Ada Lo"]], comma=",", encoding="utf-8", stated={}, answers=[])
@example(headings=["email"], rows=[["a@b"], ["a@c"]], comma=",", encoding="utf-8", stated={}, answers=[])
@example(headings=["email", "x"], rows=[["", "y"]], comma=",", encoding="utf-8", stated={}, answers=[])
@example(headings=["first", "name"], rows=[["Ada", "Lo"]], comma=";", encoding="utf-8", stated={}, answers=[])
@example(
    headings=["first", "last", "name"], rows=[["Ada", "Lo", "X"]], comma=";", encoding="utf-8", stated={}, answers=[]
)
def test_any_list_of_a_school(tmp_path, headings, rows, comma, encoding, stated, answers):
    """It is a class list in which nobody's id stands twice, or our error."""
    text = "\n".join(comma.join(row) for row in [headings, *rows])
    path = tmp_path / "list.csv"
    path.write_bytes(text.encode(encoding, "replace"))
    left = list(answers)

    def ask(wanted, shown):
        number = left.pop() if left else 0
        return shown[number - 1] if 0 < number <= len(shown) else ""

    try:
        listed = read_school_list(path, stated, ask if answers else None)
    except RosterError as error:
        assert str(error)
        return
    assert isinstance(listed, SchoolList) and len({row["id"] for row in listed.rows}) == len(listed.rows)


@search(40)
@given(
    names=st.lists(
        st.sampled_from([EVIDENCE_NAME, "timestamp.txt", "x.ipynb", "submission_secret.txt", "other"]), max_size=4
    ),
    kind=st.sampled_from(["file", "link", "folder", "large", "pipe", "closed"]),
    values=json_values,
)
def test_any_folder_of_a_hand_in(tmp_path, names, kind, values):
    """What may be read is named; of all else there is a sentence, and nothing is followed."""
    folder = tmp_path / "submitted" / "ada" / LESSON
    shutil.rmtree(tmp_path / "submitted", ignore_errors=True)
    folder.mkdir(parents=True)
    for name in set(names):
        path = folder / name
        if kind == "link":
            path.symlink_to("/etc/hostname")
        elif kind == "folder":
            path.mkdir()
        elif kind == "pipe":
            os.mkfifo(path)
        elif kind == "large":
            with path.open("wb") as file:
                file.truncate(LARGEST_FILE_BYTES + 1)
        else:
            path.write_text(json.dumps(values), encoding="utf-8")
            path.chmod(0o000 if kind == "closed" else 0o644)
    found = look_at(tmp_path, "submitted", "ada", LESSON)
    assert isinstance(found.digest(), str) and all(path.is_file() for path in found.files.values())
    assert kind in ("file", "closed") or not found.files
