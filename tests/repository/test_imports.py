"""Who may import whom: the rooms and their order, what the engine may use, and what an import costs."""

from __future__ import annotations

import ast
import functools
import importlib
import subprocess
import sys
from pathlib import Path

import pytest

import engine_sim
import graders
from tests.every_case import check_every

from .sources import ROOT, by_name, modules, tree_of

OLDER_NAMES = {"boxed_kernel", "nbgrader_collect"}
MAY_IMPORT = {"numpy"}
ALSO = {"card": {"pydantic"}, "sections": {"pydantic"}, "description": {"pydantic", "pydantic_core"}}


def imported(path: Path) -> set[str]:
    """Top names of everything a module imports from outside its package."""
    names = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        if isinstance(node, ast.ImportFrom) and node.level == 0:
            names.add(node.module.split(".")[0])
    return names


def test_contracts_of_import_direction(monkeypatch, capsys):
    """All contracts of pyproject.toml are kept: every module and room of the three packages has its place."""
    from importlinter import cli  # loads a whole command line, for this test alone

    monkeypatch.chdir(ROOT)
    status = cli.lint_imports(no_cache=True)
    assert status == cli.EXIT_STATUS_SUCCESS, capsys.readouterr().out


def test_the_judge_has_few_rooms():
    """The top floor of graders/ has twelve entries at most, beside its own docstring and the older names."""
    entries = {path.stem for path in Path(graders.__file__).parent.iterdir()}
    assert len(entries - {"__init__", "__pycache__"} - OLDER_NAMES) <= 12


def test_engine_leans_on_numpy_alone():
    """Beside the standard library a module of the engine imports numpy, and the card and an owner's
    description pydantic; nothing else."""

    def check(path):
        outside = imported(path) - set(sys.stdlib_module_names) - {"engine_sim"}
        assert outside <= MAY_IMPORT | ALSO.get(path.stem, set())

    check_every(check, by_name(modules("engine_sim")))


def test_contract_would_notice(tmp_path):
    """The check of imports sees an import of another library, also one inside a function."""
    module = tmp_path / "spoiled.py"
    module.write_text("import numpy as np\n\n\ndef draw():\n    from matplotlib import pyplot\n", encoding="utf-8")
    assert imported(module) == {"numpy", "matplotlib"}


@functools.cache
def loaded_by(work: str) -> frozenset[str]:
    """Names of all modules that some imports load in a fresh interpreter."""
    code = f"import sys; {work}; print('\\n'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return frozenset(done.stdout.split())


def test_importing_the_package_loads_itself_alone():
    """`import engine_sim` loads no other module of the package and no library at all, not even numpy."""
    own = {name for name in loaded_by("import engine_sim") if name.partition(".")[0] == "engine_sim"}
    assert own == {"engine_sim"}
    assert "numpy" not in loaded_by("import engine_sim")


def test_running_an_engine_loads_neither_pictures_nor_widgets():
    """Engine, session and evidence load neither matplotlib nor ipywidgets, nor pydantic: that waits for a card."""
    work = "import engine_sim as e; e.Engine, e.Session, e.EvidenceWriter, e.peak_and_back_off, e.published"
    heavy = {"matplotlib", "ipywidgets", "anywidget", "IPython", "nbgrader", "scipy", "pandas", "pydantic"}
    assert heavy & loaded_by(work) == set()


def test_a_card_loads_pydantic():
    """The test above can fail: asking for a card's reader does load pydantic."""
    assert "pydantic" in loaded_by("import engine_sim; engine_sim.load_card")


def test_course_package_itself_loads_nothing_heavy():
    """`import course` loads the standard library alone: the first start on a new machine depends on it."""
    top = {name.partition(".")[0] for name in loaded_by("import course, course.bootstrap") - loaded_by("pass")}
    assert top - set(sys.stdlib_module_names) <= {"course"}


LEARNERS_WAY = """
import importlib, pkgutil, sys

class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("nbgrader", "sqlalchemy", "jupyterlab", "alembic", "notebook_shim"):
            raise ModuleNotFoundError(name, name=name)

sys.meta_path.insert(0, Missing())
import course.widgets
from course.commands import check, hand_in, portrait, start
from course.jupyter.plain_page import server
from course.learner import progress
from course.owner import written_sheet
for module in pkgutil.walk_packages(course.widgets.__path__, "course.widgets."):
    importlib.import_module(module.name)
try:
    import course.commands.grade
except ModuleNotFoundError as error:
    print(error.name)
"""


def test_a_learner_needs_nothing_that_is_for_classes():
    """Pages, widgets, check and hand-in load where nbgrader and JupyterLab are not installed; a class run does not."""
    done = subprocess.run([sys.executable, "-c", LEARNERS_WAY], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.strip()) == (0, "nbgrader"), done.stderr


def test_the_door_is_visible():
    """`dir(engine_sim)` lists every public name, and the stub that editors read offers the same names from the same
    modules."""
    stub = ast.parse(Path(engine_sim.__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    shown = {alias.asname: node.module for node in stub.body for alias in node.names}
    assert dir(engine_sim) == sorted(shown) == engine_sim.__all__
    for name, module in shown.items():
        assert getattr(engine_sim, name) is getattr(importlib.import_module(f"engine_sim.{module}"), name)


def test_older_names_of_the_door_keep_working():
    """Names that the door had before it was ordered are the same things under their newer names."""
    assert engine_sim.Health is engine_sim.Wear and engine_sim.CylinderHealth is engine_sim.CylinderWear
    with pytest.raises(AttributeError, match=r"no 'Wheel'; it offers .*Wear"):
        engine_sim.Wheel  # noqa: B018 - the look-up itself is what fails


def test_each_class_has_its_own_name():
    """No two classes of the packages have one name, so that a search finds one definition."""
    classes = [node.name for path in modules() for node in ast.walk(tree_of(path)) if isinstance(node, ast.ClassDef)]
    assert sorted(name for name in set(classes) if classes.count(name) > 1) == []
