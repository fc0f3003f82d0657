"""Lay a lesson of the course out once more where an older edition's notebook is in its place; nothing is lost.

`python -m course.authoring.lay_out_again FOLDER LESSON` does it for a learner's folder.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from course.learner.known_lessons import remember_lessons

from .edition import copy_what_is_missing, make_learners_edition


def lay_out_again(folder: Path, lesson: str) -> Path:
    """Put today's notebook of a lesson into a learner's folder; return where the one before is kept, beside it.

    The record of the work stays where it is. Raises BuildError where the course has no such lesson.
    """
    notebook = folder / lesson / f"{lesson}.ipynb"
    with tempfile.TemporaryDirectory(prefix="edition-") as workshop:
        (made,) = make_learners_edition(Path(workshop), [lesson])
        kept = free_name(notebook)
        notebook.rename(kept)
        copy_what_is_missing(made, folder / lesson)
        remember_lessons(folder, [notebook])
    return kept


def free_name(notebook: Path) -> Path:
    """A name beside a notebook, for the one that is kept, that no file has yet."""
    number = 1
    while (kept := notebook.with_name(f"{notebook.stem} as it was {number}.ipynb")).exists():
        number += 1
    return kept


if __name__ == "__main__":
    lay_out_again(Path(sys.argv[1]), sys.argv[2])
