"""The first minute on a new machine: an environment of its own in the checkout, the course installed into it, and go.

`python3 -m course [ARGUMENTS]` runs `timing-course`, with `start` where no arguments follow; `python3 -m tests
[ARGUMENTS]` runs the tests. The environment is `.venv` beside this package; it is made once and brought up to date
where pyproject.toml changed. `TIMING_COURSE_HERE=1` uses the Python that is running and installs nothing.

Standard library only, and no newer grammar than Python 3.7 knows, so that an old Python gets its sentence.
"""

from __future__ import annotations

import hashlib
import os
import shlex
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

OLDEST = (3, 11)
CHECKOUT = Path(__file__).resolve().parent.parent
STAMP = "installed-from.txt"
CALLED = "TIMING_COURSE_COMMAND"  # as in graders/submissions/command_name.py, which is not installed yet


class CannotBegin(Exception):
    """The course cannot be set up on this machine; the text says what to do."""


def python_for(extra: str = "", checkout: Path = CHECKOUT) -> Path:
    """Return the Python in which the course is installed, making or repairing the environment first.

    `extra` names an optional set of dependencies of pyproject.toml. Raises CannotBegin.
    """
    check_version(sys.version_info)
    if os.environ.get("TIMING_COURSE_HERE"):
        return Path(sys.executable)
    folder = checkout / ".venv"
    python = folder / ("Scripts" if os.name == "nt" else "bin") / ("python.exe" if os.name == "nt" else "python")
    if not _works(python):
        _make(folder)
    wanted = _state(checkout, extra)
    stamp = folder / STAMP
    if not stamp.is_file() or wanted not in stamp.read_text(encoding="utf-8").splitlines():
        _install(python, checkout, extra, folder / "install.log")
        known = stamp.read_text(encoding="utf-8").splitlines() if stamp.is_file() else []
        current = _state(checkout, "").split()[0]
        kept = [line for line in known if line.split()[:1] == [current]]
        stamp.write_text("\n".join([*kept, wanted]) + "\n", encoding="utf-8")
    return python


def check_version(version: Sequence[Any]) -> None:
    """Raise CannotBegin where Python is older than the course needs."""
    if tuple(version[:2]) < OLDEST:
        raise CannotBegin(
            f"This course needs Python {OLDEST[0]}.{OLDEST[1]} or newer and this is Python {version[0]}."
            f"{version[1]}: install a newer Python and run the same command with it."
        )


def run(command: Iterable[object], environment: Mapping[str, str] | None = None) -> int:
    """Run a command in this terminal until it ends; return its exit status. A signal to end ends the command."""
    process = subprocess.Popen([str(part) for part in command], env=environment)
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: process.terminate())
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:  # the program below gets the key, too, and decides
            continue


def called() -> str:
    """How this was called, for the commands that are printed: by the name of Python that was typed."""
    typed = getattr(sys, "orig_argv", ["python3"])[0]
    return "py -m course" if os.name == "nt" else f"{shlex.quote(typed)} -m course"


def main(arguments: Sequence[str]) -> int:
    """Set up, run `timing-course` with these arguments, and return its exit status; say in one sentence why not."""
    try:
        python = python_for()
    except CannotBegin as reason:
        print(reason, file=sys.stderr)
        return 1
    command = [python, "-c", "from course.cli import main; main()", *arguments]
    return run(command, {**os.environ, CALLED: called()})


def _state(checkout, extra):
    digest = hashlib.sha256((checkout / "pyproject.toml").read_bytes()).hexdigest()[:16]
    return f"{digest}-{sys.version_info[0]}.{sys.version_info[1]} {extra or 'course'}"


def _works(python):
    if not python.is_file():
        return False
    check = [str(python), "-c", "import sys, pip; sys.exit(sys.version_info < (3, 11))"]
    return subprocess.call(check, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0


def _make(folder):
    print(f"Making an environment for the course in {folder} ...", flush=True)
    made = subprocess.run([sys.executable, "-m", "venv", "--clear", str(folder)], capture_output=True, text=True)
    if made.returncode:
        raise CannotBegin(
            f"Python's venv could not make an environment in {folder}. On Debian and Ubuntu install the package "
            "'python3-venv' and run this again; elsewhere install Python from its own installer. What it said: "
            + (made.stdout + made.stderr).strip()[-400:]
        )


def _install(python, checkout, extra, log_path):
    target = str(checkout) + (f"[{extra}]" if extra else "")
    command = [str(python), "-m", "pip", "install", "--disable-pip-version-check", "--no-input", "--editable", target]
    with log_path.open("w", encoding="utf-8") as log:
        process = subprocess.Popen(command, stdout=log, stderr=subprocess.STDOUT)
        watcher = threading.Thread(target=_show_progress, args=(process, log_path), daemon=True)
        watcher.start()
        status = process.wait()
        watcher.join()
    if status:
        lines = log_path.read_text(encoding="utf-8", errors="replace").strip().splitlines()
        raise CannotBegin(
            "The course could not be installed; it needs a network connection this first time. The last "
            f"thing said was: {lines[-1] if lines else 'nothing'} (all of it is in {log_path})"
        )


def _show_progress(process, log_path):
    """Keep one line up to date while packages are fetched; on a terminal only, else one line in all."""
    began = time.monotonic()
    lively = sys.stdout.isatty()
    if not lively:
        print("Installing the course; this takes a few minutes the first time ...", flush=True)
    while process.poll() is None:
        time.sleep(0.25)
        if lively:
            count = log_path.read_text(encoding="utf-8", errors="replace").count("Collecting ")
            sys.stdout.write(f"\rInstalling the course: {count} packages found, {time.monotonic() - began:.0f} s ... ")
            sys.stdout.flush()
    if lively:
        sys.stdout.write(f"\rInstalling the course: done in {time.monotonic() - began:.0f} s.                     \n")
