"""A description of an engine out of reach: one file, every field optional, one sentence at each field that is wrong."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings, strategies as st

from engine_sim.owned.description import (
    LARGEST_FILE_BYTES,
    DescriptionError,
    OwnedEngine,
    as_toml,
    load_owned,
    owned_from,
    owned_from_toml,
    problems,
)
from engine_sim.owned.nominal import assumed, compression_ratio, nominal_card, octane_ron, unit_of, weights_of

WHOLE = {
    "identity": {"title": "The boat's engine", "conversion": 'Six of a truck, distributor of another "six"'},
    "build": {
        "cylinders": 6,
        "bore_mm": 98.4,
        "stroke_mm": 89.5,
        "displacement_l": 4.1,
        "compression_by": "gauge",
        "cranking_kpa": 1000.0,
        "cam": "as built",
    },
    "ignition": {
        "distributor_from": "another engine",
        "trigger": "breaker points",
        "hoses": 1,
        "source": "manifold",
        "curve_by": "light",
        "light": [
            {"rpm": 700.0, "hose_off_deg": 8.0, "hose_on_deg": 20.0},
            {"rpm": 1500.0, "hose_off_deg": 14.0},
            {"rpm": 3000.0, "hose_off_deg": 30.0},
        ],
    },
    "label": {"base_deg": 8.0, "trusted": True, "idle_rpm": 750.0},
    "place": {"altitude_ft": 2000.0, "air_c": 15.0, "octane": 87.0, "octane_scale": "AKI"},
    "readings": {
        "idle_inhg": 18.5,
        "needle": "stands still",
        "findings": {"compression": "in order"},
        "sweep": [{"light_deg": 8.0, "vacuum_inhg": 18.0, "rpm": 750.0}],
    },
}
CONTRADICTIONS = (
    ({"build": {"cylinders": 6, "bore_mm": 98.4, "stroke_mm": 89.5, "displacement_l": 3.0}}, "build.displacement_l"),
    ({"build": {"cylinders": 4, "displacement_l": 8.0}}, "build.displacement_l"),
    ({"build": {"bore_mm": 90.0}}, "build.stroke_mm"),
    ({"build": {"compression_ratio": 8.0}}, "build.compression_by"),
    ({"build": {"compression_by": "gauge"}}, "build.cranking_kpa"),
    ({"ignition": {"trigger": "electronic", "point_gap_mm": 0.4}}, "ignition.point_gap_mm"),
    ({"ignition": {"hoses": 0, "source": "manifold"}}, "ignition.source"),
    ({"ignition": {"centrifugal_start_rpm": 2000.0, "centrifugal_full_rpm": 1000.0}}, "ignition.centrifugal_full_rpm"),
    ({"ignition": {"vacuum_start_inhg": 9.0, "vacuum_full_inhg": 5.0}}, "ignition.vacuum_full_inhg"),
    ({"ignition": {"curve_by": "paper", "centrifugal_deg": 12.0}}, "ignition.curve_in"),
    ({"ignition": {"curve_by": "light"}}, "ignition.light"),
    ({"ignition": {"curve_by": "paper"}}, "ignition.centrifugal_deg"),
    ({"label": {"trusted": True}}, "label.base_deg"),
    ({"label": {"base_deg": 10.0, "total_deg": 6.0}}, "label.total_deg"),
    (
        {
            "label": {"base_deg": 8.0, "total_deg": 20.0},
            "ignition": {
                "distributor_from": "this engine",
                "curve_by": "paper",
                "curve_in": "distributor",
                "centrifugal_deg": 12.0,
            },
        },
        "label.total_deg",
    ),
    ({"readings": {"findings": {"compresion": "in order"}}}, "readings.findings.compresion"),
    ({"readings": {"cold_start_air_c": 3.0}}, "readings.cold_start"),
    ({"readings": {"second_start_air_c": 16.0}}, "readings.second_start"),
    ({"ignition": {"trigger": "electronic"}, "readings": {"dwell_deg": 38.0}}, "readings.dwell_deg"),
    ({"ignition": {"hoses": 0}, "readings": {"light_idle_on_deg": 8.0}}, "readings.light_idle_on_deg"),
    ({"ignition": {"hoses": 0}, "readings": {"held_2500_on_inhg": 19.0}}, "readings.held_2500_on_inhg"),
    ({"readings": {"idle_inhg": 4.0, "cranking_inhg": 17.5}}, "readings.cranking_inhg"),
    (
        {"ignition": {"hoses": 1}, "readings": {"light_1500_off_deg": 20.0, "light_1500_on_deg": 10.0}},
        "readings.light_1500_on_deg",
    ),
)
WRONG = (
    ({"build": {"cylinders": 5}}, "build.cylinders", "4, 6 or 8"),
    ({"build": {"bore_mm": 3.5}}, "build.bore_mm", "at least 50"),
    ({"build": {"bore_mm": "wide"}}, "build.bore_mm", "not a number"),
    ({"build": {"boer_mm": 90.0}}, "build.boer_mm", "no such field"),
    ({"readings": {"needle": "shakes"}}, "readings.needle", "drifts"),
    ({"readings": {"idle_inhg": math.nan}}, "readings.idle_inhg", "not a number"),
    ({"identity": {"title": "x" * 81}}, "identity.title", "at most 80"),
    ({"identity": {"title": "bell\x07"}}, "identity.title", "cannot be printed"),
    ({"build": {"crankcase_valve": "perhaps"}}, "build.crankcase_valve", "yes or no"),
)


def test_a_file_comes_back_as_it_was(tmp_path):
    """Written, read, and written again: the same description and the same text."""
    engine = owned_from(WHOLE)
    path = tmp_path / "boat.toml"
    path.write_text(as_toml(engine), encoding="utf-8")
    assert load_owned(path) == engine and as_toml(load_owned(path)) == as_toml(engine)
    assert "octane_scale" in as_toml(engine) and "humidity" not in as_toml(engine)


@settings(deadline=None, max_examples=60)
@given(title=st.text(max_size=80), note=st.text(max_size=200))
def test_any_text_that_is_taken_comes_back(title, note):
    """What an owner may type is kept to the letter, or refused at its field."""
    content = {"identity": {"title": title, "note": note}}
    if problems(content):
        assert set(problems(content)) <= {"identity.title", "identity.note"}
        return
    engine = owned_from(content)
    assert owned_from_toml(as_toml(engine)) == engine


@pytest.mark.parametrize(("content", "field"), CONTRADICTIONS)
def test_a_contradiction_is_told_at_its_field(content, field):
    """One sentence at the field that the owner should look at, and at no other."""
    found = problems(content)
    assert list(found) == [field] and found[field].endswith((".", "?"))
    with pytest.raises(ValueError, match=r"\w"):
        OwnedEngine.model_validate(content)


@pytest.mark.parametrize(("content", "field", "words"), WRONG)
def test_a_wrong_entry_is_told_at_its_field(content, field, words):
    """What was found and what is allowed, in one sentence."""
    found = problems(content)
    assert list(found) == [field] and words.lower() in found[field].lower()


def test_the_whole_description_has_no_contradiction_and_nothing_is_needed():
    """An empty description is one too; what a simulation lacks is named."""
    assert problems(WHOLE) == {} and problems({}) == {}
    assert set(owned_from({}).lacking) == {"build.cylinders", "build.displacement_l"}
    assert owned_from(WHOLE).lacking == {}
    with pytest.raises(DescriptionError) as refused:
        nominal_card(owned_from({}))
    assert set(refused.value.at) == {"build.cylinders", "build.displacement_l"}


def test_files_that_are_none_are_told(tmp_path):
    """No file, no text, no TOML, too large: a sentence each, and no other exception."""
    odd = {
        "none.toml": None,
        "odd.toml": b"\xff\xfe\x00",
        "torn.toml": b"[build",
        "large.toml": b"#" * (LARGEST_FILE_BYTES + 1),
    }
    for name, content in odd.items():
        if content is not None:
            (tmp_path / name).write_bytes(content)
        with pytest.raises(DescriptionError) as refused:
            load_owned(tmp_path / name)
        assert list(refused.value.at) == [""] and str(refused.value)


def test_what_is_known_is_taken_and_the_rest_is_said():
    """By paper or by light, in crank or distributor degrees, on any scale of octane; what is supposed is listed."""
    engine = owned_from(WHOLE)
    assert octane_ron(engine) == pytest.approx(91.5)
    assert 7.5 < compression_ratio(engine) < 9.5
    begin, full, degrees = weights_of(engine)
    assert degrees == 22.0 and begin < full
    paper = {"curve_by": "paper", "curve_in": "distributor", "centrifugal_deg": 11.0, "centrifugal_start_rpm": 500.0}
    own = owned_from({"ignition": paper | {"vacuum_deg": 7.0}})
    assert weights_of(own)[0] == 1000.0 and weights_of(own)[2] == 22.0 and unit_of(own)[2] == 14.0
    assert unit_of(owned_from({"ignition": {"hoses": 0}}))[2] == 0.0
    fields = [one.field for one in assumed(owned_from({"build": {"cylinders": 6, "displacement_l": 4.0}}))]
    assert fields[:2] == ["place.altitude_ft", "build.cam"] and len(set(fields)) == len(fields)
    assert not {"place.altitude_ft", "build.cam"} & {one.field for one in assumed(engine)}
