"""JupyterHub's configuration of a room; `hub/jupyterhub_config.py` calls `configure`."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path
from typing import Any

from course.learner.at_a_hub import CLASS, EXCHANGE, LIVE

from .at_work import DESK
from .room import FIRST_USE, Room, packages

API_TOKEN = "command.token"  # with which the command stops the hub
CONFIGURATION = "jupyterhub_config.py"
TEXT = '''"""Made by the command `hub`, and again at each start: change nothing here."""

import sys

sys.path.insert(0, {packages!r})
from course.hub.configuration import configure

configure(get_config(), {folder!r})  # noqa: F821 - JupyterHub gives the file this function
'''


def write(room: Room) -> Path:
    """Write the file that JupyterHub reads."""
    path = room.hub / CONFIGURATION
    path.write_text(TEXT.format(packages=packages(), folder=str(room.folder)), encoding="utf-8")
    return path


def environment(room: Room) -> dict[str, str]:
    """What every program of the room is told, learner's and desk's alike."""
    live = room.settings.live
    return {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ.get('PATH', os.defpath)}",
        "PYTHONPATH": packages(),
        "PYTHONWARNINGS": "ignore",
        "TIMING_COURSE_HERE": "1",
        CLASS: room.name,
        EXCHANGE: str(room.exchange),
        **({LIVE: "yes", DESK: f"http://127.0.0.1:{room.inner_port(3)}{room.desk_prefix}step"} if live else {}),
        # A learner's program is one of many on this machine: it works on one processor.
        "MALLOC_ARENA_MAX": "2",
        **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"),
    }


def configure(c: Any, folder: str) -> None:
    """Fill in the configuration for the room in `folder`."""
    room = Room.of(Path(folder))
    chosen = room.settings
    c.JupyterHub.bind_url = f"{'https' if chosen.certificate else 'http'}://{chosen.address}:{chosen.port}/"
    if chosen.certificate:
        c.JupyterHub.ssl_cert, c.JupyterHub.ssl_key = chosen.certificate
    c.JupyterHub.hub_bind_url = f"http://127.0.0.1:{room.inner_port(2)}"
    c.JupyterHub.db_url = f"sqlite:///{room.hub / 'jupyterhub.sqlite'}"
    c.JupyterHub.cookie_secret_file = str(room.hub / "cookie_secret")
    c.JupyterHub.pid_file = str(room.hub / "hub.pid")
    c.JupyterHub.cleanup_servers = False  # learners work on while the hub is started again
    c.JupyterHub.implicit_spawn_seconds = 0.5  # a page whose server was ended comes back without a press
    # How often the proxy is asked what is in use: what is not known yet is no use, to those who end servers.
    c.JupyterHub.last_activity_interval = max(1, min(60, int(15.0 * chosen.idle_minutes)))
    c.JupyterHub.default_url = lambda handler: _first_page(room, handler.current_user)
    # Thirty at once bring a small machine to a standstill, three at a time do not.
    c.JupyterHub.concurrent_spawn_limit = 3
    c.JupyterHub.tornado_settings = {"slow_spawn_timeout": 0}
    c.ConfigurableHTTPProxy.command = [shutil.which("node") or "node", str(room.proxy)]
    c.ConfigurableHTTPProxy.api_url = f"http://127.0.0.1:{room.inner_port(1)}"
    c.ConfigurableHTTPProxy.pid_file = str(room.hub / "proxy.pid")
    _people(c, room)
    _spawner(c, room)
    _desk(c, room)


def _first_page(room: Room, person: Any) -> str:
    """Where somebody comes after the login: an instructor to the desk, a learner to the lessons."""
    if person is None:
        return ""
    return room.desk_prefix if person.name in room.settings.instructors else "/hub/spawn"


def _people(c: Any, room: Room) -> None:
    chosen = room.settings
    if chosen.passwords == FIRST_USE:
        c.JupyterHub.authenticator_class = "firstuseauthenticator.FirstUseAuthenticator"
        c.FirstUseAuthenticator.dbm_path = str(room.hub / "passwords.dbm")
        c.FirstUseAuthenticator.create_users = False
    else:
        c.JupyterHub.authenticator_class = "jupyterhub.auth.PAMAuthenticator"
        c.PAMAuthenticator.open_sessions = False
    c.Authenticator.allowed_users = {*chosen.learners, *chosen.instructors}
    c.Authenticator.allow_existing_users = False  # else an account that left the class could still log in
    c.Authenticator.admin_users = set()
    c.Authenticator.blocked_users = {room.grader}
    learners, instructors = f"nbgrader-{room.name}", f"formgrade-{room.name}"  # as nbgrader calls them
    c.JupyterHub.load_groups = {
        learners: {"users": list(chosen.learners)},
        instructors: {"users": list(chosen.instructors)},
    }
    c.JupyterHub.load_roles = [
        {
            "name": "instructors-of-the-class",
            "scopes": [f"access:services!service={room.name}", f"read:services!service={room.name}"],
            "groups": [instructors],
        },
        {"name": "command", "scopes": ["shutdown", "admin:users", "admin:servers"], "services": ["command"]},
        {
            "name": "idle-culler",
            "scopes": ["list:users", "read:users:activity", "read:servers", "delete:servers"],
            "services": ["idle-culler"],
        },
    ]


def _spawner(c: Any, room: Room) -> None:
    c.JupyterHub.spawner_class = "course.hub.spawner.RoomSpawner"
    c.Spawner.cmd = [sys.executable, "-m", "course.hub.learner_server"]
    c.Spawner.start_timeout = c.Spawner.http_timeout = 180
    c.Spawner.mem_limit = room.settings.memory_mb * 1_000_000
    c.Spawner.poll_interval = 10  # a server that died is noticed by then
    c.Spawner.default_url = "/"
    c.Spawner.environment = environment(room)
    c.Spawner.env_keep = ["LANG", "LC_ALL"]


def _desk(c: Any, room: Room) -> None:
    token = (room.hub / API_TOKEN).read_text(encoding="utf-8").strip()
    idle_s = 60.0 * room.settings.idle_minutes
    c.JupyterHub.services = [
        {"name": "command", "api_token": token},
        {  # an open page answers its server's pings, which counts as use
            "name": "idle-culler",
            "command": [
                *(sys.executable, "-m", "jupyterhub_idle_culler"),
                *(f"--timeout={idle_s:.0f}", f"--cull-every={min(idle_s / 2.0, 300.0):.0f}"),
            ],
        },
        {
            "name": room.name,
            "url": f"http://127.0.0.1:{room.inner_port(3)}",
            "command": [sys.executable, "-m", "course.hub.desk", str(room.class_folder)],
            "user": room.grader,
            "cwd": str(room.class_folder),
            "environment": {**environment(room), "HOME": str(room.grader_home), "USER": room.grader},
            "oauth_no_confirm": True,
        },
    ]
