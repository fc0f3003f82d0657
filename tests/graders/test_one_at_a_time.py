"""A second class run is kept out of a folder while one is at work, on Windows as elsewhere.

The Windows way is tried here with a stand-in for its module that keeps the rules of the Python documentation: LK_NBLCK
raises OSError at once where the same bytes are locked, counted from the file's position, and a region is unlocked by
whoever locked it. On Windows itself it was not run.
"""

from __future__ import annotations

import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from graders.classroom import gradebook_copy
from graders.classroom.gradebook_copy import GradebookError, OneAtATime


def windows_locks():
    """A stand-in for msvcrt that knows which bytes of which file are locked."""
    locked: dict[tuple[int, int], int] = {}

    def locking(descriptor, mode, length):
        region = os.fstat(descriptor).st_ino, os.lseek(descriptor, 0, os.SEEK_CUR)
        assert length == 1
        if mode == "unlock":
            if locked.pop(region, None) != descriptor:
                raise PermissionError(13, "Permission denied")
        elif region in locked:
            raise PermissionError(13, "Permission denied")
        else:
            locked[region] = descriptor

    return SimpleNamespace(locking=locking, LK_NBLCK="lock", LK_UNLCK="unlock", locked=locked)


@pytest.fixture(params=["fcntl", "msvcrt"])
def system(request, monkeypatch):
    """Either way of locking."""
    if request.param == "msvcrt":
        monkeypatch.setattr(gradebook_copy, "fcntl", None)
        monkeypatch.setattr(gradebook_copy, "msvcrt", windows_locks(), raising=False)
    elif gradebook_copy.fcntl is None:
        pytest.skip("this system has no fcntl")
    return request.param


def test_the_second_waits_and_the_third_may_begin(system, tmp_path):
    """While one is at work another is refused, in another folder it is not, and afterwards the way is free; a file that
    is no longer empty makes no difference."""
    (tmp_path / "other").mkdir()
    with OneAtATime(tmp_path), OneAtATime(tmp_path / "other"):
        for _ in range(2):
            with pytest.raises(GradebookError, match="Another class run is at work"), OneAtATime(tmp_path):
                pass
    (tmp_path / ".judging.lock").write_bytes(b"written by somebody")
    with OneAtATime(tmp_path):
        pass


def test_a_run_that_fails_gives_the_lock_back(system, tmp_path):
    """An error inside leaves nothing locked."""
    with pytest.raises(ZeroDivisionError), OneAtATime(tmp_path):
        raise ZeroDivisionError
    with OneAtATime(tmp_path):
        pass


def test_another_program_is_kept_out_and_its_end_gives_the_lock_back(tmp_path):
    """With whatever this system has: a program that holds the lock, and is killed."""
    holds = (
        "import sys, time; from pathlib import Path; from graders.classroom.gradebook_copy import OneAtATime\n"
        "with OneAtATime(Path(sys.argv[1])):\n    print('locked', flush=True); time.sleep(60)\n"
    )
    other = subprocess.Popen([sys.executable, "-c", holds, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    try:
        assert other.stdout.readline() == "locked\n"
        with pytest.raises(GradebookError, match="at work"), OneAtATime(tmp_path):
            pass
    finally:
        other.kill()
        other.wait()
        other.stdout.close()
    with OneAtATime(tmp_path):
        pass
