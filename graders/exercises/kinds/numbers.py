"""One number with its unit, or a sum of several."""

from __future__ import annotations

import math
from functools import partial

from graders.exercises.units import FINDINGS, compare
from graders.outcome import CriterionOutcome
from graders.schema import ExerciseRubric, NumberField

from .common import (
    AnswerError,
    Kind,
    Parts,
    missing_part,
    need,
    need_different,
    need_sentences,
    part_outcome,
    parts_in,
    shared_out,
    whole,
)

NOT_ENTERED = "No number was entered here."


def check_number(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless value, unit, tolerance and sentences are there."""
    _check_wanted(exercise, "")
    need_sentences(exercise.sentences, FINDINGS)


def read_number(_exercise: ExerciseRubric, value, unit: str | None) -> tuple[float, str | None]:
    """The number and its unit."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise AnswerError(f"A number was wanted and '{str(value)[:40]}' was found.")
    return float(value), unit


def judge_number(exercise: ExerciseRubric, answer: tuple[float, str | None], _card) -> list[CriterionOutcome]:
    """Full points for a right number in any of its units."""
    return [_judged(whole(exercise)[0], exercise, exercise.sentences, answer)]


def check_sum(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless every line of the sum can be judged."""
    need(len(exercise.fields) > 1, "fields needs two lines or more")
    need_different((line.id for line in exercise.fields), "fields")
    for line in exercise.fields:
        where = f"fields.{line.id}."
        _check_wanted(line, where)
        need(line.sign in ("", "+", "-", "×", "="), f"{where}sign is one of + - × =; '{line.sign}' was found")
        need_sentences(exercise.sentences | line.sentences, FINDINGS, f"{where}sentences")
        need(line.points is None or line.points > 0, f"{where}points has to be more than none")
    have = [line.points is not None for line in exercise.fields]
    need(all(have) or not any(have), "fields: give points to every line or to none")


def parts_of_sum(exercise: ExerciseRubric) -> Parts:
    """Every line, with its own points or an equal share."""
    shares = shared_out(exercise.points, len(exercise.fields))
    return [
        (f"{exercise.id}.{line.id}", line.label, share if line.points is None else line.points)
        for line, share in zip(exercise.fields, shares, strict=True)
    ]


def read_sum(exercise: ExerciseRubric, value, _unit: str | None) -> dict[str, tuple[float, str | None] | None]:
    """The lines that were filled in; None for an empty one."""
    found = parts_in(value, dict, "A table of numbers")
    lines = {line.id: line for line in exercise.fields}
    if set(found) != set(lines):
        raise AnswerError(f"The lines {', '.join(lines)} were wanted and {', '.join(found)[:80]} were found.")
    answer = {name: None if entry is None else _read_line(lines[name], entry) for name, entry in found.items()}
    if not any(answer.values()):
        raise AnswerError("No line is filled in yet: enter at least one number.")
    return answer


def _read_line(line: NumberField, entry) -> tuple[float, str | None]:
    units = line.units or (line.unit,)
    if not isinstance(entry, list) or len(entry) != 2 or entry[1] not in units:
        raise AnswerError(f"'{line.label}' wants a number and one of the units {', '.join(units)}.")
    return read_number(line, entry[0], entry[1])


def judge_sum(exercise: ExerciseRubric, answer: dict, _card) -> list[CriterionOutcome]:
    """Every line by itself."""
    judged = []
    for part, line in zip(parts_of_sum(exercise), exercise.fields, strict=True):
        given = answer[line.id]
        said = exercise.sentences | line.sentences
        judged.append(missing_part(part, NOT_ENTERED) if given is None else _judged(part, line, said, given))
    return judged


def _judged(part, wanted, sentences: dict[str, str], answer: tuple[float, str | None]) -> CriterionOutcome:
    found = compare(wanted, *answer)
    if found.mistake is not None:
        return part_outcome(part, 0.0, found.mistake.sentence, found.mistake.misconception)
    return part_outcome(part, float(found.finding == "right"), sentences[found.finding])


def _check_wanted(wanted: ExerciseRubric | NumberField, where: str) -> None:
    need(bool(wanted.unit), f"{where}unit is missing: name the unit of the value")
    units = wanted.units or (wanted.unit,)
    need(wanted.unit in units, f"{where}unit '{wanted.unit}' has to be one of its units, {', '.join(units)}")
    need(wanted.tolerance >= 0, f"{where}tolerance may not be negative")
    sources = partial(_has_one_source, where=where)
    sources(wanted, "")
    for number, mistake in enumerate(wanted.wrong, start=1):
        sources(mistake, f"wrong {number}: ")


def _has_one_source(wanted, which: str, where: str) -> None:
    one = (wanted.value is None) != (not wanted.formula)
    need(one, f"{where}{which}value: give either a value or a formula, one of the two")


NUMBER = Kind(
    frozenset({"value", "formula", "unit", "units", "tolerance", "wrong", "sentences"}),
    check_number,
    read_number,
    judge_number,
    whole,
)
SUM = Kind(frozenset({"fields", "sentences"}), check_sum, read_sum, judge_sum, parts_of_sum)
