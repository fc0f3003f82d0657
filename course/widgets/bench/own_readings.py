"""The learner's own readings at idle, each over the turn of the distributor body at which it was taken: what the
written record holds, put together for a plot."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine_sim.workshop.session import LogLine
    from engine_sim.workshop.trajectory import ActionRecord

# The vacuum [inHg] and the speed [rpm] of a line of the record; none where a gauge was not connected.
READ = re.compile(r"Read: (?:([\d.]+) inHg|no gauge)[^;]*; (?:(\d+) rpm|no tachometer)")
# With another of these the engine idles otherwise, and its readings do not belong to the same curve.
IDLES_BY = (
    "idle_screw",
    "mixture_screw",
    "vacuum_hose",
    "gear",
    "fuel",
    "springs",
    "weights_stop",
    "canister_screw",
    "point_gap",
    "refit",
)

# Turn of the body [degrees clockwise of where it was found], vacuum [inHg] and speed [rpm], and whether the engine
# idled otherwise then than at the latest reading.
OwnReading = tuple[float, float | None, float | None, bool]


def own_readings(log: Sequence[LogLine], actions: Iterable[ActionRecord]) -> list[OwnReading]:
    """The readings of one attempt, in their order.

    Only readings of an engine that idled by itself are there: none with an open throttle, a held speed or on the test
    stand. The vacuum of a ported source is left out.
    """
    lines = [line.text for line in log if line.text.startswith("Read: ")]
    acts = [act for act in actions if (act.control, act.kind) == ("read_gauges", "done")]
    taken = []
    for text, act in zip(lines, acts, strict=False):
        found = READ.match(text)
        if found and act.running and _idles(act.settings):
            vacuum = float(found[1]) if found[1] and act.settings["gauge_hose"] == "manifold" else None
            speed = float(found[2]) if found[2] else None
            taken.append((float(act.settings["distributor"]), vacuum, speed, _idles_by(act.settings)))
    latest = taken[-1][-1] if taken else ()
    return [(turn, vacuum, speed, idled_by != latest) for turn, vacuum, speed, idled_by in taken]


def _idles(settings: Mapping) -> bool:
    return not (settings["throttle"] or settings["hold_speed"] or settings["load_brake"])


def _idles_by(settings: Mapping) -> tuple:
    return tuple(settings[name] for name in IDLES_BY)
