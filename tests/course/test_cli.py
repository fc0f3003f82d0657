"""The command line: what a mechanic types, and the one sentence that is said where it cannot be done."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys

import nbformat
import pytest
from typer.testing import CliRunner

from course import WITHOUT_CODE, cli
from course.authoring.edition import lessons
from course.commands import make_class, start
from course.learner.known_lessons import LEDGER, is_known
from engine_sim import TimingCourseError
from graders.exercises.loader import load_rubric

LESSON = "l04_base_timing"
FIRST = lessons()[0]
ADA = 'Ada "the spark" B.'

pytestmark = pytest.mark.usefixtures("schema_asked_once")


def type_in(*arguments):
    """Type a command in the working folder; what it raises is raised."""
    result = CliRunner().invoke(cli.app, [str(argument) for argument in arguments], catch_exceptions=True)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture
def terminal(tmp_path, monkeypatch):
    """A function that types a command in an empty folder; what it raises is raised."""
    monkeypatch.chdir(tmp_path)
    return type_in


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory):
    """Every lesson laid out by the command in a new folder, once."""
    folder = tmp_path_factory.mktemp("laid_out")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        type_in("start", "--name", ADA, "--lay-out-only")
    return folder / "my-course"


@pytest.fixture
def my_course(laid_out, tmp_path):
    """A copy of it where the command looks for it."""
    return shutil.copytree(laid_out, tmp_path / "my-course")


def command(*arguments, **options):
    """Run `timing-course` as a program of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from course.cli import main; main()", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        **options,
    )


def test_start_lays_out_lessons_and_writes_the_name(terminal, my_course):
    """The lessons and the learner's name are in the folder; a second start keeps both to the byte."""
    notebook = my_course / LESSON / f"{LESSON}.ipynb"
    assert all((my_course / lesson / f"{lesson}.ipynb").is_file() for lesson in lessons())
    cells = [cell for cell in nbformat.read(notebook, as_version=4).cells if cell.cell_type == "code"]
    assert cells and all(cell.metadata.jupyter.source_hidden for cell in cells)
    learner = (my_course / "learner.toml").read_text(encoding="utf-8")
    assert start.learner_of(my_course) == ADA
    notebook.write_text("my evening's work", encoding="utf-8")
    terminal("start", "--lay-out-only")
    assert notebook.read_text(encoding="utf-8") == "my evening's work"
    assert (my_course / "learner.toml").read_text(encoding="utf-8") == learner


def test_start_refuses_another_name_a_file_and_an_impossible_name(terminal, my_course, tmp_path):
    """A folder that is somebody else's is not taken over; each refusal says what to do."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    for arguments, words in (
        (("--name", "ben"), f"already holds {ADA}'s work"),
        (("file",), "is a file"),
        (("other", "--name", "a\nb"), "one line"),
        (("third", "--lessons", tmp_path), "no lessons"),
    ):
        with pytest.raises(TimingCourseError, match=words):
            terminal("start", *arguments, "--lay-out-only")


def test_start_keeps_a_list_of_what_pages_may_run(terminal, my_course, tmp_path):
    """It names the lessons as laid out; a folder of an older edition gets it, without a notebook that was changed."""
    notebooks = [my_course / lesson / f"{lesson}.ipynb" for lesson in lessons()]
    assert all(is_known(my_course, notebook) for notebook in notebooks)
    (my_course / LEDGER).unlink()
    changed = nbformat.read(notebooks[4], as_version=4)
    changed.cells.append(nbformat.v4.new_code_cell("import os"))
    nbformat.write(changed, notebooks[4])
    terminal("start", "--lay-out-only")
    known = [is_known(my_course, notebook) for notebook in notebooks]
    assert known == [number != 4 for number in range(len(lessons()))]
    handed_out = tmp_path / "release" / "ours"
    handed_out.mkdir(parents=True)
    nbformat.write(nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("2 + 2")]), handed_out / "ours.ipynb")
    terminal("start", "--lessons", handed_out.parent, "--lay-out-only")
    assert is_known(my_course, my_course / "ours" / "ours.ipynb")


@pytest.mark.parametrize("older", [(), ("--plain",)])
def test_start_opens_the_home_page(terminal, my_course, monkeypatch, older):
    """The pages get the folder and what was asked about browser and port; `--plain` says the same."""
    from course.jupyter.plain_page.server import PlainPage

    called = []
    monkeypatch.setattr(PlainPage, "launch_instance", called.append)
    monkeypatch.setenv("PYTHONWARNINGS", "default")
    result = terminal("start", *older, "--no-browser", "--port", "9999")
    assert result.exit_code == 0 and called == [[str(my_course), "--no-browser", "--port=9999"]]


class NotAProcess:
    """What stands in for JupyterLab: it has ended."""

    returncode = 1

    def __init__(self, command, env, **_more):
        self.command, self.environment = command, env
        NotAProcess.latest = self

    def poll(self):
        return self.returncode


def test_start_opens_the_lesson_in_jupyterlab(terminal, my_course, monkeypatch):
    """JupyterLab gets the folder, one lesson alone in view and our settings; its key is in no list of processes; a
    start that fails names the log."""
    monkeypatch.setattr(start.subprocess, "Popen", NotAProcess)
    monkeypatch.setattr(start.signal, "signal", lambda *_: None)
    with pytest.raises(TimingCourseError, match=r"JupyterLab did not start.*\.course\.log.*9999"):
        terminal("start", "--notebook", "--name", ADA, "--no-browser", "--port", "9999")
    words = [str(word) for word in NotAProcess.latest.command]
    assert f"--LabApp.default_url=/doc/tree/{FIRST}/{FIRST}.ipynb" in words
    assert f"--ServerApp.root_dir={my_course}" in words
    assert {"--no-browser", "-y", "--ServerApp.port=9999"} <= set(words)
    assert f"--LabApp.workspaces_dir={my_course / '.workspaces'}" in words
    assert any(word.startswith("--LabApp.app_settings_dir=") and os.path.isdir(word.split("=", 1)[1]) for word in words)
    assert set(WITHOUT_CODE) <= set(words)
    key = NotAProcess.latest.environment["JUPYTER_TOKEN"]
    assert len(key) > 40 and not any(key in word for word in words)


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

    assert NbgraderCourse(root).learners() == ["ada", "ben"] and NbgraderCourse(root).lessons() == sorted(lessons())
    with pytest.raises(TimingCourseError, match="nothing was changed"):
        terminal("class", "autumn")


@pytest.mark.parametrize(
    "text, words",
    [
        ("room\n12\n", "needs a column with an id"),
        ("id\nada\nada\n", "line 3"),
        ("id\nx[1]\n", "line 2"),
        ("", "has nothing"),
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
    """A spreadsheet's own coding of one byte a letter is refused with the way to save it."""
    path = tmp_path / "roster.csv"
    path.write_bytes("id,first_name\nm,Jürgen\n".encode("cp1252"))
    with pytest.raises(make_class.ClassFolderError, match="UTF-8"):
        make_class.read_roster(path)


def test_errors_of_ours_are_one_sentence_and_exit_status_1(tmp_path):
    """No traceback reaches the terminal."""
    done = command("grade", tmp_path, cwd=tmp_path)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr and len(done.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize("arguments", [("check", "."), ("start", __file__, "--lay-out-only")])
def test_other_commands_say_theirs_in_the_same_way(tmp_path, monkeypatch, capsys, arguments):
    """One sentence to the error stream, and the status of a failure."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["timing-course", *arguments])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert ended.value.code == 1 and len(capsys.readouterr().err.strip().splitlines()) == 1


def test_a_shell_completes_the_installed_programs_commands(tmp_path):
    """Called by its own name the program tells a shell how a command goes on."""
    asked = {"_TIMING_COURSE_COMPLETE": "complete_bash", "COMP_WORDS": "timing-course gi", "COMP_CWORD": "1"}
    variables = {name: value for name, value in os.environ.items() if name != "TIMING_COURSE_COMMAND"}
    assert command(cwd=tmp_path, env=variables | asked).stdout.split() == ["give-back"]


AND_WHAT_IS_LOADED = """
import sys, course.cli
try:
    course.cli.main()
finally:
    slow = ("nbgrader", "numpy", "jupyterlab", "nbformat", "anywidget")
    print("loaded:", [name for name in slow if name in sys.modules])
"""


def test_help_names_every_command_in_plain_words_and_quickly(tmp_path):
    """--help lists the four commands, without loading what only they need."""
    done = subprocess.run(
        [sys.executable, "-c", AND_WHAT_IS_LOADED, "--help"], capture_output=True, text=True, timeout=60, cwd=tmp_path
    )
    assert done.returncode == 0
    for word in ("start", "class", "grade", "check"):
        assert word in done.stdout
    assert done.stdout.splitlines()[-1] == "loaded: []"


def test_a_class_command_waits_for_no_grammar_of_addresses(tmp_path):
    """What needs nbgrader loads it without the grammar that takes as long as nbgrader, and notebooks are validated."""
    loaded = subprocess.run(
        [
            sys.executable,
            "-c",
            (
                "import sys, course.cli\nsys.argv = ['timing-course', 'grade', 'nowhere']\n"
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


@pytest.mark.parametrize(
    ("module", "arguments"),
    [
        ("grade", ["grade", "nowhere"]),
        ("report", ["report", "nowhere"]),
        ("answers", ["answers", "nowhere", "l", "x"]),
        ("make_class", ["class", "nowhere", "--release"]),
    ],
)
def test_every_class_command_sees_to_the_grammar_before_it_loads_anything(terminal, monkeypatch, module, arguments):
    """The quick way of loading comes first, before the module of the command and with it nbgrader."""

    class SeenTo(Exception):
        pass

    def see_to_it():
        assert f"course.commands.{module}" not in sys.modules
        raise SeenTo

    monkeypatch.delitem(sys.modules, f"course.commands.{module}", raising=False)
    monkeypatch.setattr(cli, "load_jsonschema_quickly", see_to_it)
    with pytest.raises(SeenTo):
        terminal(*arguments)


def test_check_shows_a_table_with_its_sum_and_one_lesson_in_detail(terminal, my_course):
    """Every lesson by its title with points, what they come to, status 0; work that cannot be read is said beside the
    others, and is a failure where that lesson alone was asked about. No file name of ours and no id is in the table."""
    table = terminal("check")
    assert table.exit_code == 0
    assert "Lesson 5: Base timing by vacuum gauge" in table.output and "Lesson 12: Your own engine" in table.output
    points = sum(one.points for lesson in lessons() for one in load_rubric(lesson).exercises.values())
    assert re.search(rf"^Together +0 +{points:g}", table.output, re.MULTILINE)
    detail = terminal("check", my_course / LESSON)
    assert detail.exit_code == 0 and detail.output.startswith("Lesson 5 of 12: Base timing by vacuum gauge")
    assert LESSON not in detail.output
    (my_course / LESSON / "evidence.jsonl").write_text("spoilt\n", encoding="utf-8")
    table = terminal("check")
    assert table.exit_code == 0 and "the record of your work, line 1" in " ".join(table.output.split()).lower()
    assert not re.search(r"evidence\.jsonl|\bl\d\d\b", table.output)
    assert terminal("check", my_course / LESSON).exit_code == 1
