"""The page on which a stand-in for an owner's engine is practised at: a notebook of its own, two folders below."""

from __future__ import annotations

from pathlib import Path

import nbformat

from course.learner.known_lessons import remember_lessons

from .kept_engines import FIRST, FOLDER, KeptEngines

PAGE = "practise"
TEXT = (
    "# Practise on a stand-in\n\nAn engine drawn from your description: what you know of it as it is, the rest as it "
    "may be, set as an owner may have it. Nothing you do here is written down or counts. **It is not your engine: "
    "never set a real one from its numbers.**"
)
CELL = "from course.widgets import stand_in\n\nstand_in()"


def write_practice_page(root: Path, name: str) -> str:
    """Put the page into the folder of a learner, with the engine of that name first; return its address."""
    kept = KeptEngines(root)
    kept.path(name)
    notebook = kept.folder / PAGE / f"{PAGE}.ipynb"
    notebook.parent.mkdir(parents=True, exist_ok=True)
    (kept.folder / FIRST).write_text(f"{name}\n", encoding="utf-8")
    kernel = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
    cells = [nbformat.v4.new_markdown_cell(TEXT), nbformat.v4.new_code_cell(CELL)]
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=kernel), notebook)
    remember_lessons(root, [notebook])
    return f"lesson/{FOLDER}/{PAGE}"
