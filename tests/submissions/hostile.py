"""Hostile and unlucky hand-ins of lesson l04, each a small function that lays one down, with what must come of it.

This is the door to all of them: `HOSTILE` is the list, in the order of the modules.
"""

from __future__ import annotations

from . import hostile_evidence, hostile_files, hostile_notebooks
from .hostile_files import ACCEPTED_NAMES, REFUSED_NAMES
from .hostile_notebooks import script_around_the_cells, script_in_the_answer
from .making import (
    ANSWERED,
    CHOSEN,
    EVIDENCE,
    HOSTILE,
    LESSON,
    NOTHING,
    PAGE,
    SCRIPT,
    Hostile,
    answer,
    answered,
    code_everywhere,
    source_of_one_lesson,
    trap_of,
)

__all__ = [
    "ACCEPTED_NAMES",
    "ANSWERED",
    "CHOSEN",
    "EVIDENCE",
    "HOSTILE",
    "LESSON",
    "NOTHING",
    "PAGE",
    "REFUSED_NAMES",
    "SCRIPT",
    "Hostile",
    "answer",
    "answered",
    "code_everywhere",
    "hostile_evidence",
    "hostile_files",
    "hostile_notebooks",
    "script_around_the_cells",
    "script_in_the_answer",
    "source_of_one_lesson",
    "trap_of",
]
