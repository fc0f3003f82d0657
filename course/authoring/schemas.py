"""JSON Schemas of the two kinds of files that an instructor may write: rubrics and engine cards.

An editor that knows TOML and JSON Schema names the fields of a file and underlines a wrong one while it is written.
They are derived from the classes that read the files; what only a whole file shows (that a check exists, that points
come out) the reader says, with `--check-rubrics`.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from course import HERE
from engine_sim.model.card import EngineCard
from graders.exercises.loader import exercise_schema

SCHEMAS = HERE / "schemas"
DIALECT = "https://json-schema.org/draft/2020-12/schema"
_TEXTS = {"type": "array", "items": {"type": "string"}}


def rubric_schema() -> dict[str, Any]:
    """The schema of a rubric: its lesson, its exercises of every kind, and its misconceptions."""
    exercises = exercise_schema()
    misconception = {
        "type": "object",
        "properties": {"sentence": {"type": "string"}, "costs": _TEXTS, "may_cost": _TEXTS},
        "required": ["sentence"],
    }
    return {
        "$schema": DIALECT,
        "title": "Rubric of a lesson",
        "type": "object",
        "properties": {
            "lesson": {"type": "string"},
            "title": {"type": "string"},
            "exercises": {"type": "array", "items": {"$ref": "#/$defs/Exercise"}},
            "misconceptions": {"type": "object", "additionalProperties": misconception},
        },
        "required": ["lesson", "title", "exercises"],
        "$defs": {**exercises.pop("$defs"), "Exercise": exercises},
    }


def card_schema() -> dict[str, Any]:
    """The schema of an engine card."""
    return {"$schema": DIALECT, **EngineCard.model_json_schema()}


def texts() -> dict[str, str]:
    """The files' contents by name."""
    made = {"rubric.json": rubric_schema(), "engine_card.json": card_schema()}
    return {name: json.dumps(schema, indent=1, ensure_ascii=False) + "\n" for name, schema in made.items()}


def write() -> Path:
    """Write both; return their folder."""
    SCHEMAS.mkdir(exist_ok=True)
    for name, text in texts().items():
        (SCHEMAS / name).write_text(text, encoding="utf-8", newline="\n")
    return SCHEMAS
