"""One rule for a vacuum gauge high up, in the whole project: the same share of the air outside."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from engine_sim import Conditions, Engine, IdleTable, peak_and_back_off
from engine_sim.diagnosis.needle import (
    NeedleSeen,
    at_altitude_inhg,
    at_sea_level_inhg,
    healthy_vacuum_inhg,
    movement,
    read,
)
from engine_sim.owned.description import owned_from
from engine_sim.owned.nominal import nominal_card
from engine_sim.owned.tables import FEATURES, differences
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import inhg_from_pa, metres_from_feet

ROOT = Path(__file__).parents[2]

# From the standard atmosphere's table: 843.1 and 752.6 hPa over 1013.25 (us_standard_atmosphere_1976)
HEIGHTS = ((0.0, 1.0), (5000.0, 0.832), (8000.0, 0.743))


@pytest.mark.parametrize(("feet", "share"), HEIGHTS)
def test_needle_rule_readings_and_bands_take_the_same_share(feet, share):
    """The share of the air at a height, the band of a healthy idle there, the needle rule and the owner's readings."""
    assert float(air_share(metres_from_feet(feet))) == pytest.approx(share, abs=0.001)
    assert healthy_vacuum_inhg(feet) == pytest.approx((17.0 * share, 21.0 * share), abs=0.02)
    assert at_sea_level_inhg(at_altitude_inhg(19.0, feet), feet) == pytest.approx(19.0)
    needle = NeedleSeen(np.full(600, 19.0 * share), 800.0, np.full(900, 19.0 * share), feet)
    assert needle.mean_inhg == pytest.approx(19.0, abs=0.03) and read(needle) == "steady and normal"
    assert movement(needle) == "stands still"
    seen = differences({"idle_inhg": 16.0 * share}, {"idle_inhg": 18.0 * share}, feet)
    assert seen[FEATURES.index("idle_inhg")] == pytest.approx(-2.0, abs=0.01)


@pytest.mark.parametrize(("feet", "share"), HEIGHTS)
def test_a_needle_that_is_low_is_low_at_every_height(feet, share):
    """13 inHg as at sea level is low wherever the gauge stands."""
    needle = NeedleSeen(np.full(600, 13.0 * share), 800.0, np.full(900, 13.0 * share), feet)
    assert read(needle) == "steady and low"


def test_the_simulated_engine_agrees():
    """Where the method ends on one engine, jetted for the height: its vacuum keeps its share within an inch of mercury
    up to 8,000 ft, at most half as far off as taking the lost pressure away would be."""
    found = {}
    for feet, _ in HEIGHTS:
        said = owned_from(
            {"build": {"cylinders": 6, "displacement_l": 4.0}, "place": {"altitude_ft": feet, "air_c": 20.0}}
        )
        card = nominal_card(said)
        table = IdleTable(Engine(card), (0.0, 9.0), Conditions(feet))
        found[feet] = peak_and_back_off(table, 14.0, 2.5, card.setting.idle_rpm, 75.0, (0.0, 9.0)).vacuum_inhg
    for feet, _ in HEIGHTS[1:]:
        lost_inhg = inhg_from_pa(Conditions().ambient_pa - Conditions(feet).ambient_pa)
        off = abs(found[feet] - at_altitude_inhg(found[0.0], feet))
        assert off < 1.0 and off <= 0.5 * abs(found[feet] - (found[0.0] - lost_inhg))


# ---- no other rule ---------------------------------------------------------------------------------------------------

OUTSIDE = {"ambient_pa", "standard_pressure_pa", "STANDARD_ATMOSPHERE_PA"}  # the air outside, by the names it has here


def lost_pressures(source: str) -> list[str]:
    """Every difference of two outside pressures in a module, whatever names they were given on the way, with its
    function: the other rule of thumb for a gauge high up."""
    found = []
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef):
            continue
        named: set[str] = set()
        for node in ast.walk(function):
            if isinstance(node, ast.Assign) and _outside(node.value, named):
                named |= {target.id for target in node.targets if isinstance(target, ast.Name)}
        for node in ast.walk(function):
            subtracts = isinstance(node, ast.BinOp) and isinstance(node.op, ast.Sub)
            if subtracts and _outside(node.left, named) and _outside(node.right, named):
                found.append(f"{function.name}: {ast.unparse(node)}")
    return found


def _outside(node: ast.AST, named: set[str]) -> bool:
    """Whether an expression is an outside pressure, in any unit."""
    while True:
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult | ast.Div):
            node = node.left
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("float", "inhg_from_pa"):
            node = node.args[0]
        else:
            break
    node = node.func if isinstance(node, ast.Call) else node
    return getattr(node, "attr", getattr(node, "id", "")) in OUTSIDE | named


@pytest.mark.parametrize("folder", ["engine_sim", "graders", "course"])
def test_nothing_else_takes_the_lost_pressure_away(folder):
    """No module of simulator, judge or course subtracts one outside pressure from another."""
    for path in sorted((ROOT / folder).rglob("*.py")):
        assert lost_pressures(path.read_text(encoding="utf-8")) == [], path


def test_that_look_finds_a_lost_pressure():
    """Written out, or by way of names."""
    plain = "def lost(day):\n    return Conditions().ambient_pa - day.ambient_pa\n"
    by_names = (
        "def lost(m):\n    here = standard_pressure_pa(m)\n    sea = standard_pressure_pa(0.0)\n    return sea - here\n"
    )
    assert len(lost_pressures(plain)) == len(lost_pressures(by_names)) == 1
    assert lost_pressures("def vacuum(day, pressure):\n    return day.ambient_pa - pressure\n") == []
