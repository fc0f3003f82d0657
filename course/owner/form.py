"""The form of a description: from an engine to what stands in its boxes, and back from what was typed.

What a page sends is a flat table of texts: a field's dotted name, `<name>@unit` for its unit, and
`<table>.<row>.<column>` for the rows of a table. A box that was not touched keeps its number to the last digit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from course.learner.number_text import NumberTextError, number_in
from engine_sim.owned.description import DescriptionError, OwnedEngine, owned_from, problems

from .fields import MORE_ROWS, WHOLE_NUMBERS, Field, Table, Unit, as_choice, fields, tables, value_of

UNIT = "@unit"
SHOWN_DIGITS = 5
KEPT_DIGITS = 7  # more than anybody reads, and no tail of a conversion


def boxes(engine: OwnedEngine, metric: bool) -> dict[str, str]:
    """What stands in the boxes of the form for a description, by name; units are those of the chosen system."""
    found: dict[str, str] = {}
    for field in fields():
        value, unit = value_of(engine, field.name), usual_unit(field, metric)
        found[field.name] = _shown(field, value, unit)
        if unit is not None:
            found[f"{field.name}{UNIT}"] = unit.name
    for table in tables():
        for row, line in enumerate(_rows(engine, table)):
            for column, _words in table.columns:
                value = getattr(line, column)
                found[f"{table.name}.{row}.{column}"] = "" if value is None else f"{value:.{SHOWN_DIGITS}g}"
    return found


def rows_shown(table: Table, shown: Mapping[str, str]) -> int:
    """How many rows of a table the form has: those that are filled and a few more, at least as many as it declares."""
    filled = {int(name.split(".")[-2]) for name, text in shown.items() if name.startswith(f"{table.name}.") and text}
    return max(table.rows, max(filled, default=-1) + 1 + MORE_ROWS)


def usual_unit(field: Field, metric: bool) -> Unit | None:
    """The unit in which a field is shown first: that of the chosen system where it has one."""
    return next((unit for unit in field.units if unit.metric == metric), field.units[0] if field.units else None)


def typed_content(typed: Mapping[str, str], before: OwnedEngine, metric: bool) -> tuple[dict[str, Any], dict[str, str]]:
    """The description that was typed, and a sentence for each box that cannot be read.

    `before` is the description as the form showed it: a box that holds the same text keeps its value.
    """
    was = boxes(before, metric)
    content: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for field in fields():
        same = typed.get(field.name, "") == was[field.name] and _unit_of(field, typed) is _unit_of(field, was)

        def read(field: Field = field, same: bool = same) -> Any:
            return value_of(before, field.name) if same else _read(field, typed)

        _put(content, wrong, field.name, read)
    for table in tables():
        lines, faults = _read_table(table, typed)
        wrong |= faults
        if lines:
            _set(content, table.name, lines)
    return content, wrong


def taken(typed: Mapping[str, str], before: OwnedEngine, metric: bool) -> OwnedEngine:
    """The description that was typed. Raises DescriptionError with a sentence at each box that is wrong."""
    content, wrong = typed_content(typed, before, metric)
    at = {**problems(content), **wrong}
    if at:
        raise DescriptionError({name: _in_its_unit(name, typed) + sentence for name, sentence in at.items()})
    return owned_from(content)


def _in_its_unit(name: str, typed: Mapping[str, str]) -> str:
    """What was typed in another unit, in the unit in which a sentence speaks of it."""
    field = next((one for one in fields() if one.name == name and one.kind == "amount"), None)
    unit = None if field is None else _unit_of(field, typed)
    if field is None or unit is None or unit is field.units[0]:
        return ""
    try:
        value = number_in(typed.get(name, ""))
    except NumberTextError:
        return ""
    return f"{value:g} {unit.name} is {value * unit.factor + unit.offset:.4g} {field.units[0].name}. "


def _rows(engine: OwnedEngine, table: Table) -> tuple[Any, ...]:
    found = value_of(engine, table.name)
    return found if isinstance(found, tuple) else ()


def _shown(field: Field, value: object, unit: Unit | None) -> str:
    if value is None:
        return ""
    if field.kind == "amount" and unit is not None and isinstance(value, int | float):
        return f"{(value - unit.offset) / unit.factor:.{SHOWN_DIGITS}g}"
    return as_choice(value)


def _unit_of(field: Field, shown: Mapping[str, str]) -> Unit | None:
    name = shown.get(f"{field.name}{UNIT}", "")
    return next((unit for unit in field.units if unit.name == name), field.units[0] if field.units else None)


def _read(field: Field, typed: Mapping[str, str]) -> Any:
    text = typed.get(field.name, "").strip()
    if not text:
        return None
    if field.kind == "text":
        return text.replace("\r\n", "\n")
    if field.kind == "list":
        if text in ("yes", "no"):
            return text == "yes"
        return int(text) if field.name in WHOLE_NUMBERS and text.isdecimal() else text
    unit = _unit_of(field, typed)
    assert unit is not None
    return float(f"{number_in(text) * unit.factor + unit.offset:.{KEPT_DIGITS}g}")


def _read_table(table: Table, typed: Mapping[str, str]) -> tuple[list[dict[str, float]], dict[str, str]]:
    lines, wrong = [], {}
    for row in range(rows_shown(table, typed)):
        line: dict[str, float] = {}
        for column, _words in table.columns:
            name = f"{table.name}.{row}.{column}"
            if text := typed.get(name, "").strip():
                try:
                    line[column] = number_in(text)
                except NumberTextError as error:
                    wrong[name] = str(error)
        if line:
            lines.append(line)
    return lines, wrong


def _put(content: dict[str, Any], wrong: dict[str, str], name: str, read: Callable[[], Any]) -> None:
    try:
        value = read()
    except NumberTextError as error:
        wrong[name] = str(error)
        return
    if value is not None:
        _set(content, name, value)


def _set(content: dict[str, Any], name: str, value: Any) -> None:
    *path, last = name.split(".")
    for part in path:
        content = content.setdefault(part, {})
    content[last] = value
