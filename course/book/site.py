"""The book's pages made into a site by Sphinx, in the colours of the course, with all that they need beside them."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from course import AUTHORING
from course.jupyter.plain_page.lesson_list import VIGNETTES
from engine_sim.version import COURSE_VERSION
from graders.palette import DARK, LIGHT, css_variables

from .exercises import BookError
from .pages import CARD, TITLE, all_pages

HERE = Path(__file__).resolve().parent
MARKER = ".timing-course-book"  # in a folder that holds a book and nothing else, so that it may be made again there
SETTINGS = {
    "project": "Timing course",
    "html_title": "Timing course",
    "release": COURSE_VERSION,
    "language": "en",
    "extensions": ["myst_parser"],
    "myst_enable_extensions": ["colon_fence"],
    "templates_path": [str(HERE / "templates")],
    "html_theme": "furo",
    "html_static_path": ["_static"],
    "html_extra_path": ["_extra"],
    "html_css_files": ["book.css"],
    "html_use_index": False,
    "html_domain_indices": False,
    "html_copy_source": False,
    "html_show_sphinx": False,
    "html_show_copyright": False,
    "html_show_search_summary": False,  # a page that is opened from a folder may not fetch another one
    "smartquotes": False,
}


def build(folder: Path) -> Path:
    """Make the book in `folder`, which is new, empty or holds an earlier book; return its first page.

    Whole or not at all. Raises BookError where the folder holds something else, or where a page has a fault, such as
    a link that leads nowhere.
    """
    _check_folder(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".book-", dir=folder.parent) as workshop:
        source, made = Path(workshop) / "source", Path(workshop) / "made"
        _write_source(source)
        _run_sphinx(source, made)
        (made / MARKER).write_text(f"{TITLE}, {COURSE_VERSION}\n", encoding="utf-8")
        if folder.exists():
            shutil.rmtree(folder)
        os.replace(made, folder)
    return folder / "index.html"


def _check_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise BookError(f"{folder} is a file, and a folder is wanted: give another name for the book.")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / MARKER).is_file():
        raise BookError(f"{folder} holds something else than a book: give the name of a new folder.")


def _write_source(source: Path) -> None:
    (source / "_static").mkdir(parents=True)
    (source / "_static" / "book.css").write_text(book_style(), encoding="utf-8")
    settings = "".join(f"{name} = {value!r}\n" for name, value in SETTINGS.items())
    (source / "conf.py").write_text(settings, encoding="utf-8")
    (source / "_extra").mkdir()
    shutil.copyfile(AUTHORING / CARD, source / "_extra" / CARD)
    for name, text in all_pages().items():
        (source / f"{name}.md").write_text(text, encoding="utf-8")


def book_style() -> str:
    """The style sheet: the palette, light on paper and by the theme's own choice on a screen; the book's rules; the
    lessons' small pictures."""
    dark = css_variables(DARK)
    return "\n".join(
        (
            f"body {{\n{css_variables(LIGHT)}\n}}",
            f'@media not print {{\nbody[data-theme="dark"] {{\n{dark}\n}}\n'
            f'@media (prefers-color-scheme: dark) {{\nbody:not([data-theme="light"]) {{\n{dark}\n}}\n}}\n}}',
            (HERE / "book.css").read_text(encoding="utf-8"),
            (VIGNETTES / "vignettes.css").read_text(encoding="utf-8"),
        )
    )


def _run_sphinx(source: Path, made: Path) -> None:
    """Run Sphinx in a process of its own, for it registers its parts once in a process. A warning is a fault."""
    command = [sys.executable, "-m", "sphinx", "-q", "--fail-on-warning", "--keep-going", "--no-color"]
    places = ["-d", str(made.with_suffix(".kept")), str(source), str(made)]
    run = subprocess.run([*command, *places], capture_output=True, text=True, errors="replace")
    if run.returncode:
        said = run.stderr.strip().splitlines() or ["Sphinx said nothing"]
        raise BookError(f"The book could not be made: {said[0]}")
