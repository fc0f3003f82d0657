"""Who and where: learner, class and lesson of a folder, and the one writer of its evidence."""

from __future__ import annotations

import threading

import pytest

from course.learner.lesson_folder import LessonFolder, LessonFolderError
from engine_sim import EvidenceError, read_evidence


@pytest.fixture
def folder(tmp_path):
    """A lesson folder of a learner of our own workshop."""
    place = tmp_path / "l04_base_timing"
    place.mkdir()
    (place / "learner.toml").write_text('name = "Robin Vale"\n', encoding="utf-8")
    (place / "class.toml").write_text('class = "spring"\n', encoding="utf-8")
    return place


def test_the_folder_says_who_and_where(folder):
    """Lesson, class and learner come from the folder's name and its two small files."""
    here = LessonFolder.here(folder)
    assert (here.lesson, here.class_id, here.learner) == ("l04_base_timing", "spring", "Robin Vale")


def test_the_working_folder_is_the_default(folder, monkeypatch):
    """A notebook runs in its lesson's folder, so nothing need be said."""
    monkeypatch.chdir(folder)
    assert LessonFolder.here().path == folder.resolve()


def test_the_learner_may_stand_one_folder_above(folder):
    """One learner file serves all lessons of a course."""
    (folder / "learner.toml").rename(folder.parent / "learner.toml")
    assert LessonFolder.here(folder).learner == "Robin Vale"


def test_without_a_file_the_hub_or_the_login_names_the_learner(folder, monkeypatch):
    """On a hub the hub's name counts, on a machine of one's own the login name."""
    (folder / "learner.toml").unlink()
    monkeypatch.setenv("JUPYTERHUB_USER", "vale")
    assert LessonFolder.here(folder).learner == "vale"
    monkeypatch.delenv("JUPYTERHUB_USER")
    monkeypatch.setattr("getpass.getuser", lambda: "robin")
    assert LessonFolder.here(folder).learner == "robin"


def test_without_a_class_file_there_is_no_class(folder):
    """Somebody who works alone belongs to no class."""
    (folder / "class.toml").unlink()
    assert LessonFolder.here(folder).class_id == ""


@pytest.mark.parametrize("text", ["name = ", "other = 1", 'name = "  "', "name = 7", b"\xff\xfe"])
def test_a_learner_file_that_cannot_be_read_is_a_sentence(folder, text):
    """A spoilt learner file is said with how to mend it; nobody is guessed in its place."""
    path = folder / "learner.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(LessonFolderError, match=r"learner\.toml must hold one line"):
        LessonFolder.here(folder)


def test_a_file_has_one_writer_in_a_process(folder):
    """Two widgets of a notebook write through the same writer, so that the chain holds."""
    assert LessonFolder.here(folder).writer("digest") is LessonFolder.here(folder).writer("digest")


def test_another_engine_or_learner_is_refused(folder):
    """A file of somebody else or of another engine is never continued."""
    LessonFolder.here(folder).writer("digest")
    with pytest.raises(EvidenceError, match="engine"):
        LessonFolder.here(folder).writer("another digest")
    (folder / "learner.toml").write_text('name = "Kim Ash"\n', encoding="utf-8")
    with pytest.raises(EvidenceError, match="Kim Ash"):
        LessonFolder.here(folder).writer("digest")


def test_a_file_moved_away_begins_afresh(folder):
    """After the learner moves the file away, the next cell begins a new one."""
    here = LessonFolder.here(folder)
    here.record_answer(here.writer("digest"), "l04_why_back_off", "a", None)
    here.evidence_path.rename(folder / "kept.jsonl")
    assert here.writer("digest").events == []
    assert read_evidence(here.evidence_path).events == ()


def test_answers_are_events_whose_clock_never_goes_back(folder, monkeypatch):
    """A wall clock that is set back does not spoil the evidence."""
    here = LessonFolder.here(folder)
    writer = here.writer("digest")
    now = 2_000_000_000.0
    monkeypatch.setattr("time.time", lambda: now)
    here.record_answer(writer, "l04_why_back_off", "a", None)
    now -= 5_000_000.0
    here.record_answer(writer, "l04_why_back_off", "b", None)
    events = read_evidence(here.evidence_path).events
    assert [event.value for event in events] == ["a", "b"]
    assert events[0].time_s <= events[1].time_s < 1e7
    assert writer.so_far().events == events


def test_answers_from_several_threads_keep_the_chain(folder):
    """Forms may be answered from several threads; every answer arrives and the file verifies."""
    here = LessonFolder.here(folder)
    writer = here.writer("digest")
    threads = [
        threading.Thread(
            target=lambda name=name: [here.record_answer(writer, name, number, None) for number in range(10)]
        )
        for name in ("one", "two", "three")
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(read_evidence(here.evidence_path).events) == 30
