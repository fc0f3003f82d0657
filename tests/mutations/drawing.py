"""One-line changes of the physics and of the judge, drawn by rule: what a test should notice.

The physics: every named constant by a fifth, and a draw of signs turned, numbers of a formula by a fifth, terms or
factors dropped and arguments swapped. The judge: a draw of comparisons inverted and bounds dropped, and tolerances of
the rubrics doubled. Each change is a piece of source text in the place of another one, so that a reader sees it as a
line of code.
"""

from __future__ import annotations

import ast
import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
MODEL = ("cycle", "dynamics", "engine", "cylinder_ripple", "response_map", "response_family", "conditions", "wear")
PHYSICS = ("engine_sim/physics/*.py", *(f"engine_sim/model/{name}.py" for name in MODEL))
JUDGE = (
    "graders/judge/__init__.py",
    "graders/bench/*.py",
    "graders/bench/criteria/*.py",
    "graders/exercises/kinds/*.py",
)
RUBRICS = "graders/rubrics/*.toml"
EACH = 16  # drawn of every rule that is not gone through as a whole
CHANGE = 1.2
NAMED = re.compile(r"_?[A-Z][A-Z0-9_]*")
SAME_EITHER_WAY = {"max", "min", "maximum", "minimum", "hypot"}  # their arguments may be swapped
OTHER_WAY = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "==", "in": "not in", "not in": "in"}
TOLERANCES = re.compile(r"^(?:tolerances = \{.*\}|tolerance = .*)$", re.MULTILINE)
ID = re.compile(r'^id = "(\w+)"$', re.MULTILINE)
TOLERANCE = re.compile(r"(?P<name>\w+) = (?P<number>-?\d+(?:\.\d+)?)")
NOTHING = "(nothing)"


@dataclass(frozen=True)
class Mutation:
    """`after` in the place of the text `before`, which begins at character `start` of a file of the checkout."""

    path: str
    rule: str
    function: str
    start: int
    before: str
    after: str
    times: int = 1

    @property
    def key(self) -> str:
        """Its name, the same wherever the line has moved to."""
        shown = " -> ".join(" ".join(text.split()) or NOTHING for text in (self.before, self.after))
        again = f" ({self.times})" if self.times > 1 else ""
        return f"{self.path} {self.function} | {self.rule}: {shown}{again}"

    def line(self, text: str) -> int:
        """The line on which it stands in the file's text."""
        return text.count("\n", 0, self.start) + 1

    def applied(self, text: str) -> str:
        """The file's text with the change made. Raises ValueError where the text is not the one it was drawn from."""
        end = self.start + len(self.before)
        if text[self.start : end] != self.before:
            raise ValueError(f"{self.path} no longer has {self.before!r} there: draw the mutations again.")
        return text[: self.start] + self.after + text[end:]


def of_physics(seed: int, each: int = EACH) -> list[Mutation]:
    """Every named constant, and `each` of every other rule."""
    found = [one for path in _files(PHYSICS) for one in in_source(path, _read(path), PhysicsRules)]
    return _drawn(found, seed, each, whole=("constant",))


def of_judge(seed: int, each: int = EACH) -> list[Mutation]:
    """`each` of every rule for the judge's code and for the rubrics."""
    found = [one for path in _files(JUDGE) for one in in_source(path, _read(path), JudgeRules)]
    found += [one for path in _files((RUBRICS,)) for one in in_rubric(path, _read(path))]
    return _drawn(found, seed, each)


def in_source(path: str, text: str, rules: type[Rules]) -> list[Mutation]:
    """All changes that the rules know for one module, each with a key of its own."""
    return _told_apart(rules(path, text).found())


def in_rubric(path: str, text: str) -> list[Mutation]:
    """Every tolerance of a rubric, doubled; where none is granted, one is."""
    found = []
    for line in TOLERANCES.finditer(text):
        owner = ID.findall(text, 0, line.start())[-1]
        for one in TOLERANCE.finditer(line[0]):
            doubled = f"{one['name']} = {2 * float(one['number']) or 1:g}"
            found.append(Mutation(path, "tolerance doubled", owner, line.start() + one.start(), one[0], doubled))
    return _told_apart(found)


class Rules(ast.NodeVisitor):
    """Goes through one module and notes what could be changed in it."""

    def __init__(self, path: str, text: str):
        self.path, self.text = path, text
        starts = [0]
        for line in text.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))
        self._starts, self._lines = starts, text.splitlines(keepends=True)
        self._inside: list[str] = []
        self._found: list[Mutation] = []

    def found(self) -> list[Mutation]:
        """What was found, in the order of the text."""
        self.visit(ast.parse(self.text))
        return sorted(self._found, key=lambda one: (one.start, one.rule))

    def _place(self, line: int, column_bytes: int) -> int:
        return self._starts[line - 1] + len(self._lines[line - 1].encode()[:column_bytes].decode())

    def span(self, node: ast.AST) -> tuple[int, int]:
        """Where a node begins and ends in the text."""
        return self._place(node.lineno, node.col_offset), self._place(node.end_lineno, node.end_col_offset)

    def source(self, node: ast.AST) -> str:
        """A node's own text."""
        start, end = self.span(node)
        return self.text[start:end]

    def note(self, rule: str, start: int, end: int, after: str) -> None:
        """Note one change."""
        function = ".".join(self._inside) or NOTHING
        self._found.append(Mutation(self.path, rule, function, start, self.text[start:end], after))

    def replace(self, rule: str, node: ast.AST, after: str) -> None:
        """Note a change of a whole node."""
        self.note(rule, *self.span(node), after)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """Only a function's body is changed, not its annotations, defaults and decorators."""
        self._inside.append(node.name)
        for statement in node.body:
            self.visit(statement)
        self._inside.pop()

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        """A class's fields are its card's matter; its methods are formulas."""
        self._inside.append(node.name)
        for statement in node.body:
            if isinstance(statement, ast.FunctionDef):
                self.visit(statement)
        self._inside.pop()

    def visit_Raise(self, node: ast.Raise) -> None:
        """What is said in an error is no formula."""

    def visit_Assert(self, node: ast.Assert) -> None:
        """Nor is what is taken for granted."""

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Nor is text."""

    def between(self, left: ast.AST, right: ast.AST) -> tuple[int, int]:
        """Where the operator between two nodes stands, with the brackets around it."""
        return self.span(left)[1], self.span(right)[0]


class PhysicsRules(Rules):
    """Constants, signs, numbers, dropped terms, swapped arguments."""

    def visit_Assign(self, node: ast.Assign) -> None:
        """A named constant of the module is changed as a whole; everything else is looked into."""
        named = [one.id for one in node.targets if isinstance(one, ast.Name) and NAMED.fullmatch(one.id)]
        if self._inside or not named:
            self.generic_visit(node)
            return
        changed = _scaled(node.value)
        if changed is not None:
            self._inside.append(named[0])
            self.replace("constant", node.value, changed)
            self._inside.pop()

    def visit_BinOp(self, node: ast.BinOp) -> None:
        """Turn a sign, and drop the second term or factor."""
        operator = {ast.Add: "+", ast.Sub: "-"}.get(type(node.op))
        start, end = self.between(node.left, node.right)
        if operator and "#" not in self.text[start:end]:
            turned = self.text[start:end].replace(operator, "-" if operator == "+" else "+", 1)
            self.note("sign", start, end, turned)
        if isinstance(node.op, ast.Add | ast.Sub | ast.Mult | ast.Div) and not isinstance(node.left, ast.Constant):
            self.replace("dropped", node, f"({self.source(node.left)})")
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        """Leave a minus out."""
        if isinstance(node.op, ast.USub):
            self.replace("sign", node, f"({self.source(node.operand)})")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        """A number of a formula; whole numbers are places, counts and powers, and are left alone."""
        if self._inside and isinstance(node.value, float) and node.value:
            self.replace("number", node, f"{node.value * CHANGE:.6g}")

    def visit_Call(self, node: ast.Call) -> None:
        """Swap the first two arguments."""
        name = self.source(node.func).rpartition(".")[2]
        first, second = (*node.args, None, None)[:2]
        if first and second and name not in SAME_EITHER_WAY and not {ast.Starred} & {type(first), type(second)}:
            one, other = self.source(first), self.source(second)
            between = self.text[slice(*self.between(first, second))]
            if one != other:
                self.note("swapped", self.span(first)[0], self.span(second)[1], f"{other}{between}{one}")
        self.generic_visit(node)


class JudgeRules(Rules):
    """Comparisons inverted, bounds dropped."""

    def visit_Compare(self, node: ast.Compare) -> None:
        """Invert a comparison; of two bounds drop the second."""
        left, right = node.left, node.comparators[0]
        start, end = self.between(left, right)
        operator = re.search(r"not in|[<>=!]=?|\bin\b", self.text[start:end])
        if len(node.ops) == 1 and operator and operator[0] in OTHER_WAY:
            turned = self.text[start:end].replace(operator[0], OTHER_WAY[operator[0]], 1)
            self.note("inverted", start, end, turned)
        if len(node.ops) == 2:
            self.note("bound dropped", self.span(right)[1], self.span(node.comparators[1])[1], "")
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        """Drop the last of several conditions."""
        word = " and " if isinstance(node.op, ast.And) else " or "
        self.replace("bound dropped", node, f"({word.join(f'({self.source(one)})' for one in node.values[:-1])})")
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        """Take a value without its upper or lower limit."""
        if self.source(node.func) in ("min", "max") and len(node.args) == 2 and not node.keywords:
            self.replace("bound dropped", node, f"({self.source(node.args[0])})")
        self.generic_visit(node)


def _scaled(value: ast.expr) -> str | None:
    """The text of a constant's value a fifth larger, or None where it is no number."""
    if isinstance(value, ast.Constant) and type(value.value) is float:
        return repr(float(f"{value.value * CHANGE:.9g}")) if value.value else None
    if isinstance(value, ast.Constant) and type(value.value) is int:
        return repr(max(round(value.value * CHANGE), value.value + 1)) if value.value else None
    if isinstance(value, ast.UnaryOp) and isinstance(value.op, ast.USub):
        inner = _scaled(value.operand)
        return None if inner is None else f"-{inner}"
    if isinstance(value, ast.Tuple):
        inner = [_scaled(one) for one in value.elts]
        return None if None in inner else f"({', '.join(inner)})"
    if isinstance(value, ast.BinOp):
        return f"{CHANGE} * ({ast.unparse(value)})"
    return None


def _told_apart(found: list[Mutation]) -> list[Mutation]:
    """The same changes, and where one function has a change twice, with its number."""
    seen: Counter[str] = Counter()
    numbered = []
    for one in found:
        seen[one.key] += 1
        numbered.append(replace(one, times=seen[one.key]))
    return numbered


def _drawn(found: list[Mutation], seed: int, each: int, whole: tuple[str, ...] = ()) -> list[Mutation]:
    kept = []
    for rule in sorted({one.rule for one in found}):
        of_rule = [one for one in found if one.rule == rule]
        if rule not in whole and len(of_rule) > each:
            of_rule = random.Random(f"{seed} {rule}").sample(of_rule, each)
        kept += of_rule
    return sorted(kept, key=lambda one: (one.path, one.start, one.rule))


def _files(patterns: tuple[str, ...]) -> Iterator[str]:
    for pattern in patterns:
        for path in sorted(CHECKOUT.glob(pattern)):
            yield path.relative_to(CHECKOUT).as_posix()


def _read(path: str) -> str:
    return (CHECKOUT / path).read_text(encoding="utf-8")
