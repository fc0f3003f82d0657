"""The server of the plain pages: Voila with our page template, an index of lessons, and nothing fetched from outside.

The index stands at `/`; a lesson at `/voila/render/<its notebook>`. Each opened page has a kernel of its own, which
ends with the page; what was done is in the lesson's evidence, as in a notebook.
"""

from __future__ import annotations

import re
from pathlib import Path

from nbformat import NotebookNode
from tornado import ioloop, web
from traitlets.config import Config
from voila.app import Voila
from voila.configuration import VoilaConfiguration
from voila.handler import BaseVoilaHandler
from voila.tornado.handler import TornadoVoilaHandler

from course import PROMPT_CONNECTION
from graders.palette import DARK, LIGHT, css_variables

from .lesson_list import lessons_in

HERE = Path(__file__).resolve().parent
TEMPLATE = HERE / "templates" / "plain"
KEPT_EXTENSIONS = ("@jupyter-widgets/jupyterlab-manager", "@voila-dashboards/widgets-manager8", "anywidget")
DEFAULTS = Config(
    {
        "Voila": {"auto_token": True, "log_level": "ERROR", "kernel_websocket_connection_class": PROMPT_CONNECTION},
        # A page that was left without a word (a lid shut, a network gone) does not keep its kernel for ever.
        "MappingKernelManager": {"cull_idle_timeout": 1800, "cull_interval": 120},
    }
)
NOTEBOOK_TALK = re.compile(r"^\*\*First of all:\*\*.*?(?:\n\n|\Z)", re.MULTILINE | re.DOTALL)


def without_notebook_talk(_handler: object, notebook: NotebookNode, cwd: str) -> NotebookNode:
    """Leave out the paragraph that tells how to run a notebook ("**First of all:** ..."): a page runs by itself."""
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            cell.source = NOTEBOOK_TALK.sub("", cell.source)
    return notebook


def page_style() -> str:
    """The style sheet of index and lesson pages, with the palette's colours filled in."""
    sheet = (HERE / "plain_page.css").read_text(encoding="utf-8")
    dark = f"@media (prefers-color-scheme: dark) {{\n:root {{\n{css_variables(DARK)}\n}}\n}}"
    return f":root {{\n{css_variables(LIGHT)}\n}}\n{dark}\n{sheet}"


class IndexHandler(BaseVoilaHandler):
    """The list of lessons, in plain words."""

    @web.authenticated
    def get(self) -> None:
        """Write the page that lists what is in the folder now."""
        lessons = lessons_in(Path(self.settings["plain_page_folder"]))
        template = self.settings["voila_jinja2_env"].get_template("lessons.html.j2")
        self.write(template.render(lessons=lessons, base_url=self.base_url, style=page_style()))


class LessonHandler(TornadoVoilaHandler):
    """One lesson as a page."""

    async def get(self, path: str | None = None) -> None:
        """Write the page of the notebook at `path`."""
        # Asking for it gives the page the cookie with which it may end its kernel when it is left.
        _ = self.xsrf_token
        await super().get(path)


class PlainPage(Voila):
    """Voila over a learner's folder."""

    name = "plain-page"
    description = "Serve the lessons of a folder as plain pages."

    def initialize(self, argv: list[str] | None = None) -> None:
        """Take our defaults where the command line says nothing else."""
        self.update_config(DEFAULTS)
        super().initialize(argv)

    def load_config_file(self, *_arguments: object, **_options: object) -> None:
        """Read no settings of this machine: a page looks and works the same everywhere."""

    def setup_template_dirs(self) -> None:
        """Put our template before the ones it is built on, and fix what a page may load."""
        self.config.VoilaConfiguration.resources = {"plain_style": page_style()}
        configured = self.voila_configuration = VoilaConfiguration(parent=self)
        configured.template, configured.theme = "lab", "light"  # the palette alone decides between light and dark
        configured.allow_template_override = configured.allow_theme_override = "NO"
        configured.extension_allowlist = list(KEPT_EXTENSIONS)
        configured.prelaunch_hook = without_notebook_talk
        super().setup_template_dirs()
        self.template_paths.insert(0, str(TEMPLATE))

    def start(self) -> None:
        """Serve until it is stopped; say where, once the address is known."""
        ioloop.IOLoop.current().add_callback(lambda: print(f"Your lessons are at {self.address}", flush=True))
        super().start()

    @property
    def address(self) -> str:
        """Where the index stands, with the key that lets a browser in."""
        key = f"?token={self.identity_provider.token}" if self.identity_provider.token else ""
        return f"http://{self.ip or 'localhost'}:{self.port}{self.base_url}{key}"

    def init_settings(self) -> dict:
        """Add the folder that the index lists."""
        return {**super().init_settings(), "plain_page_folder": self.root_dir}

    def init_handlers(self) -> list:
        """Our index in place of the file browser, and our page of a lesson; the rest as it is."""
        replaced = (self.server_url, f"{self.server_url}voila/tree")
        kept = [
            handler
            for handler in super().init_handlers()
            if not handler[0].startswith(replaced[1]) and handler[0] != replaced[0]
        ]
        ours = {TornadoVoilaHandler: LessonHandler}
        return [
            (self.server_url, IndexHandler, {"voila_configuration": self.voila_configuration}),
            *((address, ours.get(handler, handler), *more) for address, handler, *more in kept),
        ]
