"""nbgrader's own commands in this process: as in a terminal, without the seconds of loading it."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path

import pytest
from jupyter_core.application import NoStart
from nbgrader.apps import NbGraderApp
from nbgrader.apps.baseapp import NbGrader


def nbgrader_here(where: Path, *arguments: str, environment: Mapping[str, str] | None = None) -> None:
    """Run one of nbgrader's commands in that folder. Fails where the command fails."""
    with contextlib.chdir(where), pytest.MonkeyPatch.context() as patch:
        for name, value in (environment or {}).items():
            patch.setenv(name, value)
        app = NbGraderApp()
        try:
            app.initialize(list(arguments))
            app.start()
        except NoStart:  # a command below another one ends so
            pass
        except SystemExit as ended:
            assert not ended.code, f"nbgrader {' '.join(arguments)} ended with {ended.code}"
        finally:
            _forget(NbGrader)


def _forget(kind: type) -> None:
    """Let the next command make applications of its own; each is a singleton."""
    for below in kind.__subclasses__():
        _forget(below)
    if kind.initialized():
        kind.clear_instance()
