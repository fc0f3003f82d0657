"""Handing in without a server: the archive, what is said before it is made, and nbgrader's own collecting of it."""

from __future__ import annotations

import shutil
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from course import cli
from course.commands import make_class
from course.learner import hand_in_archive
from course.learner.hand_in_archive import HandInError, look_through, make_archive, name_for_a_file
from course.learner.lesson_folder import LessonFolder
from course.widgets.cards.hand_in_cell import HandInCard, hand_in
from engine_sim import Event, TimingCourseError
from graders.classroom.run import NEEDS_PERSON, Classroom
from tests.scripted_learner import Habits, engine_of, evidence_by
from tests.submissions.hostile import source_of_one_lesson
from tests.submissions.nbgrader_here import nbgrader_here

LESSON = "l04_base_timing"
NOW = datetime(2026, 3, 2, 18, 30, 5, tzinfo=UTC)
TITLES = (
    "How far does the body turn?",
    "The same engine up the hill",
    "Set the base timing",
    "Why not stay at the peak?",
    "Explain it to the driver",
)
ANSWERS = (("l04_why_back_off", "adds_up", None), ("l04_explain", "So that it does not ping up the hill.", None))


@pytest.fixture
def lesson(tmp_path):
    """A learner's lesson with two of five exercises done."""
    folder = tmp_path / "my-course" / LESSON
    folder.mkdir(parents=True)
    (folder.parent / "learner.toml").write_text('name = "Юлия Ковалёва"\n', encoding="utf-8")
    (folder / f"{LESSON}.ipynb").write_text("{}", encoding="utf-8")
    writer = LessonFolder(folder).writer(engine_of("Юлия Ковалёва").card.digest)
    for exercise, value, unit in ANSWERS:
        writer.append(Event(1.0, exercise, "answer", value, unit))
    return folder


def typed(*arguments, **options):
    """Type `timing-course hand-in ...`; what it raises is raised."""
    result = CliRunner().invoke(cli.app, ["hand-in", *map(str, arguments)], **options)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_the_archive_holds_the_work_to_the_byte(lesson):
    """Notebook, evidence and class, and nothing else; a second one stands beside the first."""
    (lesson / "class.toml").write_text('class = "spring"\n', encoding="utf-8")
    (lesson / "notes.txt").write_text("mine", encoding="utf-8")
    path = make_archive(look_through(lesson), lesson.parent / "hand-in", NOW)
    assert path.name == f"Юлия Ковалёва--{LESSON}--20260302T183005Z.zip"
    with zipfile.ZipFile(path) as archive:
        assert sorted(archive.namelist()) == ["class.toml", "evidence.jsonl", f"{LESSON}.ipynb"]
        assert archive.read("evidence.jsonl") == (lesson / "evidence.jsonl").read_bytes()
    make_archive(look_through(lesson), path.parent, NOW.replace(minute=31))
    assert len(list(path.parent.iterdir())) == 2


def test_what_is_missing_is_named_by_its_title(lesson):
    """Each exercise that was not begun, and no other."""
    missing = " ".join(look_through(lesson).missing)
    assert [title for title in TITLES if title in missing] == [*TITLES[:3]]
    (lesson / f"{LESSON}.ipynb").unlink()
    assert "is not there" in look_through(lesson).missing[0]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"{}\n", "line 1, is not as the lesson wrote it"),
        (b"\xff\n", "is not as the lesson wrote it"),
    ],
)
def test_evidence_that_cannot_be_read_is_said_beforehand(lesson, content, words):
    """Better now than from the instructor."""
    (lesson / "evidence.jsonl").write_bytes(content)
    assert words in look_through(lesson).missing[0]


def test_links_are_not_handed_in(lesson, tmp_path):
    """A link would put somebody else's file into the archive."""
    (tmp_path / "other").write_text("other", encoding="utf-8")
    (lesson / "class.toml").symlink_to(tmp_path / "other")
    assert "class.toml" not in look_through(lesson).files


def test_an_archive_that_cannot_be_finished_leaves_nothing(lesson, monkeypatch):
    """No half of an archive can be uploaded by mistake."""

    def breaks(*_):
        raise OSError("no space left")

    monkeypatch.setattr(hand_in_archive.os, "replace", breaks)
    with pytest.raises(OSError, match="no space"):
        make_archive(look_through(lesson), lesson.parent / "hand-in", NOW)
    assert list((lesson.parent / "hand-in").iterdir()) == []


@pytest.mark.parametrize(
    ("learner", "name"),
    [
        ("Ada", "Ada"),
        ("a/b\\c:d*e?", "a_b_c_d_e_"),
        ("..", "learner"),
        ("---", "learner"),
        ("Ann--Marie", "Ann-Marie"),
        ("  ", "learner"),
        ("名" * 300, "名" * 40),
        ("[1]{x}", "_1__x_"),
    ],
)
def test_every_name_becomes_a_file_name(learner, name):
    """Whatever was typed, the file's name is allowed on any system and is taken apart unambiguously."""
    assert name_for_a_file(learner) == name


def test_the_command_says_what_is_missing_before_it_makes_anything(lesson, monkeypatch):
    """Without --anyway nothing is made; with it the archive is; the lesson need not be named where there is one."""
    monkeypatch.chdir(lesson.parents[1])
    first = typed()
    assert first.exit_code == 1 and "was not begun" in first.stdout and not (lesson.parent / "hand-in").exists()
    second = typed("--anyway")
    assert second.exit_code == 0 and "upload or send" in second.stdout
    assert len(list((lesson.parent / "hand-in").glob("*.zip"))) == 1


def test_the_folder_of_a_lesson_names_it_too(lesson, tmp_path, monkeypatch):
    """Whoever gives the lesson's folder, from wherever, gets its archive."""
    monkeypatch.chdir(tmp_path)
    assert typed(lesson.relative_to(tmp_path), "--anyway").exit_code == 0
    assert len(list((lesson.parent / "hand-in").glob("*.zip"))) == 1


@pytest.mark.parametrize(
    ("arguments", "words"), [(("l77_nowhere",), "no lesson 'l77_nowhere'"), (("--folder", "."), "Which lesson")]
)
def test_a_lesson_that_is_not_there_gets_a_sentence(lesson, monkeypatch, arguments, words):
    """A wrong name, or none where there is no lesson."""
    monkeypatch.chdir(lesson.parents[1])
    with pytest.raises(TimingCourseError, match=words):
        typed(*arguments)


def test_an_empty_lesson_has_nothing_to_hand_in(tmp_path):
    """Neither notebook nor evidence: one sentence."""
    with pytest.raises(HandInError, match="nothing to hand in"):
        look_through(tmp_path)


def test_the_button_asks_first_and_then_makes_it(lesson):
    """A press lists what is missing; the second makes the archive and offers a copy of it."""
    button = HandInCard(LessonFolder(lesson), lesson=LESSON)
    button._pressed({"press": "look"})
    assert button.step == "ask" and len(button.missing) == 4 and not (lesson.parent / "hand-in").exists()
    button._pressed({"press": "make"})
    assert button.step == "made" and button.name.startswith("Юлия Ковалёва--")
    assert button.content == (lesson.parent / "hand-in" / button.name).read_bytes()


@pytest.mark.parametrize("message", [None, {}, {"press": "rm"}, {"press": ["look"]}, "look"])
def test_the_button_does_nothing_for_other_messages(lesson, message):
    """What the page sends is not believed."""
    button = HandInCard(LessonFolder(lesson), lesson=LESSON)
    button._pressed(message)
    assert (button.step, button.problem) == ("begin", "")


def test_the_button_says_why_it_cannot(tmp_path, monkeypatch):
    """A folder without work, and a name that cannot be read, are sentences on the page."""
    button = HandInCard(LessonFolder(tmp_path))
    button.press("look")
    assert "nothing to hand in" in button.problem
    (tmp_path / "learner.toml").write_text("name =", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert "learner.toml" in hand_in().problem


@pytest.mark.classroom
def test_archives_of_three_learners_are_collected_by_nbgrader_and_graded(tmp_path, schema_asked_once):
    """Stock zip_collect on a folder of archives, one in another script, one of a name that a school's system changed
    and one handed in twice: the class list finds their ids, and all get what they earned."""
    (tmp_path / "list.csv").write_text(
        "id,first_name,last_name\nada,Ada,Brandt\njulia,Юлия,Ковалёва\nben,Ben,Ødegård\n", encoding="utf-8"
    )
    root = tmp_path / "spring"
    make_class.make(root, tmp_path / "list.csv", source=source_of_one_lesson(tmp_path / "lessons"))
    archive = root / "downloaded" / LESSON / "archive"
    archive.mkdir(parents=True)
    for name, habits in (("Ada Brandt", Habits()), ("юлия ковалева", Habits(answers=ANSWERS)), ("ben", Habits())):
        _handed_in(tmp_path / name, root, name, habits, archive)
    _handed_in(tmp_path / "again", root, "Ada Brandt", Habits(), archive, NOW.replace(hour=20))
    mangled = next(archive.glob("ben--*"))
    mangled.rename(archive / f"Participant_771_file_{mangled.stem} (1).zip")
    nbgrader_here(root, "zip_collect", LESSON)
    assert sorted(path.name for path in (root / "submitted").iterdir()) == [
        "Ada Brandt",
        "Participant_771_file_ben",
        "юлия ковалева",
    ]
    reports = {report.learner: report for report in Classroom(root).judge(LESSON)}
    assert {name: (report.points, report.status) for name, report in reports.items()} == {
        "ada": (30.0, NEEDS_PERSON),
        "ben": (30.0, NEEDS_PERSON),
        "julia": (22.0, NEEDS_PERSON),
    }


def _handed_in(place: Path, root: Path, name: str, habits: Habits, target: Path, now: datetime = NOW) -> None:
    """One learner takes the released lesson, does it, and makes the archive."""
    lesson = place / LESSON
    shutil.copytree(root / "release" / LESSON, lesson)
    (place / "learner.toml").write_text(f'name = "{name}"\n', encoding="utf-8")
    evidence_by(lesson / "evidence.jsonl", name, habits, class_id="spring")
    make_archive(look_through(lesson), target, now)


def test_the_collector_takes_names_apart_as_they_are_made(lesson):
    """The pattern of the configuration, as nbgrader itself applies it."""
    from nbgrader.plugins.zipcollect import FileNameCollectorPlugin
    from traitlets.config.loader import PyFileConfigLoader

    config = PyFileConfigLoader("nbgrader_config.py", path=str(Path(cli.__file__).parent)).load_config()
    collector = FileNameCollectorPlugin(config=config)
    stem = make_archive(look_through(lesson), lesson.parent / "hand-in", NOW).stem
    found = collector.collect(f"/class/downloaded/{LESSON}/extracted/{stem}/evidence.jsonl")
    assert (found["student_id"], found["lesson"], found["file_id"]) == ("Юлия Ковалёва", LESSON, "evidence.jsonl")
    assert found["timestamp"] == "20260302T183005Z"
    assert collector.collect(f"/class/downloaded/{LESSON}/extracted/{stem}/picture.png") is None
