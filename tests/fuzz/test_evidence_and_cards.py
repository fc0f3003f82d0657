"""Whatever stands in a file of evidence or in an engine card, no error comes that is not one of ours.

The cases are drawn by hypothesis, the same ones in every run (`derandomize`); TIMING_COURSE_FUZZ=N in the environment
draws N cases of each kind, new ones in every run, for a longer search by hand.
"""

from __future__ import annotations

import copy
import hashlib
import json
import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

import course
from engine_sim import CONTROLS, MODEL_VERSION, EvidenceWriter, Header, TimingCourseError, load_card, read_evidence
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.outcome import Outcome
from tests.scripted_learner import CREATED, LESSON, SAFE, engine_of

MORE = int(os.environ.get("TIMING_COURSE_FUZZ", "0"))
CARDS = tuple(sorted(course.ENGINES.glob("*.toml")))
EXERCISES = tuple(load_rubric(LESSON).exercises)
BENCH = EXERCISES[0]


def search(cases: int):
    """Settings of one search: bounded, repeatable, and with the temporary folder shared between cases."""
    return settings(
        max_examples=MORE or cases,
        derandomize=not MORE,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
odd_values = json_values | st.sampled_from(
    [
        "on",
        "off",
        "tight",
        "loose",
        "manifold",
        "in place",
        "adds_up",
        14.0,
        3.0,
        -25.0,
        1e300,
        -1e300,
        10**400,
        "\ud800",
        "\x00",
        "",
    ]
)


def chained(contents) -> bytes:
    """A file whose seals fit: a digest of the digest before and of the line's own content, as DEVELOPERS.md says."""
    digest, lines = "", []
    for content in contents:
        text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        digest = hashlib.sha256((digest + text).encode("utf-8", "surrogatepass")).hexdigest()[:32]
        line = json.dumps({**content, "digest": digest}, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        lines.append(line.encode("utf-8", "surrogatepass") + b"\n")
    return b"".join(lines)


def sound_header(learner: str = "ada") -> dict:
    """The first line of this learner's evidence."""
    return {
        "learner": learner,
        "lesson": LESSON,
        "class_id": "",
        "engine": engine_of(learner).card.digest,
        "created": CREATED,
        "model": MODEL_VERSION,
        "schema": 1,
    }


def read_or_ours(path: Path) -> None:
    """Read a file; every error but ours goes on up and fails the test."""
    try:
        read_evidence(path)
    except TimingCourseError as error:
        assert str(error).strip() and "\n" not in str(error)


@search(150)
@given(data=st.binary(max_size=400))
def test_any_bytes_at_all(tmp_path, data):
    """A file of random bytes is refused in one line."""
    (tmp_path / "evidence.jsonl").write_bytes(data)
    read_or_ours(tmp_path / "evidence.jsonl")


@search(150)
@given(
    contents=st.lists(
        st.dictionaries(
            st.sampled_from(
                [
                    "learner",
                    "lesson",
                    "class_id",
                    "engine",
                    "created",
                    "model",
                    "schema",
                    "time_s",
                    "exercise",
                    "control",
                    "value",
                    "unit",
                    "digest",
                    "other",
                ]
            ),
            odd_values,
            max_size=8,
        ),
        max_size=4,
    )
)
def test_any_fields_in_lines_whose_seals_fit(tmp_path, contents):
    """Lines of the right names and any values, chained as they should be."""
    (tmp_path / "evidence.jsonl").write_bytes(chained(contents))
    read_or_ours(tmp_path / "evidence.jsonl")


@search(100)
@given(place=st.floats(0.0, 1.0), junk=st.binary(min_size=0, max_size=4), cut=st.integers(0, 30))
def test_any_damage_to_a_sound_file(tmp_path, place, junk, cut):
    """Bytes changed, put in or taken out anywhere in a file of the course's own writer."""
    path = tmp_path / "evidence.jsonl"
    path.unlink(missing_ok=True)
    EvidenceWriter(path, Header(**sound_header()))
    data = path.read_bytes() + chained([sound_header()])
    at = int(place * len(data))
    path.write_bytes(data[:at] + junk + data[at + cut :])
    read_or_ours(path)


events = st.fixed_dictionaries(
    {
        "time_s": st.floats(0.0, 40.0, allow_nan=False) | st.sampled_from([0.0, 1.0, 5.0]),
        "exercise": st.sampled_from(EXERCISES) | st.text(max_size=5),
        "control": st.sampled_from([*CONTROLS, "answer", "begin", "read_gauges", "wait", "starter", "road_check"])
        | st.text(max_size=5),
        "value": st.none()
        | st.booleans()
        | st.integers(-(10**9), 10**9)
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(max_size=8)
        | st.sampled_from(["on", "off", "loose", "tight", "manifold", "off and plugged", "adds_up"]),
        "unit": st.none() | st.sampled_from(["inHg", "kPa", "crank degrees", "degrees", "rpm"]) | st.text(max_size=4),
    }
)


@search(60)
@given(drawn=st.lists(events, max_size=25))
def test_any_events_are_judged_and_earn_points_within_the_range(tmp_path, drawn):
    """A sound chain of any acts and answers gets a verdict, with points between nothing and everything."""
    safe = [
        {"time_s": 0.0, "exercise": BENCH, "control": name, "value": value, "unit": None}
        for name, value in SAFE.items()
    ]
    drawn = sorted(drawn, key=lambda event: event["time_s"])
    (tmp_path / "evidence.jsonl").write_bytes(chained([sound_header(), *safe, *drawn]))
    result = judge_lesson(LESSON, tmp_path / "evidence.jsonl", course.ENGINES, "ada")
    for exercise in result.exercises:
        assert 0.0 <= exercise.points <= exercise.max_points
        assert all(isinstance(criterion.outcome, Outcome) for criterion in exercise.criteria)
    assert result.problem == "" or result.points == 0.0


def _places(table, path=()):
    for key, value in table.items():
        yield (*path, key)
        if isinstance(value, dict):
            yield from _places(value, (*path, key))


toml_values = st.recursive(
    st.booleans() | st.integers(-(10**12), 10**12) | st.floats() | st.text(st.characters(codec="utf-8"), max_size=8),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=4,
)


@pytest.mark.parametrize("card", CARDS, ids=lambda path: path.stem)
@search(60)
@given(data=st.data())
def test_any_change_to_a_card(tmp_path, card, data):
    """A field with another value, taken out, or one too many: a card or our error."""
    table = tomllib.loads(card.read_text(encoding="utf-8"))
    *above, last = data.draw(st.sampled_from(list(_places(table))))
    changed = copy.deepcopy(table)
    inner = changed
    for key in above:
        inner = inner[key]
    action = data.draw(st.sampled_from(["change", "remove", "add"]))
    if action == "remove":
        del inner[last]
    else:
        inner[last if action == "change" else "one_too_many"] = data.draw(toml_values)
    path = tmp_path / "card.toml"
    path.write_text(_toml(changed), encoding="utf-8")
    try:
        load_card(path)
    except TimingCourseError as error:
        assert path.name in str(error)


@search(60)
@given(text=st.text(max_size=200) | st.binary(max_size=100))
def test_any_text_for_a_card(tmp_path, text):
    """A file that is no card is refused."""
    path = tmp_path / "card.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    with pytest.raises(TimingCourseError):
        load_card(path)


def _toml(table: dict, name: str = "") -> str:
    """A table as TOML: plain values first, tables after them."""
    plain = [f"{json.dumps(key)} = {_toml_value(value)}" for key, value in table.items() if not isinstance(value, dict)]
    tables = []
    for key, value in table.items():
        if isinstance(value, dict):
            inner = f"{name}.{json.dumps(key)}" if name else json.dumps(key)
            tables.append(f"[{inner}]\n{_toml(value, inner)}")
    return "\n".join([*plain, *tables])


def _toml_value(value) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml_value, value)) + "]"
    return json.dumps(value).replace("\x7f", "\\u007f") if isinstance(value, str) else str(value)
