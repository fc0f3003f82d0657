"""The first minute on a new machine, without a network: what is made, what is not repeated, what is said."""

from __future__ import annotations

import ast
import os
import sys
from pathlib import Path

import pytest

from course import bootstrap
from graders.submissions import command_name


@pytest.fixture
def checkout(tmp_path, monkeypatch):
    """A checkout with a pyproject.toml, and a record of what would have been installed."""
    monkeypatch.delenv("TIMING_COURSE_HERE", raising=False)
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    installed = []
    monkeypatch.setattr(bootstrap, "_make", lambda folder: folder.mkdir(exist_ok=True))
    monkeypatch.setattr(bootstrap, "_works", lambda python: False)
    monkeypatch.setattr(bootstrap, "_install", lambda python, checkout, extra, log: installed.append(extra))
    return tmp_path, installed


def test_installing_is_done_once_until_pyproject_changes(checkout):
    """The stamp knows each extra by itself, and a changed pyproject.toml makes all of it void."""
    folder, installed = checkout
    for extra in ("", "", "test", "", "test"):
        bootstrap.python_for(extra, folder)
    assert installed == ["", "test"]
    (folder / "pyproject.toml").write_text("[project]\nname = 'x'\n", encoding="utf-8")
    bootstrap.python_for("", folder)
    bootstrap.python_for("", folder)
    assert installed == ["", "test", ""]


def test_the_environment_is_the_checkouts_own(checkout):
    """The Python that is returned lies in .venv, in the folder that this system uses."""
    folder, _ = checkout
    python = bootstrap.python_for("", folder)
    assert python.is_relative_to(folder / ".venv")
    assert python.parent.name == ("Scripts" if os.name == "nt" else "bin")


def test_the_running_python_can_be_used_as_it_is(checkout, monkeypatch):
    """TIMING_COURSE_HERE=1 installs nothing."""
    monkeypatch.setenv("TIMING_COURSE_HERE", "1")
    folder, installed = checkout
    assert bootstrap.python_for("", folder) == Path(sys.executable) and installed == []


def test_an_old_python_gets_its_sentence():
    """Python 3.10 is told what is wanted, and the two files that it reads hold no grammar that it lacks."""
    with pytest.raises(bootstrap.CannotBegin, match=r"3\.11 or newer and this is Python 3\.10"):
        bootstrap.check_version((3, 10, 1))
    package = Path(bootstrap.__file__).parent
    for name in ("bootstrap.py", "__main__.py", "__init__.py"):
        ast.parse((package / name).read_text(encoding="utf-8"), feature_version=(3, 7))


def test_a_python_without_venv_gets_its_sentence(tmp_path, monkeypatch):
    """Where venv cannot make an environment, the package that is missing is named, and what venv said."""
    (tmp_path / "python").write_text("#!/bin/sh\necho 'ensurepip is not available'\nexit 1\n", encoding="utf-8")
    (tmp_path / "python").chmod(0o755)
    monkeypatch.setattr(bootstrap.sys, "executable", str(tmp_path / "python"))
    with pytest.raises(bootstrap.CannotBegin, match=r"(?s)python3-venv.*ensurepip is not available"):
        bootstrap._make(tmp_path / "environment")


def test_a_failed_installation_says_what_was_said_last(tmp_path):
    """The sentence holds the last line of the installer and where all of it stands."""
    (tmp_path / "python").write_text("#!/bin/sh\necho 'could not find a version'\nexit 1\n", encoding="utf-8")
    (tmp_path / "python").chmod(0o755)
    with pytest.raises(bootstrap.CannotBegin, match=r"could not find a version .*install\.log"):
        bootstrap._install(tmp_path / "python", tmp_path, "", tmp_path / "install.log")


def test_the_first_run_says_in_one_sentence_why_not(monkeypatch, capsys):
    """Where the course cannot be set up there is a sentence and exit status 1, and nothing is run."""

    def cannot(extra=""):
        raise bootstrap.CannotBegin("No.")

    monkeypatch.setattr(bootstrap, "python_for", cannot)
    assert bootstrap.main(["start"]) == 1
    assert capsys.readouterr().err == "No.\n"


def test_the_program_prints_commands_as_it_was_called(monkeypatch, tmp_path, capfd):
    """`python3 -m course` puts its own name before every command that it prints; nothing of it stays behind."""
    monkeypatch.setattr(bootstrap, "python_for", lambda extra="": Path(sys.executable))
    monkeypatch.setattr(sys, "orig_argv", ["python3", "-m", "course"])
    monkeypatch.chdir(tmp_path)
    assert bootstrap.main(["grade", "nowhere"]) == 1
    assert "make one with 'python3 -m course class FOLDER'" in capfd.readouterr().err
    assert bootstrap.CALLED == command_name.VARIABLE and bootstrap.CALLED not in os.environ


def test_a_program_that_the_shell_does_not_find_is_named_by_its_path(monkeypatch, tmp_path):
    """The installed program is called by its name where the shell finds it, else by its path."""
    monkeypatch.delenv(command_name.VARIABLE, raising=False)
    program = tmp_path / "timing-course"
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.setattr(sys, "argv", [str(program)])
    monkeypatch.setenv("PATH", "")
    assert command_name.command_line("grade x") == f"{program} grade x"
    monkeypatch.setenv("PATH", str(tmp_path))
    assert command_name.command_line("grade x") == "timing-course grade x"


def test_arguments_reach_the_program_and_its_status_comes_back(monkeypatch, tmp_path):
    """`python3 -m course --help` is `timing-course --help`, with its exit status."""
    monkeypatch.setattr(bootstrap, "python_for", lambda extra="": Path(sys.executable))
    monkeypatch.chdir(tmp_path)
    assert bootstrap.main(["--help"]) == 0
    assert bootstrap.main(["no-such-command"]) == 2
