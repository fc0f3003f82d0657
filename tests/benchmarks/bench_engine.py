"""How fast the engine is, measured side by side and printed; nothing here passes or fails.

`python -m tests.benchmarks.bench_engine`, or `pytest -s tests/benchmarks/bench_engine.py`.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import astuple, fields
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from course import ENGINES
from engine_sim import AsFound, Engine, Event, Session, WarmIdle, load_card, peak_and_back_off, replay
from engine_sim.model.cycle import Charge
from engine_sim.model.response_map import ResponseMap, stored_map
from tests.engine_sim.test_waiting import TickByTick, state
from tests.numerics.reference_cycle import Solution, integrated, integrated_together, marched, runge_kutta_together
from tests.scripted_learner import SAFE

pytestmark = pytest.mark.benchmark
CYCLES, CYCLES_BESIDE, CYCLES_EXACT = 4096, 1024, 12
KNOCK = ("integral_100",)
MATCHED = ("pressure_pa", "work_j", "wall_heat_j", *KNOCK)
TOLERANCES = tuple(10.0 ** (-0.25 * quarter) for quarter in range(10, 33))
STEPS_DEG = tuple(0.25 * quarter for quarter in range(24, 1, -1))
REPEATS = 5
HOOKED_UP = {**SAFE, "tachometer": "on", "gauge_hose": "manifold"}


def shortest(work, repeats: int = REPEATS, clock=time.perf_counter) -> float:
    """Shortest of several runs [s]: what the machine can do when nothing else asks for it. Where two are compared,
    `clock` is the processor's, which counts no other program's work."""
    times = []
    for _ in range(repeats):
        begun = clock()
        work()
        times.append(clock() - begun)
    return min(times)


def truck() -> Engine:
    """The delivery truck's engine."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))


def report(what: str, value: str) -> None:
    """One printed line."""
    print(f"{what:<64} {value:>20}", flush=True)


def drawn_points(count: int, seed: int) -> list[np.ndarray]:
    """Speeds [rpm], manifold pressures [Pa] and sparks [deg BTDC], evenly drawn."""
    rng = np.random.default_rng(seed)
    return [rng.uniform(*limits, count) for limits in ((600.0, 4500.0), (35e3, 100e3), (5.0, 40.0))]


def picked(charge: Charge, places) -> Charge:
    """Some of many charges."""
    columns = {item.name: np.asarray(getattr(charge, item.name)) for item in fields(Charge)}
    return Charge(**{name: column[places] for name, column in columns.items()})


def all_of(solutions: Sequence[Solution]) -> Solution:
    """Solutions of single points as one, its fields arrays."""
    return Solution(*np.array([astuple(solution) for solution in solutions]).T)


def apart(found: Solution, exact: Solution, names=MATCHED) -> float:
    """Largest relative difference over the points that were solved exactly, and over the quantities that are named."""
    few = exact.pressure_pa.size
    return max(np.max(np.abs(getattr(found, name)[:few] / getattr(exact, name) - 1.0)) for name in names)


def coarsest_as_good(solve: Callable[[float], Solution], ladder: Sequence[float], exact: Solution, names, limit: float):
    """The first setting of a ladder, from coarse to fine, that comes as near to the exact solution, and how near."""
    for setting in ladder:
        near = apart(solve(setting), exact, names)
        if near <= limit:
            return setting, near
    raise AssertionError(f"no setting of {ladder} comes within {limit:.1e} of the exact solution")


def allowed(method: str, tolerance: float, points: int = 1) -> dict:
    """Settings of solve_ivp: errors relative to each quantity, or to a tenth of what it usually is."""
    usual = np.repeat([1e5, 1e3, 1e2, 1e2, 1.0], points)
    return {"method": method, "rtol": tolerance, "atol": 0.1 * tolerance * usual}


def test_cycles_beside_general_solvers():
    """Cycles a second beside general-purpose solvers of the same equations, each as coarse as it may be and still as
    near to the exact solution as ours, with nothing but its own work on the clock."""
    engine, few = truck(), range(CYCLES_EXACT)
    points = drawn_points(CYCLES, 2)
    (speed, _, _), (result, trace) = points, marched(engine, *points)
    charge, beside_charge = trace.charge, picked(trace.charge, slice(CYCLES_BESIDE))
    work = np.sum(0.5 * (trace.pressure_pa[1:] + trace.pressure_pa[:-1]).T * np.diff(trace.volume_m3), axis=1)
    ours = Solution(trace.pressure_pa[-1], trace.end_gas_k[-1], work, trace.wall_heat_j[-1], result.integral_100)
    single = [(speed[place], picked(charge, [place])) for place in few]
    exact = all_of([integrated(engine, *one) for one in single])
    limit = apart(ours, exact)
    print(f"Matched in {', '.join(MATCHED)} when the exhaust valve opens, {CYCLES_EXACT} points against rtol 1e-9:")
    print(
        f"  this engine, {CYCLES:,} points at once: {limit:.1e}; of the knock integral {apart(ours, exact, KNOCK):.1e}"
    )

    def beside(what, solve, unit, ladder, count, names=MATCHED):
        setting, near = coarsest_as_good(solve, ladder, exact, names, limit)
        ours_s, theirs_s = float("inf"), float("inf")
        for _ in range(REPEATS):  # in turn, so that both have the machine alike
            ours_s = min(ours_s, shortest(lambda: engine.run_cycle(*points), 2, time.process_time))
            theirs_s = min(theirs_s, shortest(lambda: solve(setting), 1, time.process_time))
        rate, theirs = CYCLES / ours_s, count / theirs_s
        knock = apart(solve(setting), exact, KNOCK)
        print(f"  {what}, {unit} {setting:.2g}: {near:.1e}; of the knock integral {knock:.1e}")
        report(f"    cycles a second, {rate:,.0f} beside {theirs:,.0f}", f"{rate / theirs:,.1f} times")

    with np.errstate(all="ignore"):  # a trial step that goes too far is taken back by the solver
        for method in ("RK45", "LSODA"):
            beside(
                f"solve_ivp ({method}), a point at a time",
                lambda tolerance, method=method: all_of(
                    [integrated(engine, *one, allowed(method, tolerance)) for one in single]
                ),
                "rtol",
                TOLERANCES,
                CYCLES_EXACT,
            )
        for method in ("RK45", "RK23"):
            beside(
                f"solve_ivp ({method}), {CYCLES_BESIDE:,} points at once",
                lambda tolerance, method=method: integrated_together(
                    engine, speed[:CYCLES_BESIDE], beside_charge, allowed(method, tolerance, CYCLES_BESIDE)
                ),
                "rtol",
                TOLERANCES,
                CYCLES_BESIDE,
                MATCHED[:-1],  # one point's step over the end of its flame is hidden among a thousand others
            )
        for count in (CYCLES_BESIDE, CYCLES):
            beside(
                f"fourth-order Runge-Kutta in numpy, {count:,} points at once",
                lambda step_deg, count=count: runge_kutta_together(
                    engine, speed[:count], picked(charge, slice(count)), step_deg
                ),
                "step [deg]",
                STEPS_DEG,
                count,
            )
    print("  compiled code: not measured, since no compiler is among the declared test dependencies")


def test_shared_compression():
    """Points that differ only in their spark, sixteen of a kind as in a map, beside as many that share nothing."""
    engine = truck()
    speed, pressure, spark = drawn_points(CYCLES, 5)
    kinds = np.arange(CYCLES) // 16
    apart = shortest(lambda: engine.run_cycle(speed, pressure, spark))
    shared = shortest(lambda: engine.run_cycle(speed[kinds], pressure[kinds], spark))
    report("4,096 cycles that share nothing", f"{apart * 1e3:,.0f} ms")
    report("the same sparks, sixteen to each speed and pressure", f"{shared * 1e3:,.0f} ms")


def test_growth():
    """Time for each cycle as the number of operating points grows: linear means that it stays."""
    engine = truck()
    for count in (1024, 4096, 16_384, 65_536):
        points = drawn_points(count, 3)
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
    for control, value in HOOKED_UP.items():
        session.act(control, value)
    session.act("starter")
    session.advance(5.0)
    seconds = shortest(lambda: session.advance(20.0))
    report("one tick (20 ms) of a running session", f"{seconds / 1000 * 1e6:,.0f} us")
    report("simulated seconds a second", f"{20.0 / seconds:,.0f}")
    report("one reading of the gauges", f"{shortest(lambda: [session.readings() for _ in range(1000)]) * 1e3:,.1f} us")


def busy_events(reads_every: int = 0) -> list[Event]:
    """A quarter of an hour at the bench: made safe, started, and the distributor turned every six seconds; the
    gauges are read after every so many turns."""
    events = [Event(0.0, "x", control, value) for control, value in HOOKED_UP.items()]
    events += [Event(0.0, "x", "starter", None), Event(2.0, "x", "clamp", "loose")]
    for step in range(149):
        events.append(Event(4.0 + 6.0 * step, "x", "distributor", float(step % 9)))
        if reads_every and step % reads_every == 0:
            events.append(Event(8.0 + 6.0 * step, "x", "read_gauges", None))
    return events


def test_replay():
    """A busy quarter of an hour at the bench, replayed as the judge does it; and the same with nothing turned."""
    busy = busy_events()
    for what, events in (("turned every six seconds", busy), ("left alone", [*busy[:8], busy[-1]])):
        engine = truck()
        engine.response()
        seconds = shortest(lambda events=events, engine=engine: replay(events, engine, exercise="x"), 3)
        report(f"replay of {events[-1].time_s / 60:.0f} minutes, {what}", f"{seconds:,.2f} s")


def test_waiting():
    """What time costs in which nobody follows the needles: each tick taken and followed by itself, as it was before; at
    the bench as it is; and as a judge replays it. All three in turn, the shortest of five each."""
    engine = truck()
    engine.response()
    hot = AsFound(8.0, 2.4, coolant_c=85.0)

    def hooked_up(kind, found=None, **more):
        session = kind(engine, found=found, exercise="x", **more)
        session._replay(busy_events()[: len(HOOKED_UP)])
        return session

    def started(kind, **more):
        session = hooked_up(kind, AsFound(8.0, 2.6), **more)
        session.act("starter")
        session.advance(5.0)
        return session

    def stretch(work):
        return lambda session: (work(session), session.readings())

    def reopen(events):
        return stretch(lambda session: session._replay(events))

    for what, begin, work in (
        ("wait until warm", started, stretch(lambda session: session.act("wait_until_warm"))),
        ("wait ten seconds", started, stretch(lambda session: session.act("wait"))),
        ("open a busy quarter of an hour again", Session, reopen(busy_events())),
        ("the same, gauges read 30 times", Session, reopen(busy_events(5))),
        ("the same, gauges read 149 times", Session, reopen(busy_events(1))),
        ("an hour beside a cold engine", hooked_up, stretch(lambda session: session._run(180_000))),
        ("an hour beside a hot one", lambda *a, **m: hooked_up(*a, found=hot, **m), stretch(lambda s: s._run(180_000))),
    ):
        ways = {"every tick": (TickByTick, True), "bench": (Session, True), "judge": (Session, False)}
        times, left = dict.fromkeys(ways, float("inf")), {}
        for _ in range(REPEATS):
            for way, (kind, watch) in ways.items():
                fresh = kind(engine, exercise="x", watch=watch) if begin is Session else begin(kind, watch=watch)
                times[way] = min(times[way], shortest(partial(work, fresh), 1, time.process_time))
                left[way] = state(fresh)
        assert left["every tick"] == left["bench"] == left["judge"], what
        report(f"{what}: {', '.join(ways)}", " / ".join(f"{1e3 * one:,.1f}" for one in times.values()) + " ms")
        report(
            "  every tick over bench; state alike to the last bit", f"{times['every tick'] / times['bench']:,.1f} times"
        )


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
        test_cycles_beside_general_solvers,
        test_shared_compression,
        test_growth,
        test_map,
        test_method_and_idle,
        test_session,
        test_replay,
        test_waiting,
        test_import,
    ):
        measure()
