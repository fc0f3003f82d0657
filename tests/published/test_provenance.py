"""Every number from outside has one record, every record is complete and used, every key that is cited exists."""

from __future__ import annotations

import ast
import fnmatch
import io
import json
import re
import tokenize
import tomllib
from pathlib import Path

import pytest

import course
import engine_sim
import graders
from engine_sim import TimingCourseError, citation_text, published, value_text
from engine_sim.sources import TABLE, published_keys, source_keys, table_from
from tests.every_case import check_every
from tests.published.checks import all_checks

KEY = r"[a-z][a-z0-9]*(?:_[a-z0-9*]+)+"
CITED = re.compile(rf"\b(?:[Ss]ource(?: keys?)?:|[Kk]eys?:?)\s+({KEY}(?:,\s*{KEY})*)")
TOKEN = re.compile(r"\{\{\s*(?:value|source)\s*:\s*([^{}\s]+)\s*\}\}")
PLACEHOLDERS = re.compile(r"\b(todo|tbd|fixme|xxx|placeholder|unknown|lorem|example\.com)\b|\?\?|\.\.\.", re.IGNORECASE)
PACKAGES = [Path(package.__file__).parent for package in (engine_sim, graders, course)]
FEWEST_CITATIONS, FEWEST_TOKENS = 15, 5  # so that a search that finds nothing is no proof


def prose_of(path: Path) -> str:
    """Docstrings and comments of one module."""
    text = path.read_text(encoding="utf-8")
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    docstrings = [ast.get_docstring(node) or "" for node in ast.walk(ast.parse(text)) if isinstance(node, documented)]
    comments = [
        token.string for token in tokenize.generate_tokens(io.StringIO(text).readline) if token.type == tokenize.COMMENT
    ]
    return "\n".join(docstrings + comments)


def citations() -> list[tuple[str, str]]:
    """File and key of every citation in a docstring or comment."""
    found = []
    for path in sorted(file for package in PACKAGES for file in package.rglob("*.py")):
        for match in CITED.finditer(prose_of(path)):
            found += [(path.name, key) for key in re.split(r",\s*", match[1])]
    return found


def tokens() -> list[tuple[str, str]]:
    """File and key of every sourced number in lessons and rubrics."""
    found = []
    for package in PACKAGES:
        for path in sorted([*package.rglob("*.ipynb"), *package.rglob("*.toml"), *package.rglob("*.md")]):
            text = path.read_text(encoding="utf-8")
            if path.suffix == ".ipynb":
                text = "\n".join("".join(cell["source"]) for cell in json.loads(text)["cells"])
            found += [(path.name, key) for key in TOKEN.findall(text)]
    return found


def resolves(key: str) -> bool:
    """Whether a key, or a key with a star, names a source or a record."""
    return bool(fnmatch.filter([*published_keys(), *source_keys()], key))


def test_keys_cited_in_docstrings_exist():
    """Every key after "Source:" or "key" in a docstring or comment names a source or a record of the table."""
    assert len(citations()) >= FEWEST_CITATIONS
    assert [(name, key) for name, key in citations() if not resolves(key)] == []


def test_keys_in_lessons_exist():
    """Every {{value:KEY}} and {{source:KEY}} of a lesson or rubric names a record."""
    assert len(tokens()) >= FEWEST_TOKENS
    assert [(name, key) for name, key in tokens() if key not in published_keys()] == []


def test_keys_of_checks_exist_and_are_checked_once():
    """Every check names a record, and no record is checked twice."""
    keys = [check.key for check in all_checks()]
    assert sorted(set(keys) - set(published_keys())) == [] and len(keys) == len(set(keys))


def test_transcriptions_are_labelled_and_the_lesser_part():
    """A value that was worked out with the formula under test says so and names the formula; of all that the table has,
    the greater part is none."""
    records = [published(key) for key in published_keys()]
    labelled = [record for record in records if record.transcription]
    assert len(labelled) > 20 and all(record.locator for record in labelled)
    subjects = {record.about.partition(":")[0] for record in records}
    assert len({record.about.partition(":")[0] for record in labelled}) < 0.4 * len(subjects)


def test_every_record_is_used():
    """A record that no check, docstring, lesson or test names is a number that nobody stands for; those that wait for
    their lesson are named here, and leave this list when it comes."""
    here = Path(__file__).parent
    files = (*here.glob("*.py"), *(here.parent / "lessons" / "told").glob("*.toml"))
    tests = "\n".join(path.read_text(encoding="utf-8") for path in files if path != Path(__file__))
    used = {check.key for check in all_checks()} | {key for _, key in tokens()}
    used |= {key for _, cited in citations() for key in fnmatch.filter(published_keys(), cited)}
    unused = [key for key in published_keys() if key not in used and f'"{key}"' not in tests]
    computed = re.findall(r'published\(f"([a-z0-9_]+)\{', tests)
    assert {key for key in unused if not key.startswith(tuple(computed))} == set()


def test_every_source_is_used():
    """A source that no record and no docstring cites does not belong in the table."""
    used = {published(key).source.key for key in published_keys()} | {key for _, key in citations()}
    assert sorted(set(source_keys()) - used) == []


def test_every_record_is_whole_and_no_placeholder():
    """Value inside a band of some width, a sentence about it, a place in the source, and nothing left to fill in."""

    def check(key):
        record = published(key)
        assert record.low < record.high and record.low <= record.value <= record.high
        assert len(record.about) > 20 and len(record.source.text) > 20 and record.locator
        assert not PLACEHOLDERS.search(f"{record.about} {record.source.text} {record.locator} {record.unit}")
        assert value_text(key) and record.certainty in citation_text(key)

    check_every(check, ((key, key) for key in published_keys()))


def test_values_read_for_people():
    """A band reads as one, a pressure in both unit systems, a citation with its certainty."""
    assert value_text("idle_vacuum_healthy") == "17 to 21 inHg (57.6 to 71.1 kPa)"
    assert value_text("atmosphere_5000_ft_inhg") == "24.896 inHg (84.3 kPa)"
    assert value_text("antiknock_index") == "87"
    assert citation_text("wiebe_a5_burned_at_half").endswith("(computed)")


def test_an_unknown_key_is_said():
    """Asking for a number that is not in the table names the table and the key."""
    with pytest.raises(TimingCourseError, match="has no value 'idle_vacum_healthy'"):
        published("idle_vacum_healthy")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"certainty": "sure"}, "certainty is one of published"),
        ({"source": "hearsay_1900"}, "there is no source 'hearsay_1900'"),
        ({"unit": None}, "needs unit, source, certainty, about"),
        ({"tolerance": None}, "or a value with its tolerance"),
    ],
)
def test_an_incomplete_record_is_refused(change, sentence):
    """A record without unit, tolerance, source or certainty is refused with its key and what is missing."""
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    record = content["values"]["inch_of_mercury"]
    for name, value in change.items():
        record.pop(name)
        if value is not None:
            record[name] = value
    with pytest.raises(TimingCourseError, match="inch_of_mercury") as caught:
        table_from(content)
    assert sentence in str(caught.value)


def test_no_key_twice():
    """A series and a single record never claim one key."""
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    rows = [f"{name}_{row}" for name, series in content["series"].items() for row in series["rows"]]
    keys = [*content["values"], *rows]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("function", ["friction_pressure_pa", "residual_fraction", "burn_angle_deg"])
def test_what_was_written_from_memory_says_so(function):
    """A formula from memory says so in its docstring, beside its source."""
    from engine_sim.physics import breathing, burn, friction

    home = next(module for module in (breathing, burn, friction) if hasattr(module, function))
    assert "(from memory)" in getattr(home, function).__doc__
