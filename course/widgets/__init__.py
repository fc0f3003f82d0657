"""Bench and question forms for the lessons' notebooks: `from course.widgets import bench, choice, number,
several, order, fill_sum, hook_up, curve, needle, diagnosis, engine_card, written, check, picture, words,
hand_in`."""

from course.widgets.cards.hand_in_cell import hand_in
from course.widgets.cards.picture_cell import picture
from course.widgets.cards.words_card import words

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
