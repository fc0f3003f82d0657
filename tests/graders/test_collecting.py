"""Taking in what comes back: found wherever it lies, put where it belongs, and named where it is not taken in."""

from __future__ import annotations

import io
import os
import zipfile

import pytest

from graders.classroom.collecting import Collected, collect
from graders.nbgrader_bridge.course_config import CourseFolderError

LESSON = "l98_trial"
TIME = "20260302T183005Z"

pytestmark = pytest.mark.classroom


def zipped(members: dict[str, bytes]) -> bytes:
    """A zip archive with these members."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, text in members.items():
            archive.writestr(name, text)
    return content.getvalue()


def hand_in(text: bytes = b"{}\n") -> bytes:
    """A learner's archive with evidence of these bytes."""
    return zipped({"evidence.jsonl": text, f"{LESSON}.ipynb": b"{}"})


def evidence_of(trial_class, learner: str) -> bytes:
    """What lies in submitted/ of a learner."""
    return (trial_class.root / "submitted" / learner / LESSON / "evidence.jsonl").read_bytes()


@pytest.fixture
def stick(tmp_path):
    """A folder that comes from outside."""
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


def test_archives_in_archives_are_taken_in_and_the_rest_is_named(trial_class, stick):
    """A school's archive of everything, with a folder a learner and archives two deep, beside a single one."""
    inner = zipped({f"ben--{LESSON}--{TIME}.zip": hand_in(b"ben\n")})
    (stick / "everything.zip").write_bytes(
        zipped(
            {
                f"Ada_1/ada--{LESSON}--{TIME}.zip": hand_in(b"ada\n"),
                "Ben_2/Ben.zip": inner,
                "Cy_3/notes.txt": b"I was ill.",
                f"Dora_4/dora--l77_other--{TIME}.zip": hand_in(),
            }
        )
    )
    (stick / f"Emil--{LESSON}--{TIME}.zip").write_bytes(hand_in(b"emil\n"))
    found, left = collect(trial_class.course, [stick])
    assert found == [Collected(LESSON, ("Emil", "ada", "ben"), (), 0)]
    assert [evidence_of(trial_class, name) for name in ("ada", "ben", "Emil")] == [b"ada\n", b"ben\n", b"emil\n"]
    assert len(left) == 2 and "Cy_3/notes.txt" in " ".join(left) and "l77_other" in " ".join(left)
    assert collect(trial_class.course, [stick])[0] == [Collected(LESSON, (), (), 3)]


def test_an_archive_of_all_among_the_archives_of_a_lesson_is_taken_apart(trial_class):
    """An instructor who put the school's archive into downloaded/LESSON/archive/ loses nobody by that."""
    place = trial_class.root / "downloaded" / LESSON / "archive"
    place.mkdir(parents=True)
    (place / "all.zip").write_bytes(zipped({f"x/ada--{LESSON}--{TIME}.zip": hand_in(b"ada\n")}))
    found, left = collect(trial_class.course)
    assert found[0].new == ("ada",) and left == []
    assert (place.parent / "taken_apart" / "all.zip").is_file() and not (place / "all.zip").exists()


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("Ada.zip", hand_in(), "is not named LEARNER--LESSON--TIME.zip"),
        ("all.7z", b"7z", "is no zip archive"),
        ("broken.zip", b"PK no", "cannot be read"),
        ("empty.zip", zipped({}), "holds no hand-in"),
        ("evidence.jsonl", b"{}", "lies in a folder and in no archive"),
    ],
)
def test_what_is_not_taken_in_is_named(trial_class, stick, name, content, says):
    """A renamed hand-in, another kind of archive, a damaged or an empty one, loose work: one sentence each."""
    (stick / name).write_bytes(content)
    found, left = collect(trial_class.course, [stick])
    assert found == [] and len(left) == 1 and says in left[0] and name in left[0]


def test_a_newer_archive_replaces_and_an_older_one_does_not(trial_class, stick):
    """Work in submitted/ is never replaced by older work, which is said; two of one learner leave the newer."""
    first = stick / f"ada--{LESSON}--{TIME}.zip"
    first.write_bytes(hand_in(b"first\n"))
    collect(trial_class.course, [stick])
    newer = trial_class.root / "submitted" / "ada" / LESSON
    (newer / "evidence.jsonl").write_bytes(b"by hand\n")
    (newer / "timestamp.txt").write_text("2026-03-04 10:00:00 UTC", encoding="utf-8")
    found, left = collect(trial_class.course)
    assert evidence_of(trial_class, "ada") == b"by hand\n" and "is newer than the archive" in left[0]
    assert found == [Collected(LESSON, (), (), 0)]
    (stick / "ada--l98_trial--20260305T100000Z.zip").write_bytes(hand_in(b"last\n"))
    found, left = collect(trial_class.course, [stick])
    assert evidence_of(trial_class, "ada") == b"last\n" and found[0].newer == ("ada",) and left == []


def test_a_collection_that_was_killed_loses_no_hand_in(trial_class, stick):
    """What an ended collection had put aside is back after the next one."""
    trial_class.hand_in("ben", {})
    aside = trial_class.root / ".collecting-killed" / "ben"
    aside.mkdir(parents=True)
    os.replace(trial_class.root / "submitted" / "ben" / LESSON, aside / LESSON)
    (stick / f"ada--{LESSON}--{TIME}.zip").write_bytes(hand_in())
    found, _ = collect(trial_class.course, [stick])
    assert found == [Collected(LESSON, ("ada",), (), 0)]
    assert (trial_class.root / "submitted" / "ben" / LESSON / "evidence.jsonl").is_file()
    assert not list(trial_class.root.glob(".collecting-*"))


def test_a_source_or_lesson_that_is_not_there_gets_a_sentence(trial_class, stick):
    """A mistyped folder or lesson changes nothing and is named."""
    with pytest.raises(CourseFolderError, match="There is no file or folder"):
        collect(trial_class.course, [stick / "nowhere"])
    with pytest.raises(CourseFolderError, match="There is no lesson 'l97'"):
        collect(trial_class.course, [stick], "l97")
