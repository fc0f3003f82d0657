"""A box for code that nobody vouches for: bubblewrap with a read-only system, no network, limits, and a watch over it.

Inside there is what Python needs and nothing else of this computer: no home folders, no class, no other hand-ins, no
network but the box's own loopback. The kernel of Linux limits each process's memory and files; the watch, outside,
limits what processes do together and ends the whole box where they do too much. A limit on the number of processes by
the kernel of Linux does not hold where root runs the box, so the watch counts them as well. Calls that no lesson needs
are refused by a filter (`call_filter`), where the kernel has filters and the numbers of the machine's calls are known.
"""

from __future__ import annotations

import functools
import os
import shutil
import signal
import site
import subprocess
import sys
import sysconfig
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from . import call_filter

WORKING_FOLDER = "/hand_in"
WATCH_EVERY_S = 0.05
EMPTY_ENVIRONMENT = "/usr/bin/env"
HIDDEN_PACKAGES = ("graders", "course")  # rubrics and lessons hold the answers
_SYSTEM = (
    "/usr",
    "/bin",
    "/sbin",
    "/lib",
    "/lib32",
    "/lib64",
    "/etc/ld.so.cache",
    "/etc/ld.so.conf",
    "/etc/ld.so.conf.d",
    "/etc/alternatives",
    "/etc/fonts",
    "/etc/localtime",
)
_LIMITER = """
import ctypes, os, resource, sys
names = ("RLIMIT_AS", "RLIMIT_FSIZE", "RLIMIT_CPU", "RLIMIT_NPROC")
for name, most in zip(names, map(int, sys.argv[1:5])):
    hard = resource.getrlimit(getattr(resource, name))[1]
    most = most if hard == resource.RLIM_INFINITY else min(most, hard)
    resource.setrlimit(getattr(resource, name), (most, most))
resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
steps = bytes.fromhex(sys.argv[5])
if steps:
    class Filter(ctypes.Structure):
        _fields_ = [("steps", ctypes.c_ushort), ("first", ctypes.c_char_p)]
    prctl = ctypes.CDLL(None).prctl
    prctl.argtypes = [ctypes.c_int, ctypes.c_ulong, ctypes.c_void_p, ctypes.c_ulong, ctypes.c_ulong]
    NO_NEW_PRIVILEGES, SECCOMP, FILTER = 38, 22, 2
    prctl(NO_NEW_PRIVILEGES, 1, None, 0, 0)
    prctl(SECCOMP, FILTER, ctypes.byref(Filter(len(steps) // 8, steps)), 0, 0)  # a kernel without filters says no
os.execv(sys.argv[6], sys.argv[6:])
"""


@dataclass(frozen=True)
class Limits:
    """What the code in one box may use: all of it together, but for `memory_mb`, which each process has and all."""

    seconds: float = 120.0
    memory_mb: int = 2000
    processes: int = 64
    disk_mb: int = 100


@functools.cache
def why_no_box() -> str:
    """One sentence that says why no code can be boxed on this computer, or nothing. Tried once, for real."""
    if not sys.platform.startswith("linux") or not shutil.which("bwrap"):
        return (
            "bubblewrap (the program bwrap) is not on this computer, and code of learners is run in its box or not "
            "at all: install bubblewrap on a Linux computer and run this again."
        )
    try:
        tried = subprocess.run(
            boxed([sys.executable, "-c", "print('in the box')"], Limits()),
            capture_output=True,
            text=True,
            timeout=30.0,
            check=False,
            env={},
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"bubblewrap does not work on this computer ({error}), so that no code of learners is run."
    if tried.stdout.strip() != "in the box":
        said = (tried.stderr.strip().splitlines() or ["it said nothing"])[-1]
        return (
            f"bubblewrap does not work on this computer ({said[:200]}), so that no code of learners is run: "
            "it wants unprivileged user namespaces to be allowed."
        )
    return ""


def boxed(command: list[str], limits: Limits, shared: Path | None = None, files: Path | None = None) -> list[str]:
    """The command line that runs `command` in a box, in an empty working folder of its own.

    `shared` is a folder that both sides may write; `files` a folder whose files, but for notebooks, are shown read-only
    in the working folder. No environment variable comes along. `env -i` keeps them from bubblewrap itself too, because
    its own environment shows in /proc/1/environ of the box.
    """
    size = str(limits.disk_mb * 1_000_000)
    folders = ("/tmp", WORKING_FOLDER, "/dev/shm")
    temporary = [word for folder in folders for word in ("--size", size, "--tmpfs", folder)]
    return [
        EMPTY_ENVIRONMENT,
        "-i",
        shutil.which("bwrap") or "bwrap",
        "--unshare-all",
        "--unshare-user",
        "--disable-userns",
        "--die-with-parent",
        "--new-session",
        "--cap-drop",
        "ALL",
        "--hostname",
        "box",
        "--clearenv",
        "--proc",
        "/proc",
        "--dev",
        "/dev",
        *temporary,
        *_readable(),
        *(["--bind", str(shared), str(shared)] if shared else []),
        *_shown(files),
        "--remount-ro",
        "/dev",
        "--remount-ro",
        "/",
        "--chdir",
        WORKING_FOLDER,
        *_environment(),
        "--",
        sys.executable,
        "-I",
        "-S",
        "-c",
        _LIMITER,
        str(limits.memory_mb * 1_000_000),
        size,
        str(int(limits.seconds) + 1),
        str(limits.processes),
        call_filter.program().hex(),
        *command,
    ]


def _readable() -> list[str]:
    """The system's programs and libraries, this Python and what it imports; without this project's answers."""
    words = []
    for place in _SYSTEM:
        if os.path.islink(place):
            words += ["--symlink", os.readlink(place), place]
        elif os.path.exists(place):
            words += ["--ro-bind", place, place]
    inside = [
        place
        for place in dict.fromkeys(
            map(os.path.realpath, (sys.prefix, sys.base_prefix, sys.exec_prefix, *site.getsitepackages()))
        )
        if not place.startswith("/usr/") and os.path.isdir(place)  # a distribution's Python names folders it lacks
    ]
    if os.path.realpath(sys.prefix) != sys.prefix:
        inside.append(sys.prefix)
    for place in inside:
        words += ["--ro-bind", place, place]
    packages = Path(sysconfig.get_paths()["purelib"])
    for name in HIDDEN_PACKAGES:
        if (packages / name).is_dir():
            words += ["--tmpfs", str(packages / name), "--remount-ro", str(packages / name)]
    engine = Path(__file__).resolve().parents[2] / "engine_sim"
    if not engine.is_relative_to(packages):  # the engine may be used; the answers beside it are not there
        words += ["--ro-bind", str(engine), str(engine)]
    return words


def _shown(files: Path | None) -> list[str]:
    words = []
    for path in sorted(files.iterdir()) if files else []:
        if path.suffix != ".ipynb" and not path.is_symlink() and (path.is_file() or path.is_dir()):
            words += ["--ro-bind", str(path), f"{WORKING_FOLDER}/{path.name}"]
    return words


def _environment() -> list[str]:
    settings = {
        "PATH": f"{Path(sys.executable).parent}:/usr/bin:/bin",
        "HOME": WORKING_FOLDER,
        "LANG": "C.UTF-8",
        "TMPDIR": "/tmp",
        "MPLCONFIGDIR": "/tmp/matplotlib",
        "IPYTHONDIR": "/tmp/ipython",
        "JUPYTER_RUNTIME_DIR": "/tmp/jupyter",
        "PYTHONDONTWRITEBYTECODE": "1",
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "NBGRADER_EXECUTION": "autograde",
    }
    return [word for name, value in settings.items() for word in ("--setenv", name, value)]


class Watch:
    """Looks at a box every twentieth of a second and ends all of it where a limit is passed; `reason` then says which.

    `process` returns the id of the box's outermost process, or None while there is none. A context manager.
    """

    def __init__(self, process: Callable[[], int | None], limits: Limits, shared: Path | None = None):
        self.process, self.limits, self.shared = process, limits, shared
        self.reason = ""
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def __enter__(self) -> Watch:
        self._began = time.monotonic()
        self._thread.start()
        return self

    def __exit__(self, *_) -> None:
        self._over.set()
        self._thread.join()

    def end(self, reason: str) -> None:
        """End the box now. The first reason is the one that is kept."""
        self.reason = self.reason or reason
        outermost = self.process()
        if outermost is not None:
            end_box(outermost)

    def _look(self) -> None:
        while not self._over.wait(WATCH_EVERY_S):
            reason = self._passed()
            if reason or self.reason:
                self.end(reason)

    def _passed(self) -> str:
        limits, outermost = self.limits, self.process()
        if time.monotonic() - self._began > limits.seconds:
            return f"The notebook ran for more than {limits.seconds:g} seconds and was ended."
        if outermost is None:
            return ""
        inside = _descendants(outermost)
        if len(inside) > limits.processes:
            return f"The notebook started more than {limits.processes} processes and was ended."
        if sum(map(_memory_bytes, inside)) + _bytes_without_a_name(inside) > limits.memory_mb * 1_000_000:
            return f"The notebook used more than {limits.memory_mb} MB of memory and was ended."
        if self.shared and _bytes_in(self.shared) > limits.disk_mb * 1_000_000:
            return f"The notebook wrote more than {limits.disk_mb} MB and was ended."
        return ""


def end_box(outermost: int) -> None:
    """Kill the outermost process of a box; its inner first process dies with it, and all others with that one.

    It is stopped before: a box that is just starting could set up its inner process meanwhile, which would live on.
    """
    with suppress(ProcessLookupError):
        os.kill(outermost, signal.SIGSTOP)
    for process in (*_descendants(outermost)[:2], outermost):
        with suppress(ProcessLookupError):
            os.kill(process, signal.SIGKILL)


def _descendants(first: int) -> list[int]:
    """All processes that come from `first`, the nearest first."""
    children: dict[int, list[int]] = {}
    for name in filter(str.isdigit, os.listdir("/proc")):
        try:
            text = Path(f"/proc/{name}/stat").read_text(errors="replace")
        except OSError:
            continue
        children.setdefault(int(text.rpartition(")")[2].split()[1]), []).append(int(name))
    found, waiting = [], [first]
    while waiting:
        nearest = children.get(waiting.pop(0), [])
        found += nearest
        waiting += nearest
    return found


def _memory_bytes(process: int) -> int:
    """What a process holds in memory, and what of it was moved to swap."""
    try:
        lines = Path(f"/proc/{process}/status").read_text(errors="replace").splitlines()
    except OSError:
        return 0
    return sum(int(line.split()[1]) * 1024 for line in lines if line.startswith(("VmRSS:", "VmSwap:")))


def _bytes_without_a_name(processes: list[int]) -> int:
    """Memory in files without a name (memfd) that the processes hold open: it is resident in none of them."""
    found: dict[int, int] = {}
    for process in processes:
        with suppress(OSError):
            for entry in os.scandir(f"/proc/{process}/fd"):
                with suppress(OSError):
                    if os.readlink(entry.path).startswith("/memfd:"):
                        status = os.stat(entry.path)
                        found[status.st_ino] = status.st_blocks * 512
    return sum(found.values())


def _bytes_in(folder: Path) -> int:
    total = 0
    for parent, _, names in os.walk(folder):
        for name in names:
            try:
                total += os.lstat(os.path.join(parent, name)).st_blocks * 512
            except OSError:
                continue
    return total
