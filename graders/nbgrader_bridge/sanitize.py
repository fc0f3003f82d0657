"""The steps before the judge: released marks and lost cells put back, and what learners typed made inert."""

from __future__ import annotations

import contextlib
import functools
import re
from collections.abc import Iterator
from pathlib import Path

import nbformat
from nbformat import NotebookNode
from nbgrader import utils
from nbgrader.api import Gradebook, GradeCell
from nbgrader.coursedir import CourseDirectory
from nbgrader.preprocessors import NbGraderPreprocessor

from graders.feedback import inert_text

from .notebook import make_ids_differ, new_cell

MARKS_SCHEMA = 3
LONGEST_CODE_NOTE = 20_000


class MarksAsReleased(NbGraderPreprocessor):
    """Gives every cell of ours its released marks, kind and (where locked) text back; forged marks are gone."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        released = released_cells(resources)
        nb.cells = [self._as_released(cell, released) for cell in nb.cells]
        return nb, resources

    def _as_released(self, cell: NotebookNode, released: dict[str, NotebookNode]) -> NotebookNode:
        marks = cell.metadata.pop("nbgrader", None)
        ours = released.get(marks.get("grade_id")) if marks else None
        if ours is None:
            return cell
        restored = nbformat.from_dict(ours)
        restored.id = cell.id
        if not utils.is_locked(ours) and cell.cell_type == ours.cell_type:
            restored.source = cell.source
        return restored


class EmptiedMarksRemoved(NbGraderPreprocessor):
    """Removes the empty nbgrader marks that DeduplicateIds leaves on a copied cell and that would stop a class."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        for cell in nb.cells:
            if "nbgrader" in cell.metadata and not cell.metadata.nbgrader:
                del cell.metadata["nbgrader"]
        return nb, resources


class MissingCellsPutBack(NbGraderPreprocessor):
    """Puts every released cell of ours that was taken out back behind the one it stood behind.

    nbgrader's own add_missing_cells fails where a missing grade cell follows a locked cell that is not graded.
    """

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        released = released_cells(resources)
        behind = 0
        for grade_id, cell in released.items():
            place = _place_of(nb, grade_id)
            if place is None:
                nb.cells.insert(behind, nbformat.from_dict(cell))
                place = behind
            behind = place + 1
        make_ids_differ(nb.cells)
        return nb, resources


class NotesInert(NbGraderPreprocessor):
    """Turns what learners typed into cells into plain text that no page can take for a command.

    A Markdown cell of the released lesson that was not touched stays as it is; raw cells, which pages print without a
    look at them, become Markdown cells.
    """

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        published = self._published_texts(resources)
        nb.cells = [self._inert(cell, published) for cell in nb.cells]
        return nb, resources

    def _inert(self, cell: NotebookNode, published: set[str]) -> NotebookNode:
        if cell.cell_type == "code":
            if "nbgrader" not in cell.metadata:
                cell.source = cell.source[:LONGEST_CODE_NOTE]
            return cell
        if cell.cell_type == "markdown" and cell.source in published:
            return cell
        marks = {"nbgrader": cell.metadata.nbgrader} if "nbgrader" in cell.metadata else {}
        return new_cell("markdown", inert_text(cell.source, "learners-note"), cell.id, **marks)

    def _published_texts(self, resources) -> set[str]:
        texts = {cell.source for cell in released_cells(resources).values()}
        with contextlib.suppress(OSError, ValueError):  # a class without its release folder shows prose as plain text
            path = self._release_folder(resources) / f"{resources['nbgrader']['notebook']}.ipynb"
            status = path.stat()
            texts |= _markdown_texts(path, (status.st_mtime_ns, status.st_size, status.st_ino))
        return texts

    def _release_folder(self, resources) -> Path:
        course = course_of(self)
        return Path(course.format_path(course.release_directory, ".", resources["nbgrader"]["assignment"]))


@functools.lru_cache(maxsize=32)
def _markdown_texts(path: Path, stamp: tuple[int, ...]) -> frozenset[str]:
    """The Markdown cells of a notebook, which is read again when its `stamp` is another."""
    return frozenset(cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown")


def released_cells(resources: dict) -> dict[str, NotebookNode]:
    """The cells of the released notebook that bear nbgrader's marks, by grade_id, in their order, from the gradebook.

    They are looked up once and handed from step to step in `resources`.
    """
    names = resources["nbgrader"]
    if "released_cells" not in names:
        with Gradebook(names["db_url"]) as gradebook:
            notebook = gradebook.find_notebook(names["notebook"], names["assignment"])
            grade_cells = gradebook.db.query(GradeCell).filter(GradeCell.notebook_id == notebook.id)
            points = {cell.name: cell.max_score for cell in grade_cells}  # whole: notebook.grade_cells asks one by one
            solutions = {cell.name for cell in notebook.solution_cells}
            names["released_cells"] = {
                cell.name: _released_cell(cell, points.get(cell.name), cell.name in solutions)
                for cell in notebook.source_cells
            }
    return names["released_cells"]


def _released_cell(cell, points: float | None, solution: bool) -> NotebookNode:
    marks = {
        "grade": points is not None,
        "grade_id": cell.name,
        "locked": bool(cell.locked),
        "solution": solution,
        "task": False,
        "schema_version": MARKS_SCHEMA,
        "cell_type": cell.cell_type,
        "checksum": cell.checksum,
    }
    if points is not None:
        marks["points"] = float(points)
    return new_cell(
        "code" if cell.cell_type == "code" else "markdown",
        cell.source or "",
        re.sub(r"[^a-zA-Z0-9_-]", "-", cell.name)[:60],
        nbgrader=marks,
        deletable=False,
    )


def _place_of(nb: NotebookNode, grade_id: str) -> int | None:
    return next(
        (place for place, cell in enumerate(nb.cells) if cell.metadata.get("nbgrader", {}).get("grade_id") == grade_id),
        None,
    )


def course_of(preprocessor: NbGraderPreprocessor) -> CourseDirectory:
    """The course folder in which the converter around a preprocessor works. Raises LookupError where there is none."""
    for owner in _owners(preprocessor):
        if getattr(owner, "coursedir", None) is not None:
            return owner.coursedir
    raise LookupError("no nbgrader converter stands around this step")


def _owners(preprocessor: NbGraderPreprocessor) -> Iterator:
    owner = preprocessor.parent
    while owner is not None:
        yield owner
        owner = owner.parent
