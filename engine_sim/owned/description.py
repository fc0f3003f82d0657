"""One's own engine as its owner can describe it, and what was read on it: one TOML file that can be mailed.

The fields are those of `sections`. Importing this module imports pydantic.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError, model_validator
from pydantic_core import PydanticCustomError

from engine_sim.errors import TimingCourseError

from .contradictions import contradictions
from .sections import (
    Build,
    LightReading,
    OwnedIdentity,
    OwnedIgnition,
    OwnedLabel,
    OwnedPlace,
    OwnedReadings,
    Sections,
    SweepReading,
)

__all__ = [
    "Build",
    "DescriptionError",
    "LightReading",
    "OwnedEngine",
    "OwnedIdentity",
    "OwnedIgnition",
    "OwnedLabel",
    "OwnedPlace",
    "OwnedReadings",
    "SweepReading",
    "as_toml",
    "load_owned",
    "owned_from",
    "owned_from_toml",
    "problems",
]
SCHEMA_VERSION = 1
LARGEST_FILE_BYTES = 200_000


class DescriptionError(TimingCourseError):
    """A description cannot be used. `at` has one sentence a field, by its dotted name; "" is the whole file."""

    def __init__(self, at: Mapping[str, str]):
        super().__init__("\n".join(f"{field}: {text}" if field else text for field, text in at.items()))
        self.at = dict(at)


class OwnedEngine(Sections):
    """One engine and what was read on it, without contradictions."""

    @model_validator(mode="after")
    def _does_not_contradict_itself(self):
        at = contradictions(self)
        if at:
            raise PydanticCustomError("contradiction", "{sentences}", {"sentences": " ".join(at.values()), "at": at})
        return self

    @property
    def lacking(self) -> dict[str, str]:
        """Without these nothing can be simulated: a sentence for each, by field."""
        lacks = {}
        if self.build.cylinders is None:
            lacks["build.cylinders"] = "How many cylinders has it? Count the leads at the distributor's cap, less one."
        if self.displacement_l is None:
            lacks["build.displacement_l"] = "How large is it? Displacement, or bore and stroke: plate or papers."
        return lacks


def owned_from(content: Mapping[str, Any]) -> OwnedEngine:
    """Validate a description. Raises DescriptionError with one sentence at each field that is wrong.

    >>> from engine_sim.owned.description import owned_from
    >>> owned_from({"build": {"cylinders": 6, "displacement_l": 4.1}}).displacement_l
    4.1
    """
    try:
        return OwnedEngine.model_validate(content)
    except ValidationError as error:
        raise DescriptionError(_sentences(error)) from None


def problems(content: Mapping[str, Any]) -> dict[str, str]:
    """One sentence for each field that is wrong or contradicts another, by its dotted name; empty where all is well."""
    try:
        owned_from(content)
    except DescriptionError as error:
        return error.at
    return {}


def load_owned(path: str | Path) -> OwnedEngine:
    """Read and validate one file. Raises DescriptionError that says what is wrong, field by field."""
    path = Path(path)
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise DescriptionError({"": f"{path.name} is too large to describe an engine: give the right file."})
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise DescriptionError({"": f"There is no file {path.name}: give the path of a .toml file."}) from None
    except UnicodeDecodeError:
        raise DescriptionError({"": f"{path.name} is not a text file: give the .toml file of an engine."}) from None
    except OSError as error:
        raise DescriptionError(
            {"": f"{path.name} cannot be read ({error.strerror}): give a file you may read."}
        ) from None
    return owned_from_toml(text)


def owned_from_toml(text: str) -> OwnedEngine:
    """Validate the text of a file. Raises DescriptionError as `load_owned` does."""
    try:
        content = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise DescriptionError({"": f"The file is not readable as TOML ({error}): correct that line."}) from None
    return owned_from(content)


def as_toml(engine: OwnedEngine) -> str:
    """The file of an engine: what was left out of the description is left out of the file.

    >>> from engine_sim.owned.description import as_toml, owned_from, owned_from_toml
    >>> one = owned_from({"build": {"cylinders": 6}, "readings": {"idle_inhg": 18.5}})
    >>> owned_from_toml(as_toml(one)) == one
    True
    """
    content = engine.model_dump(exclude_defaults=True)
    lines = ["# An engine out of reach, as its owner describes it. Every field may be left out.", ""]
    lines.append(f"schema_version = {SCHEMA_VERSION}")
    for section, fields in content.items():
        if isinstance(fields, dict):
            lines += ["", f"[{section}]", *(f"{name} = {_toml(value)}" for name, value in fields.items())]
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {_toml(one)}" for name, one in value.items() if one is not None) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)  # its texts, numbers, true and false are TOML's too


# ---- sentences for wrong fields ------------------------------------------------------------------------------------


def _sentences(error: ValidationError) -> dict[str, str]:
    at: dict[str, str] = {}
    for item in error.errors():
        if item["type"] == "contradiction":
            at |= item["ctx"]["at"]
        else:
            at.setdefault(".".join(map(str, item["loc"])), _sentence(item))
    return at


def _sentence(item: Mapping[str, Any]) -> str:
    found, context, sort = item.get("input"), item.get("ctx", {}), item["type"]
    shown = repr(found) if len(repr(found)) < 60 else "what was entered"
    if sort == "extra_forbidden":
        return f"There is no such field: remove it, or look how it is spelled. Allowed are {_allowed(item['loc'])}."
    if sort == "missing":
        return "This is missing: fill it in, or remove the whole line of the table."
    if sort in ("greater_than_equal", "less_than_equal"):
        low_high = {"ge": "at least", "le": "at most"}
        limit = "".join(f"{words} {context[key]:g}" for key, words in low_high.items() if key in context)
        number = f"{found:.5g}" if isinstance(found, int | float) else shown
        return f"{number} cannot be: {limit} is allowed. Look at the unit, or leave it empty."
    if sort == "literal_error":
        return f"{shown} is not one of the choices: {context['expected']}."
    if sort == "string_too_long":
        return f"The text is too long: at most {context['max_length']} characters."
    if sort.startswith("string_pattern"):
        return "The text holds a sign that cannot be printed: type it in, do not paste it."
    if sort == "too_long":
        return f"Too many lines: at most {context['max_length']}."
    if sort.startswith(("float", "int", "finite")):
        return f"{shown} is not a number: enter a number, or leave it empty."
    if sort.startswith("bool"):
        return f"{shown} is not yes or no: choose one, or leave it empty."
    return f"{shown} does not fit here: {item['msg'].lower()}."


def _allowed(location: tuple) -> str:
    model: Any = OwnedEngine
    for part in location[:-1]:
        field = model.model_fields.get(part) if isinstance(part, str) else None
        if field is not None and isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel):
            model = field.annotation
    return ", ".join(model.model_fields)
