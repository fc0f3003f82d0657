"""The first minute on a new machine: an environment of its own in the checkout, the course installed into it, and go.

`python3 -m course [ARGUMENTS]` runs `timing-course`, with `start` where no arguments follow; `python3 -m tests
[ARGUMENTS]` runs the tests. The environment is `.venv` beside this package; it is made once, brought up to date where
pyproject.toml or the tried versions changed, and follows the folder where that is moved or renamed: the packages of the
course are not installed, a line relative to the environment leads to them. `TIMING_COURSE_HERE=1` uses the Python that
is running and installs nothing.

Standard library only, and no newer grammar than Python 3.7 knows, so that an old Python gets its sentence.
"""

from __future__ import annotations

import hashlib
import os
import re
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
CONSTRAINTS = Path("course", "constraints")  # the versions that the course was tried with, a file for each Python
STAMP = "installed-from.txt"
STANDS_AT = "stands at "  # begins the stamp's line that says where the environment was when it was last used
WHERE_WE_ARE = "timing_course_checkout.pth"
# What pip fetches for a first set-up [MB]: sizes of the files that `pip download` brings on Linux, x86-64, Python 3.11.
MEGABYTES = {"": 85, "notebook": 105, "book": 95, "class": 130, "test": 380}
# The optional dependencies of pyproject.toml that a command needs; every other one has enough with those of the course.
EXTRAS = {
    **dict.fromkeys(
        ("class", "collect", "grade", "mark", "give-back", "report", "forget", "nbgrader", "answers"), "class"
    ),
    "book": "book",
    "start": "notebook",  # with --notebook alone
    "hub": "hub",
}
CALLED = "TIMING_COURSE_COMMAND"  # as in graders/submissions/command_name.py, which is not installed yet
STOPPED = "\nStopped. Run the same command to go on: what was fetched is kept."
# Those that many programs at once, or programs that may not write there, take their packages from: these are compiled
# for all of them. Else Python compiles what is imported when it is: less than a third of what pip would.
COMPILED = ("hub", "test")
_PIP_INSTALL = (
    "-m",
    "pip",
    "install",
    "--disable-pip-version-check",
    "--no-input",
    "--progress-bar",
    "off",
    "--no-compile",
)
_REASONS = (
    (r"No space left on device|Errno 28|not enough space on the disk", "The disk is full."),
    (
        r"Read-only file system|Permission denied|Operation not permitted|Access is denied",
        "A folder of the course may not be written to: put the course where you may write, or ask the person who looks "
        "after this machine.",
    ),
    (
        r"name resolution|Name or service not known|getaddrinfo failed|NewConnectionError|Network is unreachable|"
        r"Connection refused|timed out|ProxyError|No route to host",
        "The network could not be reached, and the course needs it this first time.",
    ),
)


class CannotBegin(Exception):
    """The course cannot be set up on this machine; the text says what to do."""


def python_for(extra: str = "", checkout: Path = CHECKOUT) -> Path:
    """Return the Python in which the course is installed, making or repairing the environment first.

    `extra` names an optional set of dependencies of pyproject.toml. Raises CannotBegin, also where Ctrl+C stops it.
    """
    try:
        return _python_for(extra, checkout)
    except KeyboardInterrupt:
        raise CannotBegin(STOPPED) from None
    except OSError as error:  # as where the environment was made by somebody else, or there is no room for its stamp
        raise CannotBegin(
            _known_reason(str(error))
            or f"The course could not be set up: {error}. Put that right and run the same command again."
        ) from None


def _python_for(extra, checkout):
    check_version(sys.version_info)
    if os.environ.get("TIMING_COURSE_HERE"):
        return Path(sys.executable)
    folder = checkout / ".venv"
    python = folder / ("Scripts" if os.name == "nt" else "bin") / ("python.exe" if os.name == "nt" else "python")
    _follow(folder)
    if not _works(python):
        _make(folder)
    wanted = _state(checkout, extra)
    state = wanted.split()[0]
    if wanted not in _stamped(folder) and (extra or not any(line.split()[0] == state for line in _stamped(folder))):
        _install(python, checkout, extra, folder / "install.log")
        _lead_to(checkout, python)
        kept = [line for line in _stamped(folder) if line.split()[0] == state]
        _stamp(folder, [*kept, wanted])
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


def extra_for(arguments: Sequence[str]) -> str:
    """The optional dependencies that a command line of the course needs, or "" where it needs none."""
    command = arguments[0] if arguments and not {"--help", "-h"} & set(arguments) else ""
    return "" if command == "start" and "--notebook" not in arguments else EXTRAS.get(command, "")


def called() -> str:
    """How this was called, for the commands that are printed: by the name of Python that was typed."""
    typed = getattr(sys, "orig_argv", ["python3"])[0]
    return "py -m course" if os.name == "nt" else f"{shlex.quote(typed)} -m course"


def main(arguments: Sequence[str]) -> int:
    """Set up, run `timing-course` with these arguments, and return its exit status; say in one sentence why not."""
    try:
        python = python_for(extra_for(arguments))
    except CannotBegin as reason:
        print(reason, file=sys.stderr)
        return 1
    command = [python, "-c", "from course.cli import main; main()", *arguments]
    return run(command, {**os.environ, CALLED: called()})


def _state(checkout, extra):
    digest = hashlib.sha256((checkout / "pyproject.toml").read_bytes())
    tried = _tried(checkout)
    digest.update(tried.read_bytes() if tried.is_file() else b"")
    return f"{digest.hexdigest()[:16]}-{sys.version_info[0]}.{sys.version_info[1]} {extra or 'course'}"


def _tried(checkout):
    """The file of versions that the course was tried with on this Python; not every Python has one."""
    return checkout / CONSTRAINTS / f"python{sys.version_info[0]}.{sys.version_info[1]}.txt"


def _stamped(folder):
    """What was installed, one line each; and where the environment stood."""
    stamp = folder / STAMP
    return stamp.read_text(encoding="utf-8").splitlines() if stamp.is_file() else []


def _stamp(folder, lines):
    kept = [line for line in lines if not line.startswith(STANDS_AT)]
    text = "\n".join([f"{STANDS_AT}{folder}", *kept]) + "\n"
    (folder / STAMP).write_text(text, encoding="utf-8")


def _follow(folder):
    """Lead an environment that was moved or renamed with its checkout to where it stands now, without a network.

    Its programs begin with the path of its Python. On Windows that path lies inside the programs, and the environment
    is made again.
    """
    lines = _stamped(folder)
    stood = [line[len(STANDS_AT) :] for line in lines if line.startswith(STANDS_AT)]
    if not stood or stood[0] == str(folder):
        return
    print(f"The course was moved: {folder} is put right ...", flush=True)
    if os.name == "nt":
        (folder / STAMP).unlink()
        _make(folder)
        return
    _run_venv(folder, "--without-pip")
    for program in (folder / "bin").iterdir():
        if program.is_file() and not program.is_symlink():
            _begin_at(program, folder, Path(stood[0]))
    _stamp(folder, lines)


def _begin_at(program, folder, stood):
    """Let a program begin with the environment's Python of today: through a shell, as pip has it for a path with
    spaces, which a first line cannot hold."""
    first, _, rest = program.read_bytes().partition(b"\n")
    if first == b"#!/bin/sh" and rest.startswith(b"'''exec'"):
        rest = rest.split(b"\n", 2)[2]
    elif not first.startswith(b"#!" + os.fsencode(str(stood))):
        return
    python = os.fsencode(shlex.quote(str(folder / "bin" / "python")))
    program.write_bytes(b"#!/bin/sh\n'''exec' " + python + b' "$0" "$@"\n' + b"' '''\n" + rest)


def _lead_to(checkout, python):
    """Let the environment find the packages of the checkout, by a path relative to it: so they may move together."""
    libraries = Path(_libraries(python))
    way = os.path.relpath(str(checkout.resolve()), str(libraries.resolve()))
    (libraries / WHERE_WE_ARE).write_text(way + "\n", encoding="utf-8")


def _libraries(python):
    """The folder of the environment's packages."""
    asked = [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"]
    return subprocess.run(asked, capture_output=True, text=True, check=True).stdout.strip()


def _works(python):
    if not python.is_file():
        return False
    check = [str(python), "-c", "import sys, pip; sys.exit(sys.version_info < (3, 11))"]
    return subprocess.call(check, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0


def _make(folder):
    print(f"Making an environment for the course in {folder} ...", flush=True)
    _run_venv(folder, "--clear")


def _run_venv(folder, option):
    made = subprocess.run([sys.executable, "-m", "venv", option, str(folder)], capture_output=True, text=True)
    if made.returncode:
        said = (made.stdout + made.stderr).strip()
        known = _known_reason(said)
        raise CannotBegin(
            known
            or f"Python's venv could not make an environment in {folder}. On Debian and Ubuntu install the package "
            "'python3-venv' and run this again; elsewhere install Python from its own installer. What it said: "
            + said[-400:]
        )


def _install(python, checkout, extra, log_path):
    """Fetch and install what pyproject.toml names, in the versions that the course was tried with; where these cannot
    all be installed on this machine, say so and take the newest that fit."""
    wanted = _dependencies(checkout, extra)
    tried = _tried(checkout)
    attempts = [["--constraint", str(tried)], []] if tried.is_file() else [[]]
    if not tried.is_file():
        print(
            f"The course was not tried with Python {sys.version_info[0]}.{sys.version_info[1]} yet: the newest "
            "versions of what it needs are installed.",
            flush=True,
        )
    for constraint in attempts:
        if not _fetch([python, *_PIP_INSTALL, *constraint, *wanted], log_path, extra):
            if extra in COMPILED:
                _compile(python)
            return
        log = log_path.read_text(encoding="utf-8", errors="replace")
        reason = _known_reason(log)
        if reason or not constraint:
            break
        print(
            "The versions that the course was tried with cannot all be installed here "
            f"({_last_error(log)}): the newest are taken in their place.",
            flush=True,
        )
    raise CannotBegin(
        f"{reason or f'The course could not be installed: {_last_error(log)}'} All that was said is in {log_path}."
    )


def _compile(python):
    """Compile the packages of the environment, on all processors. A file that no Python of this version reads, as some
    packages have, is left."""
    command = [str(python), "-m", "compileall", "-qq", "-j", "0", _libraries(python)]
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def _dependencies(checkout, extra):
    """The requirements of pyproject.toml, as pip takes them: those of the course, and those of an extra, which may name
    further ones of our own."""
    import tomllib  # newer than the oldest Python that reads this file

    project = tomllib.loads((checkout / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted, extras = list(project["dependencies"]), [extra] if extra else []
    for one in extras:
        for requirement in project["optional-dependencies"][one]:
            own = re.match(re.escape(project["name"]) + r"\[([\w-]+)\]", requirement)
            (extras if own else wanted).append(own.group(1) if own else requirement)
    return wanted


def _known_reason(said):
    """A sentence for what people can put right themselves, or nothing."""
    for pattern, sentence in _REASONS:
        if re.search(pattern, said):
            return sentence + " Run the same command again: what is there already is not fetched again."
    return ""


def _last_error(log):
    """The line of pip's log that says what was wrong: its first of the last run of errors, else its last."""
    lines = [line for line in log.strip().splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR: ")]
    return (errors[-1][len("ERROR: ") :] if errors else lines[-1] if lines else "pip said nothing").strip()


def _fetch(command, log_path, extra):
    """Run pip with its progress on one line of the terminal; return its exit status."""
    with log_path.open("w", encoding="utf-8") as log:
        process = subprocess.Popen([str(part) for part in command], stdout=log, stderr=subprocess.STDOUT)
        watcher = threading.Thread(target=_show_progress, args=(process, log_path, MEGABYTES.get(extra)), daemon=True)
        watcher.start()
        try:
            status = process.wait()
        except KeyboardInterrupt:
            process.wait()  # pip has the key, too
            raise
        finally:
            watcher.join()
    return status


def _show_progress(process, log_path, megabytes):
    """Keep one line up to date while packages are fetched; on a terminal only, else one line in all."""
    began = time.monotonic()
    lively = sys.stdout.isatty()
    size = f"at most about {megabytes} MB to fetch, once" if megabytes else "the first time only"
    print(f"Installing the course ({size}) ...", flush=True)
    while process.poll() is None:
        time.sleep(0.25)
        if lively:
            sys.stdout.write(f"\r{_fetched_mb(log_path):.0f} MB fetched, {time.monotonic() - began:.0f} s ... ")
            sys.stdout.flush()
    if lively:
        sys.stdout.write(f"\rDone in {time.monotonic() - began:.0f} s.                     \n")


def _fetched_mb(log_path):
    """Sum of the sizes that pip has named so far [MB]."""
    log = log_path.read_text(encoding="utf-8", errors="replace")
    found = re.findall(r"Downloading \S+ \(([\d.]+) (kB|MB|GB)\)", log)
    return sum(float(size) * {"kB": 1e-3, "MB": 1.0, "GB": 1e3}[unit] for size, unit in found)
