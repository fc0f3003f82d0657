"""`python -m course.hub.desk CLASS`: the instructor's desk at the hub, run by the grader's account.

Lessons are handed out, collected, judged, marked and given back here, on pages that the hub lets instructors into.
"""

from __future__ import annotations

import asyncio
import os
import sys
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

from jupyterhub.services.auth import HubOAuthCallbackHandler, HubOAuthenticated
from tornado import httpserver, netutil, web

from course.learner.at_a_hub import LIVE
from course.marking.server import Desk, MarkingPage, Script, Style, pages_of

from .at_work import WhoIsWhere
from .class_exchange import RoomClass

HERE = Path(__file__).resolve().parent
PATIENCE_S = 20
STEPS = {
    "hand-out": "Hand out",
    "collect": "Collect and judge",
    "give-back": "Give back",
    "report": "Make the report",
}


class Clerk:
    """Does one long piece of work at a time, by the commands of the course, and keeps what they said."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.doing = ""
        self.said = ""
        self._task: asyncio.Task | None = None

    def begin(self, step: str, lesson: str = "") -> None:
        """Begin a step, unless one is under way."""
        if not self.doing:
            self.doing = STEPS[step]
            self._task = asyncio.get_running_loop().create_task(self._do(step, lesson))

    async def _do(self, step: str, lesson: str) -> None:
        exchange = [sys.executable, "-m", "course.hub.class_exchange", str(self.folder)]
        by_command = [sys.executable, "-c", "from course.cli import main; main()"]
        commands = {
            "hand-out": [[*exchange, "hand-out", *([lesson] if lesson else [])]],
            "collect": [[*exchange, "collect"], [*by_command, "grade", str(self.folder)]],
            "give-back": [[*exchange, "give-back"]],
            "report": [[*by_command, "report", str(self.folder)]],
        }[step]
        said = []
        try:
            for command in commands:
                process = await asyncio.create_subprocess_exec(
                    *command,
                    stdin=asyncio.subprocess.DEVNULL,
                    stdout=asyncio.subprocess.PIPE,
                    stderr=asyncio.subprocess.STDOUT,
                    env={**os.environ, "COLUMNS": "100", "NO_COLOR": "1"},
                )
                output, _ = await process.communicate()
                said.append(output.decode("utf-8", "replace").strip())
        finally:
            self.said = "\n\n".join(filter(None, said)) or "Done."
            self.doing = ""


class AtTheHub(HubOAuthenticated):
    """A page that the hub lets instructors of this class into, and nobody else."""

    settings: dict[str, Any]
    request: Any
    redirect: Any
    current_user: Any

    @property
    def desk(self) -> Desk:
        """The marking desk of the person who is logged in."""
        name = self.current_user["name"]
        desks = self.settings["desks"]
        if name not in desks:
            where = f"{self.settings['prefix']}mark"
            desks[name] = Desk(self.settings["clerk"].folder, name, None, where, HERE / "templates")
        return desks[name]

    def prepare(self) -> None:
        """Let in who may, and send others to the hub's login."""
        if self.current_user is None:
            if self.request.method != "GET":
                raise web.HTTPError(403)
            self.redirect(self.get_login_url())


class AtTheDesk(AtTheHub, MarkingPage):
    """A page of the desk."""

    def write_error(self, status_code: int, **details: Any) -> None:
        """Say in one sentence what is wrong; to somebody who may not mark, without a desk."""
        if status_code == 403:
            self.finish("This page is for the instructors of the class. Go back to your lessons.")
        else:
            super().write_error(status_code, **details)


class Open(MarkingPage):
    """The style and the script of the pages, which tell nothing: the hub takes no cookie from a browser that fetches a
    module."""

    def prepare(self) -> None:
        """Let everybody have it."""


class Overview(AtTheDesk):
    """The lessons, what waits, and the steps of the week."""

    def get(self) -> None:
        """Write the page."""
        clerk = self.settings["clerk"]
        room = RoomClass.of(clerk.folder)
        handed_out, waiting = room.handed_out(), room.waiting()
        self.show(
            "overview.html.j2",
            class_name=room.name,
            home=self.settings["prefix"],
            lessons=[(name, name in handed_out, waiting.get(name, 0)) for name in room.course.lessons()],
            doing=clerk.doing,
            said=clerk.said,
            live=bool(os.environ.get(LIVE)),
            has_report=(clerk.folder / "report" / "index.html").is_file(),
        )

    def post(self) -> None:
        """Begin a step."""
        step = self.get_body_argument("step", "")
        if step in STEPS:
            self.settings["clerk"].begin(step, self.get_body_argument("lesson", ""))
        self.redirect(self.settings["prefix"], status=303)


class ReportPage(AtTheDesk):
    """The report on the class."""

    def get(self) -> None:
        """Write it as it was made; nothing of it may act on the desk."""
        path = self.settings["clerk"].folder / "report" / "index.html"
        if not path.is_file():
            raise web.HTTPError(404)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header(
            "Content-Security-Policy",
            "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'unsafe-inline'; "
            "sandbox allow-scripts",
        )
        self.write(path.read_text(encoding="utf-8"))


class Report(HubOAuthenticated, web.RequestHandler):
    """Where a learner is, told by the learner's own server."""

    def check_xsrf_cookie(self) -> None:
        """A server's token lets it in, and no cookie does."""

    async def post(self) -> None:
        """Take in one report, under the name that the hub has for the token."""
        kind, _, token = self.request.headers.get("Authorization", "").partition(" ")
        sender = await self.hub_auth.user_for_token(token, sync=False) if kind == "token" and token else None
        if sender is None or sender.get("kind") != "user":
            raise web.HTTPError(403)
        try:
            self.settings["who_is_where"].heard(sender["name"], self.request.body)
        except ValueError:
            raise web.HTTPError(400) from None


class AtWork(AtTheDesk):
    """Who is where."""

    def get(self) -> None:
        """Write the page, which loads itself again."""
        self.show(
            "at_work.html.j2",
            class_name=self.settings["clerk"].folder.name,
            home=self.settings["prefix"],
            rows=self.settings["who_is_where"].rows(),
        )


def application(folder: Path, prefix: str) -> web.Application:
    """The desk's pages below `prefix`, the marking pages among them."""
    desks: dict[str, Desk] = {}
    marking = [
        (pattern, type(f"{handler.__name__}AtTheHub", (Open if handler in (Script, Style) else AtTheDesk, handler), {}))
        for pattern, handler in pages_of(f"{prefix}mark")
    ]
    return web.Application(
        [
            (prefix, Overview),
            (rf"{prefix}report", ReportPage),
            (rf"{prefix}oauth_callback", HubOAuthCallbackHandler),
            *marking,
            *([(rf"{prefix}at-work", AtWork), (rf"{prefix}step", Report)] if os.environ.get(LIVE) else []),
        ],
        default_handler_class=AtTheDesk,
        desks=desks,
        clerk=Clerk(folder),
        who_is_where=WhoIsWhere(),
        prefix=prefix,
        cookie_secret=os.urandom(32),
        xsrf_cookies=True,
        log_function=lambda _: None,
    )


async def _until_alone(sockets: list, pages: web.Application) -> None:
    """Serve until the hub that began this is gone: the next hub begins a desk of its own at the same address."""
    server = httpserver.HTTPServer(pages)
    server.add_sockets(sockets)
    hub = os.getppid()
    while os.getppid() == hub:
        await asyncio.sleep(0.5)


def main() -> None:
    """Serve the desk of a class at the address that the hub gave."""
    os.umask(0o077)
    folder, address = Path(sys.argv[1]), urlparse(os.environ["JUPYTERHUB_SERVICE_URL"])
    pages = application(folder, os.environ["JUPYTERHUB_SERVICE_PREFIX"])
    asyncio.run(_until_alone(_sockets(address.port or 0, address.hostname or "127.0.0.1"), pages))


def _sockets(port: int, host: str) -> list:
    """The desk's address; a desk whose hub was killed leaves it within a second."""
    for _ in range(PATIENCE_S):
        try:
            return netutil.bind_sockets(port, host)
        except OSError:
            time.sleep(1)
    return netutil.bind_sockets(port, host)


if __name__ == "__main__":
    main()
