"""The accounts of a room: one for each line of the class list, the instructors', and the grader's, into which nobody
logs in."""

from __future__ import annotations

import csv
import os
import pwd
import re
import secrets
import shutil
import subprocess
from collections.abc import Iterable, Mapping
from pathlib import Path

from .room import FIRST_USE, Room, RoomError

ACCOUNT = re.compile(r"[a-z_][a-z0-9_-]{0,31}")
FIRST_OF_PEOPLE = 1000  # accounts below it belong to the machine
PASSWORDS = "passwords.csv"
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another
NO_LOGIN = "/usr/sbin/nologin"


def problems_of(names: Iterable[str], grader: str) -> list[str]:
    """A sentence for each id of the class list, or instructor, that cannot be an account of this room."""
    found = []
    for name in names:
        if not ACCOUNT.fullmatch(name):
            found.append(
                f"'{name}' cannot be an account: give that person an id of small letters, digits, - and _ that begins "
                "with a letter and has at most 32 signs."
            )
        elif name == grader or _uid(name, FIRST_OF_PEOPLE) < FIRST_OF_PEOPLE:
            found.append(f"'{name}' is an account of the machine itself: give that person another id.")
    return found


def _uid(name: str, otherwise: int) -> int:
    try:
        return pwd.getpwnam(name).pw_uid
    except KeyError:
        return otherwise


def exists(name: str) -> bool:
    """Whether there is such an account."""
    return _uid(name, -1) >= 0


def make_accounts(room: Room) -> list[str]:
    """Make the accounts that are missing and return their names; homes that are made are their owners' alone."""
    if not exists(room.grader):
        _run("useradd", "--system", "--user-group", "--no-create-home", "--home-dir", str(room.grader_home),
             "--shell", NO_LOGIN, room.grader)  # fmt: skip
    made = []
    for name in (*room.settings.learners, *room.settings.instructors):
        if not exists(name):
            _run("useradd", "--create-home", "--user-group", "--shell", NO_LOGIN, name)
            os.chmod(pwd.getpwnam(name).pw_dir, 0o700)
            made.append(name)
    return made


def give_passwords(room: Room, names: Iterable[str]) -> Path | None:
    """Give these accounts a password each, and write them into a file of the superuser's; None where nobody gets one.

    Where passwords are chosen at the first login, only instructors get one: else the first to come could be them.
    """
    first_use = room.settings.passwords == FIRST_USE
    wanted = [name for name in names if not first_use or name in room.settings.instructors]
    given = {name: "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(3)) for name in wanted}
    if not given:
        return None
    if first_use:
        _set_first_use(room.hub / "passwords.dbm", given)
    else:
        lines = "".join(f"{name}:{password}\n" for name, password in given.items())
        _run("chpasswd", said=lines)
    path = room.hub / PASSWORDS
    new = not path.exists()
    with path.open("a", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        if new:
            os.chmod(path, 0o600)
            table.writerow(["account", "password"])
        table.writerows(given.items())
    return path


def _set_first_use(path: Path, given: Mapping[str, str]) -> None:
    import dbm

    import bcrypt

    with dbm.open(str(path), "c", 0o600) as kept:
        for name, password in given.items():
            kept[name] = bcrypt.hashpw(password.encode(), bcrypt.gensalt())


def _run(*command: str, said: str = "") -> None:
    if shutil.which(command[0]) is None:
        raise RoomError(f"The program {command[0]} is missing, which makes accounts: install the package 'passwd'.")
    done = subprocess.run(command, input=said, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RoomError(f"An account could not be made; {command[0]} said: {(done.stderr or done.stdout).strip()}")
