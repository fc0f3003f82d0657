"""The Python files of the three packages and of their tests, each read and parsed once for all rules."""

from __future__ import annotations

import ast
import functools
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("engine_sim", "graders", "course")


@functools.cache
def modules(package: str = "") -> tuple[Path, ...]:
    """Every module of one package, or of all three."""
    return tuple(sorted(path for one in ((package,) if package else PACKAGES) for path in (ROOT / one).rglob("*.py")))


@functools.cache
def files_of_tests() -> tuple[Path, ...]:
    """Every file of tests."""
    return tuple(sorted((ROOT / "tests").rglob("test_*.py")))


@functools.cache
def tree_of(path: Path) -> ast.Module:
    """The parsed text of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


def name_of(path: Path) -> str:
    """A file as seen from the checkout."""
    return path.relative_to(ROOT).as_posix()


def by_name(paths: tuple[Path, ...]) -> list[tuple[str, Path]]:
    """Each file with its name, as the cases of one test."""
    return [(name_of(path), path) for path in paths]
