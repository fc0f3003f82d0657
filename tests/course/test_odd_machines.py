"""Machines on which something usual is missing: an account's name, a home folder, a terminal that has every letter."""

from __future__ import annotations

import getpass
import os
import subprocess
import sys

import pytest

import course
from course.commands import start
from course.commands.start import OWN_FOLDERS, MyCourseError, lay_out


@pytest.mark.parametrize("error", [KeyError, OSError])
def test_an_account_without_a_name_is_asked_for_one(error, tmp_path, monkeypatch):
    """The sentence has the command; with a name given nobody asks the account."""

    def nameless():
        raise error("uid not found")

    monkeypatch.setattr(getpass, "getuser", nameless)
    monkeypatch.delenv("JUPYTERHUB_USER", raising=False)
    with pytest.raises(MyCourseError, match=r"has no name.*start --name NAME"):
        lay_out(tmp_path / "mine")
    lay_out(tmp_path / "mine", "ada")


@pytest.mark.parametrize("home", ["a file", "nothing"])
def test_without_a_home_folder_the_programs_write_into_the_course(home, tmp_path, monkeypatch):
    """Jupyter and the others get folders of their own there; where home can be written to, nothing is changed."""
    for name in OWN_FOLDERS:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    start._let_programs_write(tmp_path)
    assert not set(OWN_FOLDERS) & set(os.environ)
    if home == "a file":
        (tmp_path / "home").write_text("", encoding="utf-8")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    start._let_programs_write(tmp_path)
    folders = [os.environ.pop(name) for name in OWN_FOLDERS]
    assert all(folder.startswith(str(tmp_path / ".programs")) for folder in folders) and len(set(folders)) == 6


def test_a_terminal_that_lacks_letters_ends_no_command(tmp_path):
    """A folder's and a learner's letters are shown as question marks where the terminal's coding has none of them."""
    program = "from course.cli import main; main()"
    ran = subprocess.run(
        [sys.executable, "-c", program, "start", "Zündung", "--name", "Jürgen 点", "--lay-out-only"],
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "PYTHONPATH": str(course.HERE.parent)},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, "") and "Z?ndung" in ran.stdout
    assert 'name = "Jürgen 点"' in (tmp_path / "Zündung" / "learner.toml").read_text(encoding="utf-8")
