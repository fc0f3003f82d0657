"""The instructor's bench before a class: a page of its own in a folder that is gone afterwards."""

from __future__ import annotations

import tempfile
from pathlib import Path

import nbformat

from course.authoring.build import KERNEL
from course.learner.known_lessons import remember_lessons

from .start import open_plain_pages

PAGE = "show"
CLOSED = "The page is closed. Nothing of it was written down."
BENCH_TEXT = (
    "# Before the class\n\nChoose an engine, a day and what is wrong with it, and put it on the bench. *Predict now* "
    "hides the needles until the class has said its guess."
)
REPLAY_TEXT = "## To watch\n\nThe method going right, and going wrong in two ways, as it was recorded at a bench."


def run(browser: bool = True, port: int = 0) -> int:
    """Serve the page until it is stopped; return the exit status."""
    with tempfile.TemporaryDirectory(prefix="timing-show-") as folder:
        write_page(Path(folder))
        options = (f"--PlainPage.first=lesson/{PAGE}", f"--PlainPage.said_at_the_end={CLOSED}")
        return open_plain_pages(Path(folder), browser, port, *options)


def write_page(folder: Path) -> None:
    """Put the page into a folder as a lesson that the server knows."""
    notebook = folder / PAGE / f"{PAGE}.ipynb"
    notebook.parent.mkdir()
    cells = [
        nbformat.v4.new_markdown_cell(BENCH_TEXT),
        nbformat.v4.new_code_cell("from course.widgets import replays, show_desk\n\nshow_desk()"),
        nbformat.v4.new_markdown_cell(REPLAY_TEXT),
        nbformat.v4.new_code_cell("replays()"),
    ]
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=dict(KERNEL)), notebook)
    (folder / "learner.toml").write_text('name = "the class"\n', encoding="utf-8")
    remember_lessons(folder, [notebook])
