"""Copies of the checkout in which tests run on changed source, and which lines each file of tests goes through."""

from __future__ import annotations

import contextlib
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import coverage

from .drawing import CHECKOUT, Mutation

COPIED = (
    *("engine_sim", "graders", "course", "tests", "pyproject.toml", "README.md", "DEVELOPERS.md"),
    *(".biome.json", ".tsconfig.json", ".pre-commit-config.yaml", ".github", ".cloud"),
)
PACKAGES = ("engine_sim", "graders", "course")
PYTEST = ("-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "-m", "not browser")
NO_TESTS_COLLECTED = 5
LONGEST_S = 1800.0  # for one file of tests on unchanged source


class CannotJudge(Exception):
    """A test fails on unchanged source, so nothing can be said of changed source."""


@dataclass(frozen=True)
class Reach:
    """What one file of tests goes through: lines by source file, and how long it takes."""

    seconds: float
    lines: dict[str, frozenset[int]]


class Copy:
    """A copy of the checkout in `folder`."""

    def __init__(self, folder: Path):
        self.folder = folder
        for name in COPIED:
            source = CHECKOUT / name
            if source.is_dir():
                shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(source, folder / name)

    @contextlib.contextmanager
    def changed(self, mutation: Mutation) -> Iterator[None]:
        """The source with one change, for as long as wanted."""
        path = self.folder / mutation.path
        text = path.read_text(encoding="utf-8")
        self._write(path, mutation.applied(text))
        try:
            yield
        finally:
            self._write(path, text)

    @staticmethod
    def _write(path: Path, text: str) -> None:
        path.write_text(text, encoding="utf-8")
        # What was compiled is taken as good by time and size, and both may be those of the text before.
        Path(importlib.util.cache_from_source(str(path))).unlink(missing_ok=True)

    def pytest(self, files: Iterable[str], within_s: float, *program: str) -> tuple[int | None, str]:
        """Run files of tests; the exit status, or None where they took longer than allowed, and what was printed."""
        command = [sys.executable, *program, *PYTEST, *files]
        with subprocess.Popen(
            command,
            cwd=self.folder,
            env={
                **os.environ,
                "PYTHONPATH": str(self.folder),
                "TIMING_COURSE_HERE": "1",
                "TIMING_COURSE_CACHE": str(self.folder / "maps"),
            },
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        ) as process:
            try:
                said, _ = process.communicate(timeout=within_s)
            except subprocess.TimeoutExpired:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(process.pid, 9)
                process.communicate()
                return None, ""
        shutil.rmtree(self.folder / "maps", ignore_errors=True)  # no map of changed source may serve the next
        return process.returncode, said

    def reach(self, file: str) -> Reach:
        """Run one file of tests on the source as it is. Raises CannotJudge where one fails."""
        data = self.folder / ".coverage"
        began = time.monotonic()
        watched = ("-m", "coverage", "run", f"--source={','.join(PACKAGES)}", f"--data-file={data}")
        status, said = self.pytest([file], LONGEST_S, *watched)
        seconds = time.monotonic() - began
        if status not in (0, NO_TESTS_COLLECTED):
            raise CannotJudge(f"{file} fails on the source as it is, so it cannot judge a change:\n{said[-2000:]}")
        lines = lines_run(data, self.folder)
        data.unlink(missing_ok=True)
        return Reach(seconds, lines if status == 0 else {})


def lines_run(data: Path, folder: Path) -> dict[str, frozenset[int]]:
    """The numbers of the lines that a run under coverage came through, by path within the folder."""
    found = coverage.CoverageData(str(data))
    found.read()
    lines = {
        Path(path).relative_to(folder).as_posix(): frozenset(found.lines(path) or ()) for path in found.measured_files()
    }
    found.close()
    return lines
