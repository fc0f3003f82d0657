"""The front end as text: what is joined, what it may not hold."""

from __future__ import annotations

import os
import re
import shutil
import subprocess

import pytest

from course.authoring import front_end_units
from course.widgets.shared.front_end import WIDGETS, module_text
from engine_sim.physics import units

MODULES = sorted(WIDGETS.rglob("*.js"))
FRONT_ENDS = [
    path.relative_to(WIDGETS).as_posix() for path in MODULES if "export default" in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_a_joined_module_stands_alone(name):
    """The text that the browser gets imports nothing and exports one widget."""
    text = module_text(name)
    assert not re.search(r"^import ", text, re.MULTILINE)
    hears = "initialize: hear, " if "model.on(" in text else ""  # who listens to the kernel must hear it when late, too
    assert re.findall(r"^export .*", text, re.MULTILINE) == [f"export default {{ {hears}render }};"]


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_joined_modules_share_no_name(name):
    """No two joined modules define the same name at their top."""
    names = re.findall(r"^(?:async )?(?:function|const|let|class) (\w+)", module_text(name), re.MULTILINE)
    assert len(names) == len(set(names)), sorted({name for name in names if names.count(name) > 1})


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_a_joined_module_is_sound(name, tmp_path):
    """The joined text is a module that a JavaScript engine accepts."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed; the browser tests load the same text")
    path = tmp_path / "joined.mjs"
    path.write_text(module_text(name), encoding="utf-8")
    checked = subprocess.run([node, "--check", str(path)], capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr


def test_the_conversions_are_those_of_the_engine():
    """course/widgets/shared/generated_units.js is what `python -m course.authoring.build units` writes."""
    assert front_end_units.PAGE.read_text(encoding="utf-8") == front_end_units.units_text(), (
        "a conversion differs between Python and JavaScript: write the file with that command"
    )


def test_a_conversion_changed_in_one_language_is_noticed(monkeypatch):
    """A factor that is edited in Python alone, or in the written file alone, makes the two differ."""
    for name in front_end_units.GIVEN:
        with monkeypatch.context() as patch:
            patch.setattr(units, name, 1.0001 * getattr(units, name))
            assert front_end_units.PAGE.read_text(encoding="utf-8") != front_end_units.units_text(), name


def test_every_conversion_that_is_written_is_used():
    """Each constant of the written file is imported by a module of the front end."""
    texts = [path.read_text(encoding="utf-8") for path in MODULES if path != front_end_units.PAGE]
    unused = [name for name in front_end_units.GIVEN if not any(re.search(rf"\b{name}\b", text) for text in texts)]
    assert unused == []


def biome() -> str:
    """The linter's program; where it is missing the test is skipped, or fails where browser tests are required."""
    found = shutil.which("biome")
    if found is None and not os.environ.get("TIMING_COURSE_REQUIRE_BROWSER"):
        pytest.skip("biome is not installed; DEVELOPERS.md says how")
    assert found, "TIMING_COURSE_REQUIRE_BROWSER is set and biome was not found"
    return found


def test_scripts_and_style_sheets_are_linted_and_formatted():
    """No finding of the linter and no line that its formatter would change, by the rules in .biome.json."""
    checked = subprocess.run(
        [biome(), "ci", "--colors=off", "--max-diagnostics=50"],
        cwd=WIDGETS.parent.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_the_linter_can_find_something(tmp_path):
    """The check above can fail: a forgotten stop for the debugger is found by the same rules."""
    shutil.copy(WIDGETS.parent.parent / ".biome.json", tmp_path)
    (tmp_path / "course").mkdir()
    (tmp_path / "course" / "bad.js").write_text("export const f = () => {\n  debugger;\n};\n", encoding="utf-8")
    checked = subprocess.run([biome(), "ci", "--colors=off"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert checked.returncode != 0 and "noDebugger" in checked.stdout + checked.stderr


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.name)
def test_text_goes_in_as_text_and_nothing_is_fetched(path):
    """No module builds markup from text or asks the network for anything."""
    text = path.read_text(encoding="utf-8")
    for forbidden in (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "fetch(",
        "XMLHttpRequest",
        "import(",
    ):
        assert forbidden not in text, f"{path.name} uses {forbidden}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.name)
def test_every_control_keeps_the_notebook_shortcuts_off(path):
    """Every element that takes the keyboard carries the attribute that keeps JupyterLab's letters off."""
    maker = re.compile(r'element\(\s*"(?:button|input|select|textarea)",\s*\{(.*?)\}', re.DOTALL)
    makers = maker.findall(path.read_text(encoding="utf-8"))
    for attributes in makers:
        assert "HANDS_OFF" in attributes, f"{path.name}: {attributes[:60]}"
