"""A gradebook that is damaged, of something else, or locked; and the copies of it."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing

import pytest

from graders.classroom.gradebook_copy import WorkingCopy
from graders.classroom.run import Classroom
from graders.nbgrader_bridge import course_config
from graders.nbgrader_bridge.course_config import CourseFolderError

LESSON = "l98_trial"


@pytest.fixture
def judged_class(trial_class, perfect):
    """A class in which one hand-in was judged."""
    trial_class.hand_in("ada", perfect)
    Classroom(trial_class.root).judge(LESSON)
    return trial_class


def noise(path):
    """Bytes of no database."""
    path.write_bytes(b"\x00\x01 this is not a gradebook" * 200)


def cut(path):
    """Half of the file, as after a full disk."""
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def foreign(path):
    """A database of another program."""
    path.unlink()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE places (url TEXT)")
        connection.commit()


@pytest.mark.parametrize(("spoil", "says"), [(noise, "is damaged"), (cut, "is damaged"), (foreign, "something else")])
def test_a_gradebook_that_is_none_names_the_way_on(judged_class, spoil, says):
    """One sentence and nothing changed; the newest copy that it names is the way on."""
    path = judged_class.root / "gradebook.db"
    spoil(path)
    before = path.read_bytes()
    with pytest.raises(CourseFolderError, match=says) as caught:
        Classroom(judged_class.root)
    assert "gradebook.db.copy" in str(caught.value) and path.read_bytes() == before
    shutil.copyfile(judged_class.root / "gradebook.db.copy", path)
    (report,) = Classroom(judged_class.root).judge(LESSON)
    assert report.points == 5.0 and not report.judged_now


def test_without_a_copy_the_sentence_says_so(judged_class):
    """Nothing is promised that is not there."""
    (judged_class.root / "gradebook.db.copy").unlink()
    noise(judged_class.root / "gradebook.db")
    with pytest.raises(CourseFolderError, match="no copy beside it"):
        Classroom(judged_class.root)


def test_a_locked_gradebook_is_said(judged_class, monkeypatch):
    """Another program that holds it costs a sentence, and nothing."""
    monkeypatch.setattr(course_config, "PATIENCE_S", 0.2)
    with closing(sqlite3.connect(judged_class.root / "gradebook.db", isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(CourseFolderError, match="another program uses it"):
            Classroom(judged_class.root)
        other.execute("ROLLBACK")
    assert Classroom(judged_class.root).judge(LESSON)[0].points == 5.0


def test_one_copy_stays_and_no_other(judged_class, tmp_path):
    """A run that ends leaves one copy; one that is broken off leaves the copy before, and what a kill left goes."""
    root = judged_class.root
    hot = root / ".gradebook.db.judging-journal"
    hot.write_bytes(b"left by a kill")
    (root / ".gradebook.db.judging").write_bytes(b"left by a kill")
    before = (root / "gradebook.db.copy").read_bytes()
    with pytest.raises(KeyboardInterrupt), WorkingCopy(root / "gradebook.db"):
        raise KeyboardInterrupt
    assert (root / "gradebook.db.copy").read_bytes() == before
    Classroom(root).judge(LESSON)
    assert sorted(path.name for path in root.iterdir() if "gradebook" in path.name) == [
        "gradebook.db",
        "gradebook.db.copy",
    ]
