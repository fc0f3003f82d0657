"""The response map: what the cycle gives over speed, manifold pressure and spark, built once and kept on disk.

Between its nodes the map is interpolated by cubic convolution in all three directions, so that the top of a flat
vacuum peak lies where the engine has it and not at the nearest node. Beyond its edges it saturates: the nearest
edge is used, as the docstring of `ResponseMap.at` says.
"""

from __future__ import annotations

import hashlib
import math
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from engine_sim.physics.arrays import Numbers
from engine_sim.version import MODEL_VERSION, code_digest

if TYPE_CHECKING:
    from .cycle import CycleResult

SPEED_NODES = 17  # evenly spaced in log speed
PRESSURE_NODES = 25
SPARK_NODES = 16  # every 5 crank degrees
SLOWEST_RPM = 250.0
FASTEST_RPM = 5600.0
LOWEST_PA = 12_000.0  # of manifold pressure
HIGHEST_SHARE_OF_AMBIENT = 1.02  # of manifold pressure, so that an open throttle lies inside the map
LATEST_DEG = -14.0  # crank degrees BTDC of total advance
EARLIEST_DEG = 61.0  # crank degrees BTDC of total advance
MOST_KEPT = 120  # maps in the cache folder, about 50 MB; the oldest make room
_FOUR = np.arange(4)
QUANTITIES = ("imep_pa", "log_integral_100", "air_kg", "fuel_kg", "burn_deg", "exhaust_k", "compression_pa")


@dataclass(frozen=True)
class ResponseMap:
    """`table[speed, pressure, spark, quantity]` with one ghost node beyond each edge; axes are evenly spaced in
    log speed, pressure and spark."""

    table: np.ndarray
    ambient_pa: float
    _speed: tuple[float, float, float, int] = field(init=False, repr=False)
    _pressure: tuple[float, float, float, int] = field(init=False, repr=False)
    _spark: tuple[float, float, float, int] = field(init=False, repr=False)
    _blocks: dict[int, np.ndarray] = field(init=False, repr=False)

    def __post_init__(self):
        highest = HIGHEST_SHARE_OF_AMBIENT * self.ambient_pa
        speeds = math.log(SLOWEST_RPM), math.log(FASTEST_RPM / SLOWEST_RPM)
        object.__setattr__(self, "_speed", _axis(*speeds, SPEED_NODES))
        object.__setattr__(self, "_pressure", _axis(LOWEST_PA, highest - LOWEST_PA, PRESSURE_NODES))
        object.__setattr__(self, "_spark", _axis(LATEST_DEG, EARLIEST_DEG - LATEST_DEG, SPARK_NODES))
        object.__setattr__(self, "_blocks", {})  # the nodes around each cell that was visited, ready for `at_point`

    @staticmethod
    def axes(ambient_pa: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Speed [rpm], manifold pressure [Pa] and spark [deg BTDC] of the nodes."""
        return (
            np.geomspace(SLOWEST_RPM, FASTEST_RPM, SPEED_NODES),
            np.linspace(LOWEST_PA, HIGHEST_SHARE_OF_AMBIENT * ambient_pa, PRESSURE_NODES),
            np.linspace(LATEST_DEG, EARLIEST_DEG, SPARK_NODES),
        )

    @classmethod
    def build(cls, cycle: Callable[..., CycleResult], ambient_pa: float) -> ResponseMap:
        """Run `cycle(speed_rpm, manifold_pa, spark_deg_btdc)` on every node of the map."""
        speed, pressure, spark = cls.axes(ambient_pa)
        result = cycle(speed[:, None, None], pressure[None, :, None], spark[None, None, :])
        special = {
            "imep_pa": result.imep_pa * (1.0 - result.misfire),  # on the average of cycles that burn and that go out
            "log_integral_100": np.log(result.integral_100),
        }
        values = [special[name] if name in special else getattr(result, name) for name in QUANTITIES]
        return cls(_with_ghosts(np.stack(values, axis=-1)), ambient_pa)

    def blended(self, other: ResponseMap, share: float) -> ResponseMap:
        """The map that lies a share of the way from this one to another, on straight lines."""
        return ResponseMap(self.table + share * (other.table - self.table), self.ambient_pa)

    def at_point(self, speed_rpm: float, manifold_pa: float, spark_deg: float) -> list[float]:
        """All quantities at one point, as plain floats in the order of QUANTITIES; saturates at the edges."""
        row, across = _place(math.log(speed_rpm if speed_rpm > 1.0 else 1.0), self._speed)
        column, along = _place(manifold_pa, self._pressure)
        layer, deep = _place(spark_deg, self._spark)
        cell = (row * PRESSURE_NODES + column) * SPARK_NODES + layer
        block = self._blocks.get(cell)
        if block is None:
            block = self.table[row : row + 4, column : column + 4, layer : layer + 4].reshape(4, -1)
            self._blocks[cell] = block
        block = np.array(cubic_weights(across)).dot(block).reshape(4, -1)
        block = np.array(cubic_weights(along)).dot(block).reshape(4, -1)
        return np.array(cubic_weights(deep)).dot(block).tolist()

    def at(self, speed_rpm: Numbers, manifold_pa: Numbers, spark_deg: Numbers, name: str) -> np.ndarray:
        """One quantity at arrays of points (broadcast).

        Saturates: below 250 or above 5,600 rpm, below 12 kPa or above 1.02 of ambient pressure, and outside
        -14 to 61 degrees of spark, the nearest edge is used.
        """
        speed, pressure, spark = np.broadcast_arrays(
            *(np.asarray(x, float) for x in (speed_rpm, manifold_pa, spark_deg))
        )
        places = (
            _places(np.log(np.maximum(speed, 1.0)), self._speed),
            _places(pressure, self._pressure),
            _places(spark, self._spark),
        )
        return _convolve(self.table[..., QUANTITIES.index(name)], places)

    def air_at(self, speed_rpm: np.ndarray) -> Callable[[np.ndarray], np.ndarray]:
        """Fresh air a cylinder and cycle [kg] at these speeds, whatever the spark: a function of manifold
        pressures [Pa] of the same shape; saturates as `at` does."""
        cell, share = _places(np.log(np.maximum(speed_rpm, 1.0)).reshape(-1, 1), self._speed)
        near = self.table[cell + _FOUR, :, 1, QUANTITIES.index("air_kg")]
        rows = np.einsum("ni,nij->nj", np.hstack(cubic_weights(share)), near)

        def over_pressure(manifold_pa: np.ndarray) -> np.ndarray:
            cell, share = _places(manifold_pa.reshape(-1, 1), self._pressure)
            near = np.take_along_axis(rows, cell + _FOUR, axis=1)
            return (near * np.hstack(cubic_weights(share))).sum(axis=1).reshape(manifold_pa.shape)

        return over_pressure


def _convolve(table: np.ndarray, places) -> np.ndarray:
    """Weighted sum over the four nodes around each point in every direction: one gather for all of them."""
    index: list[np.ndarray] = []
    weight: Numbers = 1.0
    for axis, (cell, share) in enumerate(places):
        shape = (-1, *(4 if other == axis else 1 for other in range(len(places))))
        index.append((cell.reshape(-1, 1) + _FOUR).reshape(shape))
        weight = weight * np.stack(cubic_weights(share.reshape(-1)), axis=1).reshape(shape)
    total = (table[tuple(index)] * weight).reshape(places[0][0].size, -1).sum(axis=1)
    return total.reshape(places[0][0].shape)


def _with_ghosts(values: np.ndarray) -> np.ndarray:
    """Add one node beyond each edge, on the line through the last two: the cubic then meets the edge smoothly."""
    for axis in range(3):
        first, second = np.take(values, [0], axis), np.take(values, [1], axis)
        last, before = np.take(values, [-1], axis), np.take(values, [-2], axis)
        values = np.concatenate([2 * first - second, values, 2 * last - before], axis)
    return np.ascontiguousarray(values)


def _axis(low: float, span: float, nodes: int) -> tuple[float, float, float, int]:
    """Where an axis of evenly spaced nodes begins, how many there are to a unit, its last place, and its last cell."""
    return low, (nodes - 1) / span, nodes - 1.0, nodes - 2


def _place(value: float, axis: tuple) -> tuple[int, float]:
    low, scale, last, last_cell = axis
    position = (value - low) * scale
    if position < 0.0:
        return 0, 0.0
    if position >= last:
        return last_cell, 1.0
    cell = int(position)
    return cell, position - cell


def _places(value, axis: tuple):
    low, scale, last, last_cell = axis
    position = np.clip((value - low) * scale, 0.0, last)
    cell = np.minimum(position.astype(int), last_cell)
    return cell, position - cell


def cubic_weights(t: Numbers) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Weights of the four nodes around a point at a share t between the middle two (cubic convolution)."""
    return (
        t * (t * (1.0 - 0.5 * t) - 0.5),
        t * t * (1.5 * t - 2.5) + 1.0,
        t * (t * (2.0 - 1.5 * t) + 0.5),
        t * t * (0.5 * t - 0.5),
    )


def cache_folder() -> Path:
    """Where maps are kept: TIMING_COURSE_CACHE, or the user's cache folder."""
    named = os.environ.get("TIMING_COURSE_CACHE")
    if named:
        return Path(named)
    home = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or Path.home() / ".cache"
    return Path(home) / "timing-course"


def map_code(package: Path) -> list[Path]:
    """The parts of the package engine_sim that a map is worked out with."""
    return [package / name for name in ("model", "physics", "errors.py", "version.py")]


# As it was loaded, however the files may change while it runs.
_PROGRAM = code_digest(map_code(Path(__file__).parents[1]))


def stored_map(
    key: str, build: Callable[[], ResponseMap], ambient_pa: float, folder: Path | None = None
) -> ResponseMap:
    """Load the map of that key, or build and keep it. A file that cannot be read is built again; a folder that
    cannot be written only costs the time of building again."""
    digest = hashlib.sha256(f"{MODEL_VERSION}|{_PROGRAM}|{key}".encode()).hexdigest()[:24]
    path = (folder or cache_folder()) / f"{digest}.npy"
    shape = (SPEED_NODES + 2, PRESSURE_NODES + 2, SPARK_NODES + 2, len(QUANTITIES))
    try:
        table = np.load(path, allow_pickle=False)
        if table.shape == shape and np.isfinite(table).all():
            return ResponseMap(table, ambient_pa)
    except (OSError, ValueError, EOFError):
        pass
    response = build()
    _keep(path, response.table)
    return response


def _keep(path: Path, table: np.ndarray) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as file:
            np.save(file, table)
        os.replace(file.name, path)
        for old in sorted(path.parent.glob("*.npy"), key=lambda kept: kept.stat().st_mtime)[:-MOST_KEPT]:
            old.unlink(missing_ok=True)
    except OSError:
        return
