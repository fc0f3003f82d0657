"""Every library that the course imports is one that pyproject.toml declares, and nothing declared is left unused."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions

import pytest

from tests.repository.sources import PACKAGES, ROOT, modules, name_of, tree_of

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
OURS = {*PACKAGES, "tests"}
# Declared and never imported: what is run as a program, or shows in the browser what anywidget makes.
PROGRAMS = {"ipykernel", "jupyterlab", "ipywidgets", "pytest-xdist", "ruff", "mypy", "import-linter"}
PROGRAMS |= {"furo", "myst-parser"}  # named in Sphinx's settings
PROGRAMS |= {"jupyterhub-firstuseauthenticator", "jupyterhub-idle-culler", "psycopg"}  # named in a hub's settings


def declared(*extras: str) -> set[str]:
    """The names of the declared distributions."""
    wanted = [*PROJECT["dependencies"], *(one for extra in extras for one in EXTRAS[extra])]
    return {plain(re.match(r"[\w.-]+", one)[0]) for one in wanted} - {PROJECT["name"]}


def plain(name: str) -> str:
    """A distribution's name in the one spelling that the packaging standard gives it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def imported(tree: ast.Module) -> set[str]:
    """The first part of every absolute import, but for the standard library and our own packages."""
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and not node.level}
    return {name.partition(".")[0] for name in names} - set(sys.stdlib_module_names) - OURS


def undeclared(paths, wanted: set[str]) -> list[str]:
    """Every import of a library that is not declared, with its file."""
    comes_from = packages_distributions()
    return [
        f"{name_of(path)} imports {name}"
        for path in paths
        for name in sorted(imported(tree_of(path)))
        if not {plain(one) for one in comes_from.get(name, [name])} & wanted
    ]


def test_every_import_of_the_course_is_declared():
    """What the three packages import is among their dependencies or in an extra."""
    assert undeclared(modules(), declared("book", "class", "notebook", "hub")) == []


def test_every_import_of_the_tests_is_declared():
    """What the tests import is among the dependencies or in the extra for tests."""
    assert undeclared(sorted((ROOT / "tests").rglob("*.py")), declared("class", "notebook", "hub", "test")) == []


def test_nothing_is_declared_for_nothing():
    """Every declared library is imported, by the course or by its tests, or is a program that one of them runs."""
    paths = (*modules(), *(ROOT / "tests").rglob("*.py"))
    used = {name for path in paths for name in imported(tree_of(path))}
    comes_from = packages_distributions()
    used_from = {plain(one) for name in used for one in comes_from.get(name, [name])}
    assert declared(*EXTRAS) - used_from - PROGRAMS == set()


@pytest.mark.parametrize(
    "line",
    [
        *PROJECT["dependencies"],
        *EXTRAS["notebook"],
        *EXTRAS["book"],
        *EXTRAS["class"][1:],
        *EXTRAS["hub"][1:],
    ],
)
def test_every_dependency_has_a_lowest_version(line):
    """A dependency says from which version on it works."""
    assert re.search(r">=\d", line), line


def test_an_import_that_nobody_declared_is_found():
    """In a text that imports a stranger, under any form, the stranger is named."""
    tree = ast.parse("import os, stranger.part\nfrom another import thing\nfrom .own import this\nimport graders")
    assert imported(tree) == {"stranger", "another"}
