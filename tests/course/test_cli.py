"""The command line: what a mechanic types, and the one sentence that is said where it cannot be done."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from course import cli
from course.authoring.edition import lessons
from course.commands import make_class, start
from engine_sim import TimingCourseError

LESSON = "l04_base_timing"
FIRST = lessons()[0]


@pytest.fixture
def terminal(tmp_path, monkeypatch):
    """A function that types a command in an empty folder; what it raises is raised."""
    monkeypatch.chdir(tmp_path)

    def typed(*arguments):
        result = CliRunner().invoke(cli.app, [str(argument) for argument in arguments], catch_exceptions=True)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return typed


def command(*arguments, **options):
    """Run `timing-course` as a program of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from course.cli import main; main()", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        **options,
    )


def test_start_lays_out_lessons_and_writes_the_name(terminal, tmp_path):
    """The lesson and the learner's name are in the folder; a second start keeps both to the byte."""
    terminal("start", "--name", 'Ada "the spark" B.', "--lay-out-only")
    notebook = tmp_path / "my-course" / LESSON / f"{LESSON}.ipynb"
    learner = (tmp_path / "my-course" / "learner.toml").read_text(encoding="utf-8")
    assert start.learner_of(tmp_path / "my-course") == 'Ada "the spark" B.'
    notebook.write_text("my evening's work", encoding="utf-8")
    terminal("start", "--lay-out-only")
    assert notebook.read_text(encoding="utf-8") == "my evening's work"
    assert (tmp_path / "my-course" / "learner.toml").read_text(encoding="utf-8") == learner


def test_start_refuses_another_name_a_file_and_an_impossible_name(terminal, tmp_path):
    """A folder that is somebody else's is not taken over; each refusal says what to do."""
    terminal("start", "--name", "ada", "--lay-out-only")
    (tmp_path / "file").write_text("", encoding="utf-8")
    for arguments, words in (
        (("--name", "ben"), "belongs to 'ada'"),
        (("file",), "is a file"),
        (("other", "--name", "a\nb"), "one line"),
        (("third", "--lessons", tmp_path), "no lessons"),
    ):
        with pytest.raises(TimingCourseError, match=words):
            terminal("start", *arguments, "--lay-out-only")


def test_start_opens_the_lesson_in_jupyterlab(terminal, tmp_path, monkeypatch):
    """JupyterLab gets the folder, the lesson, our settings, and what was asked about browser and port."""
    called = []
    monkeypatch.setattr(start.subprocess, "call", lambda command, env: called.append(command) or 0)
    result = terminal("start", "--name", "ada", "--no-browser", "--port", "9999")
    assert result.exit_code == 0
    words = [str(word) for word in called[0]]
    assert f"--LabApp.default_url=/lab/tree/{FIRST}/{FIRST}.ipynb" in words
    assert f"--ServerApp.root_dir={tmp_path / 'my-course'}" in words
    assert {"--no-browser", "--port=9999"} <= set(words)
    assert f"--LabApp.workspaces_dir={tmp_path / 'my-course' / '.workspaces'}" in words
    assert any(word.startswith("--LabApp.app_settings_dir=") and os.path.isdir(word.split("=", 1)[1]) for word in words)


def test_class_is_a_whole_nbgrader_course_and_never_overwrites(terminal, tmp_path):
    """Source, release, configuration, gradebook with the roster, README; a second time is refused."""
    (tmp_path / "roster.csv").write_text("id,first_name\nada,Ada\nben,\n", encoding="utf-8")
    result = terminal("class", "autumn", "--students", "roster.csv")
    root = tmp_path / "autumn"
    assert "2 learner(s)" in result.stdout
    for name in (
        f"source/{LESSON}/{LESSON}.ipynb",
        f"release/{LESSON}/{LESSON}.ipynb",
        "gradebook.db",
        "README.md",
        "nbgrader_config.py",
        f"release/{LESSON}/class.toml",
    ):
        assert (root / name).is_file(), name
    from graders.nbgrader_bridge.course_config import NbgraderCourse

    assert NbgraderCourse(root).learners() == ["ada", "ben"] and NbgraderCourse(root).lessons() == lessons()
    with pytest.raises(TimingCourseError, match="nothing was changed"):
        terminal("class", "autumn")


@pytest.mark.parametrize(
    "text, words",
    [
        ("name\nada\n", "column 'id'"),
        ("id\nada\nada\n", "line 3"),
        ("id\nx[1]\n", "line 2"),
        ("", "column 'id'"),
        ('id\n""\n', "line 2"),
    ],
)
def test_a_roster_that_cannot_be_used_gets_a_sentence(tmp_path, text, words):
    """A missing column, an id twice, an id that nbgrader cannot have: the line is named."""
    path = tmp_path / "roster.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(make_class.ClassFolderError, match=words):
        make_class.read_roster(path)


def test_a_roster_in_another_coding_gets_a_sentence(tmp_path):
    """A spreadsheet's own coding is refused with the way to save it."""
    path = tmp_path / "roster.csv"
    path.write_bytes("id,first_name\nm,Jürgen\n".encode("utf-16"))
    with pytest.raises(make_class.ClassFolderError, match="UTF-8"):
        make_class.read_roster(path)


def test_errors_of_ours_are_one_sentence_and_exit_status_1(tmp_path):
    """No traceback reaches the terminal."""
    for arguments in (("grade", tmp_path), ("check", tmp_path), ("start", __file__, "--lay-out-only")):
        done = command(*arguments, cwd=tmp_path)
        assert done.returncode == 1
        assert "Traceback" not in done.stderr and len(done.stderr.strip().splitlines()) == 1


def test_help_names_every_command_in_plain_words_and_quickly(tmp_path):
    """--help lists the four commands, without loading what only they need."""
    done = command("--help", cwd=tmp_path)
    assert done.returncode == 0
    for word in ("start", "class", "grade", "check"):
        assert word in done.stdout
    loaded = subprocess.run(
        [
            sys.executable,
            "-c",
            (
                "import sys, course.cli; print([name for name in ('nbgrader', 'numpy', 'jupyterlab', 'nbformat', "
                "'anywidget') if name in sys.modules])"
            ),
        ],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert loaded.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "arguments",
    [
        ["grade", "nowhere"],
        ["report", "nowhere"],
        ["answers", "nowhere", "l", "x"],
        ["class", "nowhere", "--release-rubrics"],
    ],
)
def test_a_class_command_waits_for_no_grammar_of_addresses(tmp_path, arguments):
    """What needs nbgrader loads it without the grammar that takes as long as nbgrader, and notebooks are validated."""
    loaded = subprocess.run(
        [
            sys.executable,
            "-c",
            (
                f"import sys, course.cli\nsys.argv = ['timing-course', *{arguments!r}]\n"
                "try: course.cli.main()\nexcept SystemExit: pass\n"
                "print('nbgrader' in sys.modules, 'rfc3987_syntax' in sys.modules)\nimport nbformat\n"
                "try: nbformat.validate({'nbformat': 4, 'nbformat_minor': 5, 'cells': [], 'metadata': 3})\n"
                "except nbformat.ValidationError: print('not valid')"
            ),
        ],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        cwd=tmp_path,
    )
    assert loaded.stdout.split("\n")[-3:-1] == ["True False", "not valid"]
