"""House rules that a machine can see: every test says in words what it asserts, and every module what it is for."""

from __future__ import annotations

import ast
import subprocess
import sys

import pytest

from tests.every_case import check_every

from . import architecture
from .sources import ROOT, by_name, files_of_tests, modules, tree_of


def said_of(node: ast.AST) -> str:
    """A definition as a failure names it."""
    return f"{node.name}, line {node.lineno}"


def test_every_test_says_what_it_asserts():
    """Every file of tests has some, and every test function has a docstring, which ends as a sentence does."""

    def check(path):
        functions = [
            node for node in ast.walk(tree_of(path)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        ]
        found = [node for node in functions if node.name.startswith("test_")]
        assert found
        assert [said_of(one) for one in found if not (ast.get_docstring(one) or "").rstrip().endswith(".")] == []

    check_every(check, by_name(files_of_tests()))


def test_every_module_and_public_function_says_what_it_is_for():
    """Every module, public class and public function of the packages has a docstring."""

    def check(path):
        tree = tree_of(path)
        public = [
            node
            for node in tree.body
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
        ]
        assert ast.get_docstring(tree) or not tree.body
        assert [said_of(node) for node in public if not ast.get_docstring(node)] == []

    check_every(check, by_name(modules()))


@pytest.mark.parametrize("command", (("check",), ("format", "--check")), ids=" ".join)
def test_the_linter_and_the_formatter_find_nothing(command):
    """ruff, with the rules of pyproject.toml, has nothing to say and nothing to lay out differently."""
    run = [sys.executable, "-m", "ruff", *command, "--no-cache", ROOT]
    found = subprocess.run(run, capture_output=True, text=True)
    assert found.returncode == 0, found.stdout


def test_the_type_checker_finds_nothing():
    """mypy, as pyproject.toml sets it up, finds nothing in the three packages; what it found out before is kept."""
    run = [sys.executable, "-m", "mypy"]
    found = subprocess.run(run, capture_output=True, text=True, cwd=ROOT)
    assert found.returncode == 0, found.stdout + found.stderr


def test_the_picture_of_the_rooms_is_the_one_that_the_contracts_draw():
    """architecture.svg is what `python -m tests.repository.architecture` writes."""
    assert architecture.PICTURE.read_text(encoding="utf-8") == architecture.picture()
