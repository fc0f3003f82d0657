"""Whatever stands in a rubric, it is one that can be used, or there is one sentence of ours."""

from __future__ import annotations

import copy
import tomllib
import zlib

import pytest
from hypothesis import example, given, strategies as st

from engine_sim import TimingCourseError, load_card
from graders.exercises.loader import FOLDER, RubricError, load_rubric, rubric_for, rubric_from, rubric_in
from graders.exercises.packing import ENDING, LONGEST_BYTES, packed, unpacked
from tests.fuzz.test_evidence_and_cards import json_values, search, toml_values

RUBRICS = tuple(tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("l*.toml")))
DEEP = "x = " + "[" * 3_000


def places(part, path=()):
    """The way to every field of a rubric, and to every table and item of a list in it."""
    for key, value in part.items() if isinstance(part, dict) else enumerate(part):
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from places(value, (*path, key))


def usable(rubric) -> None:
    """Everything that pages and judge show is text, and every exercise is worth something."""
    assert isinstance(rubric.title, str) and isinstance(rubric.lesson, str) and rubric.exercises
    for one in rubric.misconceptions.values():
        assert all(isinstance(text, str) for text in (one.sentence, *one.costs, *one.may_cost))
    for exercise in rubric.exercises.values():
        assert exercise.points > 0 and all(isinstance(text, str) for text in exercise.texts())


@pytest.mark.parametrize("number", range(len(RUBRICS)))
@search(25)
@given(data=st.data())
def test_any_change_to_a_rubric(number, data):
    """A field with another value, taken out, or one too many, anywhere: a rubric that can be used, or our error."""
    changed = copy.deepcopy(RUBRICS[number])
    *above, last = data.draw(st.sampled_from(list(places(changed))))
    inner = changed
    for key in above:
        inner = inner[key]
    action = data.draw(st.sampled_from(["change", "remove", "add"]))
    if action == "remove":
        del inner[last]
    elif action == "add" and isinstance(inner, dict):
        inner["one_too_many"] = data.draw(toml_values)
    else:
        inner[last] = data.draw(toml_values | json_values)
    try:
        usable(rubric_from(changed, "own.toml"))
    except RubricError as error:
        assert str(error).startswith("own.toml: ") and "\n" not in str(error)


@search(60)
@given(text=st.text(max_size=120) | st.binary(max_size=80), pack=st.booleans())
@example(text=DEEP, pack=False)
@example(text=DEEP, pack=True)
@example(text="\ufefflesson = 1", pack=False)
def test_any_text_for_a_rubric(tmp_path, text, pack):
    """A file that is no rubric is refused in one sentence, packed or not."""
    content = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    path = tmp_path / (f"x{ENDING}" if pack else "x.toml")
    path.write_bytes(packed(content) if pack else content)
    with pytest.raises(RubricError):
        rubric_in(path)


@search(60)
@given(data=st.binary(max_size=80))
@example(data=b"timing-course: a packed rubric, 1\n" + zlib.compress(b" " * (LONGEST_BYTES + 1)))
@example(data=b"timing-course: another one\n")
def test_any_packed_rubric(tmp_path, data):
    """Bytes that no class packed are refused."""
    (tmp_path / f"x{ENDING}").write_bytes(data)
    with pytest.raises(RubricError, match="cannot be read"):
        unpacked(tmp_path / f"x{ENDING}")


def test_the_rubric_of_a_class_by_its_name(tmp_path):
    """One of another lesson's name, of none, and one that is a folder or not there, are each our error."""
    (tmp_path / "l44_other.toml").write_bytes((FOLDER / "l04_base_timing.toml").read_bytes())
    with pytest.raises(RubricError, match="name the file after its lesson"):
        rubric_for("l44_other", tmp_path)
    with pytest.raises(RubricError, match="no rubric"):
        load_rubric("l44_other")
    (tmp_path / "l45.toml").mkdir()
    with pytest.raises(RubricError):
        rubric_in(tmp_path / "l45.toml")
    with pytest.raises(RubricError):
        rubric_in(tmp_path / f"l46{ENDING}")


@pytest.mark.parametrize("content", [DEEP.encode(), b"\xef\xbb\xbfx = 1", None])
def test_a_card_that_is_deep_marked_or_a_folder(tmp_path, content):
    """An engine card that no reader of TOML gets through, that begins with a mark, or that is no file: our error."""
    path = tmp_path / "card.toml"
    path.write_bytes(content) if content is not None else path.mkdir()
    with pytest.raises(TimingCourseError):
        load_card(path)
