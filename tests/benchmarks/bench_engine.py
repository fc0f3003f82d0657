"""How fast the engine is, measured side by side and printed; nothing here passes or fails.

`python -m tests.benchmarks.bench_engine`, or `pytest -s tests/benchmarks/bench_engine.py`.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pytest

from course import ENGINES
from engine_sim import AsFound, Engine, Event, Session, WarmIdle, load_card, peak_and_back_off, replay
from engine_sim.model.response_map import ResponseMap, stored_map
from tests.numerics.reference_cycle import AS_GOOD, integrated, marched
from tests.scripted_learner import SAFE

pytestmark = pytest.mark.benchmark
CYCLES, CYCLES_BESIDE = 4096, 12
REPEATS = 5


def shortest(work, repeats: int = REPEATS) -> float:
    """Shortest of several runs [s]: what the machine can do when nothing else asks for it."""
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def truck() -> Engine:
    """The delivery truck's engine."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


def report(what: str, value: str) -> None:
    """One printed line."""
    print(f"{what:<64} {value:>20}", flush=True)


def test_cycles_beside_a_general_integrator():
    """Cycles a second, beside scipy's integrator on the same equations at a like accuracy, and the ratio."""
    engine, rng = truck(), np.random.default_rng(2)
    points = [rng.uniform(*limits, CYCLES) for limits in ((600.0, 4500.0), (35e3, 100e3), (5.0, 40.0))]
    ours = CYCLES / shortest(lambda: engine.run_cycle(*points))
    few = [column[:CYCLES_BESIDE] for column in points]
    begun, apart = time.perf_counter(), []
    solutions = [
        integrated(engine, speed, marched(engine, speed, pressure, spark)[1].charge, AS_GOOD)
        for speed, pressure, spark in zip(*few, strict=True)
    ]
    theirs = CYCLES_BESIDE / (time.perf_counter() - begun)
    for solution, speed, pressure, spark in zip(solutions, *few, strict=True):
        trace = marched(engine, speed, pressure, spark)[1]
        apart.append(abs(trace.pressure_pa[-1, 0] / solution.pressure_pa - 1))
    report("cycles a second, this engine (4,096 points at once)", f"{ours:,.0f}")
    report("cycles a second, scipy solve_ivp, same equations", f"{theirs:,.1f}")
    report("ratio", f"{ours / theirs:,.0f} times")
    report("largest difference in pressure at exhaust opening", f"{max(apart):.1e}")


def test_shared_compression():
    """Points that differ only in their spark, sixteen of a kind as in a map, beside as many that share nothing."""
    engine, rng = truck(), np.random.default_rng(5)
    speed, pressure, spark = [rng.uniform(*limits, CYCLES) for limits in ((600.0, 4500.0), (35e3, 100e3), (5.0, 40.0))]
    kinds = np.arange(CYCLES) // 16
    apart = shortest(lambda: engine.run_cycle(speed, pressure, spark))
    shared = shortest(lambda: engine.run_cycle(speed[kinds], pressure[kinds], spark))
    report("4,096 cycles that share nothing", f"{apart * 1e3:,.0f} ms")
    report("the same sparks, sixteen to each speed and pressure", f"{shared * 1e3:,.0f} ms")


def test_growth():
    """Time for each cycle as the number of operating points grows: linear means that it stays."""
    engine, rng = truck(), np.random.default_rng(3)
    for count in (1024, 4096, 16_384, 65_536):
        points = [rng.uniform(*limits, count) for limits in ((600.0, 4500.0), (35e3, 100e3), (5.0, 40.0))]
        seconds = shortest(lambda points=points: engine.run_cycle(*points), 3)
        report(f"one cycle of {count:,} at once", f"{seconds / count * 1e6:,.1f} us")


def test_map():
    """Building a map, keeping and loading it, and asking it."""
    engine = truck()
    built = engine.build_map()
    nodes = int(np.prod([axis.size for axis in ResponseMap.axes(101_325.0)]))
    seconds = shortest(engine.build_map)
    report(f"map of {nodes:,} points built", f"{seconds * 1e3:,.0f} ms")
    report("cycles a second while building it", f"{nodes / seconds:,.0f}")
    with tempfile.TemporaryDirectory() as folder:
        stored_map("bench", lambda: built, built.ambient_pa, Path(folder))
        loading = shortest(lambda: stored_map("bench", lambda: built, built.ambient_pa, Path(folder)))
    report("the same map loaded from disk", f"{loading * 1e3:,.1f} ms")
    asking = shortest(lambda: [built.at_point(800.0, 37e3, 8.0) for _ in range(1000)]) / 1000
    report("memory of a map", f"{built.table.nbytes / 1e6:,.2f} MB")
    report("all quantities at one point of it", f"{asking * 1e6:,.0f} us")


def test_method_and_idle():
    """A settled idle, and the whole method of the course as a computation."""
    engine = truck()
    engine.response()
    report("one settled idle", f"{shortest(lambda: engine.idle(8.0, 2.3)) * 1e3:,.2f} ms")
    many = np.linspace(-10.0, 50.0, 200)
    report("two hundred settled idles at once", f"{shortest(lambda: engine.idle(many, 2.3)) * 1e3:,.1f} ms")
    method = shortest(lambda: peak_and_back_off(WarmIdle(engine), 0.0, 2.3, 800.0, 75.0, (0.0, 6.0)), 3)
    report("peak, re-trim, peak again, back off", f"{method * 1e3:,.0f} ms")


def test_session():
    """A running session: what one tick of 20 ms costs, and how many times faster than the clock it runs."""
    session = Session(truck(), found=AsFound(8.0, 2.6))
    for control, value in {**SAFE, "tachometer": "on", "gauge_hose": "manifold"}.items():
        session.act(control, value)
    session.act("starter")
    session.advance(5.0)
    seconds = shortest(lambda: session.advance(20.0))
    report("one tick (20 ms) of a running session", f"{seconds / 1000 * 1e6:,.0f} us")
    report("simulated seconds a second", f"{20.0 / seconds:,.0f}")
    report("one reading of the gauges", f"{shortest(lambda: [session.readings() for _ in range(1000)]) * 1e3:,.1f} us")


def test_replay():
    """A busy quarter of an hour at the bench, replayed as the judge does it; and the same with nothing turned."""
    events = [Event(0.0, "x", control, value) for control, value in SAFE.items()]
    events += [Event(0.0, "x", "starter", None), Event(2.0, "x", "clamp", "loose")]
    turns = [Event(4.0 + 6.0 * step, "x", "distributor", float(step % 9)) for step in range(149)]
    for what, more in (("turned every six seconds", turns), ("left alone", turns[-1:])):
        engine = truck()
        engine.response()
        seconds = shortest(lambda more=more, engine=engine: replay([*events, *more], engine, exercise="x"), 3)
        report(f"replay of {more[-1].time_s / 60:.0f} minutes, {what}", f"{seconds:,.2f} s")


def test_import():
    """What importing the engine costs beyond numpy."""

    def run(work):
        return shortest(lambda: subprocess.run([sys.executable, "-c", work], check=True))

    numpy_alone = run("import numpy")
    report("import numpy, in a fresh interpreter", f"{numpy_alone * 1e3:,.0f} ms")
    report("import engine_sim beyond it", f"{(run('import numpy, engine_sim') - numpy_alone) * 1e3:,.0f} ms")
    whole = run("import numpy, engine_sim as e; e.Engine, e.Session, e.EvidenceWriter")
    report("engine, session and evidence beyond it", f"{(whole - numpy_alone) * 1e3:,.0f} ms")
    card = run("import numpy, engine_sim as e; e.Session, e.load_card")
    report("the same with the card's reader (pydantic)", f"{(card - numpy_alone) * 1e3:,.0f} ms")


if __name__ == "__main__":
    for measure in (
        test_cycles_beside_a_general_integrator,
        test_shared_compression,
        test_growth,
        test_map,
        test_method_and_idle,
        test_session,
        test_replay,
        test_import,
    ):
        measure()
