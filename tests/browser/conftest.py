"""A real notebook server and a real browser.

To load JupyterLab costs more than most tests do on it, so it is loaded once a worker: `desk` is that page for one test,
`desk_of_module` for all tests of a file that look at one notebook. A test that needs a page of its own, because it is
about loading it, takes `page`.
"""

from __future__ import annotations

import contextlib
import functools
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

import course
from course.commands.start import lay_out
from course.learner.known_lessons import remember_lessons
from course.widgets.shared.front_end import WIDGETS
from graders.model_answers.operator import SAFE
from tests.browser.bench_hands import choose
from tests.graders.instrument import TRIAL

REQUIRED = "TIMING_COURSE_REQUIRE_BROWSER"
LESSON = "l04_base_timing"
LEARNER = 'name = "Robin Vale"\n'
MODULES_AT = "http://modules.invalid"
ADDRESS = re.compile(r"http://\S+")
# The first draws no window round its pages: a lesson is opened on it for three quarters of the work.
CHROMIUM_NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
SCREEN = {"width": 1280, "height": 900}
MOVING = {"reduced_motion": "no-preference"}  # of a context or a page that shows what moves in life
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
# A module that serves, with its kernels forked as a hub's server has them: none imports the course for itself.
# test_plain_page.py and test_showing.py have the commands that a learner and an instructor give.
FORKING = """
import runpy, sys
import course.hub.loaded
from course.hub.forked import fork_kernels
fork_kernels()
runpy.run_module(sys.argv.pop(1), run_name="__main__", alter_sys=True)
"""
SERVER_STARTS_WITHIN_S = 60
CELLS_RUN_WITHIN_MS = 180_000
# What anywidget says of a part that a busy browser brings up late. It hears its kernel all the same, as
# test_late_parts.py shows.
LATE_PART = "[anywidget] Failed to initialize model."


def pytest_itemcollected(item):
    """Mark everything in this folder as a browser test."""
    if Path(__file__).parent in Path(item.path).parents:
        item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def browser():
    """One headless Chromium for all tests."""
    path = next((found for found in map(shutil.which, CHROMIUM_NAMES) if found), None)
    if path is None and not os.environ.get(REQUIRED):
        pytest.skip(f"no Chromium was found; install it, or set {REQUIRED}=1 to make this an error")
    assert path is not None, f"{REQUIRED} is set and none of {', '.join(CHROMIUM_NAMES)} was found"
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        # The picture of a running engine, drawn by the processor, takes half of one. It stands still where a test does
        # not ask for MOVING pictures.
        chromium.new_context = functools.partial(chromium.new_context, reduced_motion="reduce")
        yield chromium
        chromium.close()


@dataclass(frozen=True)
class Server:
    """A running notebook server over a folder."""

    folder: Path
    address: str
    token: str

    def asked(self, path: str, method: str = "GET") -> bytes:
        """The answer of the server's own interface."""
        request = urllib.request.Request(f"{self.address}/api/{path}?token={self.token}", method=method)
        with urllib.request.urlopen(request, timeout=10) as answer:
            return answer.read()

    def end_sessions(self) -> None:
        """End every kernel, so that no test pays for the engine of another."""
        for session in json.loads(self.asked("sessions")):
            self.asked(f"sessions/{session['id']}", "DELETE")


OPEN_IN_PLACE = """async (path) => {
    const {shell, commands} = window.jupyterapp;
    for (const panel of [...shell.widgets('main')]) panel.dispose();
    await commands.execute('docmanager:open', {path}); }"""
IS_READY = """async () => {
    const panel = window.jupyterapp.shell.currentWidget;
    await panel.context.ready; await panel.sessionContext.ready; }"""
# Until the file `go_on` lies beside the notebook; a kernel that is ended ends this, too.
OCCUPY = """() => { window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.requestExecute({code:
    "import pathlib, time\\nwhile not pathlib.Path('go_on').exists(): time.sleep(0.05)"}); }"""


@dataclass(frozen=True)
class Lab:
    """The notebook server as one test sees it: over a lesson folder of its own."""

    server: Server
    lesson: Path

    def open(self, page, notebook: str = f"{LESSON}.ipynb") -> None:
        """Open one notebook of the lesson, alone, in the JupyterLab that the page has, or load it; wait until its
        kernel is idle."""
        if not page.url.startswith(self.server.address):
            self.load(page, notebook)
            return
        page.evaluate(OPEN_IN_PLACE, self._path(notebook))
        self._wait_until_ready(page)

    def load(self, page, notebook: str = f"{LESSON}.ipynb") -> None:
        """Load the page of one notebook, whatever stood there before, and wait until its kernel is idle."""
        page.goto(f"{self.server.address}/doc/tree/{self._path(notebook)}?token={self.server.token}&reset")
        page.wait_for_function("window.jupyterapp && document.querySelector('.jp-Notebook')", timeout=60_000)
        self._wait_until_ready(page)

    def occupy_kernel(self, page) -> None:
        """Keep the kernel of the notebook on the page busy until `free_kernel`."""
        page.evaluate(OCCUPY)

    def free_kernel(self) -> None:
        """Let it go on."""
        (self.lesson / "go_on").touch()

    def _path(self, notebook: str) -> str:
        return (self.lesson / notebook).relative_to(self.server.folder).as_posix()

    def _wait_until_ready(self, page) -> None:
        page.evaluate(IS_READY)
        page.wait_for_selector("[data-status=idle]", state="attached", timeout=60_000)


@pytest.fixture(scope="session")
def server(browser, tmp_path_factory) -> Iterator[Server]:
    """A notebook server with settings of its own, ended after the last test."""
    place = tmp_path_factory.mktemp("server")
    folder = place / "lessons"
    folder.mkdir()
    port, token = free_port(), "for-these-tests-only"
    with (place / "lab.log").open("w") as log:
        process = subprocess.Popen(
            [
                *(sys.executable, "-c", FORKING, "jupyterlab"),
                "--no-browser",
                "--allow-root",
                "--expose-app-in-browser",
                f"--ServerApp.kernel_websocket_connection_class={course.PROMPT_CONNECTION}",
                f"--FileContentsManager.pre_save_hook={course.PRE_SAVE_HOOK}",
                *course.WITHOUT_CODE,
                f"--ServerApp.port={port}",
                f"--IdentityProvider.token={token}",
                f"--ServerApp.root_dir={folder}",
                f"--LabApp.app_settings_dir={course.JUPYTER_SETTINGS}",
                f"--LabApp.user_settings_dir={place / 'user'}",
                f"--LabApp.workspaces_dir={place / 'workspaces'}",
            ],
            env=server_environment(place),
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        running = Server(folder, f"http://127.0.0.1:{port}", token)
        try:
            wait_for_server(running, process, place / "lab.log")
            yield running
        finally:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(20)
            process.kill()


@pytest.fixture
def lesson(server) -> Path:
    """A lesson folder with a learner of our own workshop and, as its notebook, the lesson itself."""
    return new_lesson(server)


def new_lesson(server: Server) -> Path:
    """Make such a folder."""
    return lay_lesson(Path(tempfile.mkdtemp(dir=server.folder)) / LESSON)


def lay_lesson(folder: Path) -> Path:
    """Put the lesson as it is written, and the learner's name, into a new folder."""
    folder.mkdir(parents=True)
    (folder / "learner.toml").write_text(LEARNER, encoding="utf-8")
    shutil.copy(course.SOURCE / LESSON / f"{LESSON}.ipynb", folder)
    return folder


@pytest.fixture
def lab(server, lesson) -> Iterator[Lab]:
    """The notebook server over the lesson folder; its kernels end with the test."""
    yield Lab(server, lesson)
    server.end_sessions()


@pytest.fixture(scope="session")
def jupyterlab(browser):
    """The page on which JupyterLab is loaded once for all tests of a worker, and what its code finds wrong."""
    context = browser.new_context(viewport=SCREEN)
    page = context.new_page()
    yield page, faults_of(page)
    context.close()


@contextlib.contextmanager
def at_the_desk(jupyterlab, server: Server) -> Iterator:
    """The shared page for a while; it is left as it was found, and fails where the page's own code failed."""
    page, faults = jupyterlab
    faults.clear()
    page.bring_to_front()
    yield page
    clear_away(page, server)
    assert faults == []


def clear_away(page, server: Server) -> None:
    """Close what is open, and put back size, units, theme and time."""
    page.set_viewport_size(SCREEN)
    page.emulate_media(reduced_motion="reduce")
    if not page.url.startswith(server.address) or page.locator(".jp-Dialog").count():
        page.goto("about:blank")  # the next one loads it
    else:
        page.evaluate(CLEAR_AWAY)
        choose_theme(page, "JupyterLab Light")
    server.end_sessions()


CLEAR_AWAY = """() => {
    for (const panel of [...window.jupyterapp.shell.widgets('main')]) panel.dispose();
    delete performance.now; }"""


def choose_theme(page, theme: str) -> None:
    """Change JupyterLab's theme and wait until it is there."""
    light = f"body[data-jp-theme-light={str(theme.endswith('Light')).lower()}]"
    if page.locator(light).count() == 0:
        page.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
    page.wait_for_selector(light, state="attached")


def let_time_pass(page, milliseconds: float) -> None:
    """Move the page's clock on, so that a limit of many seconds is reached in none."""
    page.evaluate(
        """ms => { const now = performance.now.bind(performance); performance.now = () => now() + ms; }""",
        milliseconds,
    )


@pytest.fixture
def desk(jupyterlab, server):
    """The shared page for one test."""
    with at_the_desk(jupyterlab, server) as page:
        yield page


@pytest.fixture(scope="module")
def desk_of_module(jupyterlab, server):
    """The shared page for all tests of a module that leave it as they found it; such a module takes no `desk`."""
    with at_the_desk(jupyterlab, server) as page:
        yield page


@pytest.fixture(scope="module")
def lab_of_module(server) -> Lab:
    """The notebook server over one lesson folder for all tests of a module."""
    return Lab(server, new_lesson(server))


@pytest.fixture(scope="module")
def open_bench(lab_of_module, desk_of_module, running_bench):
    """The lesson l04, run, its engine running, for all tests of a module that leave it as they found it."""
    running_bench(lab_of_module, desk_of_module)
    return desk_of_module


@pytest.fixture
def page(browser):
    """A page of a test's own, as wide as a classroom's screen, that fails the test where the page's own code fails."""
    context = browser.new_context(viewport=SCREEN)
    page = context.new_page()
    faults = faults_of(page)
    yield page
    context.close()
    assert faults == []


def faults_of(page) -> list[str]:
    """A list that fills with what the page's own code finds wrong."""
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)) if str(error) != LATE_PART else None)
    return faults


def server_environment(place: Path) -> dict[str, str]:
    """The environment of the server: nothing of the machine's own Jupyter settings reaches it."""
    names = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR")
    own = {name: str(place / name.lower()) for name in names}
    return {**os.environ, **own, "JUPYTER_NO_CONFIG": "1"}


def wait_for_server(server: Server, process: subprocess.Popen, log: Path) -> None:
    """Wait until the server answers; show its log where it does not."""
    until = time.monotonic() + SERVER_STARTS_WITHIN_S
    while time.monotonic() < until and process.poll() is None:
        try:
            server.asked("status")
            return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"the notebook server did not start:\n{log.read_text()[-2000:]}")


def free_port() -> int:
    """A port that nobody uses at present."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@dataclass(frozen=True)
class PlainPages:
    """The server of `timing-course start` over a learner's folder; or, of the same server, a folder within."""

    folder: Path
    index: str
    within: str = ""
    root: Path = Path()

    @property
    def lesson(self) -> Path:
        """The folder of the lesson."""
        return self.folder / LESSON

    @property
    def origin(self) -> str:
        """The address of the server."""
        return self.index.partition("/?")[0]

    @property
    def key(self) -> str:
        """What an address ends with to let a browser in."""
        return self.index.partition("/?")[2]

    def within_folder(self, name: str) -> PlainPages:
        """The pages of a folder within this one, which the list of lessons does not name."""
        return PlainPages(self.folder / name, self.index, f"{self.within}{name}/", self.root)

    def may_run(self, *notebooks: Path) -> None:
        """Make these notebooks lessons that the pages know."""
        remember_lessons(self.root, notebooks)

    def address_of(self, lesson: str) -> str:
        """Where a lesson stands."""
        return f"{self.origin}/lesson/{self.within}{lesson}?{self.key}"

    def open(self, page) -> None:
        """Open the lesson and wait until every part of it is there."""
        page.goto(self.address_of(LESSON))
        page.wait_for_selector(".cf-choice", timeout=90_000)
        page.wait_for_selector(".engine-bench [data-control=brake]", state="attached", timeout=30_000)

    def forget(self) -> None:
        """Put away what the tests before did."""
        (self.lesson / "evidence.jsonl").unlink(missing_ok=True)


@pytest.fixture(scope="session")
def learners_folder(tmp_path_factory) -> Path:
    """A learner's folder with every lesson, as `timing-course start` lays it out; to be copied, not worked in."""
    folder = tmp_path_factory.mktemp("laid out") / "my course"
    lay_out(folder, "Robin Vale")
    return folder


@pytest.fixture(scope="session")
def plain_server(browser, tmp_path_factory) -> Iterator[PlainPages]:
    """One server of plain pages for all tests of a worker."""
    folder, log = tmp_path_factory.mktemp("plain") / "my course", tmp_path_factory.mktemp("log") / "plain.log"
    lay_lesson(folder / LESSON)
    (folder / "learner.toml").write_text(LEARNER, encoding="utf-8")
    pages = (str(folder), "--no-browser", f"--port={free_port()}")
    command = [sys.executable, "-c", FORKING, "course.jupyter.plain_page", *pages]
    with log.open("w") as out:
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, start_new_session=True)
        try:
            pages = PlainPages(folder, address_in(log, process), root=folder)
            pages.may_run(folder / LESSON / f"{LESSON}.ipynb")
            yield pages
        finally:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(20)
            process.kill()


def address_in(log: Path, process: subprocess.Popen) -> str:
    """The address that the server writes when it can be asked."""
    until = time.monotonic() + SERVER_STARTS_WITHIN_S
    while time.monotonic() < until and process.poll() is None:
        found = ADDRESS.search(log.read_text())
        if found:
            return found[0]
        time.sleep(0.1)
    pytest.fail(f"the plain pages were not served:\n{log.read_text()[-2000:]}")


@pytest.fixture
def plain(plain_server):
    """The plain pages with no evidence yet."""
    plain_server.forget()
    return plain_server


def write_notebook(path: Path, *sources: str) -> None:
    """Write a notebook of code cells."""
    cells = [
        {
            "cell_type": "code",
            "id": f"cell-{index}",
            "metadata": {},
            "source": source,
            "outputs": [],
            "execution_count": None,
        }
        for index, source in enumerate(sources)
    ]
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    content = {"nbformat": 4, "nbformat_minor": 5, "metadata": kernel, "cells": cells}
    path.write_text(json.dumps(content), encoding="utf-8")


def trial_lesson(server: Server, lesson: str, learner: str) -> Path:
    """A lesson folder of a trial rubric, with its learner and no notebook yet."""
    folder = Path(tempfile.mkdtemp(dir=server.folder)) / lesson
    folder.mkdir()
    (folder / "learner.toml").write_text(f'name = "{learner}"\n', encoding="utf-8")
    return folder


def open_trial(lab: Lab, page, cells: dict[str, str], wait_for: str):
    """Open and run a notebook with the forms of a trial rubric, `cells` by exercise; return the page it is on."""
    first = (
        f"import ipywidgets\nipywidgets.Widget.close_all()\n"  # what a run before this one left
        f"import pathlib, graders.exercises.loader\ngraders.exercises.loader.FOLDER = pathlib.Path({str(TRIAL)!r})\n"
        f"from course.widgets import {', '.join(sorted(set(cells.values())))}"
    )
    write_notebook(lab.lesson / "forms.ipynb", first, *(f'{cell}("{name}")' for name, cell in cells.items()))
    lab.open(page, "forms.ipynb")
    run_all(page, wait_for)
    return page


def run_all(page, wait_for: str) -> None:
    """Run every cell and wait for what they show."""
    page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
    page.wait_for_selector(wait_for, state="attached", timeout=CELLS_RUN_WITHIN_MS)


def run_again(page, wait_for: str) -> None:
    """Run every cell once more in the same kernel, with nothing left of what they showed."""
    page.evaluate("window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.wait_for_selector(wait_for, state="detached")
    run_all(page, wait_for)


@pytest.fixture(scope="session")
def notebook():
    """The helpers that write and run a notebook."""
    from types import SimpleNamespace

    return SimpleNamespace(
        write=write_notebook,
        run_all=run_all,
        run_again=run_again,
        made_ready=MADE_READY,
        trial_lesson=trial_lesson,
        open_trial=open_trial,
    )


RUNNING = "document.querySelector('.eb-state').textContent === 'Running'"
MADE_READY = (
    *SAFE.items(),
    ("gear", "park"),
    ("tachometer", "on"),
    ("gauge_hose", "manifold"),
    ("vacuum_hose", "off and plugged"),
)


@pytest.fixture(scope="session")
def running_bench():
    """Open the lesson, make the engine ready, start it, and return its bench with the clamp loose."""

    def prepared(lab: Lab, page):
        lab.open(page)
        run_all(page, ".cf-choice")
        bench = page.locator(".engine-bench").first
        for control, value in MADE_READY:
            choose(bench, control, value)
        bench.locator("[data-control=starter]").click()
        page.wait_for_function(RUNNING, timeout=30_000)
        choose(bench, "clamp", "loose")
        page.wait_for_function(
            "document.querySelector('[data-control=clamp][data-value=loose]').ariaPressed === 'true'"
        )
        return bench

    return prepared


@pytest.fixture(scope="module")
def modules(browser):
    """A page that can import every module of the front end, from their files alone: no other address answers."""
    context = browser.new_context()
    page = context.new_page()

    def answer(route):
        name = route.request.url.removeprefix(f"{MODULES_AT}/")
        if name == "":
            route.fulfill(content_type="text/html", body="<!DOCTYPE html><title>modules</title><body></body>")
        elif (WIDGETS / name).is_file() and name.endswith(".js"):
            route.fulfill(content_type="text/javascript", body=(WIDGETS / name).read_text(encoding="utf-8"))
        else:
            route.fulfill(status=404, body="")

    page.route("**/*", answer)
    page.goto(f"{MODULES_AT}/")

    def tried(name: str, script: str):
        return page.evaluate(f"async () => {{ const part = await import('/{name}'); {script} }}")

    yield tried
    context.close()
