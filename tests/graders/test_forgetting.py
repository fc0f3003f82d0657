"""What a class keeps about a learner, and that nothing of it is left where the learner is to be forgotten."""

from __future__ import annotations

import pytest

from course.commands import forget as command, give_back, report
from course.commands.make_class import say_same
from graders.classroom.collecting import collect
from graders.classroom.forgetting import kept_about
from graders.classroom.run import Classroom
from graders.nbgrader_bridge.course_config import CourseFolderError
from tests.graders.test_collecting import LESSON, TIME, hand_in

pytestmark = pytest.mark.classroom

MARK = "unmistakable-7391"


@pytest.fixture
def worked(trial_class, perfect, tmp_path):
    """A class in which two learners have been through everything, one of them under a second name, too."""
    (trial_class.root / "roster.csv").write_text(f"id,email\n{MARK},{MARK}@school.example\nben,\n", encoding="utf-8")
    (tmp_path / f"ben--{LESSON}--{TIME}.zip").write_bytes(hand_in())
    (tmp_path / f"{MARK}--{LESSON}--{TIME}.zip").write_bytes(hand_in())
    collect(trial_class.course, [tmp_path / f"{name}--{LESSON}--{TIME}.zip" for name in ("ben", MARK)])
    trial_class.hand_in(MARK, perfect)
    trial_class.hand_in("ben", perfect)
    say_same(trial_class.root, f"nick-{MARK}", MARK)
    Classroom(trial_class.root).judge(LESSON)
    give_back.run(trial_class.root)
    report.run(trial_class.root)
    return trial_class


def traces(root) -> list[str]:
    """Every path and every file of a class in which the learner's mark is found."""
    return [
        str(path.relative_to(root))
        for path in root.rglob("*")
        if MARK in str(path.relative_to(root)) or (path.is_file() and MARK.encode() in path.read_bytes())
    ]


def test_nothing_is_taken_away_before_it_is_said_twice(worked, capsys):
    """Without --yes the command shows what is kept and how to take it away."""
    before = traces(worked.root)
    assert command.run(worked.root, MARK) == 0 and traces(worked.root) == before
    said = capsys.readouterr().out
    assert f"forget {worked.root} {MARK} --yes" in said and f"submitted/{MARK}" in said and "ben" not in said


def test_a_forgotten_learner_leaves_no_trace_and_nobody_else_is_touched(worked):
    """Neither a file's name nor its bytes, the gradebook's free pages included, know the learner any more."""
    ben = worked.points("ben")
    assert len(traces(worked.root)) > 8
    command.run(worked.root, MARK, yes=True)
    assert traces(worked.root) == []
    assert worked.points("ben") == ben and (worked.root / "given_back" / "ben.zip").is_file()
    assert [one.learner for one in Classroom(worked.root).judge(LESSON)] == ["ben"]


def test_somebody_who_is_not_there_gets_a_sentence(worked):
    """A mistyped id takes nothing away."""
    with pytest.raises(CourseFolderError, match="no learner 'bem'"):
        kept_about(worked.course, "bem", "given_back")
