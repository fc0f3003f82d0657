"""The engine of an exercise in which a fault is to be found by its signs: set by its label, so that nothing else is
wrong."""

from __future__ import annotations

from graders.schema import FoundAs

from .common import need

NEAR_LABEL_DEG = 3.0


def need_set_by_label(found: FoundAs) -> None:
    """Raise RubricError where the engine's timing itself could be what is wrong beside the fault that is drawn."""
    by_label = found.set_by == "label" and abs(found.off_label_deg) <= NEAR_LABEL_DEG
    need(by_label, 'found needs set_by = "label", and at most 3 degrees off it: the fault alone is to be found')
    need(not found.springs, "found.springs belongs to a bench: take it out, the fault alone is to be found")
