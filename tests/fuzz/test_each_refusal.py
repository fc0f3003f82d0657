"""The refusals of the readers that drawn cases seldom come to, each by a file of its own."""

from __future__ import annotations

import json
import os
import tomllib
import zipfile

import pytest

from course import ENGINES
from course.commands.school_list import read_school_list
from engine_sim import LARGEST_FILE_BYTES, CardError, EvidenceError, load_card, read_evidence
from engine_sim.model.card import card_from
from engine_sim.workshop.evidence import LARGEST_TEXT, first_line
from graders.classroom.collecting import _Sorting
from graders.exercises.loader import FOLDER, RubricError, own_cards, rubric_for, rubric_from
from graders.nbgrader_bridge import collect
from graders.nbgrader_bridge.notebook import legible_notebook
from graders.submissions.folder import look_at
from graders.submissions.roster import name_in_evidence
from tests.every_case import check_every
from tests.fuzz.test_evidence_and_cards import _toml, chained, sound_header
from tests.fuzz.test_notebooks_and_archives import HAND_IN, LESSON

EVENT = {"time_s": 1.0, "exercise": "x", "control": "answer", "value": 1.0, "unit": None}
CARD = tomllib.loads((ENGINES / "farm_runabout_four.toml").read_text(encoding="utf-8"))


def events(*changes, header=None) -> bytes:
    """Evidence with an event for each of these changes of a sound one."""
    return chained([header or sound_header(), *(EVENT | change for change in changes)])


EVIDENCE = [
    ("none", "missing", None),
    ("empty", "empty", b" \n"),
    ("no line", "not evidence", b"x"),
    ("large", "too large", b" " * (LARGEST_FILE_BYTES + 1)),
    ("not what its mark says", "not text", b"\xff\xfeabc"),
    ("not UTF-8", "not text", b"\xff\n"),
    ("a list", "not evidence", b"[]\n"),
    ("infinity", "not evidence", b'{"a": Infinity}\n'),
    ("no header", "not evidence", chained([EVENT])),
    ("another schema", "another schema", chained([sound_header() | {"schema": 99}])),
    ("a field of the header", "not evidence", chained([sound_header() | {"created": 1}])),
    ("a changed line", "broken chain", events({}).replace(b'"x"', b'"y"')),
    ("another learner", "not allowed", chained([sound_header(), sound_header("bo")])),
    ("a field too many", "not allowed", events({"more": 1})),
    ("a time", "not allowed", events({"time_s": "1"})),
    ("a time below nought", "not allowed", events({"time_s": -1.0})),
    ("a control", "not allowed", events({"control": 1})),
    ("a value", "not allowed", events({"value": []})),
    ("a book", "not allowed", events({"value": "x" * (LARGEST_TEXT + 1)})),
    ("a number of hundreds of digits", "not allowed", events({"value": 10**400})),
    ("the clock", "clock", events({"time_s": 2.0}, {})),
]


def test_evidence(tmp_path):
    """Each has its kind; and what is sound is read whole, in the encodings that name themselves too."""

    def refused(kind, content):
        path = tmp_path / "evidence.jsonl"
        path.unlink(missing_ok=True)
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(EvidenceError) as raised:
            read_evidence(path)
        assert raised.value.kind == kind

    check_every(refused, EVIDENCE)
    sound = events({}, {"time_s": 2, "control": "begin"}, {"time_s": 1})
    for encoding in ("utf-8", "utf-8-sig", "utf-16"):
        path = tmp_path / f"{encoding}.jsonl"
        path.write_bytes(sound.decode().encode(encoding))
        assert len(read_evidence(path).events) == 3
        for most in (200, 1001):
            with path.open("rb") as file:
                assert first_line(file, most).startswith(b'{"')


def test_folders_of_hand_ins(tmp_path):
    """A link, nothing, what may not be opened, more than may be listed: a sentence each."""
    submitted = tmp_path / "submitted"
    (submitted / "ada" / LESSON).mkdir(parents=True)
    (submitted / "linked").symlink_to(submitted / "ada")
    assert "is a link" in look_at(tmp_path, "submitted", "linked", LESSON).problem
    assert "Nothing was handed in" in look_at(tmp_path, "submitted", "bo", LESSON).problem
    for number in range(20):
        (submitted / "ada" / LESSON / f"{number}.ipynb").symlink_to("/etc/hostname")
    assert "further files" in look_at(tmp_path, "submitted", "ada", LESSON).remarks[-1]
    (submitted / "ada" / LESSON / "evidence.jsonl").mkdir()
    assert "is a folder" in look_at(tmp_path, "submitted", "ada", LESSON).problem
    assert name_in_evidence(submitted / "ada" / LESSON) == ""
    (submitted / "cy" / LESSON).mkdir(parents=True)
    (submitted / "cy" / LESSON / "evidence.jsonl").write_bytes(b"[]\n")
    assert name_in_evidence(submitted / "cy" / LESSON) == ""
    os.mkfifo(submitted / "cy" / LESSON / "x.ipynb")
    assert "no" in " ".join(look_at(tmp_path, "submitted", "cy", LESSON).remarks)


def test_archives(tmp_path, monkeypatch):
    """Too much when unpacked, locked; a hand-in without its name, of another lesson, too large, in the wrong place."""
    downloaded = tmp_path / "downloaded"
    (downloaded / LESSON / "archive").mkdir(parents=True)
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("evidence.jsonl", b"x" * 2000)
    data = (tmp_path / "a.zip").read_bytes()
    place = data.index(b"PK\x01\x02") + 8
    (tmp_path / "locked.zip").write_bytes(data[:place] + b"\x01" + data[place + 1 :])
    assert "password" in collect.archive_problem(tmp_path / "locked.zip")
    monkeypatch.setattr(collect, "LARGEST_UNPACKED_BYTES", 1000)
    assert "would unpack to" in collect.archive_problem(tmp_path / "a.zip")
    other = HAND_IN.replace(LESSON, "l05_road_check")
    (downloaded / LESSON / "archive" / other).write_bytes(data)
    (downloaded / LESSON / "archive" / "torn.zip").write_bytes(data[:-9])
    sorting = _Sorting(downloaded, [LESSON, "l05_road_check"], None)
    sorting.look_through_downloaded()
    assert not (downloaded / LESSON / "archive" / other).exists()
    assert (downloaded / "l05_road_check" / "archive" / other).read_bytes() == data
    sorting.look_through(tmp_path / "a.zip")
    assert "is not named" in sorting.left[-1]
    (tmp_path / other).write_bytes(data)
    _Sorting(downloaded, [LESSON, "l05_road_check"], LESSON).look_through(tmp_path / other)
    (tmp_path / HAND_IN).write_bytes(data)
    monkeypatch.setattr("graders.classroom.collecting.LARGEST_UNPACKED_BYTES", 1000)
    sorting.look_through(tmp_path / HAND_IN)
    assert "larger than a hand-in" in sorting.left[-1]
    assert not list((downloaded / LESSON / "archive").glob("ada*"))


@pytest.mark.filterwarnings("ignore::nbformat.warnings.DuplicateCellId")
def test_notebooks(tmp_path):
    """Marks are kept by their name, and ids that stand twice are made to differ."""
    cell = {"cell_type": "code", "id": "a", "source": "", "metadata": {"nbgrader": {"grade_id": "x"}}, "outputs": []}
    content = {"cells": [cell, cell, cell | {"id": "cell-1"}], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    (tmp_path / "x.ipynb").write_text(json.dumps(content), encoding="utf-8")
    read = legible_notebook(tmp_path / "x.ipynb")
    assert len({one.id for one in read.cells}) == 3
    assert {one.metadata.nbgrader.grade_id for one in read.cells} == {"x"}


def test_lists_of_schools(tmp_path):
    """Whole names are taken apart, from both sides of a comma too."""
    (tmp_path / "list.csv").write_text('id;name\n1;"Lo, Ada"\n2;Bo van Es\n3;Cy\n', encoding="utf-8")
    rows = read_school_list(tmp_path / "list.csv").rows
    assert [(row["first_name"], row["last_name"]) for row in rows] == [("Ada", "Lo"), ("Bo van", "Es"), ("Cy", "")]


def test_rubrics(tmp_path):
    """A field of another kind, points twice, points nowhere; and a class's own rubric, read with its own card."""
    text = (FOLDER / "l04_base_timing.toml").read_text(encoding="utf-8")

    def refused(words, change):
        content = tomllib.loads(text)
        change(next(one for one in content["exercises"] if one["kind"] == "choice"))
        with pytest.raises(RubricError, match=words):
            rubric_from(content, "own.toml")

    check_every(
        refused,
        [
            ("another kind", "does not belong to kind", lambda one: one.update(tools=[])),
            ("no points", "points is missing", lambda one: one.pop("points")),
            ("nothing worth", "is worth 0 points", lambda one: one.update(points=0)),
        ],
    )
    with pytest.raises(RubricError, match="at least one was wanted"):
        rubric_from(tomllib.loads(text) | {"exercises": []}, "own.toml")
    content = tomllib.loads(text)
    next(one for one in content["exercises"] if one["kind"] == "bench")["points"] = 3
    with pytest.raises(RubricError, match="points of its own"):
        rubric_from(content, "own.toml")
    (tmp_path / "rubrics").mkdir()
    (tmp_path / "engines").mkdir()
    (tmp_path / "rubrics" / "l04_base_timing.toml").write_text(text, encoding="utf-8")
    card = tmp_path / "engines" / "delivery_truck_six.toml"
    card.write_bytes((ENGINES / card.name).read_bytes())
    assert own_cards("l04_base_timing", tmp_path / "rubrics") == [card]
    assert rubric_for("l04_base_timing", tmp_path / "rubrics").exercises["l04_set_base_timing"].engine == str(card)[:-5]


def test_cards(tmp_path):
    """A number out of its range, a choice, a text, a section, a field that there is not: each says what is wanted."""
    changes = [
        ("a number", "a number from", ("block", "bore_mm"), 1e9),
        ("a choice", "is allowed", ("ignition", "trigger"), "none"),
        ("a name", "a short name", ("identity", "name"), "No Name"),
        ("a text", "a text of", ("identity", "title"), ""),
        ("a section", "a section \\[block\\]", ("block",), 3),
        ("a missing section", "is missing", ("block",), None),
        ("a missing field", "is missing", ("block", "bore_mm"), None),
        ("another unit", "was bore_mm meant", ("block", "bore_inch"), 3.0),
        ("no such field", "allowed are", ("block", "xyzzy"), 3.0),
        ("a switch", "true or false", ("breathing", "crankcase_valve"), "perhaps"),
        ("two that do not fit", "belongs to breaker points", ("ignition", "point_gap_mm"), None),
        ("a field of a field", "is allowed", ("block", "bore_mm"), {"inner": 3.0}),
    ]

    def refused(words, place, value):
        content = json.loads(json.dumps(CARD))
        *above, last = place
        inner = content
        for key in above:
            inner = inner[key]
        if value is None:
            del inner[last]
        else:
            inner[last] = value
        (tmp_path / "card.toml").write_text(_toml(content), encoding="utf-8")
        with pytest.raises(CardError, match=words):
            load_card(tmp_path / "card.toml")

    check_every(refused, changes)
    with pytest.raises(CardError, match="a table of fields is wanted"):
        card_from(3)  # type: ignore[arg-type]
    with pytest.raises(CardError, match="There is no engine card"):
        load_card(tmp_path / "none.toml")
