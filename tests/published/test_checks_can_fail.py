"""Checks that cannot fail prove nothing: each is nudged past its band, and each sourced formula is falsified."""

from __future__ import annotations

import ast
import inspect
import textwrap
from dataclasses import dataclass
from types import ModuleType

import pytest

from engine_sim import published
from engine_sim.physics import atmosphere, breathing, burn, distributor, friction, fuel, gas, heat_loss, knock, units
from tests.every_case import check_every
from tests.published import (
    test_atmosphere,
    test_burn,
    test_distributor,
    test_fuel_and_gas,
    test_heat_and_friction,
    test_knock,
    test_throttle_and_residual,
)
from tests.published.checks import Check, all_checks

NUDGE = 1.01  # one percent: a formula that is wrong by more must be noticed


def test_fails_when_nudged_past_its_band():
    """A number anywhere in a band agrees; moved by the width of the band, up or down, it makes the check fail."""

    def check(key):
        record = published(key)
        for inside in (record.low, record.value, record.high):
            Check(key, lambda inside=inside: inside).must_agree()
            for shift in (1.001 * (record.high - record.low), -1.001 * (record.high - record.low)):
                with pytest.raises(AssertionError, match=key):
                    Check(key, lambda moved=inside + shift: moved).must_agree()

    check_every(check, ((check.key, check.key) for check in all_checks()))


@dataclass(frozen=True)
class Literal:
    """One number written in a sourced formula: where it stands, and the checks that should notice if it is wrong."""

    module: ModuleType
    function: str
    index: int
    number: float
    checks: ModuleType

    def __str__(self) -> str:
        return f"{self.function}-{self.index}-{self.number:g}"


@dataclass(frozen=True)
class Constant:
    """One named constant that a sourced formula uses."""

    module: ModuleType
    name: str
    checks: ModuleType

    def __str__(self) -> str:
        return self.name


FORMULAS = [
    (burn, ("residual_flame_factor", "laminar_flame_speed_m_s"), test_burn),
    (heat_loss, ("hohenberg_w_m2_k",), test_heat_and_friction),
    (friction, ("friction_pressure_pa",), test_heat_and_friction),
    (breathing, ("critical_pressure_ratio", "flow_function", "residual_fraction"), test_throttle_and_residual),
    (knock, ("ignition_delay_100_s", "ignition_delay_s"), test_knock),
    (fuel, ("antiknock_index",), test_fuel_and_gas),
    (gas, ("gamma_unburned", "gamma_burned"), test_fuel_and_gas),
]
CONSTANTS = [
    *(
        Constant(knock, name, test_knock)
        for name in ("OCTANE_EXPONENT", "PRESSURE_EXPONENT", "ACTIVATION_K", "COEFFICIENT_MS", "PA_PER_ATMOSPHERE")
    ),
    *(
        Constant(atmosphere, name, test_atmosphere)
        for name in ("STANDARD_ATMOSPHERE_PA", "SEA_LEVEL_K", "LAPSE_K_PER_M", "EXPONENT")
    ),
    *(
        Constant(heat_loss, name, test_heat_and_friction)
        for name in ("WOSCHNI_FACTOR", "WOSCHNI_BORE", "WOSCHNI_PRESSURE", "WOSCHNI_TEMPERATURE")
    ),
    Constant(units, "PA_PER_INHG", test_atmosphere),
    Constant(units, "METRES_PER_FOOT", test_atmosphere),
    *(Constant(burn, name, test_burn) for name in ("FLAME_REFERENCE_K", "FLAME_REFERENCE_PA")),
    Constant(breathing, "GAS_CONSTANT_AIR_J_KG_K", test_throttle_and_residual),
    *(Constant(gas, name, test_fuel_and_gas) for name in ("VISCOSITY_REFERENCE_PA_S", "VISCOSITY_REFERENCE_K")),
    *(Constant(fuel, name, test_fuel_and_gas) for name in ("STOICHIOMETRIC_AIR_FUEL",)),
    Constant(distributor, "CRANK_DEG_PER_DISTRIBUTOR_DEG", test_distributor),
]
SLOW = ("otto", "octane_for", "residual_idle", "stoichiometric_isooctane", "lhv_isooctane")


def numbers_in(tree: ast.AST) -> list[ast.Constant]:
    """Numbers written in a function's body that stand for physics: not 0, 1 or 2, nor those that scale units."""
    found = [node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, (int, float))]
    scales = {1e-3, 1e-5, 1e3, 1e5, 100.0, 60.0}
    return [node for node in found if node.value not in scales and node.value not in (0, 1, 2)]


def body_of(module: ModuleType, function: str) -> ast.Module:
    """The parsed source of a function."""
    return ast.parse(textwrap.dedent(inspect.getsource(getattr(module, function))))


def literals() -> list[Literal]:
    """Every number of every sourced formula."""
    return [
        Literal(module, function, index, node.value, checks)
        for module, functions, checks in FORMULAS
        for function in functions
        for index, node in enumerate(numbers_in(body_of(module, function)))
    ]


def falsified(literal: Literal):
    """The function with that one number off by a percent."""
    tree = body_of(literal.module, literal.function)
    numbers_in(tree)[literal.index].value = literal.number * NUDGE
    names = vars(literal.module)
    local: dict = {}
    exec(compile(tree, f"<{literal}>", "exec"), names, local)
    return local[literal.function]


def notices(checks) -> bool:
    """Whether at least one check of a module fails; those that run the whole engine are left aside."""
    for check in checks.CHECKS:
        if not check.key.startswith(SLOW):
            try:
                check.must_agree()
            except AssertionError:
                return True
    return False


def must_notice(checks: ModuleType, home: ModuleType, name: str, wrong: object) -> None:
    """Fail where no check of a module sees what is wrong in the place of a sourced formula or constant."""
    assert not notices(checks)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(home, name, wrong)
        assert notices(checks), f"no check of {checks.__name__} sees it off by a percent"


def test_a_wrong_number_in_a_formula_is_noticed():
    """A number of a sourced formula that is off by one percent makes at least one published check fail."""

    def check(literal):
        must_notice(literal.checks, literal.module, literal.function, falsified(literal))

    check_every(check, ((str(literal), literal) for literal in literals()))


def test_a_wrong_constant_is_noticed():
    """A named constant that is off by one percent makes at least one published check fail."""

    def check(constant):
        must_notice(constant.checks, constant.module, constant.name, NUDGE * getattr(constant.module, constant.name))

    check_every(check, ((str(constant), constant) for constant in CONSTANTS))
