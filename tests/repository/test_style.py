"""House rules that a machine can see: every test says in words what it asserts, and every module what it is for."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.repository import architecture

ROOT = Path(__file__).parents[2]
PACKAGES = ("engine_sim", "graders", "course")
TESTS = sorted((ROOT / "tests").rglob("test_*.py"))
MODULES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))


def functions(path: Path):
    """Every function of a module, however deep."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]


@pytest.mark.parametrize("path", TESTS, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_test_says_what_it_asserts(path):
    """Every test function has a docstring, which ends as a sentence does."""
    tests = [node for node in functions(path) if node.name.startswith("test_")]
    assert tests and [node.name for node in tests if not (ast.get_docstring(node) or "").rstrip().endswith(".")] == []


@pytest.mark.parametrize("path", MODULES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_module_and_public_function_says_what_it_is_for(path):
    """Every module, public class and public function of the packages has a docstring."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    public = [
        node for node in tree.body if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
    ]
    assert ast.get_docstring(tree) or not tree.body
    assert [node.name for node in public if not ast.get_docstring(node)] == []


@pytest.mark.parametrize("command", (("check",), ("format", "--check")), ids=" ".join)
def test_the_linter_and_the_formatter_find_nothing(command):
    """ruff, with the rules of pyproject.toml, has nothing to say and nothing to lay out differently."""
    run = [sys.executable, "-m", "ruff", *command, "--no-cache", ROOT]
    found = subprocess.run(run, capture_output=True, text=True)
    assert found.returncode == 0, found.stdout


def test_the_type_checker_finds_nothing(tmp_path):
    """mypy, as pyproject.toml sets it up, finds nothing in the three packages."""
    run = [sys.executable, "-m", "mypy", "--cache-dir", tmp_path]
    found = subprocess.run(run, capture_output=True, text=True, cwd=ROOT)
    assert found.returncode == 0, found.stdout + found.stderr


def test_the_picture_of_the_rooms_is_the_one_that_the_contracts_draw():
    """architecture.svg is what `python -m tests.repository.architecture` writes."""
    assert architecture.PICTURE.read_text(encoding="utf-8") == architecture.picture()
