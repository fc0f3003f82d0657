"""Which files of tests should notice a change: those that go through a line that it touches."""

from __future__ import annotations

import ast
import functools
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from .copies import Reach
from .drawing import CHECKOUT, RUBRICS, Mutation

PACKAGES = ("engine_sim", "graders")
KINDS = {
    "outside": ("tests/published",),
    "method": ("tests/numerics", "tests/engine_sim"),
    "frozen": ("tests/regression",),
    "judge": ("tests/graders", "tests/lessons"),
    "course": ("tests/course", "tests/submissions"),
}
# Tests of the tests themselves: a changed number makes them fail whether or not anything looks at the number.
ABOUT_TESTS = ("tests/published/test_checks_can_fail.py", "tests/published/test_provenance.py")
# Tests of the machinery around the judge (boxes, processes, locks), which go through its lines and look at no figure.
ABOUT_MACHINERY = tuple(
    f"tests/graders/test_{name}.py"
    for name in ("sandboxed_kernel", "interrupted", "worker_pool", "one_at_a_time", "nbgrader_whole", "nbgrader_cache")
)
OF_EVERY_RUBRIC = (
    "tests/graders/test_criteria_alone.py",
    "tests/graders/test_instrument.py",
    "tests/graders/test_judge.py",
    "tests/lessons/test_all_lessons.py",
    "tests/lessons/test_slips.py",
    "tests/lessons/test_other_ways.py",
)


def files_of_tests() -> dict[str, str]:
    """Every file of tests that judges mutations, with its kind, those from outside first."""
    return {
        path.relative_to(CHECKOUT).as_posix(): kind
        for kind, folders in KINDS.items()
        for folder in folders
        for path in sorted((CHECKOUT / folder).glob("test_*.py"))
        if path.relative_to(CHECKOUT).as_posix() not in ABOUT_TESTS + ABOUT_MACHINERY
    }


def should_notice(mutation: Mutation, reaches: Mapping[str, Reach]) -> list[str]:
    """The files of tests that go through the change, the quickest first; all of them where nobody reads a constant
    but a class in its defaults."""
    if Path(mutation.path).match(RUBRICS):
        lesson = re.match(r"l\d\d", Path(mutation.path).stem)[0]
        files = [file for file in (*OF_EVERY_RUBRIC, f"tests/lessons/test_{lesson}.py") if file in reaches]
    else:
        lines = _lines(mutation)
        files = [
            file
            for file, reach in reaches.items()
            if not lines or any(reach.lines.get(path, frozenset()) & wanted for path, wanted in lines.items())
        ]
    return sorted(files, key=lambda file: reaches[file].seconds)


def _lines(mutation: Mutation) -> dict[str, frozenset[int]]:
    """The lines that run differently: the change's own, or those that read the constant that it changes."""
    text = (CHECKOUT / mutation.path).read_text(encoding="utf-8")
    if mutation.rule != "constant":
        first = mutation.line(text)
        statement = _statement(text, first)
        return {mutation.path: frozenset(statement or range(first, first + mutation.before.count("\n") + 1))}
    return _readers(mutation.function)


def _statement(text: str, line: int) -> range | None:
    """All lines of the innermost statement around a line: a tracer names only some of them."""
    around = [
        node
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.stmt) and node.lineno <= line <= node.end_lineno and not hasattr(node, "body")
    ]
    return range(around[-1].lineno, around[-1].end_lineno + 1) if around else None


def _readers(name: str, seen: frozenset[str] = frozenset()) -> dict[str, frozenset[int]]:
    """The lines inside functions that read a constant, or a constant made of it."""
    found: dict[str, set[int]] = {}
    for path, inside, line in _uses().get(name, ()):
        if isinstance(inside, ast.FunctionDef):
            found.setdefault(path, set()).update(_body_lines(inside, line))
        for made in _made_here(inside) - seen - {name}:
            for other, lines in _readers(made, seen | {name}).items():
                found.setdefault(other, set()).update(lines)
    return {path: frozenset(lines) for path, lines in found.items()}


@functools.cache
def _uses() -> dict[str, list[tuple[str, ast.AST, int]]]:
    """Where each name is read: the file, the outermost function or the module's statement, and the line."""
    found: dict[str, list[tuple[str, ast.AST, int]]] = {}
    for package in PACKAGES:
        for path in sorted((CHECKOUT / package).rglob("*.py")):
            for owner in _owners(ast.parse(path.read_text(encoding="utf-8")).body):
                for node in ast.walk(owner):
                    name = getattr(node, "id", None) or getattr(node, "attr", None)
                    if name and isinstance(node.ctx, ast.Load):
                        found.setdefault(name, []).append((path.relative_to(CHECKOUT).as_posix(), owner, node.lineno))
    return found


def _owners(body: list[ast.stmt]) -> Iterator[ast.stmt]:
    """The functions and other statements of a module, those of its classes one by one."""
    for statement in body:
        if isinstance(statement, ast.ClassDef):
            yield from _owners(statement.body)
        else:
            yield statement


def _body_lines(function: ast.FunctionDef, line: int) -> set[int]:
    """The lines of the statement that reads the name; of a default, those of the whole body."""
    for statement in ast.walk(function):
        simple = isinstance(statement, ast.stmt) and not hasattr(statement, "body")
        if simple and statement.lineno <= line <= statement.end_lineno:
            return set(range(statement.lineno, statement.end_lineno + 1))
    return set(range(function.body[0].lineno, function.end_lineno + 1)) if line < function.body[0].lineno else {line}


def _made_here(statement: ast.AST) -> set[str]:
    """The names that a statement of the module gives a value."""
    targets = getattr(statement, "targets", None) or [getattr(statement, "target", None)]
    return {one.id for one in targets if isinstance(one, ast.Name)}
