"""The steps from a lesson's source to the learner's edition; and the one canonical form that source notebooks have.

`python -m course.authoring.build check` says which source notebooks are not in canonical form, or give a lesson's place
and minutes otherwise than the outline; `fix` rewrites them.
`glossary`, `card` and `units` write the glossary, the reference card, and the conversions of the front end; `minutes`
how long each lesson takes, into the outline; `edition` the learner's edition of every lesson, which a learner's folder
is laid out from; `schemas` the JSON Schemas of rubrics and engine cards.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
from pathlib import Path

import nbformat
from nbconvert.preprocessors import Preprocessor
from nbformat import NotebookNode
from traitlets import Bool

from course import HERE, SOURCE

from . import edition, front_end_units, glossary_page, minutes, reference_card, schemas
from .edition import minutes_by_lesson
from .glossary_links import INSTRUCTOR_TAG, with_links
from .sourced_values import with_values

DERIVED = {
    "glossary": glossary_page,
    "card": reference_card,
    "units": front_end_units,
    "minutes": minutes,
    "edition": edition,
    "schemas": schemas,
}
KEPT_CELL_METADATA = ("nbgrader", "tags")
KERNEL = {
    "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
_SHOWS_A_PART = re.compile(r'from course\.widgets import [\w,\s()]+|\w+\((?:"\w+")?\)')
_PLACE = re.compile(r"\*Lesson \d+ of \d+ · about \d+ minutes\*")
_CELL_ID = re.compile(r"[a-zA-Z0-9_-]{1,64}")


class ValuesFilledIn(Preprocessor):
    """Fills in sourced numbers: {{value:KEY}} becomes value and unit, {{source:KEY}} the citation. Only in Markdown."""

    enabled = Bool(True).tag(config=True)

    def preprocess_cell(self, cell: NotebookNode, resources: dict, index: int) -> tuple[NotebookNode, dict]:
        if cell.cell_type == "markdown":
            cell.source = with_values(cell.source)
        return cell, resources


class InstructorCellsRemoved(Preprocessor):
    """Takes out what is for the instructor alone: every cell with the tag `instructor`; other tags are cleared away."""

    enabled = Bool(True).tag(config=True)

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        nb.cells = [cell for cell in nb.cells if INSTRUCTOR_TAG not in cell.metadata.get("tags", [])]
        for cell in nb.cells:
            cell.metadata.pop("tags", None)
        return nb, resources


class WordsLinked(Preprocessor):
    """Makes the first use of every term in a lesson a link to its meaning. Only in Markdown that nobody answers in."""

    enabled = Bool(True).tag(config=True)

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        seen: set[str] = set()
        for cell in nb.cells:
            if cell.cell_type == "markdown" and "nbgrader" not in cell.metadata:
                cell.source = with_links(cell.source, seen)
        return nb, resources


class CodeFolded(Preprocessor):
    """Folds the cells that only show a part of a lesson, in the way that JupyterLab knows: nobody needs their code."""

    enabled = Bool(True).tag(config=True)

    def preprocess_cell(self, cell: NotebookNode, resources: dict, index: int) -> tuple[NotebookNode, dict]:
        if cell.cell_type == "code" and _SHOWS_A_PART.fullmatch(cell.source.strip()):
            cell.metadata["jupyter"] = {"source_hidden": True}
        return cell, resources


def canonical(text: str) -> str:
    """Return a notebook's text in canonical form: no outputs, no counts, stable ids, sorted keys, one final newline."""
    notebook = nbformat.reads(text, as_version=4)
    fresh = nbformat.v4.new_notebook(metadata=KERNEL)
    taken: set[str] = set()
    for cell in notebook.cells:
        make = {
            "code": nbformat.v4.new_code_cell,
            "markdown": nbformat.v4.new_markdown_cell,
            "raw": nbformat.v4.new_raw_cell,
        }[cell.cell_type]
        kept = {key: cell.metadata[key] for key in KEPT_CELL_METADATA if cell.metadata.get(key)}
        clean = make(source=cell.source.rstrip("\n"), metadata=kept)
        clean.id = _stable_id(cell, taken)
        taken.add(clean.id)
        fresh.cells.append(clean)
    fresh.nbformat_minor = 5
    return json.dumps(_lines_split(fresh), sort_keys=True, indent=1, ensure_ascii=False) + "\n"


def _stable_id(cell, taken: set[str]) -> str:
    """The grade_id for a cell of nbgrader's; else the id it has; else one drawn from its text."""
    grade_id = cell.metadata.get("nbgrader", {}).get("grade_id", "")
    for candidate in (grade_id, cell.get("id", "")):
        if _CELL_ID.fullmatch(candidate) and candidate not in taken:
            return candidate
    drawn = hashlib.sha256(cell.source.encode()).hexdigest()[:12]
    return drawn if drawn not in taken else f"{drawn}-{len(taken)}"


def _lines_split(notebook) -> dict:
    plain = json.loads(json.dumps(notebook))
    for cell in plain["cells"]:
        cell["source"] = cell["source"].splitlines(keepends=True)
    return plain


def as_wanted(path: Path) -> str:
    """A source notebook's text in canonical form, with its place and minutes as the outline has them."""
    text, minutes = canonical(path.read_text(encoding="utf-8")), minutes_by_lesson()
    if path.stem not in minutes:
        return text
    place = list(minutes).index(path.stem) + 1
    return _PLACE.sub(f"*Lesson {place} of {len(minutes)} · about {minutes[path.stem]} minutes*", text, count=1)


def not_canonical(source: Path = SOURCE) -> list[Path]:
    """The source notebooks that are not as wanted."""
    return [path for path in sorted(source.glob("*/*.ipynb")) if path.read_text(encoding="utf-8") != as_wanted(path)]


def main(arguments: list[str]) -> int:
    """Check or fix the form of all source notebooks, or write a derived file; return the exit status."""
    if len(arguments) == 1 and arguments[0] in DERIVED:
        return _write_derived(arguments[0])
    if arguments not in (["check"], ["fix"]):
        print(f"Say 'python -m course.authoring.build' with one of check, fix, {', '.join(DERIVED)}.", file=sys.stderr)
        return 2
    found = not_canonical()
    for path in found:
        if arguments == ["fix"]:
            path.write_text(as_wanted(path), encoding="utf-8", newline="\n")
        print(f"{'rewritten' if arguments == ['fix'] else 'not in canonical form'}: {path.relative_to(SOURCE)}")
    return 1 if found and arguments == ["check"] else 0


def _write_derived(name: str) -> int:
    print(f"written: {DERIVED[name].write().relative_to(HERE)}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
