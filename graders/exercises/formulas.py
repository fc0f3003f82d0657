"""Formulas that a rubric may hold: + - * / **, parentheses, names, numbers, min, max, sqrt and round, and nothing
else. The names are the exercise's own and those of CONVERSIONS."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable, Mapping

from engine_sim.physics import distributor, units
from graders.schema import RubricError

LONGEST_FORMULA = 200
FUNCTIONS: dict[str, Callable[..., float]] = {"min": min, "max": max, "sqrt": math.sqrt, "round": round}
OF_ONE_NUMBER = ("sqrt", "round")
# Every formula knows these by name: kpa = "reading_inhg * kpa_per_inhg". No name of an exercise may take their place.
CONVERSIONS = {
    "metres_per_foot": units.METRES_PER_FOOT,
    "mm_per_inch": units.MM_PER_INCH,
    "litres_per_cubic_inch": units.LITRES_PER_CUBIC_INCH,
    "kg_per_pound": units.KG_PER_POUND,
    "kpa_per_inhg": units.KPA_PER_INHG,
    "kpa_per_psi": units.KPA_PER_PSI,
    "newton_metres_per_pound_foot": units.NEWTON_METRES_PER_POUND_FOOT,
    "fahrenheit_per_celsius": units.FAHRENHEIT_PER_CELSIUS,
    "fahrenheit_at_ice_point": units.FAHRENHEIT_AT_ICE_POINT,
    "crank_per_distributor_degree": distributor.CRANK_DEG_PER_DISTRIBUTOR_DEG,
}
_BINARY: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_UNARY: dict[type[ast.unaryop], Callable[[float], float]] = {ast.UAdd: operator.pos, ast.USub: operator.neg}
ALLOWED = "+ - * / ** parentheses, names, numbers, min, max, sqrt and round"


def value_of(formula: str, names: Mapping[str, float]) -> float:
    """The finite number that a formula gives with these names and CONVERSIONS. Raises RubricError that says what is
    wrong with it."""
    try:
        if len(formula) > LONGEST_FORMULA:
            raise RubricError(f"a formula may have {LONGEST_FORMULA} characters and one has {len(formula)}")
        value = _value(ast.parse(formula.strip(), mode="eval").body, {**CONVERSIONS, **names})
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
        own = ", ".join(sorted(set(names) - set(CONVERSIONS))) or "no names of the exercise"
        raise RubricError(f"a formula names '{name}'; there are {own}, and the conversions {', '.join(CONVERSIONS)}")
    return float(names[name])


def _called(name: str, arguments: list[float]) -> float:
    # min and max of one number would ask for a list.
    return FUNCTIONS[name](*arguments) if name in OF_ONE_NUMBER or len(arguments) > 1 else arguments[0]
