"""Bench and question forms for the lessons' notebooks: `from course.widgets import bench, choice, number,
several, order, fill_sum, hook_up, curve, needle, diagnosis, engine_card, written, check, picture, words,
hand_in`."""

from .cells import (
    bench,
    check,
    choice,
    curve,
    diagnosis,
    engine_card,
    fill_sum,
    hook_up,
    needle,
    number,
    order,
    several,
    written,
)
from .hand_in_cell import hand_in
from .picture_cell import picture
from .words_card import words

__all__ = [
    "bench",
    "check",
    "choice",
    "curve",
    "diagnosis",
    "engine_card",
    "fill_sum",
    "hand_in",
    "hook_up",
    "needle",
    "number",
    "order",
    "picture",
    "several",
    "words",
    "written",
]
