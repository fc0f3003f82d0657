"""A learner's own folder: lessons laid out, the name written down, JupyterLab opened on the lesson."""

from __future__ import annotations

import getpass
import json
import os
import subprocess
import sys
from pathlib import Path

from course import JUPYTER_SETTINGS
from course.build import make_learners_edition
from course.lesson_folder import learner_of
from engine_sim.errors import TimingCourseError


class MyCourseError(TimingCourseError):
    """A learner's folder cannot be laid out or opened."""


def lay_out(folder: Path, name: str = "") -> Path:
    """Lay out the lessons in `folder` for the learner `name` (else the login name); return the first notebook.

    Nothing that exists is overwritten. Raises MyCourseError where the folder belongs to somebody else by name.
    """
    if folder.exists() and not folder.is_dir():
        raise MyCourseError(f"{folder} is a file, and a folder is wanted: give another name for your course folder.")
    folder.mkdir(parents=True, exist_ok=True)
    _write_name(folder, name)
    lessons = make_learners_edition(folder)
    if not lessons:
        raise MyCourseError("This copy of the course holds no lessons: get the whole course again.")
    return lessons[0] / f"{lessons[0].name}.ipynb"


def _write_name(folder: Path, name: str) -> None:
    path = folder / "learner.toml"
    wanted = _checked_name(name) if name else ""
    if path.exists():
        found = learner_of(folder)
        if wanted and found != wanted:
            raise MyCourseError(f"{folder} belongs to '{found}', and '{wanted}' wants to learn: give another folder, such "
                                f"as 'timing-course start {folder}-2 --name \"{wanted}\"'.")
        return
    wanted = wanted or os.environ.get("JUPYTERHUB_USER") or getpass.getuser()
    path.write_text(f"# Who is learning here; your engine is drawn from this name.\n"
                    f"name = {json.dumps(wanted, ensure_ascii=False)}\n", encoding="utf-8")


def _checked_name(name: str) -> str:
    name = name.strip()
    if not name or not name.isprintable() or len(name) > 100:
        raise MyCourseError("A name of one line and at most 100 letters is wanted after --name.")
    return name


def open_lessons(folder: Path, notebook: Path, browser: bool = True, port: int = 0) -> int:
    """Run JupyterLab on `folder`, opened on `notebook`, until it is stopped; return its exit status."""
    address = notebook.resolve().relative_to(folder.resolve()).as_posix()
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}",
               f"--LabApp.default_url=/lab/tree/{address}", f"--LabApp.app_settings_dir={JUPYTER_SETTINGS}",
               *([] if browser else ["--no-browser"]), *([f"--port={port}"] if port else [])]
    print("JupyterLab opens in your browser; this window must stay open. To stop: press Ctrl+C here, twice.")
    try:
        return subprocess.call(command)
    except KeyboardInterrupt:
        return 0
