"""The response map beside the cycle that it stands for: error, edges, sameness, and the file on disk."""

import os

import numpy as np
import pytest

from course import ENGINES
from engine_sim import Conditions, Engine, load_card
from engine_sim.model import response_map
from engine_sim.model.engine import MAP_STEP_DEG
from engine_sim.model.response_map import QUANTITIES, stored_map
from engine_sim.physics.knock import octane_required

CARDS = sorted(path.stem for path in ENGINES.glob("*.toml"))
FULL_SCALE = (2000.0, 100e3, 25.0)
MANY = 4000
BOXES = {  # speed [rpm], manifold pressure [Pa], total advance [deg]
    "driving": ((1000.0, 4500.0), (30e3, 100e3), (5.0, 50.0)),
    "idling": ((550.0, 1200.0), (30e3, 60e3), (-5.0, 50.0)),
}


@pytest.fixture(scope="module", params=CARDS)
def engine(request):
    """Each engine of the workshop in turn."""
    return Engine(load_card(ENGINES / f"{request.param}.toml"))


@pytest.fixture(scope="module")
def built(engine):
    """The map of a sea-level day."""
    return engine.build_map()


@pytest.fixture(scope="module", params=BOXES, ids=str)
def beside(request, engine, built):
    """Where the map was asked, its answers for mean pressure and octane requirement, and the cycle's own."""
    rng = np.random.default_rng(4)
    points = [rng.uniform(*limits, MANY) for limits in BOXES[request.param]]
    result = engine.run_cycle(*points)
    burns = result.misfire < 0.02
    assert burns.mean() > 0.8
    return (
        request.param,
        [column[burns] for column in points],
        built,
        {name: getattr(result, name)[burns] for name in ("work_pa", "integral_100", "air_kg", "exhaust_k")},
    )


def test_mean_pressure_of_the_map(engine, beside):
    """Where the charge burns, mean pressure is within 1.7 percent of full scale, and within 0.2 percent as a rule; the
    largest errors lie where charges begin to go out."""
    _, points, built, exact = beside
    full = engine.run_cycle(*(np.array([value]) for value in FULL_SCALE)).work_pa[0]
    error = np.abs(built.at(*points, "work_pa") - exact["work_pa"]) / full
    assert error.max() < 0.017 and np.sqrt(np.mean(error**2)) < 0.002


def test_octane_requirement_of_the_map(beside):
    """Where the charge burns, the octane requirement is within 0.3 octane numbers driving, and within 2 idling, where
    nothing pings."""
    name, points, built, exact = beside
    found = octane_required(np.exp(built.at(*points, "log_integral_100")))
    error = np.abs(found - octane_required(exact["integral_100"]))
    assert error.max() < {"driving": 0.3, "idling": 2.0}[name]


def test_air_of_the_map(beside):
    """The air drawn is within 1 percent, by either way of asking."""
    _, points, built, exact = beside
    assert built.at(*points, "air_kg") == pytest.approx(exact["air_kg"], rel=0.01)
    assert built.air_at(points[0])(points[1]) == pytest.approx(exact["air_kg"], rel=0.01)


def test_nodes_are_met_exactly(engine, built):
    """At its nodes the map is the cycle itself."""
    speed, pressure, spark = (axis[[1, 5, 9]] for axis in built.axes(built.ambient_pa))
    found = engine.run_cycle(speed, pressure, spark, step_deg=MAP_STEP_DEG)
    assert built.at(speed, pressure, spark, "work_pa") == pytest.approx(found.work_pa, rel=1e-12)


def test_the_point_way_is_the_array_way(built):
    """The quick way for one point gives the numbers of the way for many, inside and on the edges."""
    for point in ((800.0, 37e3, 8.0), (250.0, 12e3, -14.0), (6000.0, 103e3, 71.0), (2100.0, 98e3, 60.0)):
        one = built.at_point(*point)
        many = [float(built.at(*point, name)) for name in QUANTITIES]
        assert one == pytest.approx(many, rel=1e-10, abs=1e-12)


def test_beyond_its_edges_a_running_engine_has_the_nearest_edge(built):
    """Where a running engine leaves the map nothing runs away: the quick way uses the nearest edge, which `inside`
    names."""
    for point in ((800.0, 37e3, response_map.EARLIEST_DEG + 20.0), (10.0, 37e3, 8.0), (9e3, 2e5, -40.0)):
        nearest = built.at_point(*(float(value) for value in built.inside(*point)))
        assert built.at_point(*point) == pytest.approx(nearest, rel=1e-12)


def test_the_map_has_no_steps(built):
    """Along each axis, a thousandth of a node's distance changes mean pressure by next to nothing: no jumps between
    cells."""
    for axis, (low, high) in enumerate(((260.0, 5500.0), (13e3, 102e3), (-13.0, 60.0))):
        points = [np.full(20_001, value) for value in (1200.0, 60e3, 22.0)]
        points[axis] = np.linspace(low, high, 20_001)
        values = built.at(*points, "work_pa")
        assert np.abs(np.diff(values)).max() < 2e-3 * np.ptp(values)


def test_peak_of_the_map_is_the_peak_of_the_cycle(engine, built):
    """The best spark at full load lies within half a degree of the cycle's; that of an idle, where the top is so flat
    that 3 degrees cost a tenth of a percent, within 3 degrees."""
    spark = np.arange(15.0, 55.0, 0.05)
    for speed, pressure, within in ((2000.0, 95e3, 0.5), (800.0, 36e3, 3.0), (750.0, 38e3, 3.0)):
        exact = engine.run_cycle(np.full(spark.size, speed), pressure, spark).work_pa
        found = spark[np.argmax(built.at(speed, pressure, spark, "work_pa"))]
        assert abs(found - spark[np.argmax(exact)]) < within
        assert exact[np.argmin(abs(spark - found))] > 0.998 * exact.max()


def test_misfire_of_the_map_is_that_of_the_cycle(engine, built):
    """At every idle that can be held, what the map says of misfire is within 0.03 of what the cycle says."""
    spark, pressure = np.meshgrid(np.linspace(0.0, 45.0, 41), np.linspace(32e3, 50e3, 41))
    found = built.at(800.0, pressure, spark, "misfire")
    assert np.abs(found - engine.run_cycle(800.0, pressure, spark).misfire).max() < 0.03


def test_the_same_map_every_time(engine, built):
    """Built twice, the map is the same to the last bit; another altitude gives another."""
    assert np.array_equal(engine.build_map().table, built.table)
    assert not np.array_equal(engine.build_map(Conditions(altitude_ft=5000.0)).table, built.table)


def test_kept_and_loaded(built, tmp_path):
    """A map is built once, loaded from disk thereafter, and the loaded one is the same."""
    calls = []

    def build():
        calls.append(1)
        return built

    first = stored_map("some engine", build, built.ambient_pa, tmp_path)
    second = stored_map("some engine", build, built.ambient_pa, tmp_path)
    assert len(calls) == 1 and np.array_equal(first.table, second.table)
    stored_map("another engine", build, built.ambient_pa, tmp_path)
    assert len(calls) == 2


def test_the_map_that_nobody_asked_for_longest_makes_room(built, tmp_path, monkeypatch):
    """A map that is loaded again and again stays, however many others come after it."""
    monkeypatch.setattr(response_map, "MOST_KEPT", 3)
    made = []
    for at, name in enumerate(("often", "once", "once more", "often", "new", "often")):
        stored_map(name, lambda name=name: made.append(name) or built, built.ambient_pa, tmp_path)
        newest = max(tmp_path.glob("*.npy"), key=lambda kept: kept.stat().st_mtime)
        os.utime(newest, (at, at))  # a file system's clock may be too coarse to tell them apart
    assert made == ["often", "once", "once more", "new"] and len(list(tmp_path.glob("*.npy"))) == 3


@pytest.mark.parametrize("spoiled", [b"", b"no numbers", b"\x93NUMPY\x01\x00"])
def test_a_spoiled_file_is_built_anew(built, tmp_path, spoiled):
    """A file cut off or overwritten is replaced by a good one."""
    stored_map("some engine", lambda: built, built.ambient_pa, tmp_path)
    [path] = tmp_path.glob("*.npy")
    path.write_bytes(spoiled)
    assert np.array_equal(stored_map("some engine", lambda: built, built.ambient_pa, tmp_path).table, built.table)
    assert np.array_equal(np.load(path), built.table)


def test_a_folder_that_cannot_be_written_costs_only_time(built, tmp_path):
    """Where the cache is no folder at all, the map is still had."""
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")
    assert stored_map("some engine", lambda: built, built.ambient_pa, blocked / "maps") is built


def test_a_map_of_numbers_that_are_none_is_not_believed(built, tmp_path):
    """A stored map that holds NaN is built afresh."""
    stored_map("some engine", lambda: built, built.ambient_pa, tmp_path)
    [path] = tmp_path.glob("*.npy")
    np.save(path, np.full(built.table.shape, np.nan))
    assert np.isfinite(stored_map("some engine", lambda: built, built.ambient_pa, tmp_path).table).all()


def test_maps_are_kept_in_a_folder_of_their_own(monkeypatch, tmp_path):
    """Beside other programs' folders in the user's cache, or where TIMING_COURSE_CACHE says."""
    monkeypatch.delenv("TIMING_COURSE_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert response_map.cache_folder() == tmp_path / "timing-course"
    monkeypatch.setenv("TIMING_COURSE_CACHE", str(tmp_path / "mine"))
    assert response_map.cache_folder() == tmp_path / "mine"


@pytest.mark.parametrize("shift", [-0.4, 0.08])
def test_another_idle_mixture_is_worked_out_only_where_the_idle_circuit_feeds(engine, built, shift):
    """Like the map as jetted but for what the idle's circuit feeds, and the same as when all nodes are worked out."""
    fewer = engine.build_map(mixture_shift=shift, as_jetted=built).table
    assert np.array_equal(fewer, engine.build_map(mixture_shift=shift).table)
    assert 0.5 < np.mean(np.all(fewer == built.table, axis=(2, 3))) < 0.9
