"""One rule for a gauge high up, the share of the air that is left: texts, pictures, questions, advice, engine agree."""

from __future__ import annotations

import json
import re

import pytest

from course import AUTHORING, ENGINES, HERE
from course.authoring.edition import lessons
from course.authoring.glossary_links import text_of
from course.authoring.lesson_pictures import picture_named
from course.authoring.reference_card import card_text
from course.authoring.sourced_values import with_values
from engine_sim import Engine, load_card, published
from engine_sim.diagnosis.needle import healthy_vacuum_inhg
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import KPA_PER_INHG, metres_from_feet
from graders.exercises.engine_answers import ANSWERS
from graders.exercises.individualise import numbers_of
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.number import NumberExercise
from graders.exercises.kinds.own_engine import EXAMPLE, read_card
from graders.exercises.kinds.own_engine_advice import advice_for
from graders.exercises.loader import load_rubric
from tests.further import behind

# From the standard atmosphere's table: 843.1 and 752.6 hPa over 1013.25 (us_standard_atmosphere_1976)
SHARES = {0.0: 1.0, 5000.0: 0.832, 8000.0: 0.743}
heights = pytest.mark.parametrize(("feet", "share"), SHARES.items())
OF_A_READING = {  # each exercise about a reading high up: its numbers, and what the rule makes of them
    ("l07_altitude_weather_fuel", "l07_down_to_the_sea"): ({"reading": 12.0}, lambda share: 12.0 / share),
    ("l09_answer_the_letter", "l09_her_gauge"): ({"sea": 19.0}, lambda share: 19.0 * share),
    ("l10_your_own_engine", "l10_band"): ({}, lambda share: 17.0 * share),
}


def prose_of(lesson: str) -> str:
    """A lesson's text as a learner reads it, with the sourced numbers in their places."""
    return with_values(text_of(lesson))


# ---- questions ------------------------------------------------------------------------------------------------------


@heights
@pytest.mark.parametrize(("place", "given"), OF_A_READING.items(), ids=lambda one: one[1] if len(one) == 2 else None)
def test_a_question_s_answer_is_the_share(place, given, feet, share):
    """At sea level the reading itself, at 5,000 and 8,000 ft its share or what it is the share of; and the inch for
    each thousand feet is a known mistake that lies outside the tolerance at 5,000 ft."""
    lesson, exercise = place
    numbers, wanted = given
    one = load_rubric(lesson).exercises[exercise]
    assert isinstance(one, NumberExercise) and one.answer_from == "standard_atmosphere"
    drawn = {**numbers, "altitude_ft": feet}
    own = one.filled(numbers_of(one, drawn, None))
    assert own.value == pytest.approx(wanted(share), abs=0.02)
    thumb = [wrong for wrong in own.wrong if wrong.misconception == "lost_air_for_lost_vacuum"]
    assert len(thumb) == 1
    if feet:
        assert abs(thumb[0].value - own.value) > 2 * one.tolerance


@heights
def test_the_sum_of_the_gauge_lesson_is_the_share(feet, share):
    """Reading at sea level, what is lost, and the same in kilopascal."""
    one = load_rubric("l02_what_the_gauges_say").exercises["l02_sea_level"]
    own = one.filled(numbers_of(one, {"altitude_ft": feet, "read": 14.0}, None))
    found = {line.id: line.value for line in own.fields}
    assert found["sea"] == pytest.approx(14.0 / share, abs=0.02)
    assert found["lost"] == pytest.approx(14.0 / share - 14.0, abs=0.02)
    assert found["metric"] == pytest.approx(14.0 / share * KPA_PER_INHG, abs=0.07)


def test_the_same_engine_up_the_hill_is_the_share():
    """The question with one number for everybody: 19 inHg at 5,000 ft, its reverse, and the rule of thumb."""
    one = load_rubric("l04_base_timing").exercises["l04_altitude_vacuum"]
    share = float(air_share(metres_from_feet(5000.0)))
    assert "19 inHg" in one.question and "5,000 feet" in one.question
    assert one.value == pytest.approx(19.0 * share, abs=0.05)
    mistakes = sorted(wrong.value for wrong in one.wrong)
    assert mistakes == pytest.approx([14.0, 19.0, 19.0 / share], abs=0.05)


@heights
def test_the_answer_s_function_gives_the_engine_s_share(feet, share):
    """The function that rubrics name takes the share from the engine's own module."""
    told = ANSWERS["standard_atmosphere"].function(None, {"altitude_ft": feet})
    assert told["air_share"] == float(air_share(metres_from_feet(feet))) == pytest.approx(share, abs=0.0006)


# ---- texts ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("feet", [1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000])
def test_the_lesson_s_table_has_the_share(feet):
    """The table of the lesson on gauges, whose figures stand in the table of sources, as whole per cents."""
    wanted = f"{100.0 * float(air_share(metres_from_feet(feet))):.0f} %"
    assert re.search(rf"\| {feet:,} feet \([\d,]+ m\) \| {wanted} \|", prose_of("l02_what_the_gauges_say"))


def test_the_rule_of_thumb_is_compared_with_the_share_as_it_is():
    """Where the lesson says how far off the rule of thumb is, both figures are right, at 5,000 and 8,000 ft."""
    text, thumb = prose_of("l02_what_the_gauges_say"), published("vacuum_per_1000_ft").value
    found = re.findall(r"(\d+) at (\d),000 feet where the share gives (\d+\.\d)", text)
    assert [int(thousands) for _, thousands, _ in found] == [5, 8]
    for by_thumb, thousands, by_share in found:
        feet = 1000.0 * float(thousands)
        assert float(by_thumb) == 19.0 - thumb * float(thousands)
        assert float(by_share) == pytest.approx(19.0 * float(air_share(metres_from_feet(feet))), abs=0.05)


OLD_RULE = re.compile(
    r"(?:take off|takes|loses?|lost|less|falls? by)[^|]{0,60}?(?:inch|inHg)[^|]{0,40}"
    r"(?:for|in) (?:each|every)(?: of the first)? (?:thousand|1,000)",
    re.IGNORECASE,
)
AS_A_ROUGH_RULE = re.compile(r"rule of thumb|older rule|old rule|rough rule", re.IGNORECASE)


def told_by_loss(text: str) -> list[str]:
    """Sentences that tell height by an inch for each thousand feet, without calling it the rough rule that it is."""
    sentences = re.split(r"(?<=[.!?])\s+|\n", text)
    return [
        sentence
        for before, sentence in zip(["", *sentences], sentences, strict=False)
        if OLD_RULE.search(sentence) and not AS_A_ROUGH_RULE.search(f"{before} {sentence}")
    ]


@pytest.mark.parametrize("lesson", lessons())
def test_no_lesson_tells_height_by_lost_inches(lesson):
    """Neither text nor rubric: an inch for each thousand feet is only told as the rough rule that it is."""
    rubric = json.dumps([one.question for one in load_rubric(lesson).exercises.values()])
    rubric += (HERE.parent / "graders" / "rubrics" / f"{lesson}.toml").read_text(encoding="utf-8")
    assert told_by_loss(prose_of(lesson)) == []
    assert [one for one in told_by_loss(rubric) if "air" not in one.lower()] == []


def test_no_handout_tells_height_by_lost_inches():
    """Card, glossary and guide."""
    for text in (
        card_text(),
        (AUTHORING / "glossary.toml").read_text(encoding="utf-8"),
        (HERE / "instructors.md").read_text(encoding="utf-8"),
    ):
        assert told_by_loss(text) == []


def test_the_old_rule_would_be_noticed():
    """The search sees what lessons once said, and lets pass what they say now."""
    assert told_by_loss("The workshop's rule is 1 inHg. Take off 1 inHg (3.39 kPa) for every thousand feet.")
    assert told_by_loss("So the gauge loses about an inch for each thousand feet.")
    assert not told_by_loss("You will hear an older rule: take off 1 inHg for each thousand feet.")


# ---- pictures, advice and engine -----------------------------------------------------------------------------------


@heights
def test_the_picture_has_the_share(feet, share):
    """Band and words of the picture, at each height."""
    picture = picture_named("vacuum_over_altitude")
    (line,) = [line for line in picture.drawn.words.splitlines() if line.startswith(f"At {feet:,.0f} ft ")]
    low, high = re.findall(r"([\d.]+) inHg \(", line)[:2]
    assert (float(low), float(high)) == pytest.approx((17.0 * share, 21.0 * share), abs=0.06)
    (band, *_) = picture.drawn.figure.axes[0].collections
    corners = [y for x, y in band.get_paths()[0].vertices if x == feet]
    assert (min(corners), max(corners)) == pytest.approx((17.0 * share, 21.0 * share), abs=0.02)


@heights
def test_the_advice_of_the_last_lesson_has_the_share(feet, share):
    """What the engine's card says is to be expected, in whole inches."""
    card = read_card(as_text({**EXAMPLE, "altitude": [feet, "ft"]}))
    said = {one.title: one.text for one in advice_for(card, ENGINES)}
    low, high = re.search(r"idles at (\d+) to (\d+) inHg", said["Vacuum to expect"]).groups()
    assert (float(low), float(high)) == (round(17.0 * share), round(21.0 * share))


@pytest.mark.parametrize("name", behind(1, ["delivery_truck_six", "farm_runabout_four", "hill_hauler_eight"]))
def test_each_engine_keeps_its_share_where_its_jets_suit_the_place(name):
    """At the label's timing and idle speed, jetted for the height, within an inch up to 8,000 ft. With the jets of sea
    level an engine loses an inch or so in each of the first thousand feet: the rule of thumb (vacuum_per_1000_ft)."""
    card = load_card(ENGINES / f"{name}.toml")
    at_sea = idle_inhg(jetted(card, 0.0), 0.0)
    for feet, share in SHARES.items():
        assert idle_inhg(jetted(card, feet), feet) == pytest.approx(at_sea * share, abs=1.0)
    lost = (at_sea - idle_inhg(jetted(card, 0.0), 3000.0)) / 3.0
    assert published("vacuum_per_1000_ft").agrees(lost)
    assert idle_inhg(jetted(card, 0.0), 8000.0) < idle_inhg(jetted(card, 8000.0), 8000.0)


def jetted(card, feet: float):
    """The same engine with jets for that height."""
    mixture = card.mixture.model_copy(update={"jetted_altitude_ft": feet})
    return card.model_copy(update={"mixture": mixture})


def idle_inhg(card, feet: float) -> float:
    """Vacuum [inHg] at the label's timing, with the screw turned until the speed is the label's, by halving."""
    engine, label = Engine(card), card.setting
    low, high = 0.5, 6.0
    for _ in range(20):
        middle = (low + high) / 2.0
        speed = float(engine.idle(label.label_base_timing_deg, middle, feet).speed_rpm)
        low, high = (low, middle) if speed > label.idle_rpm else (middle, high)
    return float(engine.idle(label.label_base_timing_deg, low, feet).manifold_vacuum_inhg)


def test_the_bands_ends_are_those_of_the_needle_rule():
    """What lesson, picture and advice call healthy is what the needle rule calls healthy."""
    assert healthy_vacuum_inhg(8000.0) == pytest.approx((17.0 * SHARES[8000.0], 21.0 * SHARES[8000.0]), abs=0.02)
