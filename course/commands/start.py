"""A learner's own folder: lessons laid out, the name written down, JupyterLab opened on the lesson."""

from __future__ import annotations

import getpass
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from course import HANDOUTS, JUPYTER_SETTINGS, PRE_SAVE_HOOK, PROMPT_CONNECTION
from course.authoring.edition import copy_what_is_missing, make_learners_edition
from course.learner.lesson_folder import learner_of
from engine_sim import TimingCourseError
from graders.exercises.packing import ENDING


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
            shutil.copyfile(handout, folder / handout.name)
    lessons = _from_class(handed_out, folder) if handed_out else make_learners_edition(folder)
    return lessons[0] / f"{lessons[0].name}.ipynb"


def _from_class(handed_out: Path, folder: Path) -> list[Path]:
    found = sorted(path.parent for path in handed_out.glob("*/*.ipynb") if path.stem == path.parent.name)
    if not found:
        raise MyCourseError(
            f"There are no lessons in {handed_out}: give the folder that holds the folders of the "
            "lessons, as your class handed them out."
        )
    for lesson in found:
        copy_what_is_missing(lesson, folder / lesson.name)
        if (lesson / f"{lesson.name}{ENDING}").is_file():  # the class's, not the learner's: it is kept up to date
            shutil.copyfile(lesson / f"{lesson.name}{ENDING}", folder / lesson.name / f"{lesson.name}{ENDING}")
    return [folder / lesson.name for lesson in found]


def _write_name(folder: Path, name: str) -> None:
    path = folder / "learner.toml"
    wanted = _checked_name(name) if name else ""
    if path.exists():
        found = learner_of(folder)
        if wanted and found != wanted:
            raise MyCourseError(
                f"{folder} belongs to '{found}', and '{wanted}' wants to learn: give another folder, "
                f"such as 'timing-course start {folder}-2 --name \"{wanted}\"'."
            )
        return
    wanted = wanted or os.environ.get("JUPYTERHUB_USER") or getpass.getuser()
    path.write_text(
        f"# Who is learning here; your engine is drawn from this name.\n"
        f"name = {json.dumps(wanted, ensure_ascii=False)}\n",
        encoding="utf-8",
    )


def _checked_name(name: str) -> str:
    name = name.strip()
    if not name or not name.isprintable() or len(name) > 100:
        raise MyCourseError("A name of one line and at most 100 letters is wanted after --name.")
    return name


def open_lessons(folder: Path, notebook: Path, browser: bool = True, port: int = 0) -> int:
    """Run JupyterLab on `folder`, opened on `notebook`, until it is stopped; return its exit status."""
    address = notebook.resolve().relative_to(folder.resolve()).as_posix()
    command = [
        "jupyterlab",
        f"--ServerApp.root_dir={folder.resolve()}",
        f"--LabApp.default_url=/lab/tree/{address}",
        f"--LabApp.app_settings_dir={JUPYTER_SETTINGS}",
        f"--LabApp.workspaces_dir={folder.resolve() / '.workspaces'}",  # no other folder's pages open beside it
        f"--ServerApp.kernel_websocket_connection_class={PROMPT_CONNECTION}",
        "--log-level=ERROR",
        f"--FileContentsManager.pre_save_hook={PRE_SAVE_HOOK}",
        *_browser_and_port(browser, port),
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # as in a container, where there is no other user
        command.append("--allow-root")
    print("The lesson opens in your browser; this window must stay open. To stop: press Ctrl+C here, twice.")
    return _served(command)


def open_plain_pages(folder: Path, browser: bool = True, port: int = 0) -> int:
    """Serve the lessons of `folder` as plain pages until it is stopped; return the exit status."""
    print("The list of lessons opens in your browser; this window must stay open. To stop: press Ctrl+C here.")
    return _served(["course.jupyter.plain_page", str(folder.resolve()), *_browser_and_port(browser, port)])


def _browser_and_port(browser: bool, port: int) -> list[str]:
    return [*([] if browser else ["--no-browser"]), *([f"--port={port}"] if port else [])]


def _served(module_and_options: list[str]) -> int:
    command = [sys.executable, "-m", *module_and_options]
    try:
        return subprocess.call(command, env={**os.environ, "PYTHONWARNINGS": "ignore"})
    except KeyboardInterrupt:
        return 0
