"""The steps that nbgrader runs for us, named in nbgrader_config.py: the judge in the place of its Execute, and guards.

No code of a learner's is ever run. Everything before the judge makes a hand-in harmless and whole again; everything
after it (grades, late penalties, feedback, marking screen) is nbgrader's own. nbgrader gives full points to a grade
cell that shows no output, so the judge always writes one, and writes 0.0 where it could not judge.
"""

from __future__ import annotations

import contextlib
import copy
import math
import re
import secrets
from collections.abc import Iterator, Mapping
from contextvars import ContextVar
from dataclasses import replace
from pathlib import Path

import nbformat
from jinja2 import BytecodeCache
from nbconvert.exporters import HTMLExporter, NotebookExporter
from nbformat import NotebookNode
from nbgrader import utils
from nbgrader.api import Gradebook
from nbgrader.coursedir import CourseDirectory
from nbgrader.preprocessors import NbGraderPreprocessor
from traitlets import Unicode
from traitlets.config import Config

from engine_sim import TimingCourseError

from . import hand_in
from .feedback import (
    exercise_html,
    exercise_text,
    inert_text,
    marking_html,
    notes_html,
    problem_html,
    sanitised,
)
from .judge import judge_lesson
from .outcome import ExerciseResult, LessonResult
from .rubrics import load_rubric
from .to_judge import ToJudge, to_judge

RECORD = "timing_course"  # the notebook's metadata key under which the judge says what it found
MARKS_SCHEMA = 3
NO_RUBRIC = "no rubric"
ITS_OWN_TESTS = ("This lesson has no rubric: only its own test cells can judge it, and this class's configuration "
                 "does not name graders.boxed_kernel.CodeInBox, which runs them.")
MOST_CELLS = 1000
LONGEST_SENTENCE = 600
_CELL_ID = re.compile(r"[a-zA-Z0-9_-]{1,64}")


_judging: ContextVar = ContextVar("judging", default=(None, None))


@contextlib.contextmanager
def judging_by(function, find=None) -> Iterator[None]:
    """Let `function`, called as judge_lesson is, give the verdicts while inside, and `find(learner, lesson)` what is to
    be judged: a class run has the verdicts ahead, and knows whose each hand-in is."""
    token = _judging.set((function, find))
    try:
        yield
    finally:
        _judging.reset(token)


class HandInExporter(NotebookExporter):
    """Reads handed-in notebooks, whatever state they are in; hand-ins that nbgrader must not touch are taken out.

    nbgrader follows links and copies files of any size before its first step, so the exporter, which is made before
    that, drops such hand-ins from the converter's list (`timing-course grade` can judge them: it copies first).
    """

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.optimistic_validation = True  # once, after the last step; after each step it is a third of a class run
        for folder in list(getattr(self.parent, "assignments", {})):
            sentence = (hand_in.name_problem(Path(folder).parent.name) or hand_in.unsafe_to_copy(Path(folder)))
            if sentence:
                self.log.error("Not judged: %s", sentence)
                del self.parent.assignments[folder]

    def from_filename(self, filename, resources=None, **kwargs):
        """Read a notebook; one that cannot be read becomes an empty one with a note, to be filled up by later steps."""
        if not getattr(self.parent, "_sanitizing", False):
            return super().from_filename(filename, resources=resources, **kwargs)
        resources.setdefault("metadata", {}).update(name=Path(filename).stem, path=str(Path(filename).parent))
        return self.from_notebook_node(legible_notebook(Path(filename)), resources=resources, **kwargs)


def legible_notebook(path: Path) -> NotebookNode:
    """The notebook at `path` with nothing left but its cells' kind, id, text and nbgrader marks."""
    notebook = nbformat.v4.new_notebook()
    try:
        cells = _cells_in(path)
        notebook.cells = [_legible_cell(cell, number) for number, cell in enumerate(cells[:MOST_CELLS])]
        _make_ids_differ(notebook.cells)
        remark = (f"The notebook {path.name} has {len(cells)} cells, more than a lesson and its notes: "
                  f"{len(cells) - MOST_CELLS} further cells were left out." if len(cells) > MOST_CELLS else "")
    except Exception as error:  # whatever a learner's file provokes in the parser
        notebook.cells = []
        reason = str(error) if isinstance(error, _NotRead) else type(error).__name__
        remark = (f"The notebook {path.name} could not be read ({reason}): the course's own cells stand in its place, "
                  "and the work was judged from the evidence.")
    if remark:
        notebook.metadata[RECORD] = {"remarks": [remark]}
    return notebook


class _NotRead(ValueError):
    """A notebook that is not even opened; its text says why."""


def _cells_in(path: Path) -> list[Mapping]:
    if path.is_symlink() or (path.is_file() and path.stat().st_size > hand_in.LARGEST_NOTEBOOK_BYTES):
        raise _NotRead("it is a link or too large")
    if not path.is_file() or path.stat().st_size == 0:
        raise _NotRead("it is missing or empty")
    return nbformat.reads(path.read_text(encoding="utf-8"), as_version=4).cells


def _legible_cell(cell: Mapping, number: int) -> NotebookNode:
    kind = cell.get("cell_type")
    source = cell.get("source", "")
    identity = cell.get("id")
    clean = _new_cell(kind if kind in ("code", "markdown") else "raw",
                      "".join(source) if isinstance(source, list) else str(source),
                      identity if isinstance(identity, str) and _CELL_ID.fullmatch(identity) else f"cell-{number}")
    marks = cell.get("metadata", {}).get("nbgrader")
    if isinstance(marks, Mapping) and isinstance(marks.get("grade_id"), str):
        clean.metadata.nbgrader = {"grade_id": marks["grade_id"]}
    return clean


def _new_cell(kind: str, source: str, identity: str, **metadata) -> NotebookNode:
    """A cell as nbformat makes it. Its own maker validates each one, which is a tenth of a class run; the notebook as a
    whole is validated when it is written."""
    code = {"outputs": [], "execution_count": None} if kind == "code" else {}
    return nbformat.from_dict({"cell_type": kind, "id": identity, "metadata": metadata, "source": source, **code})


def _make_ids_differ(cells: list[NotebookNode]) -> None:
    seen: set[str] = set()
    for number, cell in enumerate(cells):
        if cell.id in seen:
            cell.id = f"cell-{number}-again"
        seen.add(cell.id)


class TemplatesKept(BytecodeCache):
    """Keeps compiled page templates in memory: nbgrader makes a new exporter, which compiles them, for every page."""

    def __init__(self):
        self._code: dict[str, bytes] = {}

    def load_bytecode(self, bucket):
        """Fill a bucket of jinja's with what was kept for its key."""
        if bucket.key in self._code:
            bucket.bytecode_from_string(self._code[bucket.key])

    def dump_bytecode(self, bucket):
        """Keep what jinja compiled."""
        self._code[bucket.key] = bucket.bytecode_to_string()


_templates = TemplatesKept()


class FeedbackPageExporter(HTMLExporter):
    """Prints the learner's page from our own template: self-contained, without script, nothing fetched from outside."""

    def __init__(self, config: Config | None = None, **kwargs):
        ours = Config(FeedbackPageExporter={"template_name": "feedback_page",
                                            "extra_template_basedirs": [str(Path(__file__).parent)]})
        merged = copy.deepcopy(config) if config else Config()
        merged.merge(ours)
        super().__init__(config=merged, **kwargs)

    def _create_environment(self):
        environment = super()._create_environment()
        environment.bytecode_cache = _templates
        return environment

    def default_filters(self):
        """nbconvert's filters and ours."""
        yield from super().default_filters()
        yield "sanitised", sanitised
        yield "points", lambda points: f"{round(float(points or 0.0), 2):g}"
        yield "lesson_title", lesson_title


def lesson_title(lesson: str) -> str:
    """The lesson's title as its rubric has it, or its id."""
    try:
        return load_rubric(lesson).title
    except TimingCourseError:
        return lesson


class MarksAsReleased(NbGraderPreprocessor):
    """Gives every cell of ours its released marks, kind and (where locked) text back; forged marks are gone."""

    def preprocess(self, nb, resources):
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

    def preprocess(self, nb, resources):
        for cell in nb.cells:
            if "nbgrader" in cell.metadata and not cell.metadata.nbgrader:
                del cell.metadata["nbgrader"]
        return nb, resources


class MissingCellsPutBack(NbGraderPreprocessor):
    """Puts every released cell of ours that was taken out back behind the one it stood behind.

    nbgrader's own add_missing_cells fails where a missing grade cell follows a locked cell that is not graded.
    """

    def preprocess(self, nb, resources):
        released = released_cells(resources)
        behind = 0
        for grade_id, cell in released.items():
            place = _place_of(nb, grade_id)
            if place is None:
                nb.cells.insert(behind, nbformat.from_dict(cell))
                place = behind
            behind = place + 1
        _make_ids_differ(nb.cells)
        return nb, resources


class NotesInert(NbGraderPreprocessor):
    """Turns what learners typed into cells into plain text that no page can take for a command.

    A Markdown cell of the released lesson that was not touched stays as it is; raw cells, which pages print without a
    look at them, become Markdown cells.
    """

    def preprocess(self, nb, resources):
        published = self._published_texts(resources)
        nb.cells = [self._inert(cell, published) for cell in nb.cells]
        return nb, resources

    def _inert(self, cell: NotebookNode, published: set[str]) -> NotebookNode:
        if cell.cell_type == "code":
            if "nbgrader" not in cell.metadata:
                cell.source = cell.source[:hand_in.LARGEST_TIMESTAMP_BYTES * 100]
            return cell
        if cell.cell_type == "markdown" and cell.source in published:
            return cell
        marks = {"nbgrader": cell.metadata.nbgrader} if "nbgrader" in cell.metadata else {}
        inert = nbformat.v4.new_markdown_cell(inert_text(cell.source, "learners-note"), metadata=marks)
        inert.id = cell.id
        return inert

    def _published_texts(self, resources) -> set[str]:
        texts = {cell.source for cell in released_cells(resources).values()}
        with contextlib.suppress(OSError, ValueError):  # a class without its release folder shows prose as plain text
            path = self._release_folder(resources) / f"{resources['nbgrader']['notebook']}.ipynb"
            texts |= {cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown"}
        return texts

    def _release_folder(self, resources) -> Path:
        course = course_of(self)
        return Path(course.format_path(course.release_directory, ".", resources["nbgrader"]["assignment"]))


class Judge(NbGraderPreprocessor):
    """Judges a hand-in by its evidence and writes score and feedback into every grade cell.

    The evidence is read from the folder of hand-ins, never from a copy in which files of the course may have replaced
    it. Anything unforeseen ends in 0.0, a sentence and a call for a person; nothing is raised.
    """

    engines = Unicode("", help="Folder of the engine cards that the evidence may name.").tag(config=True)
    submitted_directory = Unicode("", help="Folder of the hand-ins in the class folder, where it is not nbgrader's "
                                           "CourseDirectory.submitted_directory.").tag(config=True)

    def preprocess(self, nb, resources):
        learner, lesson = resources["nbgrader"]["student"], resources["nbgrader"]["assignment"]
        wanted, result = self._judged(learner, lesson)
        earlier = nb.metadata.get(RECORD, {}).get("remarks", [])
        result = replace(result, problem=shortened(result.problem))
        strangers = _strangers(wanted.found, resources["nbgrader"]["notebook"]) if earlier else []
        remarks = [*map(shortened, (*earlier, *strangers, *wanted.found.remarks, *result.notes))]
        record = {"learner": learner, "lesson": lesson, "problem": result.problem, "problem_kind": result.problem_kind,
                  "remarks": remarks, "key": wanted.key(), "hand_in": wanted.found.digest(), "exercises": {},
                  "runs_code": result.problem_kind == NO_RUBRIC}
        for cell in nb.cells:
            if utils.is_grade(cell):
                record["exercises"][cell.metadata.nbgrader.grade_id] = self._write(cell, result)
        nb.metadata[RECORD] = record
        _way_back(Path(resources["metadata"]["path"]))
        if remarks:
            note = nbformat.v4.new_markdown_cell(notes_html(remarks))
            note.id = "notes-on-the-hand-in"
            nb.cells.insert(0, note)
        return nb, resources

    def _judged(self, learner: str, lesson: str) -> tuple[ToJudge, LessonResult]:
        root, engines = Path(course_of(self).root), Path(self.engines)
        submitted = self.submitted_directory or course_of(self).submitted_directory
        nothing = hand_in.HandIn(root / submitted / learner / lesson, {})
        wanted = ToJudge(learner, lesson, nothing, learner, engines)
        judge, find = _judging.get()
        try:
            wanted = find(learner, lesson) if find else to_judge(root, submitted, learner, lesson, engines)
            if not wanted.has_rubric:
                return wanted, LessonResult(lesson, learner, (), ITS_OWN_TESTS, NO_RUBRIC)
            if wanted.found.problem:
                return wanted, LessonResult(lesson, learner, (), wanted.found.problem, "refused")
            return wanted, (judge or judge_lesson)(*wanted.arguments)
        except Exception as error:  # fail closed: whatever happens, nothing may pass as full points
            self.log.exception("The judge failed on %s, %s", learner, lesson)
            return wanted, LessonResult(lesson, learner, (), (
                f"This work could not be judged, for a reason that lies in the course and not in the work "
                f"({type(error).__name__}): the instructor must look at it."), "unforeseen")

    def _write(self, cell: NotebookNode, result: LessonResult) -> dict:
        marks = cell.metadata.nbgrader
        max_points = float(marks["points"])
        exercise = result.exercise(marks["grade_id"])
        problem = result.problem or ("" if exercise else "The judge has no rubric for this exercise.")
        if utils.is_solution(cell):
            return self._write_answer(cell, exercise, max_points, problem)
        points = 0.0 if problem else clamped_points(exercise, max_points)
        if problem:
            page, text = problem_html(problem, max_points), problem
        else:
            page, text = exercise_html(exercise, points, max_points), exercise_text(exercise, points, max_points)
        show_score(cell, points, page, text)
        return {"title": exercise.title if exercise else marks["grade_id"], "points": points, "max_points": max_points,
                "needs_person": problem or exercise.needs_person, "criteria": _criteria(exercise)}

    def _write_answer(self, cell: NotebookNode, exercise: ExerciseResult | None, max_points: float,
                      problem: str) -> dict:
        """Put the answer into the cell, after which its checksum differs and nbgrader asks for a person's mark."""
        typed = cell.source if utils.compute_checksum(cell) != cell.metadata.nbgrader.get("checksum") else ""
        answer = exercise.answer.strip() if exercise else ""
        if answer:
            cell.source = "\n\n".join(filter(None, (inert_text(answer), typed, marking_html(exercise))))
        reason = problem or ((exercise.needs_person or "a written answer to be marked") if answer or typed else "")
        return {"title": exercise.title if exercise else cell.metadata.nbgrader["grade_id"], "points": 0.0,
                "max_points": max_points, "needs_person": reason, "answered": bool(answer or typed)}


class AskForPerson(NbGraderPreprocessor):
    """Marks in the gradebook what the judge left to a person; stands behind SaveAutoGrades, which clears that mark."""

    def preprocess(self, nb, resources):
        names = resources["nbgrader"]
        exercises = nb.metadata.get(RECORD, {}).get("exercises", {})
        with Gradebook(names["db_url"]) as gradebook:
            for grade_id, found in exercises.items():
                if found["needs_person"]:
                    grade = gradebook.find_grade(grade_id, names["notebook"], names["assignment"], names["student"])
                    grade.needs_manual_grade = True
            gradebook.db.commit()
        return nb, resources


def shortened(sentence: str) -> str:
    """A sentence that may quote what was handed in, cut where it becomes a book."""
    if len(sentence) <= LONGEST_SENTENCE:
        return sentence
    half = LONGEST_SENTENCE // 2
    return f"{sentence[:half]} … {sentence[-half:]}"


def _strangers(found: hand_in.HandIn, wanted: str) -> list[str]:
    """A sentence that names notebooks of other names, for the hand-in whose own notebook is not there or illegible."""
    others = [name for name in found.files if name.endswith(".ipynb") and name != f"{wanted}.ipynb"]
    if not others:
        return []
    return [f"The folder holds {', '.join(others[:3])} and {wanted}.ipynb was wanted: if it was renamed, name it so "
            "and hand in again to have your notes on the page."]


def _criteria(exercise: ExerciseResult | None) -> list[dict]:
    """What was found of each criterion, as the class report needs it."""
    return [{"criterion": one.criterion, "title": one.title, "outcome": one.outcome.value, "points": one.points,
             "max_points": one.max_points, "misconception": one.misconception or ""}
            for one in (exercise.criteria if exercise else ())]


def _way_back(folder: Path) -> None:
    """Put what nbgrader's release_feedback reads into a judged folder whose hand-in did not come through the exchange.

    It stops the whole class at the first one that has no time and no secret; an empty time is none, and nobody but the
    instructor knows the secret.
    """
    for name, text in ((hand_in.TIMESTAMP_NAME, ""), (hand_in.SECRET_NAME, secrets.token_hex(20))):
        if folder.is_dir() and not (folder / name).exists():
            (folder / name).write_text(text, encoding="utf-8")


def clamped_points(exercise: ExerciseResult, max_points: float) -> float:
    """The exercise's points in the cell's own scale, between 0 and `max_points`. Raises nothing: NaN counts as 0."""
    scale = max_points / exercise.max_points if exercise.max_points else 0.0
    points = exercise.points * scale
    return round(min(max(points, 0.0), max_points), 4) if math.isfinite(points) else 0.0


def show_score(cell: NotebookNode, points: float, page: str, text: str) -> None:
    """Write a score as nbgrader reads it, the first output and a plain number, and the feedback as the second."""
    score = nbformat.v4.new_output("execute_result", {"text/plain": repr(float(points))}, execution_count=None)
    said = nbformat.v4.new_output("display_data", {"text/html": page, "text/plain": text})
    cell.outputs, cell.execution_count = [score, said], None


def released_cells(resources) -> dict[str, NotebookNode]:
    """The cells of the released notebook that bear nbgrader's marks, by grade_id, in their order, from the gradebook.

    They are looked up once and handed from step to step in `resources`.
    """
    names = resources["nbgrader"]
    if "released_cells" not in names:
        with Gradebook(names["db_url"]) as gradebook:
            notebook = gradebook.find_notebook(names["notebook"], names["assignment"])
            points = {cell.name: cell.max_score for cell in notebook.grade_cells}
            solutions = {cell.name for cell in notebook.solution_cells}
            names["released_cells"] = {cell.name: _released_cell(cell, points.get(cell.name), cell.name in solutions)
                                       for cell in notebook.source_cells}
    return names["released_cells"]


def _released_cell(cell, points: float | None, solution: bool) -> NotebookNode:
    marks = {"grade": points is not None, "grade_id": cell.name, "locked": bool(cell.locked), "solution": solution,
             "task": False, "schema_version": MARKS_SCHEMA, "cell_type": cell.cell_type, "checksum": cell.checksum}
    if points is not None:
        marks["points"] = float(points)
    return _new_cell("code" if cell.cell_type == "code" else "markdown", cell.source or "",
                     re.sub(r"[^a-zA-Z0-9_-]", "-", cell.name)[:60], nbgrader=marks, deletable=False)


def _place_of(nb: NotebookNode, grade_id: str) -> int | None:
    return next((place for place, cell in enumerate(nb.cells)
                 if cell.metadata.get("nbgrader", {}).get("grade_id") == grade_id), None)


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
