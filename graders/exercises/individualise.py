"""A learner's own form of an exercise: numbers drawn for them, formulas worked out, texts filled in, order shuffled.

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
from dataclasses import replace
from pathlib import Path

from engine_sim import Draw, EngineCard, Header, TimingCourseError
from graders.bench.assignment import engine_of, fault_of, seed_text
from graders.exercises.kinds.common import need, need_known
from graders.exercises.kinds.diagnosis import with_right_cause
from graders.exercises.kinds.needle import with_right_pattern
from graders.schema import Choice, ExerciseRubric, MarkedFor, NumberDraw, NumberField, RubricError

from .engine_answers import ANSWERS
from .formulas import FUNCTIONS, value_of
from .units import compare

RIGHT_BY_FAULT = {"needle": with_right_pattern, "diagnosis": with_right_cause}
MOST_VARIANTS_TRIED = 500
SHUFFLES_TRIED = 100
Drawn = float | str
_NAME = re.compile(r"[a-z][a-z0-9_]*")
_IN_TEXT = re.compile(r"\{([^{}]*)\}")


def learners_exercise(exercise: ExerciseRubric, header: Header, engines: Path) -> ExerciseRubric:
    """The exercise as the learner of this evidence has it; what a form shows and what the judge judges.

    `engines` is the folder of engine cards. Raises TimingCourseError where a card or a formula cannot be used.
    """
    return exercise_for(exercise, seed_text(exercise, header), card_of(exercise, header, engines))


def card_of(exercise: ExerciseRubric, header: Header, engines: Path) -> EngineCard | None:
    """The learner's own engine, where an exercise asks about one."""
    return engine_of(header, engines, exercise.engine).card if exercise.engine else None


def exercise_for(exercise: ExerciseRubric, words: str, card: EngineCard | None) -> ExerciseRubric:
    """The exercise that these words draw, on this engine."""
    if exercise.kind == "bench":
        return exercise
    if exercise.kind in RIGHT_BY_FAULT:
        fault = fault_of(exercise, card, Draw(f"{words}|fault"))
        exercise = RIGHT_BY_FAULT[exercise.kind](exercise, fault)
    drawn = {name: drawn_value(draw, f"{words}|{name}") for name, draw in exercise.draw.items()}
    return _shuffled(with_numbers(exercise, numbers_of(exercise, drawn, card)), words)


# ---- drawing ---------------------------------------------------------------------------------------------------------


def share_of(words: str) -> float:
    """A number from 0 up to 1 that these words give, the same on every machine and for ever."""
    return int.from_bytes(hashlib.sha256(words.encode()).digest()[:6], "big") / 2**48


def values_of(draw: NumberDraw) -> list[Drawn]:
    """Every value that a draw can give."""
    if draw.one_of or draw.words:
        return list(draw.one_of or draw.words)
    count = round((draw.high - draw.low) / draw.step) + 1
    # Ten digits, so that 0.1 three times is 0.3 in a question.
    return [float(f"{draw.low + number * draw.step:.10g}") for number in range(count)]


def drawn_value(draw: NumberDraw, words: str) -> Drawn:
    """The value that these words draw."""
    values = values_of(draw)
    return values[int(share_of(words) * len(values))]


def numbers_of(exercise: ExerciseRubric, drawn: Mapping[str, Drawn], card: EngineCard | None) -> dict[str, Drawn]:
    """All names of an exercise: drawn, told by its function, worked out."""
    words, numbers = _told_apart(drawn)
    if exercise.answer_from:
        numbers |= ANSWERS[exercise.answer_from].function(card, numbers)
    for name, formula in exercise.worked_out.items():
        try:
            numbers[name] = value_of(formula, numbers)
        except RubricError as error:
            raise RubricError(f"worked_out.{name}: {error}") from None
    return numbers | words


def _told_apart(drawn: Mapping[str, Drawn]) -> tuple[dict[str, str], dict[str, float]]:
    """The words and the numbers among what was drawn: no formula can hold a word."""
    words = {name: value for name, value in drawn.items() if isinstance(value, str)}
    return words, {name: value for name, value in drawn.items() if name not in words}


# ---- filling in ------------------------------------------------------------------------------------------------------


def with_numbers(exercise: ExerciseRubric, numbers: Mapping[str, Drawn]) -> ExerciseRubric:
    """The exercise with its formulas worked out and, where it has names, its texts filled in. Raises RubricError that
    names the field."""
    return replace(
        _worked_out(exercise, numbers, ""),
        question=_filled(exercise.question, numbers, "question"),
        choices=tuple(_filled_choice(choice, numbers) for choice in exercise.choices),
        fields=tuple(_worked_out(line, numbers, f"fields.{line.id}.") for line in exercise.fields),
        marking=tuple(_filled_levels(one, numbers) for one in exercise.marking),
    )


def _filled_levels(one: MarkedFor, numbers: Mapping[str, Drawn]) -> MarkedFor:
    return replace(one, levels=tuple(_filled(level, numbers, f"marking.{one.id}") for level in one.levels))


def _filled_choice(choice: Choice, numbers: Mapping[str, float]) -> Choice:
    where = f"choices.{choice.id}."
    text, sentence = (_filled(getattr(choice, name), numbers, where + name) for name in ("text", "sentence"))
    return replace(choice, text=text, sentence=sentence)


def _worked_out(wanted: ExerciseRubric | NumberField, numbers: Mapping[str, float], where: str):
    wrong = [
        replace(
            one,
            value=_value(one, numbers, f"{where}wrong {number}"),
            formula="",
            sentence=_filled(one.sentence, numbers, f"{where}wrong {number}"),
        )
        for number, one in enumerate(wanted.wrong, start=1)
    ]
    sentences = {name: _filled(text, numbers, f"{where}sentences") for name, text in wanted.sentences.items()}
    label = {"label": _filled(wanted.label, numbers, f"{where}label")} if isinstance(wanted, NumberField) else {}
    value = _value(wanted, numbers, f"{where}formula")
    return replace(wanted, value=value, formula="", wrong=tuple(wrong), sentences=sentences, **label)


def _value(wanted, numbers: Mapping[str, float], where: str) -> float | None:
    if not wanted.formula:
        return wanted.value
    try:
        return value_of(wanted.formula, _told_apart(numbers)[1])
    except RubricError as error:
        raise RubricError(f"{where}: {error}") from None


def _filled(text: str, numbers: Mapping[str, float], where: str) -> str:
    if not numbers:
        return text

    def number(found: re.Match) -> str:
        if found[1] not in numbers:
            raise RubricError(f"{where}: the text names {{{found[1]}}}; there are {', '.join(sorted(numbers))}")
        value = numbers[found[1]]
        return value if isinstance(value, str) else f"{value:.6g}".replace("-", "\u2212")

    return _IN_TEXT.sub(number, text)


# ---- shuffling -------------------------------------------------------------------------------------------------------


def _shuffled(exercise: ExerciseRubric, words: str) -> ExerciseRubric:
    dice = random.Random(int.from_bytes(hashlib.sha256(f"{words}|order".encode()).digest(), "big"))
    if exercise.kind == "order":
        return replace(exercise, steps=tuple(_out_of_order(exercise, dice)))
    wanted = exercise.kind == "several" if exercise.shuffle is None else exercise.shuffle
    return replace(exercise, choices=tuple(_mixed(exercise.choices, dice))) if wanted else exercise


def _mixed(items, dice: random.Random) -> list:
    # Sorted by drawn numbers: random() is promised to stay the same in later Pythons, shuffle() is not.
    return [item for _, _, item in sorted((dice.random(), number, item) for number, item in enumerate(items))]


def _out_of_order(exercise: ExerciseRubric, dice: random.Random) -> list:
    """The steps in an order that keeps at most half of the constraints, or the fewest of many shuffles: never all."""
    best, fewest = None, len(exercise.before)
    for _ in range(SHUFFLES_TRIED):
        steps = _mixed(exercise.steps, dice)
        kept = _kept(exercise, steps)
        if kept < fewest:
            best, fewest = steps, kept
        if fewest <= len(exercise.before) / 2:
            return best
    pair = exercise.before[0]  # a rare draw for very few steps: one constraint is broken by hand
    return best or sorted(exercise.steps, key=lambda step: (step.id != pair.then, step.id == pair.first))


def _kept(exercise: ExerciseRubric, steps) -> int:
    place = {step.id: number for number, step in enumerate(steps)}
    return sum(place[pair.first] < place[pair.then] for pair in exercise.before)


# ---- what a rubric may declare ---------------------------------------------------------------------------------------


def check_variants(exercise: ExerciseRubric) -> None:
    """Raise RubricError, without the name of the file, where some learner's form of an exercise could not be used: a
    formula fails, a text names a number that is not there, or a known mistake leads to the right answer."""
    for name, draw in exercise.draw.items():
        _check_name(name, f"draw.{name}")
        check_draw(draw, f"draw.{name}")
    for name in exercise.worked_out:
        _check_name(name, f"worked_out.{name}")
    _check_answer_from(exercise)
    if exercise.answer_from and ANSWERS[exercise.answer_from].needs_card:
        return  # depends on an engine: proven on the engines of learners, by the tests of the rubric
    for drawn in some_draws(exercise.draw):
        try:
            filled = with_numbers(exercise, numbers_of(exercise, drawn, None))
        except TimingCourseError as error:
            raise RubricError(f"{str(error).rstrip('.')}{_with(drawn)}") from None
        check_apart(filled, drawn)


def check_apart(exercise: ExerciseRubric, drawn: Mapping[str, Drawn]) -> None:
    """Raise RubricError where a known mistake of a filled exercise is as good as its right answer."""
    for wanted in (exercise, *exercise.fields):
        where = f"fields.{wanted.id}." if isinstance(wanted, NumberField) else ""
        for number, mistake in enumerate(wanted.wrong, start=1):
            right = compare(wanted, mistake.value, wanted.unit).finding == "right"
            need(
                not right,
                f"{where}wrong {number} ({mistake.misconception}) gives the right answer{_with(drawn)}: "
                "change the numbers or make the tolerance smaller",
            )


def _with(drawn: Mapping[str, Drawn]) -> str:
    told = (f"{name} = {value if isinstance(value, str) else f'{value:g}'}" for name, value in drawn.items())
    return f" (where {', '.join(told)})" if drawn else ""


def _check_name(name: str, where: str) -> None:
    need(bool(_NAME.fullmatch(name)), f"{where}: a name is of small letters, digits and low lines, a letter first")
    need(name not in FUNCTIONS, f"{where}: {', '.join(FUNCTIONS)} are functions: take another name")


def check_draw(draw: NumberDraw, where: str) -> None:
    """Raise RubricError for a draw that does not say from what to draw; `where` is its place in the rubric."""
    steps = (draw.low, draw.high, draw.step)
    by_steps = all(value is not None for value in steps)
    ways = [steps != (None, None, None), bool(draw.one_of), bool(draw.words)]
    need(sum(ways) == 1 and by_steps == ways[0], f"{where}: give low, high and step, or from, or words")
    need(all(word.strip() for word in draw.words), f"{where}: one of the words is empty: fill it or take it out")
    if by_steps:
        need(draw.step > 0 and draw.high > draw.low, f"{where}: high has to lie above low, and step above nothing")
        count = (draw.high - draw.low) / draw.step
        need(abs(count - round(count)) < 1e-6, f"{where}: high is not reached from low by whole steps")
        need(count < 10_000, f"{where}: at most 10,000 steps may lie between low and high")


def _check_answer_from(exercise: ExerciseRubric) -> None:
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
