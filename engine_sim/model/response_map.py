"""The response map: what the cycle gives over speed, manifold pressure and spark, built once and kept on disk.

Between its nodes the map is interpolated by cubic convolution in all three directions, so that the top of a flat
vacuum peak lies where the engine has it and not at the nearest node.

An engine may leave the map; what then holds is stated here. A spark later or earlier than the map's does less and less
work (`works_share`). In a manifold emptier than the map's the cylinders draw less and less (`draws_share`). Above its
fastest speed floating valves leave no charge any work (`dynamics.FLOATS_FULLY_RPM`), and slower than its slowest the
starter turns the engine: a charge is then taken as at that speed, on which the constants of `starting` are calibrated.
"""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from engine_sim.errors import OutsideValidity
from engine_sim.physics.arrays import Numbers
from engine_sim.version import MODEL_VERSION, code_digest

if TYPE_CHECKING:
    from .cycle import CycleResult

SPEED_NODES = 25  # evenly spaced in log speed
PRESSURE_NODES = 35
SPARK_NODES = 12  # every 7.7 crank degrees
SLOWEST_RPM = 250.0
FASTEST_RPM = 6000.0
LOWEST_PA = 12_000.0  # of manifold pressure
DRAWS_NOTHING_PA = 8_000.0  # in the manifold: the gas left above the pistons then fills the cylinders; calibration
HIGHEST_SHARE_OF_AMBIENT = 1.02  # of manifold pressure, so that an open throttle lies inside the map
LATEST_DEG = -14.0  # crank degrees BTDC of total advance
EARLIEST_DEG = 71.0  # crank degrees BTDC of total advance
NO_WORK_LATER_DEG = 26.0  # beyond the latest spark, until the charge leaves unburned; calibration
NO_WORK_EARLIER_DEG = 26.0  # beyond the earliest, until no charge so little compressed takes fire; calibration
MOST_KEPT = 120  # maps in the cache folder, about 100 MB; those that nobody asked for longest make room
ROUNDING = 1e-9  # relative, by which a point may lie beyond an edge
_FOUR = np.arange(4)
QUANTITIES = (
    *("work_pa", "log_integral_100", "air_kg", "fuel_kg"),
    *("exhaust_k", "compression_pa", "misfire", "work_spread"),
    *("peak_pressure_pa", "wall_heat_j"),
)


def works_share(spark_deg: Numbers) -> Numbers:
    """Share of a charge's work that is done where the spark [deg BTDC] comes outside the map; float or array.

    Later, the exhaust valve opens before the charge has burned; earlier, the charge is hardly compressed and goes out.
    """
    late, early = (LATEST_DEG - spark_deg) / NO_WORK_LATER_DEG, (spark_deg - EARLIEST_DEG) / NO_WORK_EARLIER_DEG
    return (1.0 - _from_0_to_1(late)) * (1.0 - _from_0_to_1(early))


def draws_share(manifold_pa: Numbers) -> Numbers:
    """Air that the cylinders draw from a manifold emptier than the map's, over that at its edge; float or array."""
    return _from_0_to_1((manifold_pa - DRAWS_NOTHING_PA) / (LOWEST_PA - DRAWS_NOTHING_PA))


def _from_0_to_1(value: Numbers) -> Numbers:
    """The same, bounded to 0 and 1; float or array."""
    return 0.5 * (abs(value) - abs(value - 1.0) + 1.0)


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
    def build(
        cls,
        cycle: Callable[..., CycleResult],
        ambient_pa: float,
        like: ResponseMap | None = None,
        differs: Callable[[np.ndarray, np.ndarray], np.ndarray] | None = None,
    ) -> ResponseMap:
        """Run `cycle(speed_rpm, manifold_pa, spark_deg_btdc)` on every node of the map; where it is `like` another, on
        those alone at whose speed and pressure it `differs` (broadcast, True or False)."""
        speed, pressure, spark = cls.axes(ambient_pa)
        fresh = np.ones((SPEED_NODES, PRESSURE_NODES), bool)
        values = np.empty((*fresh.shape, SPARK_NODES, len(QUANTITIES)))
        if like is not None and differs is not None:
            fresh = differs(speed[:, None], pressure[None, :])
            values[...] = like.table[1:-1, 1:-1, 1:-1]
        row, column = np.nonzero(fresh)
        result = cycle(speed[row, None], pressure[column, None], spark)
        special = {"log_integral_100": np.log(result.integral_100)}
        found = [special[name] if name in special else getattr(result, name) for name in QUANTITIES]
        values[row, column] = np.stack(found, axis=-1)
        return cls(_with_ghosts(values), ambient_pa)

    def blended(self, other: ResponseMap, share: float) -> ResponseMap:
        """The map that lies a share of the way from this one to another, on straight lines."""
        return ResponseMap(self.table + share * (other.table - self.table), self.ambient_pa)

    def at_point(self, speed_rpm: float, manifold_pa: float, spark_deg: float) -> list[float]:
        """All quantities at one point, as plain floats in the order of QUANTITIES; at the nearest edge where a running
        engine has left the map."""
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

        Raises OutsideValidity below 250 or above 6,000 rpm, below 12 kPa or above 1.02 of ambient pressure, and outside
        -14 to 71 degrees of spark.
        """
        speed, pressure, spark = np.broadcast_arrays(
            *(np.asarray(x, float) for x in (speed_rpm, manifold_pa, spark_deg))
        )
        for what, asked, nearest in zip(
            ("speed_rpm", "manifold_pa", "spark_deg"),
            (speed, pressure, spark),
            self.inside(speed, pressure, spark),
            strict=True,
        ):
            outside = ~(np.abs(asked - nearest) <= ROUNDING * np.abs(nearest))
            if outside.any():
                raise OutsideValidity(
                    f"The map has no {what} of {asked[outside].flat[0]:g}; the nearest that it has is "
                    f"{nearest[outside].flat[0]:g}."
                )
        places = (
            _places(np.log(speed), self._speed),
            _places(pressure, self._pressure),
            _places(spark, self._spark),
        )
        return _convolve(self.table[..., QUANTITIES.index(name)], places)

    def inside(
        self, speed_rpm: Numbers, manifold_pa: Numbers, spark_deg: Numbers
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The nearest points that the map has; each of its own shape."""
        return (
            np.clip(speed_rpm, SLOWEST_RPM, FASTEST_RPM),
            np.clip(manifold_pa, LOWEST_PA, HIGHEST_SHARE_OF_AMBIENT * self.ambient_pa),
            np.clip(spark_deg, LATEST_DEG, EARLIEST_DEG),
        )

    def air_at(self, speed_rpm: np.ndarray) -> Callable[[np.ndarray], np.ndarray]:
        """Fresh air a cylinder and cycle [kg] at these speeds, whatever the spark: a function of manifold
        pressures [Pa] of the same shape. Below 12 kPa less and less is drawn; speeds as of `at`, unchecked."""
        cell, share = _places(np.log(speed_rpm).reshape(-1, 1), self._speed)
        near = self.table[cell + _FOUR, :, 1, QUANTITIES.index("air_kg")]
        rows = np.einsum("ni,nij->nj", np.hstack(cubic_weights(share)), near)

        def over_pressure(manifold_pa: np.ndarray) -> np.ndarray:
            cell, share = _places(manifold_pa.reshape(-1, 1), self._pressure)
            near = np.take_along_axis(rows, cell + _FOUR, axis=1)
            air_kg = (near * np.hstack(cubic_weights(share))).sum(axis=1).reshape(manifold_pa.shape)
            return air_kg * draws_share(manifold_pa)

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
            with contextlib.suppress(OSError):  # in a folder that can only be read
                os.utime(path)  # it was asked for now
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
