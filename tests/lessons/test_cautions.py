"""What could hurt somebody: each caution stands where it first matters, and nothing says the opposite."""

from __future__ import annotations

import json
import re

import pytest

from course import AUTHORING, HERE, SOURCE
from course.authoring.edition import lessons
from course.owner import cautions
from course.owner.sheet import work
from engine_sim.workshop import safety_rules
from graders.exercises.loader import rubric_path

SHEET = "\n".join((*cautions.CAUTIONS, *(step.text for step in work()), *cautions.NOT_STARTING))
CARD = "reference_card.html"
TERMINAL = "primary terminal on the points side"
# A tachometer or a lead, and the coil's other end, in one sentence.
WRONG_TERMINAL = re.compile(
    r"\b(?:tachometer|leads?)\b[^.;|]*\bhigh[- ](?:voltage|tension)[- ](?:side|terminal|end)"
    r"|\bhigh[- ](?:voltage|tension)[- ](?:side|terminal|end)[^.;|]*\b(?:tachometer|leads?)\b",
    re.IGNORECASE,
)
# Every rest of the starter that is not half a minute.
OTHER_REST = re.compile(
    r"rest (?:of|for) (?:\w+ )?(?:ten|\d+) seconds|some seconds, then a rest|"
    r"(?:ten|\d+) seconds' rest",
    re.IGNORECASE,
)
CHOCKS_AWAY = re.compile(r"chocks (?:come )?away|take the chocks|chocks are taken", re.IGNORECASE)
ENGINE_OFF = re.compile(r"engine \*{0,2}off|switch(?:ed)? off|<strong>off</strong>|as in lesson 6", re.IGNORECASE)
NEAR, BEHIND = 200, 40  # characters before and after


def prose_of(lesson: str) -> str:
    """The Markdown of a lesson's source, with its lines joined."""
    cells = json.loads((SOURCE / lesson / f"{lesson}.ipynb").read_text(encoding="utf-8"))["cells"]
    return "\n\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")


def flat(text: str) -> str:
    """A text with every break of line as one space, and without tags and marks of Markdown."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>|\*\*", "", text))


PLACES = {
    **{f"lesson {lesson[:3]}": prose_of(lesson) for lesson in lessons()},
    **{f"rubric {lesson[:3]}": rubric_path(lesson).read_text(encoding="utf-8") for lesson in lessons()},
    "rules": "\n".join(safety_rules.ONLY_AT_REST.values()),
    "sheet": SHEET,
    **{
        path.name: path.read_text(encoding="utf-8")
        for path in (HERE / "instructors.md", AUTHORING / "glossary.toml", AUTHORING / CARD)
    },
}
every_place = pytest.mark.parametrize("place", PLACES)


# ---- nothing says the opposite ---------------------------------------------------------------------------------------


@every_place
def test_no_tachometer_goes_to_the_high_tension_end(place):
    """The lead of an instrument goes to the coil's primary terminal, and nowhere to its other end."""
    assert [found.group() for found in WRONG_TERMINAL.finditer(flat(PLACES[place]))] == []


@pytest.mark.parametrize(
    "said",
    [
        "the tachometer lead goes on and off at the high-voltage side",
        "The lead goes on at the high-voltage side: with the engine stopped.",
        "Clip it to the high tension terminal, as every tachometer.",
    ],
)
def test_a_wrong_terminal_would_be_noticed(said):
    """The search finds what rules and rubric once said."""
    assert WRONG_TERMINAL.search(said)


@every_place
def test_the_starter_rests_for_half_a_minute(place):
    """No other rest is named anywhere."""
    assert [found.group() for found in OTHER_REST.finditer(flat(PLACES[place]))] == []


@pytest.mark.parametrize(
    "said",
    [
        "give the starter a rest of ten seconds at the least",
        "used again without a rest of ten seconds",
        "Some seconds, then a rest.",
    ],
)
def test_another_rest_would_be_noticed(said):
    """The search finds the rests that were taught once."""
    assert OTHER_REST.search(said)


def chocks_away_while_it_may_run(text: str) -> list[str]:
    """Every place where chocks come away and the engine is not said to be off."""
    text = re.sub(r"\s+", " ", text)
    return [
        text[found.start() : found.end() + BEHIND]
        for found in CHOCKS_AWAY.finditer(text)
        if not ENGINE_OFF.search(text[max(found.start() - NEAR, 0) : found.end() + BEHIND])
    ]


@every_place
def test_chocks_come_away_with_the_engine_off(place):
    """Where a text has somebody take chocks away, it says that the engine is off."""
    assert chocks_away_while_it_may_run(PLACES[place]) == []


def test_chocks_taken_from_a_running_vehicle_would_be_noticed():
    """The search finds what the main lesson and the road check once said."""
    assert chocks_away_while_it_may_run("Take the chocks away and drive, within the law, with a passenger.")
    assert chocks_away_while_it_may_run(
        "On the bench: put the hose back on, start the engine, take the chocks away, press **Road check**, and put the "
        "chocks back before you reach in again. Fuel is filled in with the engine **off**."
    )


# ---- each where it first matters -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lesson", "phrase"),
    [
        ("l00", "look before you reach in. Never stand in line with the edge of a turning fan"),
        ("l00", "Put on eye protection"),
        ("l00", "never go under a vehicle that stands on its jack"),
        ("l00", "never park over dry grass, which a hot exhaust sets alight"),
        ("l00", "Nobody touches a chock while the engine runs"),
        (
            "l00",
            "no hand, sleeve or face over an open carburettor, which can spit fire; pour no fuel in, spray no ether",
        ),
        ("l00", "after ten seconds of it half a minute's rest"),
        ("l01", "Under a timing light fan, belts and pulley look as if they stood still"),
        ("l02", "Under 8 inHg (27 kPa) think of the brake booster's hose, and try the brakes before"),
        ("l03", "Keep hands, sleeves and faces off an open one, and put the air cleaner on before the starter turns"),
        ("l03", "Pour no fuel in, and spray no ether"),
        ("l03", "After ten seconds of it, half a minute's rest"),
        ("l03", "An open lead can destroy an electronic ignition"),
        (
            "l03",
            "red to the flat battery's plus; 2. red to the good battery's plus; 3. black to the good battery's minus; "
            "4. the last black clip to bare metal",
        ),
        ("l03", "They come off in the reverse order. On a positive-earth vehicle read the maker's book first"),
        ("l03", "A charger is switched off while its clips go on: red to plus first, then black to bare metal"),
        ("l05", "a hot exhaust sets dry grass alight"),
        ("l09", "Nobody touches a chock while the engine runs"),
    ],
)
def test_a_caution_stands_where_it_first_matters(lesson, phrase):
    """One plain sentence, in the lesson in which somebody could be hurt for want of it."""
    assert phrase in flat(PLACES[f"lesson {lesson}"])


@pytest.mark.parametrize("place", ["sheet", CARD])
@pytest.mark.parametrize(
    "phrase",
    [
        "dry grass",
        "jack",
        "plane of the fan",
        "under a timing light",
        "eye protection on",
        "air cleaner on",
        "no ether, no fuel poured in",
        "after ten seconds",
        "half a minute's rest",
        "never open",
        "spanner",
    ],
)
def test_a_person_at_the_car_has_the_caution_in_hand(place, phrase):
    """The sheet and the card have it, in fewer words."""
    assert phrase in flat(PLACES[place]).lower()


@pytest.mark.parametrize("place", ["lesson l00", "lesson l02", "lesson l04", "sheet", CARD])
def test_the_tachometers_lead_has_its_terminal(place):
    """Wherever it is first clipped on: which terminal, the second clip, the switch, ignition off, and the module."""
    text = flat(PLACES[place])
    (at,) = [found.start() for found in re.finditer(TERMINAL, text)]
    near = text[max(at - 3 * NEAR, 0) : at + 2 * NEAR].lower()
    for said in (
        "minus on",
        "the other one on",
        "second clip",
        "earth",
        "cylinders",
        "ignition off",
        "module",
        "maker allows",
    ):
        assert said in near, said


@pytest.mark.parametrize("place", ["lesson l04", "lesson l05", "lesson l10", "sheet", CARD, "instructors.md"])
def test_the_way_to_the_road_has_one_order(place):
    """Engine off and brake on, chocks away, everyone clear, driver seated, start; afterwards off, and chocks last."""
    way = (
        r"engine off\b.{0,40}brake on\b.{0,60}first gear.{0,20}(?:chocks|then) away.{0,30}clear.{0,30}driver.{0,30}"
        r"foot on the brake.{0,60}neutral.{0,30}start.{0,40}afterwards engine off.{0,90}chocks"
    )
    assert re.search(way, flat(PLACES[place]).lower())
