"""What stands in an exercise's cell while its lesson is not running, instead of nothing or of a dead widget.

A notebook file holds no widgets: it is handed out, and saved by the server that `timing-course start` runs, with one
sentence in every exercise's cell. Running the lesson puts the exercise in its place.
"""

from __future__ import annotations

import re

from nbconvert.preprocessors import Preprocessor
from nbformat import NotebookNode, from_dict
from traitlets import Bool

WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
SENTENCE = "This exercise is not running yet: open the menu **Run** and choose **Run All Cells**."
_EXERCISE_CALL = re.compile(r"(?!check\b)\w+\(\s*[\"'][\w-]+[\"']\s*\)\s*")


def placeholder() -> dict:
    """The output that says so; text alone, so that it shows in a notebook that is not trusted, too."""
    return {
        "output_type": "display_data",
        "metadata": {},
        "data": {"text/markdown": SENTENCE, "text/plain": SENTENCE.replace("**", "")},
    }


def without_widgets(cells: list[dict]) -> None:
    """Put the sentence in place of every widget among the outputs of these cells; other outputs stay."""
    for cell in cells:
        outputs = cell.get("outputs") or []
        if any(WIDGET_VIEW in output.get("data", {}) for output in outputs):
            cell["outputs"] = [placeholder()]
            cell["execution_count"] = None


def pre_save_hook(model: dict, **_more) -> None:
    """Keep widgets out of a notebook that the server saves (`FileContentsManager.pre_save_hook`)."""
    if model.get("type") == "notebook" and isinstance(model.get("content"), dict):
        without_widgets(model["content"].get("cells", []))


class NotRunningYet(Preprocessor):
    """Puts the sentence into every exercise's cell of a learner's edition; the last step of making it."""

    enabled = Bool(True).tag(config=True)

    def preprocess_cell(self, cell: NotebookNode, resources: dict, index: int) -> tuple[NotebookNode, dict]:
        if cell.cell_type == "code" and "nbgrader" in cell.metadata and _EXERCISE_CALL.fullmatch(cell.source):
            cell.outputs = [from_dict(placeholder())]
        return cell, resources
