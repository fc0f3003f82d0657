"""Cards of engines that never idle, or cannot be brought down to their idle, are refused with one sentence."""

import tomllib

import pytest

from engine_sim import CardError, engine_that_idles, load_card
from engine_sim.model.card import card_from
from tests.scripted_learner import ENGINES

TRUCK = tomllib.loads((ENGINES / "delivery_truck_six.toml").read_text(encoding="utf-8"))


def changed(**fields) -> dict:
    """The truck's card with some of its fields changed, each named section__field."""
    content = {section: dict(inside) for section, inside in TRUCK.items()}
    for name, value in fields.items():
        section, field = name.split("__")
        content[section][field] = value
    return content


@pytest.mark.parametrize("name", ["delivery_truck_six", "farm_runabout_four", "hill_hauler_eight"])
def test_the_workshops_engines_idle(name):
    """Every engine of the course comes to its idle speed by its screw."""
    card = load_card(ENGINES / f"{name}.toml")
    assert engine_that_idles(card, name).card is card


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (
            {"breathing__closed_throttle_area_mm2": 60.0},
            r"idles at \d{4} rpm with the idle screw right out, and setting.idle_rpm is 800",
        ),
        (
            {"breathing__closed_throttle_area_mm2": 1.0, "breathing__idle_screw_area_mm2_per_turn": 1.0},
            r"stalls with the idle screw anywhere from right out to right in, and setting.idle_rpm is 800",
        ),
        ({"breathing__idle_screw_area_mm2_per_turn": 2.0}, r"idles at \d{3} rpm at most, and setting.idle_rpm is 800"),
    ],
)
def test_an_engine_without_an_idle_is_refused(fields, words):
    """The sentence names the file, what was found, what was wanted, and the field to change."""
    with pytest.raises(CardError, match=rf"mine.toml: .*{words}: make breathing\.") as caught:
        engine_that_idles(card_from(changed(**fields)), "mine.toml")
    assert str(caught.value).count("\n") == 0
