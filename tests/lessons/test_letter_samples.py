"""Samples of written answers: every letter that is drawn has a good, a middling and an unsafe one; each keeps to its
letter, to the marking table and to the course's own figures."""

from __future__ import annotations

import re

import pytest

from course import HERE
from course.authoring.glossary_links import text_of
from engine_sim import Header, published
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.written import WrittenExercise
from graders.exercises.loader import load_rubric
from graders.model_answers.model_learner import CREATED

from .working import ENGINES

LESSON = "l09_answer_the_letter"
ANSWER = load_rubric(LESSON).exercises["l09_answer"]
LETTERS = tuple(ANSWER.draw["letter"].words)
MOST_WORDS = 300  # as the question says
every_letter = pytest.mark.parametrize("letter", LETTERS)
# What a good answer to each letter stops before anything else, as words of its first paragraph.
DANGER = {
    "C": ("wheel", "passenger", "hill"),
    "D": ("under", "bricks", "drive"),
    "F": ("shed", "Exhaust"),
    "G": ("milk", "brakes"),
    "H": ("brakes", "crusher"),
    "I": ("guard", "blades"),
    "K": ("drive", "second person", "light"),
    "L": ("in front", "throttle"),
    "M": ("towing", "brakes"),
}
# What fits best, as the instructor's table has it: words that a good answer has and an unsafe one has not.
FITS = {
    "C": ("with the rotor", "rpm"),
    "D": ("mark", "piston stop"),
    "F": ("exhaust", "leave the hose on"),
    "G": ("label", "thick one onto"),
    "H": ("label", "retard|with the rotor", "mixture"),
    "I": ("shaft", "springs", "dwell"),
    "K": ("2 inHg", "plugged"),
    "L": ("under load", "spring back"),
    "M": ("choke", "squirt"),
}
# Figures of practice, by the keys of the table of sources, and some without one.
PRACTICE = {
    *(published(key).value for key in ("total_before_first_pull", "total_unknown_chamber", "total_seen_at")),
    75.0,  # the drop in speed, a figure of practice
    2.0,  # degrees back from ping, and inches of room below the idle vacuum
    3.0,  # degrees of dwell that a worn shaft makes
    2500.0,  # the speed at which a blocked exhaust is looked for
    *(0.0, 4.0, 6.0, 8.0),  # static timing to begin with, and the first running figure
}


def samples_to(letter: str):
    """The samples to a letter, the good one first, then the middling and the unsafe one."""
    return [one for one in ANSWER.samples if one.to == letter]


def printed(letter: str) -> str:
    """A letter as the lesson prints it."""
    (found,) = re.findall(rf"### {letter[0].upper()}{letter[1:]}\n+(.+?)(?=\n#|\Z)", text_of(LESSON), re.DOTALL)
    return found


def numbers_in(text: str) -> list[float]:
    """The numbers of a text, without those of its steps."""
    text = re.sub(r"^\d+\. ", "", text, flags=re.MULTILINE)
    text = re.sub(r"\bsteps? \d(?:(?:, \d)* (?:and|to) \d)?|\bgo on with \d", "", text)
    return [float(one.replace(",", "")) for one in re.findall(r"\d+(?:,\d{3})*(?:\.\d+)?", text)]


@every_letter
def test_every_letter_that_is_drawn_has_three_samples(letter):
    """A good one with every point, a middling one, and one that is unsafe and keeps to the limit for such answers."""
    good, middling, unsafe = samples_to(letter)
    points = {one.id: one.points for one in ANSWER.marking}
    assert good.marks == points
    assert 0.4 <= sum(middling.marks.values()) / ANSWER.points <= 0.6 and middling.marks["safe"] == 1
    assert unsafe.marks["safe"] == 0 and sum(unsafe.marks.values()) <= ANSWER.unsafe.most
    assert all(sample.why.endswith(".") and len(sample.why) > 60 for sample in (good, middling, unsafe))


def test_no_sample_answers_a_letter_that_is_not_drawn():
    """Each belongs to one of the letters, and no text stands twice."""
    assert {one.to for one in ANSWER.samples} == set(LETTERS)
    assert len({one.text for one in ANSWER.samples}) == 3 * len(LETTERS)


@every_letter
def test_marks_are_levels_of_the_table(letter):
    """None, half or all of the points of each criterion, as a person could give them."""
    levels = {one.id: {one.points_at(level) for level in range(len(one.levels))} for one in ANSWER.to_mark()}
    assert all(mark in levels[name] for sample in samples_to(letter) for name, mark in sample.marks.items())


@every_letter
def test_a_good_sample_keeps_to_the_question(letter):
    """At most as many words as the question allows, to the writer by name, the danger in the first paragraph, steps one
    by one, what fits best, the label, the maker or papers before ours, and a day by which an answer is asked for."""
    good = samples_to(letter)[0]
    assert str(MOST_WORDS) in ANSWER.question
    text = re.sub(r"^\d+\. ", "", good.text, flags=re.MULTILINE)
    assert len(text.split()) <= MOST_WORDS
    first, *rest = good.text.strip().split("\n\n")
    name = letter.rpartition(" ")[2]
    assert first.startswith(f"Dear {name}, ")
    assert [word for word in DANGER[letter[7]] if word not in first] == []
    steps = re.findall(r"^(\d+)\. ", good.text, re.MULTILINE)
    assert steps == [str(number) for number in range(1, len(steps) + 1)] and len(steps) >= 4
    assert [words for words in FITS[letter[7]] if not re.search(words, good.text, re.IGNORECASE)] == []
    assert re.search(r"label|maker|papers", good.text, re.IGNORECASE)
    assert re.search(r"workshop", good.text) and re.search(r"suppose|cannot (?:know|tell|see)|I think", good.text)
    assert re.search(r"[Pp]lease (?:write|let me know)|write before", rest[-1])


@every_letter
def test_an_unsafe_sample_misses_the_danger_and_the_cause(letter):
    """It neither stops the danger nor says what fits best, and no sample takes over a sentence of a better one."""
    good, middling, unsafe = samples_to(letter)
    assert not all(re.search(words, unsafe.text, re.IGNORECASE) for words in FITS[letter[7]])
    sentences = [set(re.split(r"(?<=[.?!:])\s+", one.text.strip())) for one in (good, middling, unsafe)]
    assert not sentences[0] & sentences[1] and not sentences[0] & sentences[2] and not sentences[1] & sentences[2]


@every_letter
def test_the_figures_of_a_sample_are_those_of_its_letter(letter):
    """Every number of a good sample stands in its letter, or is a figure of practice that the course gives; letter H
    has one that is worked out, and letter D a difference. The others give no number of another letter."""
    good, *others = samples_to(letter)
    own = set(numbers_in(printed(letter)))
    worked_out = {"D": {22.0 - 8.0}, "H": {14.0, 17.5}}.get(letter[7], set())
    assert [one for one in numbers_in(good.text) if one not in own | PRACTICE | worked_out] == []
    elsewhere = {one for other in LETTERS if other != letter for one in numbers_in(printed(other))}
    for sample in others:
        assert [one for one in numbers_in(sample.text) if one in elsewhere - own - PRACTICE] == []


def test_a_reading_that_a_sample_carries_down_is_carried_by_the_share():
    """Letter H: 14 at the quarry's 6,000 ft is 17.5 at the coast, and its air is four fifths of the coast's."""
    good = samples_to("letter H, from Sanne")[0].text
    share = float(air_share(metres_from_feet(6000.0)))
    assert "6,000 feet" in printed("letter H, from Sanne") and "four fifths" in good
    assert share == pytest.approx(0.8, abs=0.01)
    assert "14 on the gauge at the quarry is about 17.5" in good and 14.0 / share == pytest.approx(17.5, abs=0.05)


@pytest.mark.parametrize("learner", ["anna", "bela", "cleo", "dora"])
def test_a_learner_s_samples_are_those_to_their_letter(learner):
    """What page and marking desk are given is filled in with the letter that was drawn."""
    own = learners_exercise(ANSWER, Header(learner, LESSON, "", "", CREATED), ENGINES)
    shown = own.shown_samples()
    assert [one["points"] for one in shown][::2] == ["10 of 10 points", shown[2]["points"]]
    assert shown[2]["points"].endswith("must never be sent") and "never" not in shown[1]["points"]
    assert len(shown) == 3 and {one["to"] for one in shown} == {re.search(r"letter [A-Z], from \w+", own.question)[0]}


def test_a_letter_without_samples_shows_those_to_others():
    """A class's own letter, to which nobody has written a sample yet."""
    assert len(ANSWER.filled({"letter": "letter Z, from nobody"}).shown_samples()) == len(ANSWER.samples)


def test_every_written_answer_of_the_course_has_samples():
    """The other three have a good one and a middling one at least, each with marks of the table."""
    lessons = {"l04_base_timing": "l04_explain", "l05_road_check": "l05_door_card", LESSON: "l09_two_sentences"}
    for lesson, name in lessons.items():
        one = load_rubric(lesson).exercises[name]
        assert isinstance(one, WrittenExercise)
        shares = [sum(sample.marks.values()) / one.points for sample in one.samples]
        assert shares[0] == 1.0 and 0.2 <= shares[1] <= 0.6


def test_the_samples_are_written_once():
    """They are in the rubric; the guide copies none of them."""
    guide = re.sub(r"\s+", " ", (HERE / "instructors.md").read_text(encoding="utf-8").replace("\n>", " "))
    for sample in ANSWER.samples:
        sentences = [one for one in re.split(r"(?<=[.:?])\s+", sample.text) if len(one) > 40]
        assert sentences and not [one for one in sentences if re.sub(r"\s+", " ", one) in guide]
