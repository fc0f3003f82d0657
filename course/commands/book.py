"""The learner's edition as a book: a folder of pages to read and print, without a network."""

from __future__ import annotations

from pathlib import Path

from course.book.site import build


def run(folder: Path) -> int:
    """Make the book in `folder` and say where it begins. Raises BookError."""
    import sphinx  # noqa: F401 - a program of its own below; where it is missing, that is said before anything is made

    print("The book is being made: half a minute ...", flush=True)
    first = build(folder)
    print(f"The book is in {folder.resolve()}. Open {first.name} there in a browser; it needs no network.")
    return 0
