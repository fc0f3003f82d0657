"""What a lesson shows while it is not running."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

import nbformat

from course import WITHOUT_CODE
from course.authoring.edition import make_learners_edition
from course.authoring.placeholder_outputs import SENTENCE, WIDGET_VIEW, placeholder, pre_save_hook


def test_every_exercise_of_a_learners_edition_says_how_to_run_it(tmp_path, schema_asked_once):
    """Each exercise's cell holds the sentence, no other cell does, and the notebook is sound."""
    (folder,) = make_learners_edition(tmp_path, ["l04_base_timing"])
    notebook = nbformat.read(folder / "l04_base_timing.ipynb", as_version=4)
    nbformat.validate(notebook)
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    exercises = [
        cell
        for cell in code
        if "import" not in cell.source and not cell.source.startswith(("hand_in(", "words(", "check(", "replays("))
    ]
    assert len(exercises) == 6 + 3  # the questions and the bench, and three pictures
    assert all(cell.outputs[0].data["text/markdown"] == SENTENCE for cell in exercises)
    assert all(cell.outputs == [] for cell in code if cell not in exercises)


def saved(outputs: list[dict]) -> list[dict]:
    """What is written of one code cell's outputs."""
    model = {"type": "notebook", "content": {"cells": [{"cell_type": "code", "outputs": outputs}]}}
    pre_save_hook(model=model, path="lesson.ipynb", contents_manager=None)
    return json.loads(json.dumps(model["content"]["cells"][0]["outputs"]))


def test_a_saved_notebook_holds_no_widget():
    """A widget among the outputs is replaced by the sentence, text of an instructor's own cell stays."""
    widget = {"output_type": "execute_result", "data": {WIDGET_VIEW: {"model_id": "a"}, "text/plain": "Bench()"}}
    text = {"output_type": "stream", "name": "stdout", "text": "42"}
    assert saved([widget]) == [placeholder()]
    assert saved([text]) == [text]


def test_what_is_not_a_notebook_is_saved_as_it_is():
    """Files and folders pass the hook untouched."""
    for model in ({"type": "file", "content": "text"}, {"type": "directory"}, {"type": "notebook", "content": None}):
        before = json.dumps(model)
        pre_save_hook(model=model, path="x")
        assert json.dumps(model) == before


def test_the_server_of_the_notebooks_has_our_style_sheet_first():
    """The extension that the course names puts its folder before the user's own, and the sheet lies in it."""
    named = WITHOUT_CODE[-1].partition("jpserver_extensions=")[2].removesuffix("=True")
    extension = import_module(named)
    assert extension._jupyter_server_extension_points() == [{"module": named}]
    server = SimpleNamespace(static_custom_path=["the user's own"])
    extension._load_jupyter_server_extension(server)
    first, second = server.static_custom_path
    assert second == "the user's own" and "InputPlaceholder" in (Path(first) / "custom.css").read_text("utf-8")
