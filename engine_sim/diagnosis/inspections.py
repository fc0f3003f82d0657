"""Every inspection of the workshop, by its id."""

from __future__ import annotations

from engine_sim.errors import TimingCourseError

from .inspection import Inspection
from .inspections_at_rest import AT_REST
from .inspections_running import RUNNING
from .inspections_starting import STARTING

INSPECTIONS: dict[str, Inspection] = {**RUNNING, **AT_REST, **STARTING}


class UnknownInspection(TimingCourseError):
    """An inspection was named that there is not."""


def inspection_named(name: str) -> Inspection:
    """The inspection of that id. Raises UnknownInspection that lists the ids there are.

    >>> import engine_sim
    >>> look = engine_sim.inspection_named("hose_trace")
    >>> look.minutes, look.takes_apart
    (3, False)
    """
    if name not in INSPECTIONS:
        raise UnknownInspection(f"There is no inspection '{name}'; there are {', '.join(INSPECTIONS)}.")
    return INSPECTIONS[name]
