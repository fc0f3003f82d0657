"""The engine card: what may stand in it, and the sentence that each wrong card gets."""

from __future__ import annotations

import copy
import re
import tomllib

import pytest

from course import ENGINES
from engine_sim import CardError, load_card
from engine_sim.model.card import card_from

CARD = ENGINES / "delivery_truck_six.toml"


@pytest.fixture
def content():
    """The truck's card as it was read, to be spoiled."""
    return copy.deepcopy(tomllib.loads(CARD.read_text(encoding="utf-8")))


def sentence_of(content) -> str:
    """What a spoiled card is told; it must be told something."""
    with pytest.raises(CardError) as caught:
        card_from(content, "spoiled.toml")
    return str(caught.value)


WRONG = [
    ("block.bore_mm", 500, "block.bore_mm is 500; a number from 50 to 130 is allowed"),
    ("block.bore_mm", -1.0, "block.bore_mm is -1.0; a number from 50 to 130 is allowed"),
    ("block.bore_mm", float("nan"), "block.bore_mm is nan; a number from 50 to 130 is allowed"),
    ("block.bore_mm", float("inf"), "block.bore_mm is inf; a number from 50 to 130 is allowed"),
    ("block.bore_mm", "98.4", "block.bore_mm is '98.4'; a number from 50 to 130 is allowed"),
    ("block.bore_mm", True, "block.bore_mm is True; a number from 50 to 130 is allowed"),
    ("block.bore_mm", [98.4], "block.bore_mm is [98.4]; a number from 50 to 130 is allowed"),
    ("block.cylinders", 5, "block.cylinders is 5; one of 4, 6, 8 is allowed"),
    ("distributor.rotor_turns", "left", "rotor_turns is 'left'; one of clockwise, anticlockwise is allowed"),
    ("vacuum_advance.source", "both", "vacuum_advance.source is 'both'; one of manifold, ported is allowed"),
    ("identity.name", "The Truck", "identity.name is 'The Truck'; a short name in small letters"),
    ("identity.title", 3, "identity.title is 3; a text of 3 to 80 characters is wanted"),
    ("burn.reason", "so", "burn.reason is 'so'; a text of at least 20 characters is wanted"),
    ("ignition.point_gap_mm", None, "point_gap_mm belongs to breaker points"),
    ("vacuum_advance.full_inhg", 4.0, "full_inhg must lie above start_inhg"),
    ("breathing.loss_at_10_m_s", 0.35, "takes 112% of the manifold's pressure at 6000 rpm; at most 60% is allowed"),
]


@pytest.mark.parametrize(("field", "found", "sentence"), WRONG, ids=lambda value: str(value)[:40])
def test_wrong_value(content, field, found, sentence):
    """A value out of range, of the wrong kind or at odds with another is told file, field, what it is and may be."""
    section, name = field.split(".")
    content[section][name] = found
    said = sentence_of(content)
    assert said.startswith("spoiled.toml: ") and sentence in said


@pytest.mark.parametrize(
    "field", ["block.bore_mm", "burn.reason", "setting.idle_rpm", "drive.transmission", "vacuum_advance.adjustable"]
)
def test_missing_field(content, field):
    """A field that is missing is named, with what it may hold."""
    section, name = field.split(".")
    del content[section][name]
    assert re.match(rf"spoiled.toml: {field} is missing; .* (is allowed|is wanted|allowed)", sentence_of(content))


def test_missing_section(content):
    """A section that is missing is named, with its fields."""
    del content["valves"]
    assert sentence_of(content) == (
        "spoiled.toml: valves is missing; a section [valves] with intake_closes_deg_abdc, "
        "exhaust_opens_deg_bbdc, overlap_factor_deg_m is wanted."
    )


def test_section_of_the_wrong_kind(content):
    """A number where a section belongs is told so."""
    content["burn"] = 3
    assert "burn is 3; a section [burn] with development_constant" in sentence_of(content)


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [
        ("bore_mn", "bore_mm"),
        ("bore_inch", "bore_mm"),
        ("stroke_cm", "stroke_mm"),
        ("compresion_ratio", "compression_ratio"),
    ],
)
def test_misspelt_or_in_another_unit(content, wrong, meant):
    """A field misspelt, or named with another unit, is told which one was meant, and which exist."""
    content["block"][wrong] = content["block"].pop(meant)
    said = sentence_of(content)
    assert f"there is no field block.{wrong}; was {meant} meant? (allowed are cylinders, bore_mm" in said


def test_nothing_like_it(content):
    """A field that resembles none gets the list and no guess."""
    content["block"]["horoscope"] = 1
    assert "there is no field block.horoscope; allowed are cylinders" in sentence_of(content)


def test_every_error_is_told_at_once(content):
    """Two errors are two lines: nobody mends a card one error at a time."""
    content["block"]["bore_mm"], content["setting"]["idle_rpm"] = 5, 5
    assert [line.split(" is ")[0] for line in sentence_of(content).splitlines()] == [
        "spoiled.toml: block.bore_mm",
        "spoiled.toml: setting.idle_rpm",
    ]


def test_no_such_file(tmp_path):
    """A card that is not there is named."""
    with pytest.raises(CardError, match=r"There is no engine card none.toml"):
        load_card(tmp_path / "none.toml")


@pytest.mark.parametrize("text", [b"[block\nbore_mm = 3", b"\xff\xfe\x00"])
def test_not_toml(tmp_path, text):
    """A file that is no TOML is named, with the place where it goes wrong."""
    path = tmp_path / "torn.toml"
    path.write_bytes(text)
    with pytest.raises(CardError, match=r"torn.toml is not readable as TOML \(.+\): correct that line"):
        load_card(path)


@pytest.mark.parametrize("path", sorted(ENGINES.glob("*.toml")), ids=lambda path: path.stem)
def test_cards_of_the_course(path):
    """Every card of the course is valid, bears the name of its file, and says on its plate what the method needs,
    and no dwell that cannot be set."""
    card = load_card(path)
    assert card.name == path.stem
    assert {"Idle speed", "Speed drop", "Rotor turns", "Fuel"} <= set(card.nameplate)
    assert ("dwell" in card.nameplate["Ignition"]) == (card.ignition.trigger == "breaker points")


def test_digest_follows_every_field(content):
    """The digest is the same for the same contents and another when any one number changes by the least bit."""
    digest = card_from(content).digest
    assert card_from(copy.deepcopy(content)).digest == digest
    for section, fields in content.items():
        for name, value in fields.items():
            if isinstance(value, float):
                changed = copy.deepcopy(content)
                changed[section][name] = value * (1 - 1e-12) if value else 1e-12
                assert card_from(changed).digest != digest, f"{section}.{name}"


def test_a_card_cannot_be_changed(content):
    """A card is frozen once it is read."""
    with pytest.raises(ValueError, match="frozen"):
        card_from(content).block.bore_mm = 100.0
