"""The form of a description: from an engine to what stands in its boxes, and back from what was typed.

What a page sends is a flat table of texts: a field's dotted name, `<name>@unit` for its unit, `<table>.<row>.<column>`
for the rows of a table and `<table>.<column>@unit` for the unit of a column. A box that was not touched keeps its
number to the last digit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from course.learner.number_text import NumberTextError, number_in
from engine_sim.owned.description import DescriptionError, OwnedEngine, owned_from, problems

from .fields import MORE_ROWS, WHOLE_NUMBERS, Field, Table, TableColumn, Unit, as_choice, fields, tables, value_of

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
        for column in table.columns:
            unit = usual_unit(column, metric)
            assert unit is not None
            found[f"{table.name}.{column.key}{UNIT}"] = unit.name
            for row, line in enumerate(_rows(engine, table)):
                value = getattr(line, column.key)
                found[f"{table.name}.{row}.{column.key}"] = "" if value is None else _in_unit(value, unit)
    return found


def rows_shown(table: Table, shown: Mapping[str, str]) -> int:
    """How many rows of a table the form has: those that are filled and a few more, at least as many as it declares."""
    cells = [name for name, text in shown.items() if name.startswith(f"{table.name}.") and text]
    filled = {int(name.split(".")[-2]) for name in cells if not name.endswith(UNIT)}
    return max(table.rows, max(filled, default=-1) + 1 + MORE_ROWS)


def usual_unit(of: Field | TableColumn, metric: bool) -> Unit | None:
    """The unit in which a field or a column is shown first: that of the chosen system where it has one."""
    return next((unit for unit in of.units if unit.metric == metric), of.units[0] if of.units else None)


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
        lines, faults = _read_table(table, typed, was, before)
        wrong |= faults
        if lines:
            _set(content, table.name, list(lines.values()))
    return content, wrong


def taken(typed: Mapping[str, str], before: OwnedEngine, metric: bool) -> OwnedEngine:
    """The description that was typed. Raises DescriptionError with a sentence at each box that is wrong."""
    content, wrong = typed_content(typed, before, metric)
    at = {_typed_at(name, typed, before, metric): said for name, said in problems(content).items()} | wrong
    if at:
        raise DescriptionError({name: _in_its_unit(name, typed) + sentence for name, sentence in at.items()})
    return owned_from(content)


def _typed_at(name: str, typed: Mapping[str, str], before: OwnedEngine, metric: bool) -> str:
    """The box of a sentence: a description has no empty rows in its tables, and a form may."""
    table = next((one for one in tables() if name.startswith(f"{one.name}.")), None)
    if table is None:
        return name
    number, *rest = name.removeprefix(f"{table.name}.").split(".")
    lines, _wrong = _read_table(table, typed, boxes(before, metric), before)
    return ".".join((table.name, str(list(lines)[int(number)]), *rest))


def _in_its_unit(name: str, typed: Mapping[str, str]) -> str:
    """What was typed in another unit, in the unit in which a sentence speaks of it."""
    found = next(((units, unit_of) for box, units, unit_of in _measured(typed) if box == name), None)
    if found is None:
        return ""
    units, unit_of = found
    unit = _unit_named(units, typed.get(unit_of, ""))
    if unit is None or unit is units[0]:
        return ""
    try:
        value = number_in(typed.get(name, ""))
    except NumberTextError:
        return ""
    return f"{value:g} {unit.name} is {value * unit.factor + unit.offset:.4g} {units[0].name}. "


def _measured(typed: Mapping[str, str]) -> Iterator[tuple[str, tuple[Unit, ...], str]]:
    """Every box that holds a number with a unit: its name, the units to choose from, and the name of their choice."""
    for field in fields():
        if field.kind == "amount":
            yield field.name, field.units, f"{field.name}{UNIT}"
    for table in tables():
        for row in range(rows_shown(table, typed)):
            for column in table.columns:
                yield f"{table.name}.{row}.{column.key}", column.units, f"{table.name}.{column.key}{UNIT}"


def _rows(engine: OwnedEngine, table: Table) -> tuple[Any, ...]:
    found = value_of(engine, table.name)
    return found if isinstance(found, tuple) else ()


def _shown(field: Field, value: object, unit: Unit | None) -> str:
    if value is None:
        return ""
    if field.kind == "amount" and unit is not None and isinstance(value, int | float):
        return _in_unit(value, unit)
    return as_choice(value)


def _in_unit(value: float, unit: Unit) -> str:
    return f"{(value - unit.offset) / unit.factor:.{SHOWN_DIGITS}g}"


def _from_unit(text: str, unit: Unit) -> float:
    """A number that was typed, in the first unit. Raises NumberTextError."""
    return float(f"{number_in(text) * unit.factor + unit.offset:.{KEPT_DIGITS}g}")


def _unit_of(field: Field, shown: Mapping[str, str]) -> Unit | None:
    return _unit_named(field.units, shown.get(f"{field.name}{UNIT}", ""))


def _unit_named(units: tuple[Unit, ...], name: str) -> Unit | None:
    """The unit of that name, or the first of them."""
    return next((unit for unit in units if unit.name == name), units[0] if units else None)


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
    return _from_unit(text, unit)


def _read_table(
    table: Table, typed: Mapping[str, str], was: Mapping[str, str], before: OwnedEngine
) -> tuple[dict[int, dict[str, float]], dict[str, str]]:
    """The rows that hold a number, by their place on the form, and a sentence for each box that cannot be read."""
    lines: dict[int, dict[str, float]] = {}
    wrong, rows = {}, _rows(before, table)
    for row in range(rows_shown(table, typed)):
        line: dict[str, float] = {}
        for column in table.columns:
            name, chosen = f"{table.name}.{row}.{column.key}", f"{table.name}.{column.key}{UNIT}"
            unit = _unit_named(column.units, typed.get(chosen, ""))
            text = typed.get(name, "").strip()
            if not text or unit is None:
                continue
            if row < len(rows) and text == was[name] and unit.name == was[chosen]:
                line[column.key] = getattr(rows[row], column.key)
                continue
            try:
                line[column.key] = _from_unit(text, unit)
            except NumberTextError as error:
                wrong[name] = str(error)
        if line:
            lines[row] = line
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
