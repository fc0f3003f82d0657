"""Where everything of a room lies, and what was chosen for it.

FOLDER/            the superuser's; everybody may pass through it
    NAME/          the class folder, the grader account's alone (NAME is the folder's own name)
    grader/        that account's home
    exchange/      nbgrader's exchange: lessons out, hand-ins in, pages back
    hub/           the hub's own files, the superuser's alone
"""

from __future__ import annotations

import json
import os
import re
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import course
from engine_sim import TimingCourseError
from graders.submissions.roster import write_whole

NAME = re.compile(r"[a-z][a-z0-9-]{0,19}")
PROGRAM = Path("node_modules", "configurable-http-proxy", "bin", "configurable-http-proxy")
SETTINGS = "room.json"
PAM, FIRST_USE = "pam", "first-use"


class RoomError(TimingCourseError):
    """A room cannot be made, started or stopped; the text is for the person who runs the machine."""


@dataclass(frozen=True)
class Settings:
    """What was chosen for a room. `learners` and `instructors` are accounts; `certificate` holds the paths of a
    certificate and its key, where pages are served encrypted; `memory_mb` is the most that one learner's programs may
    take each; `live` says whether the instructor sees who is at which step; a server that nobody uses is ended after
    `idle_minutes`."""

    port: int = 8000
    address: str = ""
    passwords: str = PAM
    learners: tuple[str, ...] = ()
    instructors: tuple[str, ...] = ()
    made: tuple[str, ...] = ()
    certificate: tuple[str, ...] = ()
    memory_mb: int = 1500
    live: bool = False
    gradebook: str = ""
    idle_minutes: float = 60.0


@dataclass(frozen=True)
class Room:
    """The room in `folder`. Raises RoomError where the folder's name cannot be a class's."""

    folder: Path
    settings: Settings = field(default_factory=Settings)

    @classmethod
    def of(cls, folder: Path) -> Room:
        """The room in `folder`, with what was chosen for it before; as usual where nothing was."""
        folder = Path(folder).resolve()
        if not NAME.fullmatch(folder.name):
            raise RoomError(
                f"The folder's name becomes the name of the class and of accounts, and '{folder.name}' cannot be one: "
                "take a name of at most 20 small letters, digits and hyphens that begins with a letter."
            )
        path = folder / "hub" / SETTINGS
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
            chosen: dict[str, Any] = {
                key: tuple(value) if isinstance(value, list) else value for key, value in kept.items()
            }
            return cls(folder, Settings(**chosen))
        except FileNotFoundError:
            return cls(folder)
        except PermissionError:
            raise RoomError(f"{path} cannot be read: run this as the superuser, with sudo.") from None
        except (ValueError, TypeError) as error:
            raise RoomError(f"{path} is damaged ({error}): delete it, and start the room again.") from None

    def keep(self) -> None:
        """Write down what was chosen."""
        write_whole(self.hub / SETTINGS, json.dumps(asdict(self.settings), indent=1).encode())

    @property
    def name(self) -> str:
        """The name of the class."""
        return self.folder.name

    @property
    def class_folder(self) -> Path:
        """nbgrader's course."""
        return self.folder / self.name

    @property
    def grader_home(self) -> Path:
        """The home of the grader's account."""
        return self.folder / "grader"

    @property
    def hub(self) -> Path:
        """The hub's own files."""
        return self.folder / "hub"

    @property
    def exchange(self) -> Path:
        """nbgrader's exchange."""
        return self.folder / "exchange"

    @property
    def grader(self) -> str:
        """The account that owns the class folder, judges, and serves the instructor's desk."""
        return f"grader-{self.name}"

    @property
    def desk_prefix(self) -> str:
        """Where the instructor's desk stands."""
        return f"/services/{self.name}/"

    @property
    def log(self) -> Path:
        """What the hub and its services say."""
        return self.hub / "hub.log"

    @property
    def here(self) -> str:
        """The address of the room, as it is said to people."""
        scheme = "https" if self.settings.certificate else "http"
        return f"{scheme}://{self.settings.address or 'localhost'}:{self.settings.port}/"

    @property
    def proxy(self) -> Path:
        """The proxy's program."""
        return self.hub / "proxy" / PROGRAM

    def inner_port(self, number: int) -> int:
        """Ports on this machine alone: 1 the proxy's own, 2 the hub's, 3 the desk's."""
        return self.settings.port + number


def packages() -> str:
    """The folder in which the packages of the course lie, for PYTHONPATH."""
    return str(course.HERE.parent)


def outbound(exchange: Path, name: str) -> Path:
    """Where the lessons lie that a class handed out."""
    return exchange / name / "outbound"


def is_superuser() -> bool:
    """Whether this process may make accounts and become other people."""
    return hasattr(os, "geteuid") and os.geteuid() == 0
