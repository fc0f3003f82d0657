"""A room set up, started and stopped: each step may be done again, and does only what is missing."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import pwd
import re
import secrets
import shutil
import signal
import ssl
import stat
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from course.commands.make_class import read_roster
from course.commands.school_list import SchoolList
from graders.nbgrader_bridge.course_config import CONFIGURATION
from graders.submissions.command_name import VARIABLE, command_name
from graders.submissions.roster import write_list

from . import accounts, configuration
from .room import PROGRAM, Room, RoomError, is_superuser

STARTS_WITHIN_S = 120
STOPS_WITHIN_S = 90
ORPHAN_ENDS_WITHIN_S = 10
LEARNERS_PROGRAM = b"course.hub.parent_of_servers"  # from which all of them are forked: the name is theirs, too
PROXY = "configurable-http-proxy"
# The newest proxy for each Node, by what its package says it needs; a Node older than all of them is too old.
PROXIES = (((20,), "5.3.0"), ((18,), "5.1.0"))


def set_up(room: Room, roster: Path | None, columns: str = "") -> tuple[Room, list[str]]:
    """Make what is missing of a room and bring its people up to date; return it with sentences. `columns` says which
    column of the school's list is which, where its headings do not. Raises RoomError."""
    if not is_superuser():
        raise RoomError(
            "A room makes accounts and runs each learner's programs under the learner's own account: run this as the "
            "superuser, with sudo. (Without that all hand-ins would be one person's.)"
        )
    unreadable = what_others_cannot_read()
    if unreadable:
        raise RoomError(unreadable)
    said: list[str] = []
    listed: SchoolList | None = None
    if roster is not None:
        listed = read_roster(roster, columns)
        said.append(listed.taken)
        learners = tuple(row["id"] for row in listed.rows)
        gone = sorted(set(room.settings.learners) - set(learners))
        if gone:
            said.append(f"No longer on the list, and not let in any more; their work is kept: {', '.join(gone)}.")
        room = replace(room, settings=replace(room.settings, learners=learners))
    if not room.settings.learners:
        raise RoomError("Nobody is on the list yet: give the list of the class with --roster ROSTER.csv.")
    both = sorted(set(room.settings.learners) & set(room.settings.instructors))
    problems = accounts.problems_of((*room.settings.learners, *room.settings.instructors), room.grader)
    problems += [
        f"'{name}' is on the list of learners and an instructor: one account can be one of them." for name in both
    ]
    if not room.settings.instructors:
        problems.append("Nobody may mark yet: name the instructor's account with --instructor NAME.")
    if problems:
        raise RoomError("\n".join(problems))
    _folders(room)
    made = accounts.make_accounts(room)
    room = replace(room, settings=replace(room.settings, made=tuple(dict.fromkeys((*room.settings.made, *made)))))
    fetch_proxy(room.hub / "proxy")
    _exchange(room)
    said += _class(room, listed)
    room.keep()
    passwords = accounts.give_passwords(room, made)
    if passwords:
        said.append(f"Passwords of the accounts that are new: {passwords}. Hand each to its owner.")
    configuration.write(room)
    return room, said


def what_others_cannot_read() -> str:
    """A sentence where learners could not run this Python or read the course; nothing where they can."""
    import course

    for path, what in (
        (Path(sys.executable).resolve(), "Python"),
        (Path(sys.prefix).resolve(), "environment"),
        (course.HERE, "course"),
    ):
        for place in (path, *path.parents):
            wanted = stat.S_IXOTH if place.is_dir() else stat.S_IROTH
            if not place.stat().st_mode & wanted:
                way = (
                    "run this with the system's own Python, such as /usr/bin/python3"
                    if what == "Python"
                    else "put the course where everybody may read it, such as /opt/timing-course"
                )
                return f"Learners could not use the {what} of this machine, because {place} is closed to them: {way}."
    return ""


def _folders(room: Room) -> None:
    room.folder.mkdir(parents=True, exist_ok=True)
    os.chmod(room.folder, 0o755)
    if room.folder.stat().st_uid:
        raise RoomError(
            f"{room.folder} must belong to the superuser, who runs what lies in it: 'chown root {room.folder}'."
        )
    room.hub.mkdir(exist_ok=True)
    os.chmod(room.hub, 0o700)
    token = room.hub / configuration.API_TOKEN
    if not token.exists():
        token.touch(0o600)
        token.write_text(secrets.token_hex(32), encoding="utf-8")


def proxy_for(node: tuple[int, ...]) -> str:
    """The version of the proxy that runs on this Node. Raises RoomError where none does."""
    for oldest, version in PROXIES:
        if node >= oldest:
            return version
    raise RoomError(
        f"The proxy needs Node {PROXIES[-1][0][0]} or newer and this is Node {'.'.join(map(str, node)) or 'unknown'}: "
        "install the package 'nodejs' of a newer distribution."
    )


def node_version() -> tuple[int, ...]:
    """The version of Node on this machine. Raises RoomError where there is none."""
    if shutil.which("node") is None:
        raise RoomError("Node is missing, on which the proxy runs: 'apt-get install nodejs npm', and start again.")
    said = subprocess.run(["node", "--version"], capture_output=True, text=True, check=False).stdout
    return tuple(map(int, re.findall(r"\d+", said)[:3]))


def fetch_proxy(place: Path) -> None:
    """Fetch the proxy for this machine's Node from npm into a folder, unless it is there. Raises RoomError."""
    program = place / PROGRAM
    if program.is_file():
        return
    version = proxy_for(node_version())
    if shutil.which("npm") is None:
        raise RoomError("npm is missing, which fetches the proxy: 'apt-get install npm', and start again.")
    print(f"Fetching the proxy ({PROXY} {version}, about 9 MB, once) ...", flush=True)
    place.mkdir(exist_ok=True)
    quietly = ("--no-audit", "--no-fund", "--ignore-scripts")
    command = ["npm", "install", *quietly, "--prefix", str(place), f"{PROXY}@{version}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=place)
    if done.returncode or not program.is_file():
        shutil.rmtree(place)
        raise RoomError(
            f"The proxy could not be fetched: {(done.stderr or done.stdout).strip()[-400:]}\nSee that this machine "
            "reaches npm's registry, and start again."
        )


def _exchange(room: Room) -> None:
    """The exchange with the modes that nbgrader wants; its folders are there before any learner could make them."""
    grader = pwd.getpwnam(room.grader)
    inside = room.exchange / room.name
    for place, mode, owned in (
        (room.exchange, 0o1777, False),
        (inside, 0o755, True),
        (inside / "outbound", 0o755, True),
        (inside / "inbound", 0o3733, True),
        (inside / "feedback", 0o711, True),
    ):
        place.mkdir(exist_ok=True)
        if owned:
            os.chown(place, grader.pw_uid, grader.pw_gid)
        os.chmod(place, mode)


def _class(room: Room, listed: SchoolList | None) -> list[str]:
    """Make the class, or bring its list up to date, as the grader."""
    is_made = (room.class_folder / CONFIGURATION).is_file()
    if listed is None and is_made:
        return []
    grader = pwd.getpwnam(room.grader)
    for place in (room.class_folder, room.grader_home):
        place.mkdir(exist_ok=True)
        if place.stat().st_uid != grader.pw_uid:
            subprocess.run(["chown", "-R", "--no-dereference", f"{room.grader}:", str(place)], check=True)
        os.chmod(place, 0o700)
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        words = []
        if listed is not None:
            ours = Path(folder) / "list.csv"
            write_list(ours, listed.rows, listed.columns)
            os.chmod(ours, 0o644)
            words = ["--students", str(ours)]
        if room.settings.gradebook and not is_made:
            words += ["--gradebook", room.settings.gradebook]
        done = as_grader(room, ["class", str(room.class_folder), *words])
    if done.returncode:
        raise RoomError(f"The class could not be made: {(done.stderr or done.stdout).strip()}")
    return [line for line in done.stdout.splitlines() if "new to the class" in line]


def as_grader(room: Room, words: Iterable[str]) -> subprocess.CompletedProcess[str]:
    """Run a command of the course as the grader's account."""
    environment = {
        **configuration.environment(room),
        "HOME": str(room.grader_home),
        "USER": room.grader,
        VARIABLE: command_name(),
    }
    return subprocess.run(
        [sys.executable, "-c", "from course.cli import main; main()", *words],
        user=room.grader,
        group=room.grader,
        extra_groups=[],
        umask=0o077,
        cwd=room.folder,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )


# ---- started and stopped ---------------------------------------------------------------------------------------------


def hub_process(room: Room) -> int | None:
    """The number of the hub's process, where it runs."""
    return _process(room, "hub.pid")


def _process(room: Room, kept: str) -> int | None:
    """The number in a file of the hub's, where that is still a process of this room."""
    try:
        pid = int((room.hub / kept).read_text(encoding="utf-8").split()[0])
        command = Path(f"/proc/{pid}/cmdline").read_bytes()
    except (OSError, ValueError, IndexError):
        return None
    return pid if str(room.hub).encode() in command else None


def _end_what_was_left(room: Room) -> bool:
    """End what a hub that was killed has left: its proxy, and learners' servers; return whether there was anything."""
    left = _process(room, "proxy.pid") is not None
    _end_orphaned_proxy(room)
    people = {pwd.getpwnam(name).pw_uid for name in (*room.settings.learners, *room.settings.instructors)}
    for place in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):  # it has ended meanwhile
            if place.stat().st_uid in people and LEARNERS_PROGRAM in (place / "cmdline").read_bytes():
                os.kill(int(place.name), signal.SIGTERM)
                left = True
    return left


def _end_orphaned_proxy(room: Room) -> None:
    """A hub that was killed leaves its proxy, which would keep the room's port."""
    pid = _process(room, "proxy.pid")
    if pid is None:
        return
    os.kill(pid, signal.SIGTERM)
    deadline = time.monotonic() + ORPHAN_ENDS_WITHIN_S
    while _process(room, "proxy.pid") is not None:
        if time.monotonic() > deadline:
            os.kill(pid, signal.SIGKILL)
        time.sleep(0.1)
    (room.hub / "proxy.pid").unlink(missing_ok=True)


def start(room: Room) -> None:
    """Start the hub and wait until it answers. Raises RoomError."""
    _end_orphaned_proxy(room)
    with room.log.open("ab") as log:
        os.chmod(room.log, 0o600)
        process = subprocess.Popen(
            [sys.executable, "-m", "jupyterhub", "-f", str(room.hub / configuration.CONFIGURATION)],
            cwd=room.hub,
            env={**os.environ, **configuration.environment(room)},
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            umask=0o077,
            start_new_session=True,
        )
    deadline = time.monotonic() + STARTS_WITHIN_S
    while not (answers(room) and hub_process(room)):
        if process.poll() is not None or time.monotonic() > deadline:
            raise RoomError(f"The hub did not start: {_last_trouble(room)}\nAll that it said is in {room.log}.")
        time.sleep(0.3)
    _let_go(room)


def _last_trouble(room: Room) -> str:
    lines = room.log.read_text(encoding="utf-8", errors="replace").splitlines()
    found = [line for line in lines[-200:] if re.match(r"\[[EC] |\w*Error", line)]
    return found[-1] if found else (lines[-1] if lines else "it said nothing.")


def answers(room: Room) -> bool:
    """Whether hub and desk answer behind the proxy: each sends somebody who is not logged in to the login."""
    return all(_status(room, path) in (200, 302) for path in ("/hub/login", room.desk_prefix))


def _status(room: Room, path: str) -> int:
    """The status of one page, as a browser would get it; 0 where nobody answers."""
    where = (room.settings.address or "127.0.0.1", room.settings.port)
    if room.settings.certificate:  # it is this machine's own, under whatever name
        context = ssl.create_default_context()
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
        connection: http.client.HTTPConnection = http.client.HTTPSConnection(*where, timeout=10, context=context)
    else:
        connection = http.client.HTTPConnection(*where, timeout=10)
    try:
        connection.request("GET", path)
        return connection.getresponse().status
    except (OSError, http.client.HTTPException):
        return 0
    finally:
        connection.close()


def _let_go(room: Room) -> None:
    """Take those out of the hub who are no longer of the room: a browser in which they are logged in is let in no more,
    and no group has them. Their work stays in their homes."""
    people = {*room.settings.learners, *room.settings.instructors}
    for name in (one["name"] for one in json.loads(_asked(room, "api/users"))):
        if name not in people:
            _asked(room, f"api/users/{name}/server", method="DELETE")
            deadline = time.monotonic() + STOPS_WITHIN_S
            while json.loads(_asked(room, f"api/users/{name}"))["servers"] and time.monotonic() < deadline:
                time.sleep(0.3)
            _asked(room, f"api/users/{name}", method="DELETE")


def _asked(room: Room, path: str, data: bytes | None = None, method: str | None = None) -> bytes:
    token = (room.hub / configuration.API_TOKEN).read_text(encoding="utf-8").strip()
    address = f"http://127.0.0.1:{room.inner_port(2)}/hub/{path}"
    headers = {"Authorization": f"token {token}"}
    request = urllib.request.Request(address, data=data, headers=headers, method=method)
    with urllib.request.urlopen(request, timeout=10) as answer:
        return answer.read()


def stop(room: Room, learners_too: bool = True) -> bool:
    """Stop the hub, and learners' servers unless they are to go on; False where it did not run. Raises RoomError."""
    pid = hub_process(room)
    if pid is None:
        return _end_what_was_left(room)
    try:
        _asked(room, "api/shutdown", json.dumps({"proxy": True, "servers": learners_too}).encode())
    except (OSError, ValueError):
        os.kill(pid, signal.SIGTERM)
    deadline = time.monotonic() + STOPS_WITHIN_S
    while hub_process(room) is not None:
        if time.monotonic() > deadline:
            raise RoomError(f"The hub does not stop; process {pid} is left. What it says is in {room.log}.")
        time.sleep(0.3)
    return True
