"""What hits all hand-ins alike is ours; what a hand-in writes moves no terminal; archives that take another's place."""

from __future__ import annotations

import functools
import io
import os
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rich.console import Console

from course.authoring.edition import copy_what_is_missing
from course.commands import grade
from graders.classroom.run import NEEDS_PERSON, HandInReport, faults_of_ours
from graders.nbgrader_bridge.collect import ArchiveCollector
from graders.outcome import COURSE_FAULT

LESSON = "l98_trial"
BELL = "\x1b]0;owned\x07\x1b[2J\u202e\r"


def printed(root) -> tuple[int, str]:
    """Status and output of a class run by the command."""
    console = Console(width=300, record=True, file=io.StringIO())
    return grade.run(root, LESSON, console=console), console.export_text()


def test_a_judge_that_fails_on_everybody_ends_the_run_with_one_sentence(trial_class, perfect, monkeypatch):
    """Status 1, once; with one that is judged it is no fault of all."""
    for name in ("ada", "bo"):
        trial_class.hand_in(name, perfect)

    def broken(*_, **__):
        raise OSError("the course's own file is gone")

    with monkeypatch.context() as patch:
        patch.setattr("graders.judge.worker_pool.judge_lesson", broken)
        status, said = printed(trial_class.root)
    flat = " ".join(said.split())
    assert status == 1 and flat.count("all 2 hand-in(s) of this run met the same fault") == 1
    status, said = printed(trial_class.root)
    assert status == 0 and "met the same fault" not in said and trial_class.points("ada")["l98_first"] == 3.0


def test_one_criterion_that_fails_on_everybody_is_ours_too():
    """The same sentence of a fault in the course in every hand-in of a lesson, and in no lesson where one has none."""
    fault = f"{COURSE_FAULT}, this could not be judged: 'Warm'."
    both = [HandInReport(name, "l01", NEEDS_PERSON, reasons=(fault,), judged_now=True) for name in ("ada", "bo")]
    assert [sentence[:25] for sentence in faults_of_ours(both)] == ["l01: all 2 hand-in(s) of t"[:25]]
    assert faults_of_ours([*both, HandInReport("cy", "l01", NEEDS_PERSON, reasons=("hers",), judged_now=True)]) == []
    assert faults_of_ours(both[:1]) == [] and faults_of_ours([]) == []


def test_no_control_sign_of_a_hand_in_reaches_the_terminal(trial_class, perfect):
    """A name in the evidence, and a file's name, that would retitle and clear the screen."""
    folder = trial_class.hand_in("ada", perfect, header_learner=f"ada{BELL}x")
    os.symlink("/etc/hostname", folder / f"{BELL}.ipynb")
    status, said = printed(trial_class.root)
    assert "owned" in said and not set(said) & set("\x1b\x07\u202e\r")
    assert "\\x1b" in said and status in (0, 1)


@pytest.fixture
def collector():
    """The collector on a day in March."""

    class InMarch(ArchiveCollector):
        @staticmethod
        def _now():
            return datetime(2026, 3, 2, 12, 0, tzinfo=UTC)

    return InMarch()


def unpacked(folder, archive, learner, inner=""):
    """The evidence of an archive as it lies unpacked, and what its name says."""
    place = folder / "extracted" / archive / inner
    place.mkdir(parents=True)
    (place / "evidence.jsonl").write_text(f'{{"learner": "{learner}"}}\n', encoding="utf-8")
    student, lesson, time = archive.split("--")
    return {"student_id": student, "lesson": lesson, "timestamp": time}, place / "evidence.jsonl"


def test_an_archive_in_anothers_place_or_from_the_time_to_come_is_put_to_the_instructor(tmp_path, collector):
    """Bo's work under ada's name and with a later time would take the place of hers; so would any until 2099."""
    hers = unpacked(tmp_path, "ada--l04_base_timing--20260302T100000Z", "Ada")
    his = unpacked(tmp_path, "ada--l04_base_timing--20260302T110000Z", "bo")
    late = unpacked(tmp_path, "cy--l04_base_timing--20990101T000000Z", "cy")
    alias = unpacked(tmp_path, "school_77--l04_base_timing--20260302T100000Z", "di")
    assert collector._problem(*hers) == "" and collector._problem(*alias) == ""
    assert "holds work of 'bo' and would take the place of that of 'Ada'" in collector._problem(*his)
    assert "a time to come" in collector._problem(*late)


def test_a_stray_inner_evidence_does_not_replace_the_good_one(tmp_path, collector):
    """Directly in the archive is where the course writes it; packed again with its folder alone, it is taken."""
    name = "ada--l04_base_timing--20260302T100000Z"
    found, good = unpacked(tmp_path, name, "ada")
    _, stray = unpacked(tmp_path, name, "ada", "l04_base_timing")
    assert collector._problem(found, good) == "" and "twice" in collector._problem(found, stray)
    good.unlink()
    assert collector._problem(found, stray) == ""


def test_a_lesson_that_was_cut_off_is_whole_the_next_time(tmp_path, monkeypatch):
    """Whatever file the disk was full at, none stays cut, and the notebook, by which a lesson is there, comes last."""
    source, target = tmp_path / "lesson", tmp_path / "mine"
    for name in ("a.ipynb", "b.toml", "pictures/c.svg"):
        path = source / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name * 50, encoding="utf-8")
    real = shutil.copyfile

    def full(path, copy, at):
        if Path(path).name == at:
            Path(copy).write_text("half", encoding="utf-8")
            raise OSError(28, "No space left on device")
        return real(path, copy)

    for name in ("b.toml", "c.svg", "a.ipynb"):
        with monkeypatch.context() as patch:
            patch.setattr(shutil, "copyfile", functools.partial(full, at=name))
            with pytest.raises(OSError, match="No space"):
                copy_what_is_missing(source, target)
        assert not (target / "a.ipynb").exists() and not list(target.rglob("*.unfinished"))
    copy_what_is_missing(source, target)
    assert {path.name: path.read_text("utf-8") for path in target.rglob("*") if path.is_file()} == {
        "a.ipynb": "a.ipynb" * 50,
        "b.toml": "b.toml" * 50,
        "c.svg": "pictures/c.svg" * 50,
    }
