"""Points that differ in nothing but their spark share their compression: each must still give what it gives alone."""

from dataclasses import fields

import numpy as np
import pytest

from engine_sim.model import cycle
from engine_sim.model.cycle import CycleResult, CycleTrace

SPARKS_DEG_BTDC = (170.0, 61.0, 35.0, 35.0, 8.0, -0.25, -14.0, -140.0)  # the ends lie outside the closed cycle
# speed [rpm], manifold and exhaust pressure [Pa], fresh charge [K], equivalence ratio, vapour: apart in one thing each
STATES = (
    (800.0, 37e3, 102e3, 320.0, 1.0, 0.0),
    (900.0, 37e3, 102e3, 320.0, 1.0, 0.0),
    (800.0, 97e3, 102e3, 320.0, 1.0, 0.0),
    (800.0, 37e3, 122e3, 320.0, 1.0, 0.0),
    (800.0, 37e3, 102e3, 330.0, 1.0, 0.0),
    (800.0, 37e3, 102e3, 320.0, 0.9, 0.0),
    (800.0, 37e3, 102e3, 320.0, 1.0, 0.02),
)
STEP_DEG = 2.0
TRACED = ("pressure_pa", "burned", "end_gas_k", "wall_heat_j")
ROUNDING = {"rel": 1e-12, "abs": 0.0}


def run(setup, points, trace=None):
    """The cycle of points given as rows of speed, manifold pressure, spark, and the rest of a state."""
    return cycle.run_cycle(setup, *np.array(points).T, step_deg=STEP_DEG, trace=trace)


@pytest.fixture(scope="module")
def points():
    """Groups of companions and three points that have none, in no order."""
    together = [(*state[:2], spark, *state[2:]) for state in STATES for spark in SPARKS_DEG_BTDC]
    single = [
        (speed, 60e3, spark, 102e3, 320.0, 1.0, 0.0)
        for speed, spark in ((1500.0, 25.0), (2500.0, 150.0), (4000.0, -150.0))
    ]
    return np.random.default_rng(6).permutation(np.array([*together, *single]))


@pytest.fixture(scope="module")
def alone(engine, points):
    """Result and trace of every point by itself, which has nobody to be led by."""
    traces = [CycleTrace() for _ in points]
    results = [run(engine.setup, [point]) for point in points]
    for point, trace in zip(points, traces, strict=True):
        run(engine.setup, [point], trace)
    return (
        {item.name: np.concatenate([getattr(result, item.name) for result in results]) for item in fields(CycleResult)},
        {name: np.hstack([getattr(trace, name) for trace in traces]) for name in TRACED},
    )


@pytest.mark.parametrize("at_once", [4096, 10, 1])
def test_in_company_as_alone(engine, points, alone, monkeypatch, at_once):
    """Every result of every point is what it is alone, whether blocks hold all groups, cut through them, or hold one
    point each."""
    monkeypatch.setattr(cycle, "POINTS_AT_ONCE", at_once)
    found = run(engine.setup, points)
    for name, wanted in alone[0].items():
        assert getattr(found, name) == pytest.approx(wanted, **ROUNDING), name


@pytest.mark.parametrize("stretch", [1, 3, 1000])
def test_when_they_join_does_not_matter(engine, points, alone, monkeypatch, stretch):
    """Joining in the very step of the spark, somewhat before it, or at intake closing gives the same."""
    monkeypatch.setattr(cycle, "STRETCH", stretch)
    found = run(engine.setup, points)
    for name, wanted in alone[0].items():
        assert getattr(found, name) == pytest.approx(wanted, **ROUNDING), name


def test_a_trace_is_whole(engine, points, alone, monkeypatch):
    """A trace holds the whole cycle of every point, in the order of the points, however few are computed at once."""
    monkeypatch.setattr(cycle, "POINTS_AT_ONCE", 10)
    trace = CycleTrace()
    found = run(engine.setup, points, trace)
    assert found.imep_pa == pytest.approx(alone[0]["imep_pa"], **ROUNDING)
    assert trace.charge.spark_deg.tolist() == (-points[:, 2]).tolist()
    for name, wanted in alone[1].items():
        assert getattr(trace, name) == pytest.approx(wanted, **ROUNDING), name


def test_companions_are_found(points):
    """Of the points in no order, one in each group leads, the one whose spark is the latest; nobody leads a point of
    another state."""
    columns = list(points.T)
    order, leader = cycle._with_leaders(columns, np.lexsort((columns[2], *columns[:2], *columns[3:])))
    state, spark = np.delete(points[order], 2, axis=1), points[order, 2]
    assert len(set(leader.tolist())) == len(STATES) + 3
    assert np.array_equal(state[leader], state) and np.all(spark[leader] <= spark)


def test_a_point_that_is_no_number_spoils_no_other(engine, points, alone):
    """A spark that is not a number leaves its companions as they are."""
    found = run(engine.setup, [*points, (*points[0][:2], np.nan, *points[0][3:])])
    assert found.imep_pa[:-1] == pytest.approx(alone[0]["imep_pa"], **ROUNDING) and np.isnan(found.imep_pa[-1])
