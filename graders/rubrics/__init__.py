"""Rubrics: one TOML file for each lesson, which an instructor may read and change without touching code."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from engine_sim import TimingCourseError

FOLDER = Path(__file__).parent
KINDS = ("bench", "choice", "number", "written")


class RubricError(TimingCourseError):
    """A rubric file cannot be used."""


@dataclass(frozen=True)
class Criterion:
    """One criterion. `check` names the function that judges it; `sentences` holds what the learner reads for each
    finding of that function; `tolerances` are numbers that the function takes."""

    id: str
    title: str
    check: str
    points: float
    sentences: dict[str, str]
    tolerances: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Choice:
    """One answer to choose from; `misconception` is what somebody believes who chooses it, `sentence` the feedback."""

    id: str
    text: str
    right: bool
    sentence: str
    misconception: str | None = None


@dataclass(frozen=True)
class WrongNumber:
    """A number that a known mistake leads to."""

    value: float
    sentence: str
    misconception: str


@dataclass(frozen=True)
class ExerciseRubric:
    """One exercise as the judge sees it; fields that do not belong to its kind are empty."""

    id: str
    title: str
    kind: str
    points: float
    objective: str
    question: str = ""
    engine: str = ""
    criteria: tuple[Criterion, ...] = ()
    choices: tuple[Choice, ...] = ()
    units: tuple[str, ...] = ()
    value: float | None = None
    unit: str = ""
    tolerance: float = 0.0
    wrong: tuple[WrongNumber, ...] = ()
    sentences: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Misconception:
    """A belief that leads astray: what is said about it, and the criteria that it costs."""

    id: str
    sentence: str
    costs: tuple[str, ...]


@dataclass(frozen=True)
class Rubric:
    """One lesson: its exercises in order, and its misconceptions, by id."""

    lesson: str
    title: str
    exercises: dict[str, ExerciseRubric]
    misconceptions: dict[str, Misconception]


def lessons_with_rubrics() -> tuple[str, ...]:
    """Ids of all lessons that have a rubric, in order."""
    return tuple(sorted(path.stem for path in FOLDER.glob("l[0-9][0-9]_*.toml")))


@functools.cache
def load_rubric(lesson_id: str) -> Rubric:
    """The rubric of one lesson. Raises RubricError in one sentence where it is missing or cannot be used."""
    path = FOLDER / f"{lesson_id}.toml"
    if lesson_id not in lessons_with_rubrics():
        raise RubricError(f"There is no rubric for '{lesson_id}'; there are {', '.join(lessons_with_rubrics())}.")
    try:
        return rubric_from(tomllib.loads(path.read_text(encoding="utf-8")), path.name)
    except tomllib.TOMLDecodeError as error:
        raise RubricError(f"{path.name} is not readable as TOML ({error}): mend that line.") from None


def rubric_from(content: dict, name: str) -> Rubric:
    """Build a rubric from a table that was read already. Raises RubricError that names file, exercise and field."""
    try:
        exercises = {item["id"]: _exercise(item, name) for item in content["exercises"]}
        misconceptions = {
            key: Misconception(key, item["sentence"], tuple(item.get("costs", ())))
            for key, item in content.get("misconceptions", {}).items()
        }
        return Rubric(content["lesson"], content["title"], exercises, misconceptions)
    except KeyError as error:
        raise RubricError(f"{name}: the field {error} is missing: add it.") from None
    except (TypeError, AttributeError) as error:
        raise RubricError(f"{name}: a field does not belong there or has the wrong form ({error}).") from None


def _exercise(item: dict, name: str) -> ExerciseRubric:
    item = dict(item)
    criteria = tuple(Criterion(**criterion) for criterion in item.pop("criteria", ()))
    choices = tuple(Choice(**choice) for choice in item.pop("choices", ()))
    wrong = tuple(WrongNumber(**number) for number in item.pop("wrong", ()))
    if criteria and "points" in item:
        raise RubricError(f"{name}: {item['id']} has points of its own and criteria with points: keep one of the two.")
    points = sum(criterion.points for criterion in criteria) if criteria else item.pop("points")
    item["units"] = tuple(item.get("units", ()))
    exercise = ExerciseRubric(criteria=criteria, choices=choices, wrong=wrong, points=float(points), **item)
    _check(exercise, name)
    return exercise


def _check(exercise: ExerciseRubric, name: str) -> None:
    if exercise.kind not in KINDS:
        raise RubricError(f"{name}: {exercise.id} is of kind '{exercise.kind}'; there are {', '.join(KINDS)}.")
    if not exercise.points > 0:
        raise RubricError(f"{name}: {exercise.id} is worth {exercise.points:g} points: give it more than none.")
    if exercise.kind == "choice" and sum(choice.right for choice in exercise.choices) != 1:
        raise RubricError(f"{name}: {exercise.id} needs exactly one choice with right = true.")
    if exercise.kind == "number" and (exercise.value is None or exercise.unit not in exercise.units):
        raise RubricError(f"{name}: {exercise.id} needs a value, and its unit among its units.")
