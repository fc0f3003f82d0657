"""Which notebooks a plain page may run: the lessons that were laid out in a learner's folder, by their digests.

The folder holds their digests in `.lessons.json`. A digest covers the kind and the text of every cell but those in
which learners write, so that a notebook saved with its outputs, or with a written answer, is still the same lesson.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

LEDGER = ".lessons.json"


def cells_of_lesson(cells: Iterable[Any]) -> list[Any]:
    """The cells of a notebook without those in which learners write: nbgrader marks them as solutions."""
    return [cell for cell in cells if not cell["metadata"].get("nbgrader", {}).get("solution")]


def lesson_digest(cells: Iterable[Any]) -> str:
    """The digest of a notebook's cells, as JSON or nbformat has them."""
    texts = [[cell["cell_type"], "".join(cell["source"])] for cell in cells_of_lesson(cells)]
    return hashlib.sha256(json.dumps(texts).encode()).hexdigest()


def remember_lessons(folder: Path, notebooks: Iterable[Path]) -> None:
    """Add these notebooks to the lessons that pages of `folder` may run."""
    known = known_lessons(folder)
    for notebook in notebooks:
        known.add(lesson_digest(json.loads(notebook.read_text(encoding="utf-8"))["cells"]))
    (folder / LEDGER).write_text(json.dumps(sorted(known), indent=0) + "\n", encoding="utf-8")


def known_lessons(folder: Path) -> set[str]:
    """The digests of the lessons that pages of `folder` may run: none where the list is missing or cannot be read."""
    try:
        found = json.loads((folder / LEDGER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return set()
    return {digest for digest in found if isinstance(digest, str)} if isinstance(found, list) else set()


def is_known(folder: Path, notebook: Path) -> bool:
    """Whether a page of `folder` may run this notebook; False where it cannot be read."""
    try:
        return lesson_digest(json.loads(notebook.read_text(encoding="utf-8"))["cells"]) in known_lessons(folder)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return False
