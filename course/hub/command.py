"""`hub FOLDER`: a room set up and started, or brought up to date; `hub stop FOLDER` and `hub check FOLDER`."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from graders.submissions.command_name import command_line

from . import running
from .room import FIRST_USE, PAM, Room, RoomError

WORDS = ("start", "stop", "check")


def run(
    word: str, folder: Path, roster: Path | None = None, chosen: Mapping[str, Any] | None = None, columns: str = ""
) -> int:
    """Do one of WORDS; return the exit status. `chosen` are fields of the room's settings to change; `columns` says
    which column of the roster is which, where its headings do not."""
    room = Room.of(folder)
    if word == "check":
        from .check_up import print_check

        return print_check(room)
    if word == "stop":
        print(f"Stopping the room {room.name}; this can take up to a minute ...", flush=True)
        print("The room is stopped. All work is kept." if running.stop(room) else "The room was not running.")
        return 0
    return _start(room, roster, chosen or {}, columns)


def _start(room: Room, roster: Path | None, chosen: Mapping[str, Any], columns: str) -> int:
    if chosen.get("passwords", PAM) not in (PAM, FIRST_USE):
        raise RoomError(f"--passwords is '{PAM}' or '{FIRST_USE}'; '{chosen['passwords']}' was found.")
    if "certificate" in chosen:
        files = tuple(str(Path(name).resolve()) for name in chosen["certificate"])
        missing = [name for name in files if not Path(name).is_file()]
        if missing:
            raise RoomError(
                f"There is no file {missing[0]}: give the certificate and its key with --certificate FILE KEY."
            )
        chosen = {**chosen, "certificate": files}
    before = room.settings
    if chosen.get("gradebook", before.gradebook) != before.gradebook and room.class_folder.exists():
        raise RoomError(
            "This class has its gradebook already, and marks are not carried to another one: name a database server "
            "when a room is opened for the first time."
        )
    instructors = chosen.get("instructors") or before.instructors or _person_behind_sudo()
    room = replace(room, settings=replace(before, **{**chosen, "instructors": tuple(instructors)}))
    room, said = running.set_up(room, roster, columns)
    print("\n".join(said), end="\n" if said else "")
    if running.hub_process(room) is not None:
        if running.answers(room) and _same(before, room.settings):
            print(f"The room {room.name} is open at {room.here}")
            return 0
        print("The hub is started again; learners work on meanwhile ...", flush=True)
        running.stop(room, learners_too=False)
    running.start(room)
    print(f"The room {room.name} is open at {room.here} for {len(room.settings.learners)} learner(s).")
    print(f"The instructor's desk is at {room.here.rstrip('/')}{room.desk_prefix}")
    if not room.settings.certificate:
        print("Passwords travel unencrypted: on a network that others use, give --certificate FILE KEY.")
    print(f"To look it over: {command_line(f'hub check {folder_as_typed(room)}')}")
    print(f"To close it: {command_line(f'hub stop {folder_as_typed(room)}')}")
    return 0


def folder_as_typed(room: Room) -> str:
    """The room's folder as it can be typed anywhere."""
    return str(room.folder)


def _same(one: Any, other: Any) -> bool:
    return replace(one, made=()) == replace(other, made=())


def _person_behind_sudo() -> tuple[str, ...]:
    person = os.environ.get("SUDO_USER", "")
    return (person,) if person and person != "root" else ()
