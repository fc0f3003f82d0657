"""An engine's description on its form and as files, without a browser: what is typed is taken, kept, or said."""

from __future__ import annotations

import pytest

from course.owner import fields, form
from course.owner.empty_file import empty_file
from course.owner.filled_sheet import EXAMPLE
from course.owner.kept_engines import FOLDER, KeptEngines, OwnedFileError
from course.owner.where_to_look import SPOTS, drawing
from engine_sim.owned.description import DescriptionError, OwnedEngine, load_owned, owned_from, owned_from_toml
from engine_sim.owned.sections import Sections
from tests.every_case import check_every

HOIST = load_owned(EXAMPLE)
NEEDS = {  # other boxes without which a choice contradicts itself
    "build.compression_by": {"build.compression_ratio": "8", "build.cranking_kpa": "1000"},
    "ignition.curve_by": {
        "ignition.centrifugal_deg": "20",
        "ignition.curve_in": "crank",
        "ignition.light.0.rpm": "800",
        "ignition.light.0.hose_off_deg": "8",
    },
    "label.trusted": {"label.base_deg": "8"},
}


@pytest.fixture
def kept(tmp_path):
    """The engines of an empty folder."""
    return KeptEngines(tmp_path)


def test_every_field_of_a_description_is_on_the_form():
    """And the form asks for nothing that a description does not have."""
    wanted = {
        f"{section}.{name}"
        for section, field in Sections.model_fields.items()
        if section != "schema_version"
        for name in field.annotation.model_fields
    }
    asked = {item.name for group in fields.GROUPS for item in group.items}
    assert {".".join(name.split(".")[:2]) for name in asked} == wanted


def test_every_choice_is_one_of_the_description():
    """Each choice of each field is taken, and comes back as it was chosen."""

    def taken(name: str, value: str) -> None:
        engine = form.taken({**NEEDS.get(name, {}), name: value}, OwnedEngine(), False)
        assert form.boxes(engine, False)[name] == value

    cases = [(f"{one.name}={value}", one.name, value) for one in fields.fields() for value, _words in one.choices]
    check_every(taken, cases)


def test_every_place_to_look_is_drawn():
    """Each field and table has a drawing of its own spot, and no drawing is without a field."""
    used = {item.spot for group in fields.GROUPS for item in group.items}
    assert used <= set(SPOTS) and set(SPOTS) - used <= {"front", "speedometer"}
    assert drawing("rotor").count('class="look"') == 1


@pytest.mark.parametrize("metric", [False, True])
def test_what_is_not_touched_keeps_its_value(metric):
    """A form sent back as it was shown is the same description, to the last digit, in both unit systems."""
    odd = owned_from({"build": {"cylinders": 6, "bore_mm": 88.90123456, "stroke_mm": 95.25}, "place": {"air_c": 17.77}})
    for engine in (HOIST, odd):
        assert form.taken(form.boxes(engine, metric), engine, metric) == engine


def test_a_number_is_taken_in_the_unit_beside_it():
    """Comma or point, kPa or inHg, °F or °C."""
    typed = form.boxes(OwnedEngine(), False) | {
        "readings.idle_inhg": "57,6",
        "readings.idle_inhg@unit": "kPa",
        "place.air_c": "68",
        "place.air_c@unit": "°F",
        "build.bore_mm": "3.5",
        "build.bore_mm@unit": "in",
        "build.stroke_mm": "95.25",
        "build.stroke_mm@unit": "mm",
    }
    found = form.taken(typed, OwnedEngine(), False)
    assert found.readings.idle_inhg == pytest.approx(17.01, abs=0.01)
    assert found.place.air_c == pytest.approx(20.0) and found.build.bore_mm == pytest.approx(88.9)


def test_what_is_wrong_is_said_at_its_box():
    """A word for a number, a contradiction, a row of a table: each has its sentence at its own box."""
    typed = form.boxes(OwnedEngine(), False) | {
        "build.bore_mm": "three",
        "build.stroke_mm": "3.75",
        "ignition.hoses": "0",
        "ignition.source": "manifold",
        "readings.sweep.1.vacuum_inhg": "x",
    }
    with pytest.raises(DescriptionError) as caught:
        form.taken(typed, OwnedEngine(), False)
    assert "'three' was found" in caught.value.at["build.bore_mm"]
    assert "'x' was found" in caught.value.at["readings.sweep.1.vacuum_inhg"]
    assert "no vacuum unit" in caught.value.at["ignition.source"]


SWEPT = {
    "readings.sweep.1.light_deg": "8",
    "readings.sweep.3.light_deg": "12",
    "readings.sweep.vacuum_inhg@unit": "kPa",
}


def test_a_sweep_is_taken_in_either_unit_and_kept_in_one():
    """kPa or inHg for the whole column, comma or point; the description has inHg, and shows it in the chosen system."""
    typed = SWEPT | {"readings.sweep.1.vacuum_inhg": "57,6", "readings.sweep.3.vacuum_inhg": "60"}
    found = form.taken(typed, OwnedEngine(), True)
    assert [halt.vacuum_inhg for halt in found.readings.sweep] == pytest.approx([17.01, 17.72], abs=0.01)
    shown = form.boxes(found, True)
    assert shown["readings.sweep.0.vacuum_inhg"] == "57.6" and shown["readings.sweep.vacuum_inhg@unit"] == "kPa"
    assert form.boxes(found, False)["readings.sweep.0.vacuum_inhg"] == "17.009"
    for metric in (False, True):
        assert form.taken(form.boxes(found, metric), found, metric) == found


def test_a_halt_beyond_its_limit_is_said_at_its_own_row_in_its_own_unit():
    """Rows that were left empty before it do not move the sentence to another row."""
    with pytest.raises(DescriptionError) as caught:
        form.taken(SWEPT | {"readings.sweep.1.vacuum_inhg": "57", "readings.sweep.3.vacuum_inhg": "170"}, HOIST, True)
    assert list(caught.value.at) == ["readings.sweep.3.vacuum_inhg"]
    assert caught.value.at["readings.sweep.3.vacuum_inhg"].startswith("170 kPa is 50.2 inHg. ")


def test_a_limit_is_said_in_the_unit_that_was_typed():
    """95 inches for 95 mm: the sentence gives both."""
    with pytest.raises(DescriptionError) as caught:
        form.taken({"build.stroke_mm": "95", "build.stroke_mm@unit": "in"}, OwnedEngine(), False)
    assert caught.value.at["build.stroke_mm"].startswith("95 in is 2413 mm. ")


# ---- files -----------------------------------------------------------------------------------------------------------


def test_several_engines_are_files_that_can_be_mailed(kept, tmp_path):
    """Two of the same title have names of their own; a file is taken in on another machine as the same engine."""
    names = [kept.add(HOIST), kept.add(HOIST)]
    assert names == ["hoist_in_the_yard", "hoist_in_the_yard_2"]
    assert [one.title for one in kept.listed()] == ["Hoist in the yard"] * 2
    mailed = kept.path(names[0]).read_bytes()
    other = KeptEngines(tmp_path / "elsewhere")
    assert other.load(other.take_in(mailed)) == HOIST and kept.folder.name == FOLDER


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe\x00", "not a text"),
        (b"#" * 300_000, "too large"),
        (b"[build]\ncylinders = 5\n", "is not one of the choices"),
        (b"= = =", "not readable as TOML"),
    ],
)
def test_a_file_that_is_no_engine_is_said(kept, content, said):
    """One sentence, and nothing is kept."""
    with pytest.raises((OwnedFileError, DescriptionError), match=said):
        kept.take_in(content)
    assert kept.listed() == []


@pytest.mark.parametrize("name", ["../x", "A", "", "a/b", "x" * 41, ".a"])
def test_a_name_is_no_way_out_of_the_folder(kept, name):
    """Nothing but small letters, digits and underscores names an engine."""
    with pytest.raises(OwnedFileError):
        kept.path(name)


def test_a_damaged_file_is_listed_with_its_reason(kept):
    """It does not take the others away."""
    kept.add(HOIST)
    (kept.folder / "old.toml").write_text("[build]\ncylinders = 6\nwheels = 4\n", encoding="utf-8")
    (kept.folder / "My Own.toml").write_text("", encoding="utf-8")
    problems = {one.name: one.problem for one in kept.listed()}
    assert problems["hoist_in_the_yard"] == "" and "no such field" in problems["old"]
    assert "small letters" in problems["My Own"]


def test_what_was_typed_is_kept_until_it_is_taken(kept):
    """A description that contradicts itself is not lost, and the file stays as it was."""
    name = kept.add(HOIST)
    kept.keep_typed(name, {"build.cylinders": "6", "build.bore_mm": "three"})
    assert kept.typed(name) == {"build.cylinders": "6", "build.bore_mm": "three"} and kept.load(name) == HOIST
    kept.keep(name, HOIST)
    assert kept.typed(name) is None


def test_the_empty_file_describes_nothing_and_takes_everything():
    """As it stands it is an engine of which nothing is known; every line of it that is filled in is a field."""
    text = empty_file()
    assert owned_from_toml(text) == OwnedEngine()
    filled = text.replace("# cylinders =", "cylinders = 6").replace("# displacement_l =", "displacement_l = 3.5")
    assert owned_from_toml(filled).lacking == {}
    keys = {line[2:].split(" =")[0] for line in text.splitlines() if line.startswith("# ") and " =" in line}
    assert {one.name.rpartition(".")[2] for one in fields.fields()} <= keys
