"""Where this course replaces or overrides a part of a library: each such name, and that the library still has it.

A library that renames one of them would not fail by itself: a class run would be slow again, a page would look as the
library has it, a part of a lesson would not hear its kernel. Here it fails, by name.
"""

from __future__ import annotations

import inspect
import pydoc
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import pytest
from jupyter_core.paths import jupyter_path


@dataclass(frozen=True)
class Seam:
    """One name of a library's class or module that `used_in` replaces or overrides, and what it must take."""

    owner: str
    name: str
    used_in: str
    takes: tuple[str, ...] = ()


CACHE, PAGES, PLAIN = (
    "graders/classroom/nbgrader_cache.py",
    "graders/nbgrader_bridge/feedback_page.py",
    "course/jupyter",
)
SEAMS = (
    Seam("nbgrader.api", "create_engine", CACHE),
    Seam("nbgrader.api", "inspect", CACHE),
    Seam("nbgrader.api", "sessionmaker", CACHE),
    Seam("nbgrader.api.Gradebook", "check_course", CACHE, ("self", "course_id")),
    Seam("nbgrader.api.Gradebook", "close", CACHE, ("self",)),
    Seam("nbgrader.api.Gradebook", "find_notebook", CACHE, ("self", "name", "assignment")),
    Seam("nbgrader.api.Gradebook", "find_source_cell", CACHE, ("self", "name", "notebook", "assignment")),
    Seam("nbgrader.api.Gradebook", "find_graded_cell", CACHE, ("self", "name", "notebook", "assignment")),
    Seam("nbgrader.api.Gradebook", "find_grade", CACHE, ("self", "grade_cell", "notebook", "assignment", "student")),
    Seam("nbgrader.api.Base.metadata", "create_all", CACHE, ("bind",)),
    Seam("nbgrader.api", "get_alembic_version", "tests/short_ways.py"),
    Seam("nbgrader.preprocessors.GetGrades", "preprocess_cell", PAGES, ("self", "cell", "resources", "cell_index")),
    Seam("nbgrader.preprocessors.GetGrades", "preprocess", PAGES, ("self", "nb", "resources")),
    Seam("nbgrader.apps.ZipCollectApp", "fail", "graders/classroom/collecting.py", ("self", "msg")),
    Seam("nbgrader.apps.ZipCollectApp", "extract_archive_files", "graders/classroom/collecting.py", ("self",)),
    Seam("nbgrader.apps.ZipCollectApp", "process_extracted_files", "graders/classroom/collecting.py", ("self",)),
    Seam("nbgrader.preprocessors.ClearHiddenTests", "preprocess_cell", PAGES, ("self", "cell", "resources")),
    Seam("nbconvert.exporters.HTMLExporter", "environment", PAGES),
    Seam("nbconvert.exporters.HTMLExporter", "default_filters", PAGES, ("self",)),
    Seam("nbconvert.exporters.HTMLExporter", "from_notebook_node", PAGES, ("self", "nb", "resources")),
    Seam("nbgrader.converters.Autograde", "writer", "graders/nbgrader_bridge/notebook.py"),
    Seam("jupyter_client.AsyncKernelManager", "kernel_spec", "graders/nbgrader_bridge/sandboxed_kernel.py"),
    Seam("nbclient.NotebookClient", "process_message", "graders/nbgrader_bridge/sandboxed_kernel.py", ("self", "msg")),
    Seam("nbclient.NotebookClient", "async_start_new_kernel", "graders/nbgrader_bridge/sandboxed_kernel.py", ("self",)),
    Seam("voila.app.Voila", "init_handlers", PLAIN, ("self",)),
    Seam("voila.app.Voila", "init_settings", PLAIN, ("self",)),
    Seam("voila.app.Voila", "setup_template_dirs", PLAIN, ("self",)),
    Seam("voila.app.Voila", "load_config_file", PLAIN, ("self",)),
    Seam("voila.app.Voila", "start", PLAIN, ("self",)),
    Seam("voila.app.Voila", "stop", PLAIN, ("self",)),
    Seam("voila.tornado.handler.TornadoVoilaHandler", "get", PLAIN, ("self", "path")),
    Seam("jupyterhub.spawner.LocalProcessSpawner", "make_preexec_fn", "course/hub/spawner.py", ("self", "name")),
    Seam("jupyterhub.services.auth.HubOAuth", "user_for_token", "course/hub/desk.py", ("self", "token")),
    Seam(
        "nbgrader.exchange.default.ExchangeCollect", "do_copy", "course/hub/class_exchange.py", ("self", "src", "dest")
    ),
    Seam("nbgrader.exchange.default.ExchangeSubmit", "init_dest", "course/hub/handing_in.py", ("self",)),
    Seam(
        "jupyter_server.services.kernels.connection.channels.ZMQChannelsWebsocketConnection",
        "connect",
        PLAIN,
        ("self",),
    ),
)
# Of the front end, in the text of what the browser gets: where it stands, and the name that late_start.js asks for.
FRONT_END = (
    ("labextensions/@jupyter-widgets/jupyterlab-manager", "_handle_comm_msg"),
    ("labextensions/@jupyter-widgets/jupyterlab-manager", "get_model"),
    ("labextensions/anywidget", "widget_manager"),
    ("voila", "_handle_comm_msg"),
)


def owner_of(dotted: str) -> object:
    """The class, module or object that a dotted name means."""
    found = pydoc.locate(dotted)
    assert found is not None, f"{dotted} is gone"
    return found


def must_have(seam: Seam, owner: object) -> None:
    """Fail where the library has the name no more, or where what it takes has another name or place."""
    assert hasattr(owner, seam.name), f"{seam.owner} has no {seam.name} any more, which {seam.used_in} uses"
    if seam.takes:
        found = tuple(inspect.signature(getattr(owner, seam.name)).parameters)
        assert found[: len(seam.takes)] == seam.takes, f"{seam.owner}.{seam.name} takes {found}: look at {seam.used_in}"


def must_be_served(folder: Path, name: str) -> None:
    """Fail where no script of a front end has a name that the course's own scripts ask for."""
    scripts = sorted(folder.rglob("*.js"))
    assert scripts, f"{folder.name} has no scripts here any more: look at course/widgets/shared/late_start.js"
    assert any(name in script.read_text(encoding="utf-8", errors="replace") for script in scripts), (
        f"{folder.name} knows no {name} any more: look at course/widgets/shared/late_start.js"
    )


@pytest.mark.parametrize("seam", SEAMS, ids=lambda seam: f"{seam.owner}.{seam.name}")
def test_the_library_still_has_it(seam):
    """Every name that is replaced or overridden is there and takes what it took."""
    must_have(seam, owner_of(seam.owner))


@pytest.mark.parametrize(("folder", "name"), FRONT_END)
def test_the_front_end_still_has_it(folder, name):
    """Every name that late_start.js asks a model for is in the scripts that a browser gets."""
    must_be_served(next((path for path in map(Path, jupyter_path(folder)) if path.is_dir()), Path(folder)), name)


def test_nbgrader_opens_a_gradebook_by_the_names_that_are_replaced():
    """The gradebook is made with the functions of nbgrader's own module, so that replacing them there has an effect."""
    from nbgrader.api import Gradebook

    names = set(Gradebook.__init__.__code__.co_names)
    assert {"create_engine", "inspect", "sessionmaker", "create_all", "check_course"} <= names


def test_a_renamed_name_is_noticed(tmp_path):
    """In a stand-in without the name, with another argument or with another script the same check fails."""
    seam = Seam("library.Gradebook", "find_grade", "a module", ("self", "grade_cell"))
    must_have(seam, SimpleNamespace(find_grade=lambda self, grade_cell, notebook: None))
    with pytest.raises(AssertionError, match="no find_grade any more, which a module uses"):
        must_have(seam, SimpleNamespace(look_up_grade=lambda self, grade_cell: None))
    with pytest.raises(AssertionError, match="look at a module"):
        must_have(seam, SimpleNamespace(find_grade=lambda self, name: None))
    with pytest.raises(AssertionError, match="no scripts here"):
        must_be_served(tmp_path, "_handle_comm_msg")
    (tmp_path / "manager.js").write_text("class Model { _handle_comm_message() {} }", encoding="utf-8")
    with pytest.raises(AssertionError, match="knows no _handle_comm_msg"):
        must_be_served(tmp_path, "_handle_comm_msg")
