"""The last minutes of speed and vacuum as the gauges showed them: for the strip of a page that is opened later, and
for the time that a press on "wait" let pass."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine_sim import Readings, Trajectory

SHOWN_S = 150.0  # as long as the strip in strip_chart.js
EVERY_S = 0.2
GAP_S = 2.0  # beyond it the strip is broken off; as in strip_chart.js

Point = tuple[float, float | None, float | None]  # time [s], speed [rpm], vacuum [inHg]; None: gauge not connected


class RecentPast:
    """Points at most five times a second over the last `SHOWN_S` seconds of one try's clock.

    A try that was replayed from evidence begins with what its gauges showed then. The gauge on a ported source is
    left out of that part: what it showed is not in a trajectory.
    """

    def __init__(self, trajectory: Trajectory, now_s: float):
        self._points: deque[Point] = deque(_replayed_points(trajectory, now_s - SHOWN_S))

    @property
    def points(self) -> list[Point]:
        """The points, oldest first."""
        return list(self._points)

    def add(self, readings: Readings) -> None:
        """Take note of what the gauges show now; a clock that goes back is a new try."""
        now_s = readings.time_s
        if self._points and now_s < self._points[-1][0] - 0.5:
            self._points.clear()
        if self._points and now_s - self._points[-1][0] < EVERY_S:
            return
        speed, vacuum = readings.speed_rpm, readings.vacuum_inhg
        self._points.append(
            (
                round(now_s, 2),
                None if speed is None else round(float(speed), 1),
                None if vacuum is None else round(float(vacuum), 3),
            )
        )
        self._forget(now_s)

    def fill_in(self, trajectory: Trajectory, from_s: float, now_s: float) -> bool:
        """Take note of what the gauges showed while time was let pass, after `from_s`; return whether it was enough for
        the strip to have a gap without it."""
        if now_s - from_s <= GAP_S:
            return False
        self._points.extend(point for point in _replayed_points(trajectory, from_s) if point[0] > from_s)
        self._forget(now_s)
        return True

    def _forget(self, now_s: float) -> None:
        while self._points and self._points[0][0] < now_s - SHOWN_S:
            self._points.popleft()


def _replayed_points(trajectory: Trajectory, from_s: float) -> list[Point]:
    """The samples since `from_s`, each read with the gauges that were connected at its time."""
    actions, points, place = trajectory.actions, [], 0
    connected = {name: actions[0].settings.get(name) if actions else None for name in ("tachometer", "gauge_hose")}
    for sample in trajectory.samples:
        while place < len(actions) and actions[place].time_s <= sample.time_s:
            action = actions[place]
            if action.kind == "done" and action.control in connected:
                connected[action.control] = action.value
            place += 1
        if sample.time_s >= from_s:
            points.append(
                (
                    round(sample.time_s, 2),
                    round(float(sample.speed_rpm), 1) if connected["tachometer"] == "on" else None,
                    round(float(sample.vacuum_inhg), 3) if connected["gauge_hose"] == "manifold" else None,
                )
            )
    return points
