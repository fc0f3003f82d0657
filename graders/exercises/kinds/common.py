"""What the kinds of exercises share: how an answer is read, and how points and outcomes are given."""

from __future__ import annotations

import json
import random
from collections.abc import Collection, Iterable
from itertools import pairwise
from typing import Any

from engine_sim import TimingCourseError
from graders.outcome import CriterionOutcome, Outcome
from graders.schema import Criterion, ExerciseRubric, RubricError

Part = tuple[str, str, float]  # id, title and points
Parts = list[Part]
NOTHING = "Nothing was done here yet."


class AnswerError(TimingCourseError):
    """An answer cannot be taken; its sentence says what was wanted."""


def as_text(answer: object) -> str:
    """An answer of several parts as the evidence keeps it: JSON in one line."""
    return json.dumps(answer, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def in_short(found: object, longest: int = 40) -> str:
    """What was found in the place of an answer, as a sentence can hold it: in one line, and not long."""
    return " ".join(str(found).split())[:longest]


def parts_in(value: object, wanted: type, what: str) -> Any:
    """The list or table that an answer of several parts holds. Raises AnswerError where it holds something else."""
    try:
        found = json.loads(value) if isinstance(value, str) else None
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, wanted):
        raise AnswerError(f"{what} was wanted and '{in_short(value)}' was found.")
    return found


def table_in(value: object, names: Iterable[str], what: str, entries: str) -> dict:
    """The table that an answer holds, one entry for each name. Raises AnswerError where it holds something else."""
    found, names = parts_in(value, dict, what), list(names)
    if set(found) != set(names):
        here = in_short(", ".join(found), 80)
        raise AnswerError(f"The {entries} {', '.join(names)} were wanted and {here} were found.")
    return found


def whole(exercise: ExerciseRubric) -> Parts:
    """An exercise that earns its points as a whole."""
    return [(exercise.id, exercise.title, exercise.points)]


def parts_of_criteria(criteria: tuple[Criterion, ...]) -> Parts:
    """Every criterion, with its points."""
    return [(criterion.id, criterion.title, criterion.points) for criterion in criteria]


def outcome_of(
    exercise: ExerciseRubric, share: float, sentence: str, misconception: str | None = None
) -> CriterionOutcome:
    """The outcome of an exercise that is judged as a whole, by the share of its points that was earned."""
    return part_outcome(whole(exercise)[0], share, sentence, misconception)


def part_outcome(
    part: tuple[str, str, float], share: float, sentence: str, misconception: str | None = None
) -> CriterionOutcome:
    """The outcome of one part of an exercise."""
    name, title, points = part
    outcome = Outcome.MET if share == 1.0 else Outcome.NOT_YET
    return CriterionOutcome(
        criterion=name,
        title=title,
        outcome=outcome,
        points=round(share * points, 2),
        max_points=points,
        sentence=sentence,
        misconception=misconception,
    )


def missing_part(part: tuple[str, str, float], sentence: str = NOTHING) -> CriterionOutcome:
    """The outcome of a part that was left empty."""
    name, title, points = part
    return CriterionOutcome(
        criterion=name, title=title, outcome=Outcome.MISSING, points=0.0, max_points=points, sentence=sentence
    )


def remark(exercise: ExerciseRubric, of: str, title: str, sentence: str, misconception: str | None) -> CriterionOutcome:
    """Something to say about one part of an answer that earns no points of its own."""
    return CriterionOutcome(
        criterion=f"{exercise.id}.{of}",
        title=title,
        outcome=Outcome.NOT_YET,
        points=0.0,
        max_points=0.0,
        sentence=sentence,
        misconception=misconception,
    )


def shared_out(points: float, count: int) -> list[float]:
    """Points in equal shares, in hundredths, that add up to the whole."""
    marks = [round(points * number / count, 2) for number in range(count + 1)]
    return [round(later - earlier, 2) for earlier, later in pairwise(marks)]


def mixed(items: Iterable[Any], dice: random.Random) -> tuple:
    """The items in an order that the dice give."""
    # Sorted by drawn numbers: random() is promised to stay the same in later Pythons, shuffle() is not.
    return tuple(item for _, _, item in sorted((dice.random(), number, item) for number, item in enumerate(items)))


def misconceptions_in(items: Iterable[Any]) -> set[str]:
    """The misconceptions that these answers, mistakes or constraints name."""
    return {item.misconception for item in items if item.misconception}


def pairs(items: Iterable[Any]) -> list[list[str]]:
    """Id and text of each of the items, as a form takes them."""
    return [[item.id, item.text] for item in items]


def need(condition: bool, what: str) -> None:
    """Raise RubricError with `what` where an exercise does not meet a condition."""
    if not condition:
        raise RubricError(what)


def need_sentences(found: dict[str, str], wanted: tuple[str, ...], where: str = "sentences") -> None:
    """Raise RubricError where a sentence is missing, or one stands there that is never said."""
    missing = [name for name in wanted if not found.get(name)]
    need(not missing, f"{where} has no sentence for {' and '.join(map(repr, missing))}: add it")


def need_known(names: Iterable[str], known: Collection[str], where: str) -> None:
    """Raise RubricError where a name stands that does not exist."""
    strange = [name for name in names if name not in known]
    need(not strange, f"{where} names '{strange[0] if strange else ''}'; there are {', '.join(known) or 'none'}")


def need_different(names: Iterable[str], where: str) -> None:
    """Raise RubricError where two things have the same name."""
    names = list(names)
    twice = [name for name in names if names.count(name) > 1]
    need(not twice, f"{where} has '{twice[0] if twice else ''}' twice: give each its own id")
