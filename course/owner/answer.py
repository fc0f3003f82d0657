"""What an answer to a letter rests on: the headings of the course's marking table, with figures and their grounds.

The sentences are the writer's own; nothing is sent. Each figure says what it rests on: read, the maker's, arithmetic,
common practice, supposed, or simulated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from engine_sim import published
from engine_sim.owned.description import OwnedEngine
from engine_sim.owned.nominal import assumed
from engine_sim.physics.units import KPA_PER_INHG
from graders.exercises.kinds.written import WrittenExercise
from graders.exercises.loader import load_rubric

from .cautions import CAUTIONS, FIRST, STOP
from .fields import GROUPS, Field, in_words, value_of
from .work import Worked, share_in_words

LESSON, EXERCISE = "l09_answer_the_letter", "l09_answer"
LEAST_VACUUM_INHG = 8.0  # below it the brake booster is looked at first; common practice
MOST_TOTAL_DEG = published("total_before_first_pull").value
READ, MAKERS, PRACTICE = "read at the engine", "the maker's figure, typed in", "common practice"
DESCRIBED, SUPPOSED = "as described", "supposed"
SIMULATED = "simulated: a band to compare with, never a setting"
OF_DRAWN = "of engines drawn like this one"
WORTH_ASKING = (  # those that say most first; what each would show
    ("readings.cold_start", "a start that takes long speaks for choke, fuel, spark or late timing"),
    ("readings.idle_inhg", "low and steady: late timing or a leak; the level is compared with the height"),
    ("readings.needle", "a flick is one cylinder, a drift the mixture, a fall when held the exhaust"),
    ("readings.light_idle_off_deg", "the base as it stands, where the mark can be trusted"),
    ("readings.light_2500_off_deg", "whether the weights move"),
    ("readings.light_2500_on_deg", "whether the vacuum unit moves"),
    ("readings.mark", "a wandering mark is a worn shaft or a loose chain"),
    ("readings.idle_rpm", "an idle that is too high lets the weights join in"),
    ("readings.ping", "how far the setting may go on this fuel"),
    ("place.altitude_ft", "high up every healthy engine shows less"),
    ("place.octane", "how much advance the fuel stands"),
)


@dataclass(frozen=True)
class Figure:
    """Something that an answer may say, and what it rests on."""

    text: str
    ground: str


@dataclass(frozen=True)
class Heading:
    """A criterion of the marking table: its title, what an answer with all points is like, and the figures for it."""

    id: str
    title: str
    best: str
    figures: tuple[Figure, ...]


def headings(engine: OwnedEngine, worked: Worked | None) -> tuple[Heading, ...]:
    """The headings in the order of the table; `worked` is what was worked out, None where something is lacking."""
    exercise = load_rubric(LESSON).exercises[EXERCISE]
    assert isinstance(exercise, WrittenExercise)
    return tuple(
        Heading(
            one.id,
            one.title,
            one.levels[-1].replace("{letter}", "the letter"),
            tuple(FIGURES[one.id](engine, worked)) if one.id in FIGURES else (),
        )
        for one in exercise.to_mark()
    )


def answer_text(found: tuple[Heading, ...], sentences: Mapping[str, str]) -> str:
    """The answer as plain text: the writer's sentences under each heading, then what they rest on."""
    return "\n".join(
        "\n".join(
            (
                one.title.upper(),
                "",
                sentences.get(one.id, "").strip() or "(your sentences)",
                "",
                *(f"  - {figure.text} [{figure.ground}]" for figure in one.figures),
                "",
            )
        )
        for one in found
    )


def _safe(engine: OwnedEngine, worked: Worked | None) -> Iterator[Figure]:
    read = engine.readings
    if read.ping in ("clear ping", "heavy ping"):
        yield Figure(f"It has {read.ping}: throttle shut, and no wide-open pull before it is silent.", READ)
    total = read.light_3000_off_deg
    if total is not None and total > MOST_TOTAL_DEG:
        yield Figure(f"The light shows {total:g} degrees at 3,000 rpm, hose off: no wide-open pull.", READ)
    if read.idle_inhg is not None and read.idle_inhg < LEAST_VACUUM_INHG:
        shown = f"{read.idle_inhg:g} inHg ({read.idle_inhg * KPA_PER_INHG:.0f} kPa)"
        yield Figure(f"{shown} at idle: the brake booster gets little. No drive before it is tried.", READ)
    if read.cranks == "kicks back":
        yield Figure("It kicks back: nobody turns it by hand with the ignition on, and no more advance.", READ)
    yield Figure(STOP, PRACTICE)
    for caution in CAUTIONS:
        yield Figure(caution, PRACTICE)


def _readings(engine: OwnedEngine, worked: Worked | None) -> Iterator[Figure]:
    known = {item.name: item for group in GROUPS for item in group.items}
    for name, shows in WORTH_ASKING:
        if value_of(engine, name) is None:
            yield Figure(f"{known[name].label}: not known. {known[name].help} It would show: {shows}.", PRACTICE)
    if worked is not None:
        for test in worked.comparison.next_tests:
            yield Figure(f"{test.title}, {test.minutes:g} minutes. {test.reason}", OF_DRAWN)


def _right(engine: OwnedEngine, worked: Worked | None) -> Iterator[Figure]:
    yield Figure(FIRST, PRACTICE)
    for group in GROUPS:
        for item in group.items:
            value = value_of(engine, item.name)
            if isinstance(item, Field) and value is not None and not item.name.startswith("identity."):
                yield Figure(f"{item.label}: {in_words(item, value)}", _ground(item.name))
    for one in assumed(engine):
        yield Figure(one.text, f"{SUPPOSED}; matters {one.matters}")
    if worked is not None:
        for band in worked.expected.bands:
            yield Figure(f"{band.title}: {band.text}", SIMULATED)
        for suspect in worked.comparison.ranked:
            yield Figure(f"{suspect.title}: {share_in_words(suspect.odds)}", OF_DRAWN)


def _followed(engine: OwnedEngine, worked: Worked | None) -> Iterator[Figure]:
    if worked is None:
        return
    for sentence in (*worked.start.reasons, *worked.start.to_go_on, *worked.start.stop_when):
        yield Figure(sentence, PRACTICE)
    for sentence in worked.suits.sentences:
        yield Figure(sentence, READ)
    for sentence in worked.comparison.do_not:
        yield Figure(sentence, PRACTICE)


def _honest(engine: OwnedEngine, worked: Worked | None) -> Iterator[Figure]:
    if worked is not None:
        yield Figure(worked.comparison.verdict, OF_DRAWN)
        for pair in worked.comparison.pairs:
            yield Figure(pair.sentence, OF_DRAWN)
        for sentence in worked.comparison.sentences:
            yield Figure(sentence, OF_DRAWN)
    yield Figure(
        "A workshop takes over where a reading stays without an explanation, where the job needs a licence, and where "
        "the writer is not sure.",
        PRACTICE,
    )
    yield Figure("Ask for an answer: which readings, in which state, by which day.", PRACTICE)


def _ground(name: str) -> str:
    return READ if name.startswith("readings.") else MAKERS if name.startswith("label.") else DESCRIBED


FIGURES = {"safe": _safe, "readings": _readings, "right": _right, "followed": _followed, "honest": _honest}
