"""The JSON Schemas of rubrics and engine cards, checked by the library that the standard's own readers use."""

from __future__ import annotations

import copy
import tomllib

import jsonschema
import pytest

from course import ENGINES
from course.authoring.schemas import SCHEMAS, card_schema, rubric_schema, texts
from graders.exercises.loader import FOLDER

RUBRIC, CARD = rubric_schema(), card_schema()


def of_file(path) -> dict:
    """What a TOML file holds."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def test_the_files_are_up_to_date():
    """`python -m course.authoring.build schemas` writes what stands there."""
    assert {path.name: path.read_text(encoding="utf-8") for path in SCHEMAS.iterdir()} == texts()


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_every_rubric_fits_its_schema(path):
    """And a field that is misspelt, or text in the place of a number, does not."""
    content = of_file(path)
    jsonschema.validate(content, RUBRIC)
    for field, value in (("no_such_field", 1), ("points", "two")):
        wrong = copy.deepcopy(content)
        wrong["exercises"][0][field] = value
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, RUBRIC)


@pytest.mark.parametrize("path", sorted(ENGINES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_card_fits_its_schema(path):
    """And one that lacks its block, or has another field, does not."""
    content = of_file(path)
    jsonschema.validate(content, CARD)
    for wrong in ({**content, "wings": 2}, {name: part for name, part in content.items() if name != "block"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, CARD)
