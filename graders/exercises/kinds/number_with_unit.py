"""A number with its unit, as an exercise of its own or as one line of several: what both share."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from graders.exercises.filling import Drawn, filled_sentences, filled_text, in_words, worked_out_value
from graders.exercises.units import compare
from graders.outcome import CriterionOutcome
from graders.schema import NumberWanted, ValueOrFormula, proven

from .common import AnswerError, Part, in_short, need, part_outcome

NumberWithUnit = tuple[float, str | None]


def read_number(value: object, unit: str | None) -> NumberWithUnit:
    """The number and its unit. Raises AnswerError where the value is no finite number."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise AnswerError(f"A number was wanted and '{in_short(value)}' was found.")
    return float(value), unit


def judge_number(
    part: Part, wanted: NumberWanted, sentences: Mapping[str, str], answer: NumberWithUnit
) -> CriterionOutcome:
    """Full points for a right number in any of its units."""
    found = compare(wanted, *answer)
    if found.mistake is not None:
        return part_outcome(part, 0.0, found.mistake.sentence, found.mistake.misconception)
    return part_outcome(part, float(found.finding == "right"), sentences[found.finding])


def units_of(wanted: NumberWanted) -> tuple[str, ...]:
    """The units that are offered."""
    return wanted.units or (wanted.unit,)


def number_in_words(wanted: NumberWanted) -> str:
    """The right number with its unit, for the instructor."""
    return f"{wanted.value:.4g} {wanted.unit}".strip()


def check_number(wanted: NumberWanted, where: str) -> None:
    """Raise RubricError unless value, unit and tolerance are there; `where` is the place in the rubric."""
    need(bool(wanted.unit), f"{where}unit is missing: name the unit of the value")
    units = units_of(wanted)
    need(wanted.unit in units, f"{where}unit '{wanted.unit}' has to be one of its units, {', '.join(units)}")
    need(wanted.tolerance >= 0, f"{where}tolerance may not be negative")
    _need_one_source(wanted, where)
    for number, mistake in enumerate(wanted.wrong, start=1):
        _need_one_source(mistake, f"{where}wrong {number}: ")


def _need_one_source(wanted: ValueOrFormula, where: str) -> None:
    one = (wanted.value is None) != (not wanted.formula)
    need(one, f"{where}value: give either a value or a formula, one of the two")


def filled_number(wanted: NumberWanted, numbers: Mapping[str, Drawn], where: str) -> dict:
    """The fields of a number that hold formulas or texts: worked out, and filled in."""
    wrong = tuple(
        replace(
            one,
            value=worked_out_value(one, numbers, f"{where}wrong {number}"),
            formula="",
            sentence=filled_text(one.sentence, numbers, f"{where}wrong {number}"),
        )
        for number, one in enumerate(wanted.wrong, start=1)
    )
    return {
        "wrong": wrong,
        "sentences": filled_sentences(wanted.sentences, numbers, f"{where}sentences"),
        "value": worked_out_value(wanted, numbers, f"{where}formula"),
        "formula": "",
    }


def without_formula(wanted: NumberWanted) -> dict:
    """The fields of a number that hold formulas, emptied."""
    return {"formula": "", "wrong": tuple(replace(one, formula="") for one in wanted.wrong)}


def need_mistakes_apart(wanted: NumberWanted, drawn: Mapping[str, Drawn], where: str) -> None:
    """Raise RubricError where a known mistake is as good as the right answer."""
    for number, mistake in enumerate(wanted.wrong, start=1):
        value = proven(mistake.value, "the value of a known mistake")
        right = compare(wanted, value, wanted.unit).finding == "right"
        need(
            not right,
            f"{where}wrong {number} ({mistake.misconception}) gives the right answer{in_words(drawn)}: "
            "change the numbers or make the tolerance smaller",
        )
