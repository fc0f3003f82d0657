"""`python -m course.hub.learner_server`: a learner's server at the hub, which serves the plain pages of the lessons and
nothing else: no notebook, no terminal, no marking."""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
from pathlib import Path
from urllib.parse import urlparse

from course.learner.quick_jsonschema import load_jsonschema_quickly

load_jsonschema_quickly()  # before anything reads a notebook

from jupyterhub.utils import url_path_join  # noqa: E402
from tornado import web  # noqa: E402

from course import HANDOUTS  # noqa: E402
from course.authoring.edition import copy_whole  # noqa: E402
from course.commands.start import lay_out  # noqa: E402
from course.jupyter.plain_page.pages import Home  # noqa: E402
from course.jupyter.plain_page.server import PlainPage  # noqa: E402
from course.learner.at_a_hub import CLASS, EXCHANGE, LIVE  # noqa: E402

from .at_work import tell_desk  # noqa: E402
from .room import outbound  # noqa: E402


def bring_lessons(folder: Path) -> None:
    """Lay out what the class handed out so far; what is there is kept, and is still the learner's."""
    handed_out = outbound(Path(os.environ[EXCHANGE]), os.environ[CLASS])
    if any(handed_out.glob("*/*.ipynb")):
        lay_out(folder, handed_out=handed_out)
        return
    folder.mkdir(exist_ok=True)
    for handout in HANDOUTS:
        if not (folder / handout.name).exists():
            copy_whole(handout, folder / handout.name)


class HomeAtHub(Home):
    """The home page, with the lessons that were handed out since it was last looked at, and pages that came back."""

    @web.authenticated
    async def get(self) -> None:  # type: ignore[override] # the pages are fetched by another process
        """Bring lessons and pages, then write the page."""
        bring_lessons(self.folder)
        process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "course.hub.handing_in"), stdin=asyncio.subprocess.DEVNULL, cwd=Path.home()
        )
        await process.wait()
        self.write_home()


class LearnersPages(PlainPage):
    """The plain pages, for whom the hub says it is."""

    name = "learners-pages"

    def init_handlers(self) -> list:
        """The home page of a hub in the place of the usual one, and the hub's ways in and out."""
        prefix = self.server_url
        found = []
        for handler in super().init_handlers():
            if handler[0] in ("/logout", "/oauth_callback"):
                handler = (url_path_join(prefix, handler[0]), *handler[1:])
            elif handler[1] is Home:
                handler = (handler[0], HomeAtHub, *handler[2:])
            found.append(handler)
        return found

    def init_settings(self) -> dict:
        """Say at which hub this is, for the way out."""
        return {**super().init_settings(), "plain_page_way_out": f"{self.base_url}logout"}

    def _say_where(self, opens: bool) -> None:
        """The hub knows where this is; the desk is told where the learner is, in a room where that was switched on."""
        if os.environ.get(LIVE):
            self.telling = asyncio.get_running_loop().create_task(tell_desk(Path(self.root_dir)))


def main() -> None:
    """Serve the learner's lessons until the hub ends it."""
    os.umask(0o077)
    folder = Path.home() / os.environ[CLASS]
    with contextlib.chdir(Path.home()):
        bring_lessons(folder)
    service = urlparse(os.environ["JUPYTERHUB_SERVICE_URL"])
    prefix = os.environ["JUPYTERHUB_SERVICE_PREFIX"]
    LearnersPages.launch_instance(
        [
            str(folder),
            "--no-browser",
            f"--port={service.port}",
            "--Voila.port_retries=0",
            f"--Voila.ip={service.hostname}",
            f"--base_url={prefix}",
            "--Voila.identity_provider_class=jupyterhub.singleuser.extension.JupyterHubIdentityProvider",
        ]
    )


if __name__ == "__main__":  # in a pod of its own; in a room it is forked (parent_of_servers.py)
    main()
