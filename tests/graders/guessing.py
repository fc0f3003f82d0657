"""Learners who know nothing: what each of them answers without reading a question.

A script gives answers to one exercise, one after the other, by its form alone and by what the judge said of the answer
before: it never sees which one is right. `share_earned` says what it earns of a lesson.
"""

from __future__ import annotations

import functools
import itertools
import json
import random
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from engine_sim import EngineCard
from graders.bench.assignment import card_of
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.kinds.own_engine import ENTRIES
from graders.exercises.kinds.several import SeveralExercise
from graders.exercises.loader import Rubric, load_rubric
from graders.outcome import ExerciseResult

from .instrument import ANSWERED_KINDS, ENGINES, GivenAnswer, events_of, header_of, own_exercise

MOST_SHARE = 0.3  # of a lesson's points, that somebody who knows nothing may earn
MOST_ANSWERS = 40  # of one script to one question
LEARNERS = tuple(f"guesser {number}" for number in range(20))
ONE_OF = ("choice", "needle", "diagnosis")
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")


@dataclass(frozen=True)
class Taste:
    """How somebody picks one of several things by their texts, and one of the numbers that a question holds."""

    key: Callable[[str], Any]
    number: Callable[[Sequence[float]], float]

    def sorted(self, things: Sequence, text: Callable[[Any], str]) -> list:
        """The things, the one that is picked first."""
        return sorted(things, key=lambda one: self.key(text(one)))


def taste_of(name: str, dice: random.Random) -> Taste:
    """One of the four ways to pick."""
    return {
        "random": Taste(lambda _text: dice.random(), lambda numbers: dice.choice(numbers) * dice.choice((0.5, 1, 2))),
        "first": Taste(lambda _text: 0, lambda numbers: numbers[0]),
        "longest": Taste(lambda text: -len(text), max),
        "shortest": Taste(len, min),
    }[name]


def parts(answer: object) -> GivenAnswer:
    """An answer of several parts."""
    return GivenAnswer(json.dumps(answer))


def picked(own: Exercise, taste: Taste, dice: random.Random) -> GivenAnswer:
    """One answer, of whatever kind, to somebody's taste."""
    numbers = [float(found.replace(",", "")) for found in NUMBER.findall(own.question)] or [10.0]
    answers: dict[str, Callable[[], GivenAnswer]] = {
        "several": lambda: parts(_ticked(own, taste, dice)),
        "number": lambda: GivenAnswer(taste.number(numbers), own.unit),
        "sum": lambda: parts({line.id: [taste.number(numbers), line.unit] for line in own.fields}),
        "order": lambda: parts([step.id for step in taste.sorted(own.steps, lambda one: one.text)]),
        "hook_up": lambda: parts(_put_on(own, taste)),
        "curve": lambda: parts(_drawn(own, dice)),
        "engine_card": lambda: parts({name: _filled(entry, dice) for name, entry in ENTRIES.items()}),
    }
    if own.kind in ONE_OF:
        return GivenAnswer(taste.sorted(own.choices, lambda one: one.text)[0].id)
    return answers[own.kind]()


def _ticked(own: SeveralExercise, taste: Taste, dice: random.Random) -> list[str]:
    """Half of the choices, those picked first."""
    ids = [one.id for one in taste.sorted(own.choices, lambda one: one.text)]
    return ids[: max(len(ids) // 2, 1)]


def _put_on(own: Exercise, taste: Taste) -> dict[str, str]:
    """Every hose on a port of its own."""
    ports = taste.sorted(own.ports, str)
    return {hose.id: port for hose, port in zip(own.hoses, ports, strict=False)}


def _drawn(own: Exercise, dice: random.Random) -> list[list[float]]:
    """A curve that rises, through points anywhere on the sheet."""
    axes = own.axes
    count = dice.randint(axes.fewest_points, axes.most_points)
    speeds = sorted(dice.sample(range(int(axes.rpm[0]), int(axes.rpm[1]) + 1, 50), count))
    degrees = sorted(round(dice.uniform(*axes.degrees), 1) for _ in speeds)
    return [list(point) for point in zip(map(float, speeds), degrees, strict=True)]


def _filled(entry: Any, dice: random.Random) -> str | list:
    """Anything that an entry of an engine's card takes."""
    if entry.choices:
        return dice.choice(entry.choices)
    return [round(dice.uniform(entry.low, entry.high), 1), entry.units[0]]


# ---- scripts ---------------------------------------------------------------------------------------------------------


def one_answer(name: str):
    """The script that answers once, to that taste."""

    def answers(own: Exercise, dice: random.Random, _judge) -> Iterator[GivenAnswer]:
        yield picked(own, taste_of(name, dice), dice)

    return answers


def name_everything(own: Exercise, dice: random.Random, _judge) -> Iterator[GivenAnswer]:
    """Every choice in turn; every box ticked; else answers at random."""
    if own.kind in ONE_OF:
        yield from (GivenAnswer(one.id) for one in own.choices)
    elif own.kind == "several":
        yield parts([one.id for one in own.choices])
    else:
        yield from _at_random(own, dice)


def one_look_then_name(own: Exercise, dice: random.Random, judge) -> Iterator[GivenAnswer]:
    """One inspection, where there are some, then every cause in turn."""
    answers = list(itertools.islice(name_everything(own, dice, judge), MOST_ANSWERS))
    if own.kind == "diagnosis":
        first = GivenAnswer(answers[0].value, looked=(dice.choice(own.inspections),))
        answers = [first, *answers[1:]]
    yield from answers


def every_look_then_name(own: Exercise, dice: random.Random, judge) -> Iterator[GivenAnswer]:
    """Every inspection, where there are some, then every cause in turn."""
    answers = list(itertools.islice(name_everything(own, dice, judge), MOST_ANSWERS))
    if own.kind == "diagnosis":
        answers = [GivenAnswer(answers[0].value, looked=own.inspections), *answers[1:]]
    yield from answers


def until_green(own: Exercise, dice: random.Random, judge) -> Iterator[GivenAnswer]:
    """Try after try until the verdict is full, following every remark that can be followed without knowing anything:
    a box that is said to be wrong is changed, a step that is said to be too early goes last."""
    if own.kind == "several":
        yield from _until_the_boxes_are_right(own, judge)
    elif own.kind == "order":
        yield from _until_the_order_is_right(own, judge)
    else:
        yield from name_everything(own, dice, judge)


def _until_the_boxes_are_right(own: Exercise, judge) -> Iterator[GivenAnswer]:
    ticked = {one.id for one in own.choices[:-1]}
    while True:
        answer = parts(sorted(ticked))
        yield answer
        titles = [one.title for one in judge(answer).criteria]
        ticked -= {one.id for one in own.choices if any(one.text in title for title in titles)}
        if not ticked:
            return


def _until_the_order_is_right(own: Exercise, judge) -> Iterator[GivenAnswer]:
    order = list(own.steps)
    while True:
        answer = parts([step.id for step in order])
        yield answer
        titles = [one.title for one in judge(answer).criteria]
        early = [step for step in order if any(title.endswith(step.text) for title in titles)]
        order = [step for step in order if step not in early] + early


def _at_random(own: Exercise, dice: random.Random) -> Iterator[GivenAnswer]:
    while True:
        yield picked(own, taste_of("random", dice), dice)


SCRIPTS = {
    "random": one_answer("random"),
    "first": one_answer("first"),
    "longest": one_answer("longest"),
    "shortest": one_answer("shortest"),
    "name everything": name_everything,
    "one look then name": one_look_then_name,
    "every look then name": every_look_then_name,
    "until green": until_green,
}


# ---- what they earn --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Guesser:
    """One learner who knows nothing, before one exercise."""

    own: Exercise
    card: EngineCard | None
    name: str

    def judged(self, *answers: GivenAnswer) -> ExerciseResult:
        """What the judge says of these answers, one try after the other."""
        return self.own.judge_events(events_of(self.own, *answers), self.card)

    def result(self, script: str) -> ExerciseResult:
        """What a script earns."""
        dice = random.Random(f"{self.name}|{self.own.id}|{script}")
        answers = itertools.islice(SCRIPTS[script](self.own, dice, self.judged), MOST_ANSWERS)
        return self.judged(*answers)


def guessers(rubric: Rubric) -> list[Guesser]:
    """Twenty learners before every exercise of a lesson that is answered."""
    return [
        Guesser(own_exercise(rubric, exercise, name), card_of(exercise, header_of(rubric, name), ENGINES), name)
        for exercise in rubric.exercises.values()
        if exercise.kind in ANSWERED_KINDS
        for name in LEARNERS
    ]


def share_earned(rubric: Rubric, script: str, among: Iterable[Guesser]) -> float:
    """The mean share of a lesson's points that the learners earn with a script."""
    whole = len(LEARNERS) * sum(exercise.points for exercise in rubric.exercises.values())
    return sum(one.result(script).points for one in among) / whole


@functools.cache
def shares(lesson: str) -> dict[str, float]:
    """By script: the mean share of the lesson's points that twenty learners earn with it."""
    rubric = load_rubric(lesson)
    among = guessers(rubric)
    return {name: share_earned(rubric, name, among) for name in SCRIPTS}
