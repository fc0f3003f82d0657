"""The front end as text: what is joined, what it may not hold."""

from __future__ import annotations

import functools
import importlib
import json
import os
import pkgutil
import re
import shutil
import tempfile
from pathlib import Path

import anywidget
import pytest
import traitlets

from course import widgets
from course.authoring import front_end_units
from course.widgets.shared import front_end
from course.widgets.shared.front_end import WIDGETS, module_text
from engine_sim.physics import units
from tests.course import front_end_tools
from tests.every_case import check_every

ROOT = WIDGETS.parent.parent
REQUIRED = "TIMING_COURSE_REQUIRE_BROWSER"
MODULES = sorted(WIDGETS.rglob("*.js"))
FRONT_ENDS = [
    path.relative_to(WIDGETS).as_posix() for path in MODULES if "export default" in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_a_joined_module_stands_alone(name):
    """The text that the browser gets imports nothing, holds no types and exports one widget."""
    text = module_text(name)
    assert not re.search(r"^import |^ */\*\*", text, re.MULTILINE)
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
    path = tmp_path / "joined.mjs"
    path.write_text(module_text(name), encoding="utf-8")
    checked = front_end_tools.node("--check", path)
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


def test_only_types_are_left_out_of_what_a_page_gets(tmp_path, monkeypatch):
    """A comment of types on lines of its own goes; a cast and the code behind it stay."""
    (tmp_path / "part.js").write_text(
        "/** @param {A} a */\nexport function f(a) {\n  /**\n   * @type {B}\n   */\n  const b = g();\n"
        "  /** @type {C} */ (b).h = 1;\n  return a;\n}\n/** @type {D} */\nexport const d = 2;\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(front_end, "WIDGETS", tmp_path)
    kept = "function f(a) {\n  const b = g();\n  /** @type {C} */ (b).h = 1;\n  return a;\n}\nconst d = 2;\n"
    assert module_text("part.js") == kept


def tools():
    """The linter and the type checker of the front end. A function and no fixture: one line then names all skips."""
    missing = front_end_tools.missing()
    if missing and not os.environ.get(REQUIRED):
        pytest.skip(f"{' and '.join(missing)} are missing: run `python tests/course/front_end_tools.py`")
    assert not missing, f"{REQUIRED} is set and these are missing: {', '.join(missing)}"
    return front_end_tools


def test_scripts_and_style_sheets_are_linted_and_formatted():
    """No finding of the linter and no line that its formatter would change, by the rules in .biome.json."""
    checked = tools().run("biome", "ci", "--colors=off", "--max-diagnostics=50", folder=ROOT)
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_the_linter_can_find_something(tmp_path):
    """The check above can fail: a forgotten stop for the debugger is found by the same rules."""
    shutil.copy(ROOT / ".biome.json", tmp_path)
    (tmp_path / "course").mkdir()
    (tmp_path / "course" / "bad.js").write_text("export const f = () => {\n  debugger;\n};\n", encoding="utf-8")
    checked = tools().run("biome", "ci", "--colors=off", folder=tmp_path)
    assert checked.returncode != 0 and "noDebugger" in checked.stdout + checked.stderr


# ---- types -----------------------------------------------------------------------------------------------------------

# Faults as they could be written into a module, each with a word of what the type checker has to say of it.
FAULTS = {
    "a message by a wrong name": (
        "pres",
        'const f = (/** @type {HandInCard} */ { model }) => model.send({ pres: "look" })',
    ),
    "a message with a wrong value": (
        '"looks"',
        'const f = (/** @type {HandInCard} */ { model }) => model.send({ press: "looks" })',
    ),
    "a trait that is not there": ('"mising"', 'const f = (/** @type {HandInCard} */ { model }) => model.get("mising")'),
    "an event that never comes": (
        "change:mising",
        'const f = (/** @type {HandInCard} */ { model }) => model.on("change:mising", () => {})',
    ),
    "an answer that the kernel does not read": (
        "number",
        "const f = (/** @type {SeveralForm} */ view) =>\n"
        "  showForm(view, () => ({ root: null, value: () => ({ value: 3 }) }))",
    ),
    "words of a form as a text": (
        '"Check"',
        "const f = (/** @type {SeveralForm} */ view) =>\n"
        '  showForm(view, () => ({ root: null, value: () => ({ value: ["a"] }) }), "Check")',
    ),
    "a state that is neither true nor false": ("'true'", 'const f = () => element("p", { "aria-disabled": true })'),
    "an attribute misspelt": ("clas", 'const f = () => element("p", { clas: "cf-hint" })'),
    "a method that an element lacks": ("select", 'const f = () => element("p").select()'),
    "what may be missing": ("null", 'const f = () => element("p").parentElement.remove()'),
}
VALUES = {"element": "shared/elements.js", "showForm": "forms/form_view.js"}
TYPES = {"HandInCard": "cards/hand_in.js", "SeveralForm": "forms/several.js"}
TYPE_OF = {
    traitlets.Unicode: "string",
    traitlets.Float: "number",
    traitlets.Int: "number",
    traitlets.Bool: "boolean",
    traitlets.Bytes: "DataView<ArrayBuffer>",
}
COMPARED = """
type Traits<Of> = Of extends View<infer Known, infer _Sent, infer _Heard> ? Known : never;
type Same<One, Other> = [One] extends [Other] ? ([Other] extends [One] ? true : false) : false;
type Takes<Wanted, Given> = [Given] extends [Wanted] ? true : false;
"""


def classes_of_the_front_ends() -> dict[str, type]:
    """The class of Python behind each module that is a front end."""
    for found in pkgutil.walk_packages(widgets.__path__, f"{widgets.__name__}."):
        importlib.import_module(found.name)
    texts = {module_text(name): name for name in FRONT_ENDS}
    kinds, known = [anywidget.AnyWidget], {}
    while kinds:
        kind = kinds.pop()
        kinds += kind.__subclasses__()
        if "_esm" in vars(kind) and str(kind._esm) in texts:
            known[texts[str(kind._esm)]] = kind
    return known


def compared_traits(known: dict[str, type], other: dict[str, str] | None = None) -> str:
    """TypeScript that is sound where every widget's traits have the names, and the simple ones the types, of Python.

    `other` gives traits another name, to see that this is noticed.
    """
    lines = [f'import type {{ View }} from "{WIDGETS.as_posix()}/types.d.ts";', COMPARED]
    of_every_widget = anywidget.AnyWidget.class_traits()
    for module, kind in sorted(known.items()):
        name = kind.__name__
        traits = {one: trait for one, trait in kind.class_traits(sync=True).items() if one not in of_every_widget}
        names = " | ".join(f'"{(other or {}).get(one, one)}"' for one in traits)
        lines += [
            f'import type {{ {name} }} from "{WIDGETS.as_posix()}/{module}";',
            f"export const names_of_{name}: Same<keyof Traits<{name}>, {names}> = true;",
        ]
        for one, trait in traits.items():
            if type(trait) in TYPE_OF:
                takes = f'Takes<Traits<{name}>["{one}"], {TYPE_OF[type(trait)]}>'
                lines.append(f"export const {name}_{one}: {takes} = true;")
    return "\n".join(lines) + "\n"


def findings() -> dict[str, str]:
    """What the type checker says of the front end and of files made for it, by the name of the file."""
    tools()
    return checked_once()


@functools.cache
def checked_once() -> dict[str, str]:
    """One run of the type checker for all tests."""
    with tempfile.TemporaryDirectory() as folder:
        return checked_in(Path(folder).resolve())


def checked_in(folder: Path) -> dict[str, str]:
    """Write the files that are made for the type checker into a folder, and run it."""
    known = classes_of_the_front_ends()
    (folder / "traits.ts").write_text(compared_traits(known), encoding="utf-8")
    (folder / "renamed.ts").write_text(compared_traits(known, {"missing": "absent"}), encoding="utf-8")
    for number, (_, fault) in enumerate(FAULTS.values()):
        used = {name: f'from "{WIDGETS.as_posix()}/{at}"' for name, at in (VALUES | TYPES).items() if name in fault}
        taken_in = [
            f"/** @import {{ {name} }} {at} */" if name in TYPES else f"import {{ {name} }} {at};"
            for name, at in used.items()
        ]
        text = "\n".join([*taken_in, f"export {fault};", ""])
        (folder / f"fault_{number}.js").write_text(text, encoding="utf-8")
    settings = {"extends": (ROOT / ".tsconfig.json").as_posix(), "include": [WIDGETS.as_posix(), folder.as_posix()]}
    (folder / "tsconfig.json").write_text(json.dumps(settings), encoding="utf-8")
    checked = front_end_tools.run("tsc", "--project", folder, "--pretty", "false", folder=folder)
    said: dict[str, str] = {}
    for finding in re.split(r"\n(?=\S)", checked.stdout.strip()):
        place = re.match(r"(.+?)\(\d+,\d+\): ", finding)
        name = Path(os.path.normpath(folder / place[1])) if place else folder / "other"
        key = name.name if name.parent == folder else "front end"
        said[key] = said.get(key, "") + finding + "\n"
    return said


def test_the_type_checker_finds_nothing():
    """Every module of the front end keeps the types that it names, by the rules in .tsconfig.json."""
    found = findings()
    assert not found.get("front end") and not found.get("other"), found


def test_the_page_and_the_kernel_know_the_same_traits():
    """Every widget's module names the traits that Python synchronises, all and no others, the simple ones by type."""
    found = findings()
    assert sorted(classes_of_the_front_ends()) == sorted(FRONT_ENDS)
    assert not found.get("traits.ts"), found["traits.ts"]


def test_the_type_checker_can_find_something():
    """The two checks above can fail: a trait renamed in Python, and each fault, are found where they stand."""
    found = findings()
    assert found.get("renamed.ts", "").count("error TS") == 1, found.get("renamed.ts")
    check_every(
        lambda number, word: word_found(found.get(f"fault_{number}.js", "nothing"), word),
        [(name, number, word) for number, (name, (word, _)) in enumerate(FAULTS.items())],
    )


def word_found(finding: str, word: str) -> None:
    """One finding, and it speaks of the fault."""
    assert finding.count("error TS") == 1 and word in finding, finding


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
