"""A file to describe an engine with any editor: every field with where to look, all of them empty."""

from __future__ import annotations

import textwrap
from itertools import groupby

from .fields import GROUPS, YES_NO, Field, Table

WIDTH = 100
HEAD = (
    "# An engine, as its owner can describe it. Fill in what you know: take away the # before a line and write behind",
    "# the = sign. Texts and choices stand in quotes. Leave everything else as it is, and never guess.",
    "",
    "schema_version = 1",
)


def empty_file() -> str:
    """The whole text; as it stands it describes an engine of which nothing is known."""
    items = [(item, group.title) for group in GROUPS for item in group.items]
    sections = list(dict.fromkeys(_section(item) for item, _ in items))
    items.sort(key=lambda pair: sections.index(_section(pair[0])))  # a section of TOML stands in one place
    lines = list(HEAD)
    for section, found in groupby(items, key=lambda pair: _section(pair[0])):
        lines += ["", f"[{section}]"]
        for title, inside in groupby(found, key=lambda pair: pair[1]):
            lines += ["", f"# {title}", *(line for item, _ in inside for line in _lines(item))]
    return "\n".join(lines) + "\n"


def _section(item: Field | Table) -> str:
    return item.name.rpartition(".")[0]


def _lines(item: Field | Table) -> list[str]:
    key = item.name.rpartition(".")[2]
    if isinstance(item, Table):
        row = ", ".join(f"{column.key} = " for column in item.columns)
        units = ", ".join(f"{column.label} [{column.units[0].name}]" for column in item.columns)
        return [f"# {item.label}: {item.help} A row a line of {{ {row}}}: {units}.", f"# {key} = []"]
    unit = f" [{item.units[0].name}]" if item.units and item.units[0].name else ""
    words = " ".join(filter(None, (f"{item.label}{unit}.", item.help, _allowed(item))))
    return [*(f"# {line}" for line in textwrap.wrap(words, WIDTH)), f"# {key} ="]


def _allowed(item: Field) -> str:
    if not item.choices:
        return ""
    if item.choices == YES_NO:
        return "true or false."
    quote = "" if item.choices[0][0].isdecimal() else '"'
    return f"One of {', '.join(f'{quote}{value}{quote}' for value, _ in item.choices)}."
