"""House rules of the code that a machine can see: one constant a line, records by keyword, annotated functions."""

from __future__ import annotations

import ast
import functools

from tests.every_case import check_every

from .sources import by_name, modules, tree_of

LARGE = 6  # a record of more fields is built by keyword
LEADING = 3  # but for so many of its first ones, where most others keep their defaults


def is_number(node: ast.expr) -> bool:
    """Whether an expression is a number, written out or worked out from numbers."""
    match node:
        case ast.Constant(value=int() | float()):
            return True
        case ast.UnaryOp(operand=operand):
            return is_number(operand)
        case ast.BinOp(left=left, right=right):
            return is_number(left) and is_number(right)
    return False


def several_on_a_line(tree: ast.Module) -> list[str]:
    """Constants of a module that share their line, and so their comment, with another number."""
    return [
        f"{ast.unparse(node.targets[0])}, line {node.lineno}"
        for node in tree.body
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Tuple)
        and isinstance(node.value, ast.Tuple)
        and any(map(is_number, node.value.elts))
    ]


@functools.cache
def records() -> dict[str, int]:
    """Every dataclass of the packages that is large."""
    found = {}
    for path in modules():
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.ClassDef) and any("dataclass" in ast.unparse(mark) for mark in node.decorator_list):
                fields = sum(isinstance(line, ast.AnnAssign) for line in node.body)
                if fields > LARGE:
                    found[node.name] = fields
    return found


def built_by_place(tree: ast.Module, large: dict[str, int]) -> list[str]:
    """Calls that build a large record with several values by their place, or with values unpacked into places."""
    return [
        f"{ast.unparse(node.func)}, line {node.lineno}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func).rpartition(".")[2] in large
        and (len(node.args) > LEADING or any(isinstance(value, ast.Starred) for value in node.args))
    ]


def not_annotated(tree: ast.Module) -> list[str]:
    """Public functions, and public methods of public classes, of which an argument or the answer has no type."""
    found = []
    for owner in (tree, *(node for node in tree.body if isinstance(node, ast.ClassDef) and node.name[0] != "_")):
        for node in owner.body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                given = node.args
                arguments = [
                    one for one in (*given.posonlyargs, *given.args, *given.kwonlyargs) if one.annotation is None
                ]
                open_ended = [one.arg for one in arguments if one.arg not in ("self", "cls")]
                if open_ended or node.returns is None:
                    found.append(f"{node.name}({', '.join(open_ended)}), line {node.lineno}")
    return found


def finds_nothing(rule, *more) -> None:
    """Put every module to a rule; each that the rule finds something in is named, with what was found."""

    def check(path):
        assert rule(tree_of(path), *more) == []

    check_every(check, by_name(modules()))


def test_constants_stand_one_a_line():
    """Every number of a module has a line of its own, so that a comment can give its unit and its reason."""
    finds_nothing(several_on_a_line)


def test_large_records_are_built_by_keyword():
    """A record of more than six fields is given its values by name, but for up to three leading ones."""
    finds_nothing(built_by_place, records())


def test_public_functions_are_annotated():
    """Every public function and method says the types of its arguments and of its answer."""
    finds_nothing(not_annotated)


def test_the_rules_would_notice():
    """Each rule sees the slip that it is there for, and leaves the right form alone."""
    assert several_on_a_line(ast.parse("A, B = 1.0, -2.0\nC = 3\nD, E = 'on', 'off'")) == ["(A, B), line 1"]
    text = "a.Big(1, 2, 3, 4)\nBig(*values)\nBig(1, two=2)\nSmall(1, 2)"
    assert built_by_place(ast.parse(text), {"Big": 7}) == ["a.Big, line 1", "Big, line 2"]
    text = "def f(x): ...\ndef g(x: int) -> int: ...\ndef _h(x): ...\nclass C:\n    def m(self): ..."
    assert not_annotated(ast.parse(text)) == ["f(x), line 1", "m(), line 5"]
    assert {"Readings", "CycleResult", "Wear"} <= set(records())
