"""A learner's own folder: lessons laid out, the name written down, the home page or JupyterLab opened."""

from __future__ import annotations

import contextlib
import getpass
import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import warnings
import webbrowser
from pathlib import Path

from course import EDITION, HANDOUTS, JUPYTER_SETTINGS, PRE_SAVE_HOOK, PROMPT_CONNECTION, WITHOUT_CODE
from course.authoring.edition import copy_what_is_missing, copy_whole, lessons
from course.learner.known_lessons import LEDGER, remember_lessons
from course.learner.lesson_folder import learner_of
from engine_sim import TimingCourseError
from graders.exercises.loader import cards_folder
from graders.exercises.packing import ENDING
from graders.submissions.command_name import command_line

LOG = ".course.log"  # what libraries say, which is no learner's matter
# Where Jupyter, IPython, matplotlib and the engine keep what they need, usually in the home folder.
OWN_FOLDERS = (
    *("JUPYTER_RUNTIME_DIR", "JUPYTER_DATA_DIR", "JUPYTER_CONFIG_DIR", "IPYTHONDIR", "MPLCONFIGDIR"),
    "TIMING_COURSE_CACHE",
)


class MyCourseError(TimingCourseError):
    """A learner's folder cannot be laid out or opened."""


def lay_out(folder: Path, name: str = "", handed_out: Path | None = None) -> Path:
    """Lay out lessons, glossary and reference card in `folder` for the learner `name` (else the login name); return the
    first notebook.

    `handed_out` is the folder of lessons that a class gave out, where the learner belongs to one. Nothing that exists
    is overwritten but the class's rubrics. Raises MyCourseError where the folder belongs to somebody else by name, or
    there are no lessons.
    """
    if folder.exists() and not folder.is_dir():
        raise MyCourseError(f"{folder} is a file, and a folder is wanted: give another name for your course folder.")
    folder.mkdir(parents=True, exist_ok=True)
    _write_name(folder, name)
    for handout in HANDOUTS:
        if not (folder / handout.name).exists():
            copy_whole(handout, folder / handout.name)
    laid_out = _from_class(handed_out, folder) if handed_out else _from_course(folder)
    return laid_out[0] / f"{laid_out[0].name}.ipynb"


def _from_course(folder: Path) -> list[Path]:
    """Lay out the lessons that are missing. A folder of an older edition learns which notebooks are the course's."""
    known = (folder / LEDGER).is_file()
    wanted = [one for one in lessons(EDITION) if not known or not (folder / one / f"{one}.ipynb").exists()]
    remember_lessons(folder, [EDITION / one / f"{one}.ipynb" for one in wanted])
    for one in wanted:
        copy_what_is_missing(EDITION / one, folder / one)
    return [folder / one for one in lessons(EDITION)]


def _from_class(handed_out: Path, folder: Path) -> list[Path]:
    found = sorted(path.parent for path in handed_out.glob("*/*.ipynb") if path.stem == path.parent.name)
    if not found:
        raise MyCourseError(
            f"There are no lessons in {handed_out}: give the folder that holds the folders of the "
            "lessons, as your class handed them out."
        )
    remember_lessons(folder, [lesson / f"{lesson.name}.ipynb" for lesson in found])
    for lesson in found:
        copy_what_is_missing(lesson, folder / lesson.name)
        # Rubric and engine cards are the class's, not the learner's: they are kept up to date.
        if (lesson / f"{lesson.name}{ENDING}").is_file():
            shutil.copyfile(lesson / f"{lesson.name}{ENDING}", folder / lesson.name / f"{lesson.name}{ENDING}")
        _same_cards(cards_folder(lesson), cards_folder(folder / lesson.name))
    return [folder / lesson.name for lesson in found]


def _same_cards(handed_out: Path, here: Path) -> None:
    cards = {path.name: path for path in handed_out.glob("*.toml")}
    for path in here.glob("*.toml"):
        if path.name not in cards:
            path.unlink()
    for name, path in cards.items():
        shutil.copyfile(path, here / name)


def _write_name(folder: Path, name: str) -> None:
    path = folder / "learner.toml"
    wanted = _checked_name(name) if name else ""
    if path.exists():
        found = learner_of(folder)
        if wanted and found != wanted:
            raise MyCourseError(
                f"{folder} already holds {found}'s work. Use another folder for {wanted}, "
                f"such as '{command_line(f'start {folder}-2 --name')} \"{wanted}\"'."
            )
        return
    wanted = wanted or os.environ.get("JUPYTERHUB_USER") or _login_name()
    path.write_text(
        f"# Who is learning here; your engine is drawn from this name.\n"
        f"name = {json.dumps(wanted, ensure_ascii=False)}\n",
        encoding="utf-8",
    )


def _login_name() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # the second from Python 3.13 on
        raise MyCourseError(
            f"Your account on this machine has no name. Begin with your own: '{command_line('start --name NAME')}'."
        ) from None


def _checked_name(name: str) -> str:
    name = name.strip()
    if not name or not name.isprintable() or len(name) > 100:
        raise MyCourseError("A name of one line and at most 100 letters is wanted after --name.")
    return name


def _let_programs_write(folder: Path) -> None:
    """Where nothing can be written in the home folder, or there is none, the programs behind the pages keep their own
    files in the course folder."""
    try:
        with tempfile.TemporaryFile(dir=Path.home()):
            return
    except (OSError, RuntimeError):  # the second: an account without a home folder
        for name in OWN_FOLDERS:
            os.environ.setdefault(name, str(folder.resolve() / ".programs" / name.lower()))


def open_plain_pages(folder: Path, browser: bool = True, port: int = 0, *more: str) -> int:
    """Serve the home page and the lessons of `folder` until it is stopped; return the exit status. `more` are further
    options of the server."""
    _let_programs_write(folder)
    os.environ["PYTHONWARNINGS"] = "ignore"  # for the programs behind the pages
    warnings.simplefilter("ignore")
    from course.jupyter.plain_page.server import PlainPage

    options = [*([] if browser else ["--no-browser"]), *([f"--port={port}"] if port else [])]
    PlainPage.launch_instance([str(folder.resolve()), *options, *more])
    return 0


def open_notebooks(folder: Path, notebook: Path, browser: bool = True, port: int = 0) -> int:
    """Run JupyterLab on `folder`, with `notebook` alone in view, until it is stopped; return its exit status."""
    import jupyterlab  # noqa: F401 - a program of its own below; where it is missing, that is said before it starts

    _let_programs_write(folder)
    port = port or _free_port()
    key = secrets.token_hex(24)
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "-y", "--log-level=ERROR"),  # -y: one Ctrl+C is enough
        f"--ServerApp.root_dir={folder.resolve()}",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        f"--LabApp.default_url=/doc/tree/{notebook.resolve().relative_to(folder.resolve()).as_posix()}",
        f"--LabApp.app_settings_dir={JUPYTER_SETTINGS}",
        f"--LabApp.workspaces_dir={folder.resolve() / '.workspaces'}",  # no other folder's pages open beside it
        f"--ServerApp.kernel_websocket_connection_class={PROMPT_CONNECTION}",
        f"--FileContentsManager.pre_save_hook={PRE_SAVE_HOOK}",
        *WITHOUT_CODE,
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # as in a container, where there is no other user
        command.append("--allow-root")
    # The key goes through the environment, where other users of the machine cannot read it.
    environment = {**os.environ, "PYTHONWARNINGS": "ignore", "JUPYTER_TOKEN": key}
    with (folder / LOG).open("wb") as log:
        process = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
    for name in ("SIGTERM", "SIGHUP"):  # the second: the terminal's window was closed
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda *_: process.terminate())
    return _until_closed(process, folder, port, f"http://localhost:{port}/?token={key}", browser)


def _until_closed(process: subprocess.Popen, folder: Path, port: int, address: str, browser: bool) -> int:
    answers = False
    while process.poll() is None:
        try:
            if not answers and _answers(port):
                answers = True
                print(f"Your lessons are at {address} (to close them, press Ctrl+C here)", flush=True)
                if browser:
                    webbrowser.open(address)
            time.sleep(0.2)
        except KeyboardInterrupt:  # JupyterLab gets the key, too, and ends its kernels
            continue
    if not answers and process.returncode > 0:
        raise MyCourseError(
            f"JupyterLab did not start; what it said is in {folder / LOG}. If port {port} is taken, give another one: "
            f"'{command_line('start --notebook --port NUMBER')}'."
        )
    print(f"\nThe course is closed. Your work is kept in {folder.resolve()}.", flush=True)
    return 0


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _free_port() -> int:
    """8888, which JupyterLab is known by, or any other that is free."""
    for port in (8888, 0):
        with contextlib.suppress(OSError), socket.socket() as probe:
            probe.bind(("127.0.0.1", port))
            return probe.getsockname()[1]
    raise MyCourseError("No port is free on this machine: close a program that serves pages, and start again.")
