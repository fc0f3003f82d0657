"""Join the plain ES modules of a widget into the one text that the browser is given; nothing is fetched at
run time."""

from __future__ import annotations

import re
from pathlib import Path

from graders.palette import THEMES, css_variables

HERE = Path(__file__).resolve().parent
_IMPORT = re.compile(r'^import \{[^}]*\} from "\./(?P<name>[a-z_]+\.js)";\n', re.MULTILINE)
_COLOURS = re.compile(r"^ */\* colours: (?P<theme>light|dark) \*/$", re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|const|class) )", re.MULTILINE)


def module_text(name: str) -> str:
    """The module `name` with every module it imports set before it, each once, in the order of need.

    The files stay plain modules (a linter or a test runner reads them as they are): an import is one
    statement from "./other.js", and exported names differ between modules.
    """
    parts: dict[str, str] = {}
    _gather(name, parts)
    return "\n".join(parts.values())


def style_text(*names: str) -> str:
    """The named style sheets, one after the other, with the palette's colours filled in."""
    text = "\n".join((HERE / name).read_text(encoding="utf-8") for name in names)
    return _COLOURS.sub(lambda found: css_variables(THEMES[found["theme"]]), text)


def _gather(name: str, parts: dict[str, str]) -> None:
    text = (HERE / name).read_text(encoding="utf-8")
    for wanted in _IMPORT.finditer(text):
        if wanted["name"] not in parts:
            _gather(wanted["name"], parts)
    parts[name] = _EXPORT.sub("", _IMPORT.sub("", text))
