"""Join the plain ES modules of a widget into the one text that the browser is given; nothing is fetched at
run time."""

from __future__ import annotations

import posixpath
import re
from pathlib import Path

from graders.palette import THEMES, css_variables

WIDGETS = Path(__file__).resolve().parents[1]
_IMPORT = re.compile(r'^import \{[^}]*\} from "(?P<path>\.\.?/(?:\.\./)*[a-z_/]+\.js)";\n', re.MULTILINE)
_TYPES = re.compile(r"^ */\*\*(?:(?!\*/).)*\*/\n", re.MULTILINE | re.DOTALL)  # a JSDoc comment on lines of its own
_COLOURS = re.compile(r"^ */\* colours: (?P<theme>light|dark) \*/$", re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|const|class) )", re.MULTILINE)


def module_text(name: str) -> str:
    """The module `name`, a path below widgets/, with every module it imports set before it, each once, in the order of
    need.

    The files stay plain modules (a linter or a test runner reads them as they are): an import is one
    statement from "./other.js", "../folder/other.js" or further up, and exported names differ between modules.
    Types, which stand in comments that begin with /** on lines of their own, are left out.
    """
    parts: dict[str, str] = {}
    _gather(name, parts)
    return "\n".join(parts.values())


def style_text(*names: str) -> str:
    """The style sheets, paths below widgets/, one after the other, with the palette's colours filled in."""
    text = "\n".join((WIDGETS / name).read_text(encoding="utf-8") for name in names)
    return _COLOURS.sub(lambda found: css_variables(THEMES[found["theme"]]), text)


def _gather(name: str, parts: dict[str, str]) -> None:
    text = (WIDGETS / name).read_text(encoding="utf-8")
    for wanted in _IMPORT.finditer(text):
        found = posixpath.normpath(posixpath.join(posixpath.dirname(name), wanted["path"]))
        if found not in parts:
            _gather(found, parts)
    parts[name] = _EXPORT.sub("", _IMPORT.sub("", _TYPES.sub("", text)))
