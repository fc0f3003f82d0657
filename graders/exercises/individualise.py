"""A learner's own form of an exercise: numbers and fault drawn for them, formulas worked out, order shuffled.

The draw is a stable hash of class, learner and exercise, so that the page and the judge have the same numbers on
every machine and for ever. Both call `learners_exercise`.
"""

from __future__ import annotations

import hashlib
import itertools
import math
import random
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from engine_sim import Draw, EngineCard, Header, TimingCourseError
from graders.bench.assignment import card_of, seed_text
from graders.exercises.kinds.common import need, need_known
from graders.exercises.kinds.exercise import Exercise, VariedExercise
from graders.schema import NumberDraw, RubricError

from .engine_answers import ANSWERS
from .filling import Drawn, in_words, told_apart
from .formulas import CONVERSIONS, FUNCTIONS, value_of

MOST_VARIANTS_TRIED = 500
_NAME = re.compile(r"[a-z][a-z0-9_]*")


def learners_exercise(exercise: Exercise, header: Header, engines: Path) -> Exercise:
    """The exercise as the learner of this evidence has it; what a form shows and what the judge judges.

    `engines` is the folder of engine cards. Raises TimingCourseError where a card or a formula cannot be used.
    """
    return exercise_for(exercise, seed_text(exercise, header), card_of(exercise, header, engines))


def exercise_for(exercise: Exercise, words: str, card: EngineCard | None) -> Exercise:
    """The exercise that these words draw, on this engine."""
    own = exercise.for_engine(card, Draw(f"{words}|fault"))
    if isinstance(own, VariedExercise):
        drawn = {name: drawn_value(draw, f"{words}|{name}") for name, draw in own.draw.items()}
        own = own.filled(numbers_of(own, drawn, card))
    return own.shuffled(random.Random(int.from_bytes(hashlib.sha256(f"{words}|order".encode()).digest(), "big")))


# ---- drawing ---------------------------------------------------------------------------------------------------------


def share_of(words: str) -> float:
    """A number from 0 up to 1 that these words give, the same on every machine and for ever."""
    return int.from_bytes(hashlib.sha256(words.encode()).digest()[:6], "big") / 2**48


def values_of(draw: NumberDraw) -> list[Drawn]:
    """Every value that a draw can give."""
    if draw.by_steps is None:
        return list(draw.one_of or draw.words)
    low, high, step = draw.by_steps
    count = round((high - low) / step) + 1
    # Ten digits, so that 0.1 three times is 0.3 in a question.
    return [float(f"{low + number * step:.10g}") for number in range(count)]


def drawn_value(draw: NumberDraw, words: str) -> Drawn:
    """The value that these words draw."""
    values = values_of(draw)
    return values[int(share_of(words) * len(values))]


def numbers_of(exercise: VariedExercise, drawn: Mapping[str, Drawn], card: EngineCard | None) -> dict[str, Drawn]:
    """All names of an exercise: drawn, told by its function, worked out."""
    words, numbers = told_apart(drawn)
    if exercise.answer_from:
        numbers |= ANSWERS[exercise.answer_from].function(card, numbers)
    for name, formula in exercise.worked_out.items():
        try:
            numbers[name] = value_of(formula, numbers)
        except RubricError as error:
            raise RubricError(f"worked_out.{name}: {error}") from None
    return numbers | words


# ---- what a rubric may declare ---------------------------------------------------------------------------------------


def check_variants(exercise: VariedExercise) -> None:
    """Raise RubricError, without the name of the file, where some learner's form of an exercise could not be used: a
    formula fails, a text names a number that is not there, or a known mistake leads to the right answer."""
    for name, draw in exercise.draw.items():
        _check_name(name, f"draw.{name}")
        check_draw(draw, f"draw.{name}")
    for name in exercise.worked_out:
        _check_name(name, f"worked_out.{name}")
    _check_answer_from(exercise)
    if exercise.answer_from and ANSWERS[exercise.answer_from].needs_card:
        _check_texts(exercise)
        return  # depends on an engine: proven on the engines of learners, by the tests of the rubric
    for drawn in some_draws(exercise.draw):
        try:
            filled = exercise.filled(numbers_of(exercise, drawn, None))
        except TimingCourseError as error:
            raise RubricError(f"{str(error).rstrip('.')}{in_words(drawn)}") from None
        filled.check_filled(drawn)


def _check_texts(exercise: VariedExercise) -> None:
    """Raise RubricError where a text names a number that no engine gives, whatever the numbers are."""
    names = (*exercise.draw, *ANSWERS[exercise.answer_from].gives, *exercise.worked_out)
    exercise.without_formulas().filled(dict.fromkeys(names, 0.0))


def _check_name(name: str, where: str) -> None:
    need(bool(_NAME.fullmatch(name)), f"{where}: a name is of small letters, digits and low lines, a letter first")
    need(name not in FUNCTIONS, f"{where}: {', '.join(FUNCTIONS)} are functions: take another name")
    need(name not in CONVERSIONS, f"{where}: '{name}' is a conversion that every formula knows: take another name")


def check_draw(draw: NumberDraw, where: str) -> None:
    """Raise RubricError for a draw that does not say from what to draw; `where` is its place in the rubric."""
    begun = (draw.low, draw.high, draw.step) != (None, None, None)
    ways = [begun, bool(draw.one_of), bool(draw.words)]
    need(
        sum(ways) == 1 and begun == (draw.by_steps is not None), f"{where}: give low, high and step, or from, or words"
    )
    need(all(word.strip() for word in draw.words), f"{where}: one of the words is empty: fill it or take it out")
    if draw.by_steps is not None:
        low, high, step = draw.by_steps
        need(step > 0 and high > low, f"{where}: high has to lie above low, and step above nothing")
        count = (high - low) / step
        need(abs(count - round(count)) < 1e-6, f"{where}: high is not reached from low by whole steps")
        need(count < 10_000, f"{where}: at most 10,000 steps may lie between low and high")


def _check_answer_from(exercise: VariedExercise) -> None:
    if not exercise.answer_from:
        return
    need_known([exercise.answer_from], ANSWERS, "answer_from")
    told = ANSWERS[exercise.answer_from]
    need_known(told.needs, exercise.draw, f"answer_from {exercise.answer_from} needs a drawn number and")
    need(bool(exercise.engine) or not told.needs_card, f"answer_from {exercise.answer_from} needs the field engine")


def some_draws(draws: Mapping[str, NumberDraw]) -> Iterator[dict[str, Drawn]]:
    """Every combination of drawn values, or, where there are very many, evenly spread ones and the two outermost."""
    values = {name: values_of(draw) for name, draw in draws.items()}
    count = math.prod(len(one) for one in values.values())
    if count <= MOST_VARIANTS_TRIED:
        for chosen in itertools.product(*values.values()):
            yield dict(zip(values, chosen, strict=True))
        return
    yield {name: one[-1] for name, one in values.items()}
    # Multiples of square roots that are not whole, less their whole part, fill an interval evenly.
    steps = {name: math.sqrt(number + 0.5) for number, name in enumerate(values, start=1)}
    for number in range(MOST_VARIANTS_TRIED - 1):
        yield {name: one[int(number * steps[name] % 1.0 * len(one))] for name, one in values.items()}
