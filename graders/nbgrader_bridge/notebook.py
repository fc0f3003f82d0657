"""Hand-ins as nbgrader reads them: a notebook in any state, with nothing left in it but text and the course's marks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TextIO

import nbformat
from nbconvert.exporters import NotebookExporter
from nbformat import NotebookNode
from nbgrader.api import Gradebook

from graders.submissions.command_name import command_line
from graders.submissions.folder import LARGEST_NOTEBOOK_BYTES, name_problem, unsafe_to_copy
from graders.submissions.roster import ROSTER, Roster, read_list

RECORD = "timing_course"  # the notebook's metadata key under which the judge says what it found
MOST_CELLS = 1000
MARKED_FOR = '<div class="marked-for'  # so begins what a person marks an answer for, a line of the judge's own
_CELL_ID = re.compile(r"[a-zA-Z0-9_-]{1,64}")


class Unshared(NotebookNode):
    """A notebook just read from its file: nobody else holds it, so that a copy of it is itself. nbconvert
    copies a notebook five times on its way through a conversion, which is a tenth of a class run."""

    def __deepcopy__(self, memo):
        return self


class HandInExporter(NotebookExporter):
    """Reads handed-in notebooks in any state; hand-ins that nbgrader must not touch are taken out.

    nbgrader follows links and copies files of any size before its first step, so the exporter, which is made before
    that, drops such hand-ins from the converter's list (`timing-course grade` can judge them: it copies first). Under a
    folder's name that is no learner's id nbgrader would make a new learner, and leave the real one without a grade:
    such hand-ins are dropped, too, and said.
    """

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.optimistic_validation = True  # once, after the last step; after each step it is a third of a class run
        for folder in list(getattr(self.parent, "assignments", {})):
            learner = Path(folder).parent.name
            sentence = name_problem(learner) or unsafe_to_copy(Path(folder)) or self._not_in_class(learner)
            if sentence:
                self.log.error("Not judged: %s", sentence)
                del self.parent.assignments[folder]

    def _not_in_class(self, learner: str) -> str:
        """One sentence where the class has a list and this name is no id on it, nor one that the gradebook knows."""
        course = self.parent.coursedir
        path = Path(course.root) / ROSTER
        if not path.is_file() or learner in {entry.id for entry in read_list(path)}:
            return ""
        with Gradebook(course.db_url, course.course_id) as gradebook:
            if any(student.id == learner for student in gradebook.students):
                return ""
        ids = Roster.of(Path(course.root)).ids_for(learner)
        who = f"is {' or '.join(ids)} on the class list" if ids else "is not on the class list"
        return (
            f"the folder '{learner}' {who}, and nbgrader takes a folder's name for an id: run "
            f"'{command_line('grade CLASS')}', which knows learners by their names and asks where it does not, or "
            "rename the folder."
        )

    def from_filename(self, filename: str, resources: dict | None = None, **kwargs) -> Any:
        """Read a notebook; one that cannot be read becomes an empty one with a note, to be filled up by later steps."""
        if self._is_harmless_copy(Path(filename)):
            return super().from_filename(filename, resources=resources, **kwargs)
        resources.setdefault("metadata", {}).update(name=Path(filename).stem, path=str(Path(filename).parent))
        return self.from_notebook_node(Unshared(legible_notebook(Path(filename))), resources=resources, **kwargs)

    def _is_harmless_copy(self, path: Path) -> bool:
        """Whether nbgrader reads the copy that it wrote of a hand-in once that was made harmless."""
        writer = getattr(self.parent, "writer", None)
        return writer is None or path.parent == Path(writer.build_directory)

    def from_file(self, file_stream: Any, resources: dict | None = None, **kwargs) -> Any:
        """Read a notebook that was made whole before."""
        return self.from_notebook_node(written_before(file_stream), resources, **kwargs)


def written_before(file_stream: TextIO) -> Unshared:
    """A notebook as the step before wrote it, and validated it in writing."""
    return Unshared(nbformat.reader.reads(file_stream.read()))


def legible_notebook(path: Path) -> NotebookNode:
    """The notebook at `path` with nothing left but its cells' kind, id, text and nbgrader marks."""
    notebook = nbformat.v4.new_notebook()
    try:
        cells = _cells_in(path)
        notebook.cells = [_legible_cell(cell, number) for number, cell in enumerate(cells[:MOST_CELLS])]
        make_ids_differ(notebook.cells)
        remark = (
            f"The notebook {path.name} has {len(cells)} cells, more than a lesson and its notes: "
            f"{len(cells) - MOST_CELLS} further cells were left out."
            if len(cells) > MOST_CELLS
            else ""
        )
    except Exception as error:  # a learner's file may make the parser fail in any way
        notebook.cells = []
        reason = str(error) if isinstance(error, _NotRead) else type(error).__name__
        remark = (
            f"The notebook {path.name} could not be read ({reason}): the course's own cells stand in its place, "
            "and the work was judged from the evidence."
        )
    if remark:
        notebook.metadata[RECORD] = {"remarks": [remark]}
    return notebook


class _NotRead(ValueError):
    """A notebook that is not even opened; its text says why."""


def _cells_in(path: Path) -> list[Mapping]:
    if path.is_symlink() or (path.is_file() and path.stat().st_size > LARGEST_NOTEBOOK_BYTES):
        raise _NotRead("it is a link or too large")
    if not path.is_file() or path.stat().st_size == 0:
        raise _NotRead("it is missing or empty")
    return nbformat.reads(path.read_text(encoding="utf-8"), as_version=4).cells


def _legible_cell(cell: Mapping, number: int) -> NotebookNode:
    kind = cell.get("cell_type")
    source = cell.get("source", "")
    identity = cell.get("id")
    clean = new_cell(
        kind if kind in ("code", "markdown") else "raw",
        "".join(source) if isinstance(source, list) else str(source),
        identity if isinstance(identity, str) and _CELL_ID.fullmatch(identity) else f"cell-{number}",
    )
    marks = cell.get("metadata", {}).get("nbgrader")
    if isinstance(marks, Mapping) and isinstance(marks.get("grade_id"), str):
        clean.metadata.nbgrader = {"grade_id": marks["grade_id"]}
    return clean


def new_cell(kind: str, source: str, identity: str, **metadata) -> NotebookNode:
    """A cell as nbformat makes it. Its own maker validates each one, which is a tenth of a class run; the notebook as a
    whole is validated when it is written."""
    code: dict = {"outputs": [], "execution_count": None} if kind == "code" else {}
    return nbformat.from_dict({"cell_type": kind, "id": identity, "metadata": metadata, "source": source, **code})


def answer_alone(source: str) -> str:
    """The text of a judged answer's cell without the list of what it is marked for, which the judge puts at its end."""
    answer, between, end = source.rpartition(f"\n\n{MARKED_FOR}")
    return answer if between and "\n" not in end else source


def make_ids_differ(cells: list[NotebookNode]) -> None:
    """Give every cell whose id stands before it already another one, in place."""
    seen: set[str] = set()
    for number, cell in enumerate(cells):
        if cell.id in seen:
            cell.id = f"cell-{number}-again"
        seen.add(cell.id)
