"""The server of the plain pages: Voila with our page template, a home page, and nothing fetched from outside.

The home page stands at `/`; a lesson at `/lesson/<its folder>`. Each opened lesson has a kernel of its own, which ends
with the page; what was done is in the lesson's evidence, as in a notebook.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import threading
import webbrowser
from pathlib import Path
from types import FrameType
from typing import Any

import nbformat
import traitlets
from nbformat import NotebookNode
from tornado import ioloop
from traitlets.config import Config
from voila.app import Voila
from voila.configuration import VoilaConfiguration
from voila.tornado.handler import TornadoVoilaHandler

from course import PROMPT_CONNECTION
from course.authoring.build import KERNEL
from course.learner.known_lessons import cells_of_lesson, known_lessons, lesson_digest

from .lesson_list import NOT_HANDED_OUT, label_of, lessons_in, opening_of
from .owner_pages import WorkBehind, owner_handlers
from .pages import Glossary, Home, JudgeBehind, LayOutAgain, Printed, ProgressNow, Returned, write_page
from .style import page_style

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
LOG = ".course.log"
NEW_CELL = {
    "code": nbformat.v4.new_code_cell,
    "markdown": nbformat.v4.new_markdown_cell,
    "raw": nbformat.v4.new_raw_cell,
}
NOTEBOOK_TALK = re.compile(r"^\*\*First of all:\*\*.*?(?:\n\n|\Z)", re.MULTILINE | re.DOTALL)


class NotHandedOut(Exception):
    """A notebook that is no lesson of the course or of the learner's class."""


def lesson_alone(handler: Any, notebook: NotebookNode, cwd: str) -> NotebookNode:
    """The notebook as a page runs it: nothing but what its digest covers. Raises NotHandedOut for any other notebook,
    before anything of it is run."""
    if lesson_digest(notebook.cells) not in known_lessons(Path(handler.settings["plain_page_folder"])):
        raise NotHandedOut
    cells = [NEW_CELL[cell.cell_type](source=cell.source) for cell in cells_of_lesson(notebook.cells)]
    title = opening_of(cells).title or Path(cwd).name
    return without_notebook_talk(
        nbformat.v4.new_notebook(cells=cells, metadata={**KERNEL, "title": f"{title} · Timing course"})
    )


def without_notebook_talk(notebook: NotebookNode) -> NotebookNode:
    """Leave out the paragraph that tells how to run a notebook ("**First of all:** ..."): a page runs by itself."""
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            cell.source = NOTEBOOK_TALK.sub("", cell.source)
    return notebook


def with_its_neighbours(
    page_config: dict[str, Any], *, settings: dict, notebook_path: str, **_more: Any
) -> dict[str, Any]:
    """What Voila gives a page, and the lesson's label and the lessons before and after it."""
    lesson = Path(notebook_path).stem
    found = [one for one in lessons_in(Path(settings["plain_page_folder"])) if not one.problem]
    at = next((number for number, one in enumerate(found) if one.lesson == lesson), None)
    own = {"courseLabel": label_of(lesson)}
    if at is not None and at > 0:
        own |= {"courseBefore": found[at - 1].lesson, "courseBeforeTitle": found[at - 1].title}
    if at is not None and at + 1 < len(found):
        own |= {"courseNext": found[at + 1].lesson, "courseNextTitle": found[at + 1].title}
    return {**page_config, **own}


class LessonHandler(TornadoVoilaHandler):
    """One lesson as a page."""

    async def get(self, path: str | None = None) -> None:
        """Write the page of the lesson in the folder `path`."""
        # Asking for it gives the page the cookie with which it may end its kernel when it is left.
        _ = self.xsrf_token
        folder = (path or "").strip("/")
        try:
            await super().get(f"{folder}/{folder.rpartition('/')[2]}.ipynb")
        except NotHandedOut:
            self.set_status(403)
            write_page(self, "not_handed_out.html.j2", name=f"{folder}.ipynb", sentence=NOT_HANDED_OUT)


class PlainPage(Voila):
    """Voila over a learner's folder."""

    name = "plain-page"
    description = "Serve the lessons of a folder as plain pages."
    open_browser: bool
    first = traitlets.Unicode("", help="The page to open, below the home page.").tag(config=True)
    said_at_the_end = traitlets.Unicode("", help="What is said when it is closed; empty: where work is kept.").tag(
        config=True
    )

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
        configured.prelaunch_hook = lesson_alone
        configured.page_config_hook = with_its_neighbours
        super().setup_template_dirs()
        self.template_paths.insert(0, str(TEMPLATE))

    def start(self) -> None:
        """Serve until it is stopped; say where, once the address is known. What libraries and kernels say goes into a
        file of the folder."""
        terminal = os.dup(2)
        with (Path(self.root_dir) / LOG).open("wb") as log:
            os.dup2(log.fileno(), 2)
        try:
            self._serve()
        finally:
            os.dup2(terminal, 2)
            os.close(terminal)

    def _serve(self) -> None:
        opens = bool(self.open_browser)  # type: ignore[has-type]  # a trait of a library without types
        self.open_browser = False  # Voila's own opening leaves out the key
        loop = ioloop.IOLoop.current()
        loop.add_callback(self._say_where, opens)

        def end(_signal: int, _frame: FrameType | None) -> None:
            loop.add_callback_from_signal(loop.stop)

        for name in ("SIGTERM", "SIGHUP"):  # the second: the terminal's window was closed
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), end)
        super().start()

    def stop(self) -> None:
        """End every kernel and the judge behind the home page; a second Ctrl+C no longer interrupts."""
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        self.app.settings["plain_page_judge"].end()
        super().stop()
        with contextlib.suppress(OSError):  # a terminal that is gone reads nothing
            kept = f"The course is closed. Your work is kept in {self.root_dir}."
            print(f"\n{self.said_at_the_end or kept}", flush=True)

    def _say_where(self, opens: bool) -> None:
        print(f"Your course is at {self.address} (to close it, press Ctrl+C here)", flush=True)
        if opens:
            threading.Thread(target=webbrowser.open, args=(self.address,), daemon=True).start()

    @property
    def address(self) -> str:
        """Where the page to open stands, with the key that lets a browser in."""
        key = f"?token={self.identity_provider.token}" if self.identity_provider.token else ""
        return f"http://{self.ip or 'localhost'}:{self.port}{self.base_url}{self.first}{key}"

    def init_settings(self) -> dict:
        """Add the folder that the home page shows, and the judge behind it."""
        own = {"plain_page_folder": self.root_dir, "plain_page_judge": JudgeBehind(Path(self.root_dir))}
        own["plain_page_work"] = WorkBehind()
        return {**super().init_settings(), **own, "compress_response": True}  # a lesson's page is 5 MB of text

    def init_handlers(self) -> list:
        """Our pages in place of the file browser and of Voila's addresses of notebooks; the rest as it is."""
        replaced = (f"{self.server_url}voila/tree", f"{self.server_url}voila/render")
        kept: list[tuple] = []
        lessons: dict[str, Any] = {}
        for handler in super().init_handlers():
            if handler[1] is TornadoVoilaHandler:
                lessons = handler[2]
            if handler[0] != self.server_url and not handler[0].startswith(replaced):
                kept.append(handler)
        ours = {"voila_configuration": self.voila_configuration}
        return [
            (self.server_url, Home, ours),
            (f"{self.server_url}progress", ProgressNow, ours),
            (f"{self.server_url}lay-out-again/([^/]+)", LayOutAgain, ours),
            *owner_handlers(self.server_url, ours),
            (f"{self.server_url}glossary", Glossary, ours),
            (f"{self.server_url}given-back/([^/]+)", Returned, ours),
            (f"{self.server_url}(reference-card|your-engine-sheet)", Printed, ours),
            (f"{self.server_url}lesson/(.+)", LessonHandler, lessons),
            *kept,
        ]
