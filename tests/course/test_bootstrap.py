"""The first minute on a new machine, without a network: what is made, what is not repeated, what is said."""

from __future__ import annotations

import ast
import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from course import bootstrap
from course.cli import app
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
    monkeypatch.setattr(bootstrap, "_lead_to", lambda checkout, python: None)
    return tmp_path, installed


def test_installing_is_done_once_until_pyproject_changes(checkout):
    """The stamp knows each extra by itself; a changed pyproject.toml, or other tried versions, make all of it void."""
    folder, installed = checkout
    for extra in ("", "", "test", "", "test"):
        bootstrap.python_for(extra, folder)
    assert installed == ["", "test"]
    (folder / "pyproject.toml").write_text("[project]\nname = 'x'\n", encoding="utf-8")
    bootstrap.python_for("", folder)
    bootstrap.python_for("", folder)
    assert installed == ["", "test", ""]
    tried = bootstrap._tried(folder)
    tried.parent.mkdir(parents=True)
    tried.write_text("numpy==2.0\n", encoding="utf-8")
    bootstrap.python_for("", folder)
    assert installed == ["", "test", "", ""]


def test_an_extra_brings_what_everybody_needs(checkout):
    """Where a class was set up, a learner's command installs nothing more."""
    folder, installed = checkout
    for extra in ("class", "", "notebook", "class"):
        bootstrap.python_for(extra, folder)
    assert installed == ["class", "notebook"]


def test_a_command_sets_up_what_it_needs():
    """A learner's commands need no extra, JupyterLab, the book and a hub have their own, and every other command for a
    class that of classes."""
    commands = {command.name or command.callback.__name__ for command in app.registered_commands}
    for_learners = {"start", "show", "check", "hand-in", "engine", "own"}
    own = {"book": "book", "hub": "hub", **dict.fromkeys(for_learners, "")}
    assert {name: bootstrap.extra_for([name, "x"]) for name in commands} == {
        name: own.get(name, "class") for name in {one.replace("_", "-") for one in commands}
    }
    assert bootstrap.extra_for(["start", "--notebook"]) == "notebook"
    assert bootstrap.extra_for([]) == bootstrap.extra_for(["class", "--help"]) == bootstrap.extra_for(["nothing"]) == ""


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


def python_that(folder: Path, says: str) -> Path:
    """A program in the place of Python, which writes down how it was called and then does as it is told."""
    python = folder / "python"
    python.write_text(f'#!/bin/sh\nprintf "%s\\n" "$*" >> "{folder / "calls"}"\n{says}\n', encoding="utf-8")
    python.chmod(0o755)
    (folder / "pyproject.toml").write_text(
        '[project]\nname = "x"\ndependencies = ["numpy>=1", "rich"]\noptional-dependencies = {test = ["pytest"]}\n',
        encoding="utf-8",
    )
    return python


def test_what_is_declared_is_installed_in_the_tried_versions(tmp_path):
    """Pip gets the dependencies, those of the extra, and the file of tried versions; the course is not copied. What
    many programs will import is compiled for all of them."""
    python = python_that(tmp_path, "exit 0")
    tried = bootstrap._tried(tmp_path)
    tried.parent.mkdir(parents=True)
    tried.write_text("numpy==2.0\n", encoding="utf-8")
    bootstrap._install(python, tmp_path, "test", tmp_path / "install.log")
    installed, _, compiled = (tmp_path / "calls").read_text(encoding="utf-8").splitlines()
    assert installed.startswith("-m pip install")
    assert installed.endswith(f"--no-compile --constraint {tried} numpy>=1 rich pytest")
    assert compiled.startswith("-m compileall")


def test_a_learners_packages_are_compiled_when_they_are_imported(tmp_path):
    """Which is sooner: most are never imported."""
    bootstrap._install(python_that(tmp_path, "exit 0"), tmp_path, "", tmp_path / "install.log")
    assert "compileall" not in (tmp_path / "calls").read_text(encoding="utf-8")


def test_versions_that_cannot_be_installed_give_way_to_the_newest(tmp_path, capsys):
    """Where a tried version is gone, or no Python has it, the newest are taken, and it says so and why."""
    tried = bootstrap._tried(tmp_path)
    tried.parent.mkdir(parents=True)
    tried.write_text("numpy==2.0\n", encoding="utf-8")
    python = python_that(tmp_path, 'case "$*" in *--constraint*) echo "ERROR: No numpy==2.0"; exit 1;; esac')
    bootstrap._install(python, tmp_path, "", tmp_path / "install.log")
    assert len((tmp_path / "calls").read_text(encoding="utf-8").splitlines()) == 2
    assert "cannot all be installed here (No numpy==2.0): the newest" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ("ERROR: Could not install: [Errno 28] No space left on device\nmore", r"^The disk is full\. Run the same"),
        (
            "WARNING: Retrying: NewConnectionError('[Errno -3] name resolution')\nERROR: No match",
            "network could not be",
        ),
        ("ERROR: [Errno 13] Permission denied: '/x'", "may not be written to"),
        ("ERROR: first\nERROR: No wheel of thing\nhint: see above", "could not be installed: No wheel of thing"),
    ],
)
def test_a_failed_installation_says_the_line_that_matters(tmp_path, said, sentence):
    """A full disk, no network and a folder that may not be written to have their sentence; else pip's own error."""
    python = python_that(tmp_path, f"cat <<'SAID'\n{said}\nSAID\nexit 1")
    with pytest.raises(bootstrap.CannotBegin, match=sentence) as found:
        bootstrap._install(python, tmp_path, "", tmp_path / "install.log")
    assert str(tmp_path / "install.log") in str(found.value)


@pytest.mark.parametrize("step", ["_make", "_install", "_lead_to"])
def test_a_set_up_that_is_stopped_says_how_to_go_on(step, checkout, monkeypatch):
    """Ctrl+C in any step of it ends in a sentence."""

    def pressed(*_arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(bootstrap, step, pressed)
    with pytest.raises(bootstrap.CannotBegin, match="Run the same command to go on"):
        bootstrap.python_for("", checkout[0])


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "The disk is full"),
        (PermissionError(errno.EACCES, "Permission denied"), "ask the person who looks after this machine"),
        (OSError(errno.EIO, "Input/output error"), "could not be set up: .*Put that right"),
    ],
)
@pytest.mark.parametrize("step", ["_works", "_lead_to", "_stamp"])
def test_a_file_that_cannot_be_used_ends_in_a_sentence(step, error, sentence, checkout, monkeypatch):
    """An environment of somebody else, or no room for what is written after the packages."""

    def refused(*_arguments):
        raise error

    monkeypatch.setattr(bootstrap, step, refused)
    with pytest.raises(bootstrap.CannotBegin, match=sentence):
        bootstrap.python_for("", checkout[0])


def test_pip_has_ended_before_a_stopped_set_up_does(tmp_path, monkeypatch):
    """It has the key, too, and is waited for."""
    real, waited = subprocess.Popen.wait, []

    def wait(process, timeout=None):
        waited.append(real(process, timeout))
        if len(waited) == 1:
            raise KeyboardInterrupt
        return waited[-1]

    monkeypatch.setattr(subprocess.Popen, "wait", wait)
    with pytest.raises(KeyboardInterrupt):
        bootstrap._install(python_that(tmp_path, "exit 1"), tmp_path, "", tmp_path / "install.log")
    assert len(waited) == 2


def test_the_size_of_the_download_is_said_before_it_starts(tmp_path, capsys):
    """In megabytes, and what came of it so far is read from pip's own words."""
    bootstrap._install(python_that(tmp_path, "exit 0"), tmp_path, "", tmp_path / "install.log")
    assert f"at most about {bootstrap.MEGABYTES['']} MB to fetch" in capsys.readouterr().out
    log = tmp_path / "log"
    log.write_text(
        "Downloading a-1.whl (1.5 MB)\n  Downloading b.whl (500 kB)\nUsing cached c.whl (9 MB)\n", encoding="utf-8"
    )
    assert bootstrap._fetched_mb(log) == pytest.approx(2.0)


@pytest.mark.skipif(os.name == "nt", reason="there the environment is made again")
def test_an_environment_follows_its_checkout(tmp_path, capfd, monkeypatch):
    """Moved twice, to names with spaces and letters of any script, its programs run and find the course's packages."""
    for name in ("TIMING_COURSE_HERE", "PYTHONPATH"):  # the second: packages are found by the environment alone
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(bootstrap, "_works", lambda python: True)
    monkeypatch.setattr(bootstrap, "_install", lambda python, checkout, extra, log: None)
    place = tmp_path / "course"
    (place / "engine_sim").mkdir(parents=True)
    (place / "engine_sim" / "__init__.py").write_text("", encoding="utf-8")
    (place / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", place / ".venv"], check=True)
    bootstrap.python_for("", place)
    program = place / ".venv" / "bin" / "tool"
    program.write_text(f"#!{place / '.venv' / 'bin' / 'python'}\nimport engine_sim\nprint(engine_sim.__file__)\n")
    program.chmod(0o755)
    for name in ("Zündung d'été 点火", "again"):
        place = place.rename(tmp_path / name)
        python = bootstrap.python_for("", place)
        said = subprocess.run([python.parent / "tool"], capture_output=True, text=True, check=True, cwd=tmp_path)
        assert said.stdout.strip() == str(place / "engine_sim" / "__init__.py")
        assert "The course was moved" in capfd.readouterr().out
    bootstrap.python_for("", place)
    assert capfd.readouterr().out == ""


TRIED = sorted((bootstrap.CHECKOUT / bootstrap.CONSTRAINTS).glob("python*.txt"))


def test_every_declared_library_has_a_tried_version_on_every_python():
    """From Python 3.11 to 3.13 at least; each version is one that pyproject.toml allows."""
    assert {path.stem for path in TRIED} >= {"python3.11", "python3.12", "python3.13"}
    declared = bootstrap._dependencies(bootstrap.CHECKOUT, "test")
    for path in TRIED:
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
        tried = dict(line.split("==") for line in lines)
        for requirement in map(Requirement, declared):
            version = tried.get(canonicalize_name(requirement.name), "")
            assert version and requirement.specifier.contains(version), f"{path.name}: {requirement} and '{version}'"


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
