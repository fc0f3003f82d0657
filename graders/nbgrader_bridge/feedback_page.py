"""The learner's page: nbgrader's feedback printed from our own template, self-contained and without script."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

from jinja2 import BytecodeCache, Environment
from jinja2.bccache import Bucket
from nbconvert.exporters import HTMLExporter
from nbformat import NotebookNode
from nbgrader import utils
from nbgrader.api import Gradebook
from nbgrader.preprocessors import ClearHiddenTests, GetGrades
from traitlets.config import Config

from engine_sim import TimingCourseError
from graders.exercises.loader import load_rubric
from graders.feedback import sanitised
from graders.submissions.folder import for_learners

from .lateness import lateness
from .marks import as_shown, counting, kept_marks
from .notebook import answer_alone, written_before
from .trace_picture import trace_picture


class TemplatesKept(BytecodeCache):
    """Keeps compiled page templates in memory: nbgrader makes a new exporter, which compiles them, for every page."""

    def __init__(self):
        self._code: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill a bucket of jinja's with what was kept for its key."""
        if bucket.key in self._code:
            bucket.bytecode_from_string(self._code[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what jinja compiled."""
        self._code[bucket.key] = bucket.bytecode_to_string()


_templates = TemplatesKept()


class FeedbackPageExporter(HTMLExporter):
    """Prints the learner's page from our own template: self-contained, without script, nothing fetched from outside."""

    def __init__(self, config: Config | None = None, **kwargs):
        ours = Config(
            FeedbackPageExporter={
                "template_name": "feedback_template",
                "extra_template_basedirs": [str(Path(__file__).parent)],
            }
        )
        merged = copy.deepcopy(config) if config else Config()
        merged.merge(ours)
        super().__init__(config=merged, **kwargs)
        self.optimistic_validation = True  # once, after the last step

    def from_file(self, file_stream: Any, resources: dict | None = None, **kwargs) -> tuple[Any, dict]:
        """Read a judged notebook."""
        return self.from_notebook_node(written_before(file_stream), resources, **kwargs)

    def from_notebook_node(self, nb: NotebookNode, resources: dict | None = None, **kwargs) -> tuple[Any, dict]:
        """Print the page as it comes out of the template. HTMLExporter parses each page once more, to describe pictures
        and to mark the cells of templates of its own, and our page has neither."""
        return super(HTMLExporter, self).from_notebook_node(nb, resources, **kwargs)

    @property
    def environment(self) -> Environment:
        """jinja's environment as nbconvert makes it, with the compiled templates that were kept."""
        environment = super().environment
        environment.bytecode_cache = _templates
        return environment

    def default_filters(self) -> Any:
        """nbconvert's filters and ours."""
        yield from super().default_filters()
        yield "sanitised", sanitised
        yield "points", lambda points: f"{round(float(points or 0.0), 2):g}"
        yield "for_learners", for_learners
        yield "lesson_title", lesson_title
        yield "trace_picture", trace_picture
        yield "answer_alone", answer_alone


class MarksForPage(GetGrades):
    """nbgrader's own, which puts the gradebook's points into the cells, and says besides which of them are not settled:
    a person has still to mark them."""

    def preprocess(self, nb: NotebookNode, resources: dict) -> tuple[NotebookNode, dict]:
        """Put points into all cells, and how late the hand-in was beside them."""
        nb, resources = super().preprocess(nb, resources)
        ours = resources["nbgrader"]
        with Gradebook(ours["db_url"]) as gradebook:
            ours["late"] = str(lateness(gradebook, ours["assignment"], ours["student"]))
        ours["score"] = max(ours["score"], 0.0)  # a cost may be more than was earned
        return nb, resources

    def preprocess_cell(self, cell: NotebookNode, resources: dict, cell_index: int) -> tuple[NotebookNode, dict]:
        """Put points and what is settled into one cell."""
        cell, resources = super().preprocess_cell(cell, resources, cell_index)
        if utils.is_grade(cell) or utils.is_task(cell):
            grade = self.gradebook.find_grade(
                cell.metadata.nbgrader["grade_id"], self.notebook_id, self.assignment_id, self.student_id
            )
            cell.metadata.nbgrader["waits"] = bool(grade.needs_manual_grade and grade.manual_score is None)
            cell.metadata.nbgrader["marked"] = grade.manual_score is not None
            if cell.metadata.nbgrader["marked"] and not grade.needs_manual_grade and utils.is_solution(cell):
                kept = counting(kept_marks(self.gradebook.db, grade.id), grade.manual_score)
                cell.metadata.nbgrader["by_criterion"] = as_shown(kept)
        return cell, resources


class HiddenTestsLeftOut(ClearHiddenTests):
    """nbgrader's own for the learner's page, which comes out wherever a learner wrote the marks of hidden tests: a
    region without its end is left out up to the end of the cell."""

    def preprocess_cell(self, cell: NotebookNode, resources: dict, cell_index: int) -> tuple[NotebookNode, dict]:
        """Leave the hidden tests out of one cell."""
        kept, is_hidden = [], False
        for line in cell.source.split("\n"):
            is_hidden = is_hidden or self.begin_test_delimeter in line
            if not is_hidden:
                kept.append(line)
            is_hidden = is_hidden and self.end_test_delimeter not in line
        cell.source = "\n".join(kept)
        return cell, resources


def lesson_title(lesson: str) -> str:
    """The lesson's title as its rubric has it, or its id."""
    try:
        return load_rubric(lesson).title
    except TimingCourseError:
        return lesson
