"""Formulas that a rubric may hold: + - * / **, parentheses, names, numbers, min, max, sqrt and round, and nothing
else."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Mapping

from graders.schema import RubricError

LONGEST_FORMULA = 200
FUNCTIONS = {"min": min, "max": max, "sqrt": math.sqrt, "round": round}
OF_ONE_NUMBER = ("sqrt", "round")
_BINARY = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_UNARY = {ast.UAdd: operator.pos, ast.USub: operator.neg}
ALLOWED = "+ - * / ** parentheses, names, numbers, min, max, sqrt and round"


def value_of(formula: str, names: Mapping[str, float]) -> float:
    """The finite number that a formula gives with these names. Raises RubricError that says what is wrong with it."""
    try:
        if len(formula) > LONGEST_FORMULA:
            raise RubricError(f"a formula may have {LONGEST_FORMULA} characters and one has {len(formula)}")
        value = _value(ast.parse(formula.strip(), mode="eval").body, names)
    except (SyntaxError, ValueError, TypeError, ArithmeticError, RecursionError, MemoryError) as error:
        raise RubricError(f"the formula '{formula[:60]}' cannot be worked out ({error})") from None
    if isinstance(value, complex) or not math.isfinite(value):
        raise RubricError(f"the formula '{formula}' gives no finite number")
    return float(value)


def _value(node: ast.expr, names: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
            return float(number)
        case ast.Name(id=name):
            return _named(name, names)
        case ast.BinOp(op=sign) if type(sign) in _BINARY:
            return _BINARY[type(sign)](_value(node.left, names), _value(node.right, names))
        case ast.UnaryOp(op=sign) if type(sign) in _UNARY:
            return _UNARY[type(sign)](_value(node.operand, names))
        case ast.Call(func=ast.Name(id=name), args=[_, *_], keywords=[]) if name in FUNCTIONS:
            return _called(name, [_value(argument, names) for argument in node.args])
    raise RubricError(f"a formula may hold {ALLOWED}; '{ast.unparse(node)[:60]}' was found")


def _named(name: str, names: Mapping[str, float]) -> float:
    if name not in names:
        raise RubricError(f"a formula names '{name}'; there are {', '.join(sorted(names)) or 'no names'}")
    return float(names[name])


def _called(name: str, arguments: list[float]) -> float:
    # min and max of one number would ask for a list.
    return FUNCTIONS[name](*arguments) if name in OF_ONE_NUMBER or len(arguments) > 1 else arguments[0]
