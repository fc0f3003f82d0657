"""`hub check FOLDER`: what a room needs, one line each, with the way to put right what is wrong."""

from __future__ import annotations

import pwd
import re
import shutil
import sqlite3
import stat
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from engine_sim import TimingCourseError
from graders.submissions.command_name import command_line
from graders.submissions.roster import read_list

from . import accounts, running
from .room import FIRST_USE, Room, RoomError, is_superuser

# What a room takes of memory, as measured (DEVELOPERS.md has the table): the hub, proxy and desk, and each learner.
ROOM_MB = 500
LEARNER_MB = 170
DISK_MB = 500
DISK_A_LEARNER_MB = 50
LIBRARIES = (
    *("jupyterhub", "jupyterhub-firstuseauthenticator", "jupyterhub-idle-culler"),
    *("nbgrader", "voila", "tornado"),
)
KNOWN_HUB = (5, 3), (7,)


@dataclass(frozen=True)
class CheckLine:
    """One thing that was looked at: whether it is right, and what to do where it is not."""

    what: str
    found: str
    way: str = ""

    @property
    def right(self) -> bool:
        """Whether there is nothing to do."""
        return not self.way

    def __str__(self) -> str:
        return f"{'right' if self.right else 'WRONG'}  {self.what}: {self.found}" + (
            f". {self.way}" if self.way else ""
        )


def print_check(room: Room) -> int:
    """Look the room over and print a line for each thing; 1 where something is wrong. Raises RoomError."""
    if not room.hub.is_dir():
        raise RoomError(
            f"There is no room in {room.folder}: open one with '{command_line('hub FOLDER --roster LIST')}'."
        )
    if not is_superuser():
        raise RoomError("Only the superuser can look over everybody's folders: run this with sudo.")
    lines = list(look_over(room))
    print("\n".join(map(str, lines)))
    wrong = sum(not line.right for line in lines)
    print(f"{wrong} thing(s) to put right." if wrong else "All is right.")
    return 1 if wrong else 0


def look_over(room: Room) -> Iterator[CheckLine]:
    """Everything that is looked at, in the order in which it is put right."""
    for look in LOOKS:
        try:
            yield from look(room)
        except (TimingCourseError, OSError, KeyError) as error:
            start = command_line(f"hub {room.folder}")
            yield CheckLine(look.__name__.strip("_").replace("_", " "), str(error), f"'{start}' makes what is missing")


def _versions(room: Room) -> Iterator[CheckLine]:
    for name in LIBRARIES:
        try:
            found = version(name)
        except PackageNotFoundError:
            yield CheckLine(name, "is not installed", "Install 'timing-course[hub]'")
            continue
        numbers = tuple(map(int, re.findall(r"\d+", found)[:2]))
        known = name != "jupyterhub" or KNOWN_HUB[0] <= numbers < KNOWN_HUB[1]
        yield CheckLine(
            name, found, "" if known else "The course was tried with 5.3 to 6: install 'timing-course[hub]'"
        )
    node = running.node_version()
    yield CheckLine("Node", ".".join(map(str, node)))
    there = room.proxy.is_file()
    yield CheckLine(
        "proxy", running.proxy_for(node) if there else "is missing", "" if there else "Start the room once more"
    )


def _paths(room: Room) -> Iterator[CheckLine]:
    closed = running.what_others_cannot_read()
    yield CheckLine(
        "Python and course", closed or f"{sys.executable}, open to everybody", closed and "Move them as said"
    )
    beside = Path(sys.executable).parent / "alembic"
    yield CheckLine(
        "alembic, which nbgrader runs as a program",
        str(beside) if beside.is_file() else "is not beside Python",
        "" if beside.is_file() else "Install 'timing-course[hub]' into this Python once more",
    )


def _modes(room: Room) -> Iterator[CheckLine]:
    grader = room.grader
    inside = room.exchange / room.name
    for place, owner, mode in (
        (room.hub, "root", 0o700),
        (room.class_folder, grader, 0o700),
        (room.grader_home, grader, 0o700),
        (room.exchange, "root", 0o1777),
        (inside, grader, 0o755),
        (inside / "outbound", grader, 0o755),
        (inside / "inbound", grader, 0o3733),
        (inside / "feedback", grader, 0o711),
    ):
        yield _mode(place, owner, mode)
    for name in (*room.settings.learners, *room.settings.instructors):
        if not accounts.exists(name):
            yield CheckLine(f"account {name}", "is missing", f"'{command_line(f'hub {room.folder}')}' makes it")
            continue
        home = Path(pwd.getpwnam(name).pw_dir)
        if not home.is_dir():
            yield CheckLine(f"home of {name}", f"{home} is missing", f"'mkhomedir_helper {name} 0077' makes it")
            continue
        others = home.stat().st_mode & 0o077
        if home.stat().st_uid != pwd.getpwnam(name).pw_uid:
            yield CheckLine(f"home of {name}", "belongs to somebody else", f"'chown {name}: {home}'")
        elif others:
            yield CheckLine(f"home of {name}", "others can look into it", f"'chmod 700 {home}'")
    yield CheckLine("homes", f"{len(room.settings.learners) + len(room.settings.instructors)} looked at")


def _mode(place: Path, owner: str, mode: int) -> CheckLine:
    found = place.stat()
    has = stat.S_IMODE(found.st_mode)
    try:
        is_of = pwd.getpwuid(found.st_uid).pw_name
    except KeyError:
        is_of = str(found.st_uid)
    ways = [f"'chown {owner}: {place}'"] if is_of != owner else []
    ways += [f"'chmod {mode:o} {place}'"] if has != mode else []
    return CheckLine(str(place), f"{is_of}, mode {has:o}", " and ".join(ways))


def _people(room: Room) -> Iterator[CheckLine]:
    """The list of the class against the room, the hub's groups and the gradebook."""
    listed = {one.id for one in read_list(room.class_folder / "roster.csv")}
    chosen = set(room.settings.learners)
    again = f"'{command_line(f'hub {room.folder} --roster LIST')}' brings both up to date"
    missing = sorted(listed - chosen)
    yield CheckLine(
        "list of the class", f"{len(listed)} learner(s)" + (f"; not let in: {_names(missing)}" if missing else "")
    )
    unknown = sorted(chosen - listed)
    yield CheckLine(
        "learners who are let in", _names(unknown) or str(len(chosen)), f"Not on the list: {again}" if unknown else ""
    )
    grouped = _grouped(room)
    for group, people in (("nbgrader", chosen), ("formgrade", set(room.settings.instructors))):
        name = f"{group}-{room.name}"
        differs = sorted(people ^ grouped.get(name, set()))
        yield CheckLine(
            f"hub's group {name}", _names(differs) or str(len(people)), "Start the room once more" if differs else ""
        )
    if room.settings.gradebook:
        yield CheckLine("gradebook", "on a database server; its learners were not compared")
    else:
        path = room.class_folder / "gradebook.db"
        known = {name for (name,) in _rows(path, "SELECT id FROM student")}
        without = sorted(chosen - known)
        yield CheckLine(
            "gradebook",
            _names(without) or f"{len(known)} learner(s)",
            f"They are missing in it: {again}" if without else "",
        )


def _names(names: list[str]) -> str:
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")


def _grouped(room: Room) -> dict[str, set[str]]:
    rows = _rows(
        room.hub / "jupyterhub.sqlite",
        "SELECT groups.name, users.name FROM groups JOIN user_group_map ON groups.id = group_id "
        "JOIN users ON users.id = user_id",
    )
    found: dict[str, set[str]] = {}
    for group, name in rows:
        found.setdefault(group, set()).add(name)
    return found


def _rows(path: Path, query: str) -> list[tuple]:
    if not path.is_file():
        raise RoomError(f"{path} is missing")
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, timeout=10)
    try:
        return connection.execute(query).fetchall()
    except sqlite3.DatabaseError as error:
        raise RoomError(f"{path} cannot be read ({error})") from None
    finally:
        connection.close()


def _exchange(room: Room) -> Iterator[CheckLine]:
    inbound = room.exchange / room.name / "inbound"
    refused = sorted(path.name for path in inbound.glob(".refused-*"))
    yield CheckLine("hand-ins that were refused", str(len(refused)))
    free = shutil.disk_usage(inbound).free / 1e6
    yield CheckLine(
        "room in the exchange", f"{free:.0f} MB free", "" if free > 100 else "Free the disk, or hand-ins fail"
    )
    ahead = [path.name for path in inbound.glob("[!.]*") if path.lstat().st_ctime > _now() + 60]
    yield CheckLine(
        "clock", "hand-ins from later than now" if ahead else "right", "Set this machine's clock" if ahead else ""
    )


def _now() -> float:
    import time

    return time.time()


def _size(room: Room) -> Iterator[CheckLine]:
    learners = len(room.settings.learners)
    wanted_mb, has_mb = ROOM_MB + LEARNER_MB * learners, _memory_mb()
    fits = max(int((has_mb - ROOM_MB) / LEARNER_MB), 0)
    yield CheckLine(
        "memory",
        f"{has_mb:.0f} MB, for {learners} learner(s) at once about {wanted_mb} MB",
        "" if has_mb >= wanted_mb else f"It is enough for {fits}: take a larger machine, or let them work by turns",
    )
    free = shutil.disk_usage(room.folder).free / 1e6
    wanted = DISK_MB + DISK_A_LEARNER_MB * learners
    yield CheckLine("disk", f"{free:.0f} MB free", "" if free > wanted else f"About {wanted} MB are wanted: free some")


def _memory_mb() -> float:
    text = Path("/proc/meminfo").read_text(encoding="ascii")
    return int(re.search(r"MemTotal:\s+(\d+)", text)[1]) / 1024  # type: ignore[index] # Linux has this line


def _sandbox(room: Room) -> Iterator[CheckLine]:
    there = shutil.which("bwrap") is not None
    yield CheckLine(
        "box for lessons with code of your own",
        "bubblewrap" if there else "there is none: such lessons are not judged, the course's own need it not",
    )


def _limits(room: Room) -> Iterator[CheckLine]:
    chosen = room.settings
    yield CheckLine("limit of one program's memory", f"{chosen.memory_mb} MB")
    if chosen.passwords == FIRST_USE:
        yield CheckLine(
            "passwords", "chosen at the first login: the first to come under a name has it, so watch the first lesson"
        )
    else:
        yield CheckLine("passwords", "of this machine's accounts")
    certificate = (
        f"a certificate, {chosen.certificate[0]}"
        if chosen.certificate
        else (
            "none: on a network that others use passwords can be read, and "
            f"'{command_line(f'hub {room.folder} --certificate FILE KEY')}' helps"
        )
    )
    yield CheckLine("encryption", certificate)
    yield CheckLine(
        "servers that nobody uses", f"end after {chosen.idle_minutes:g} minutes, and come back by themselves"
    )
    yield CheckLine("live view", "on, and learners are told" if chosen.live else "off")
    runs = running.hub_process(room) is not None
    answers = runs and running.answers(room)
    yield CheckLine(
        "the room",
        f"open at {room.here}" if answers else ("does not answer" if runs else "closed"),
        f"What it says is in {room.log}" if runs and not answers else "",
    )


LOOKS: tuple[Callable[[Room], Iterator[CheckLine]], ...] = (
    _versions, _paths, _modes, _people, _exchange, _size, _sandbox, _limits,
)  # fmt: skip
