"""Rubrics: one TOML file for each lesson, which an instructor may read and change without touching code."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from engine_sim import TimingCourseError
from graders.bench.assignment import check_assignment
from graders.bench.criteria import CHECKS
from graders.exercises.kinds.common import need_different, need_known, need_sentences
from graders.schema import Choice, Criterion, ExerciseRubric, RubricError, WrongNumber

from .individualise import check_variants
from .kinds import KINDS, check
from .packing import ENDING, unpacked

__all__ = [
    "KINDS",
    "Choice",
    "Criterion",
    "ExerciseRubric",
    "Misconception",
    "Rubric",
    "RubricError",
    "WrongNumber",
    "lessons_with_rubrics",
    "load_rubric",
    "misconceptions_of",
    "rubric_for",
    "rubric_from",
    "rubric_path",
]

FOLDER = Path(__file__).parents[1] / "rubrics"
_EXERCISE = TypeAdapter(ExerciseRubric)


@dataclass(frozen=True)
class Misconception:
    """A belief that leads astray: what is said about it, the criteria that it costs on every engine, and those that it
    costs on some engines besides."""

    id: str
    sentence: str
    costs: tuple[str, ...]
    may_cost: tuple[str, ...] = ()


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


def rubric_path(lesson_id: str, own: Path | None = None) -> Path:
    """The file of a lesson's rubric: the class's own in the folder `own` where it has one, else the course's.

    `own` is the folder of a class's rubrics, or a lesson's folder in which the class's rubric was handed out, packed.
    """
    names = (f"{lesson_id}.toml", f"{lesson_id}{ENDING}") if own else ()
    return next((Path(own) / name for name in names if (Path(own) / name).is_file()), FOLDER / f"{lesson_id}.toml")


def rubric_for(lesson_id: str, own: Path | None = None) -> Rubric:
    """The rubric by which a class judges a lesson: its own in `own`, else the course's. Raises RubricError."""
    path = rubric_path(lesson_id, own)
    return load_rubric(lesson_id) if path.parent == FOLDER else _rubric_of_class(path, path.stat().st_mtime_ns)


@functools.lru_cache(maxsize=64)
def _rubric_of_class(path: Path, changed_ns: int) -> Rubric:
    """A class's own rubric, read once for each time it was changed."""
    rubric = rubric_in(path)
    if rubric.lesson != path.stem:
        raise RubricError(f"{path.name} says that it is of lesson '{rubric.lesson}': name the file after its lesson.")
    return rubric


@functools.cache
def load_rubric(lesson_id: str) -> Rubric:
    """The rubric of one lesson. Raises RubricError in one sentence where it is missing or cannot be used."""
    if lesson_id not in lessons_with_rubrics():
        raise RubricError(f"There is no rubric for '{lesson_id}'; there are {', '.join(lessons_with_rubrics())}.")
    return rubric_in(FOLDER / f"{lesson_id}.toml")


def rubric_in(path: Path) -> Rubric:
    """The rubric in one file, wherever it lies. Raises RubricError in one sentence where it cannot be used."""
    try:
        text = unpacked(path) if path.suffix == ENDING else path.read_bytes()
        return rubric_from(tomllib.loads(text.decode("utf-8")), path.name)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RubricError(f"{path.name} is not readable as TOML ({error}): mend that line.") from None


def rubric_from(content: dict, name: str) -> Rubric:
    """Build a rubric from a table that was read already. Raises RubricError that names file, exercise and field."""
    try:
        misconceptions = {
            key: Misconception(key, item["sentence"], tuple(item.get("costs", ())), tuple(item.get("may_cost", ())))
            for key, item in content.get("misconceptions", {}).items()
        }
        exercises = [_exercise(item, number, name) for number, item in enumerate(content["exercises"], start=1)]
        need_different((exercise.id for exercise in exercises), "exercises")
        rubric = Rubric(content["lesson"], content["title"], {one.id: one for one in exercises}, misconceptions)
        _check_misconceptions(rubric)
        return rubric
    except KeyError as error:
        raise RubricError(f"{name}: the field {error} is missing: add it.") from None
    except (TypeError, AttributeError) as error:
        raise RubricError(f"{name}: a field does not belong there or has the wrong form ({error}).") from None
    except RubricError as error:
        text = str(error)
        raise RubricError(text if text.startswith(f"{name}: ") else f"{name}: {text}.") from None


def misconceptions_of(exercise: ExerciseRubric) -> set[str]:
    """Ids of all misconceptions that an exercise other than a bench exercise can name: in a learner's own form, without
    that of the choice which their engine makes right."""
    items = [
        *(choice for choice in exercise.choices if not (choice.right and (choice.pattern or choice.fault))),
        *exercise.wrong,
        *exercise.before,
        *(wrong for line in exercise.fields for wrong in line.wrong),
        *(wrong for hose in exercise.hoses for wrong in hose.wrong),
    ]
    named = {item.misconception for item in items if item.misconception}
    return named | {belief for one in exercise.checks for belief in one.misconceptions.values()}


def _check_misconceptions(rubric: Rubric) -> None:
    for exercise in rubric.exercises.values():
        strange = sorted(misconceptions_of(exercise) - set(rubric.misconceptions))
        if strange:
            raise RubricError(f"{exercise.id}: there is no [misconceptions.{strange[0]}]: add it with its sentence")


def _exercise(item: dict, number: int, name: str) -> ExerciseRubric:
    """One exercise, checked: the form of every field, then what its kind wants, then the learners' variants."""
    which = str(item.get("id", f"exercise {number}")) if isinstance(item, dict) else f"exercise {number}"
    try:
        exercise = _EXERCISE.validate_python(_with_pairs(item))
        exercise = _with_points(exercise, item)
        check(exercise, item)
        check_variants(exercise)
        check_assignment(exercise)
        if exercise.kind == "bench":
            _check_criteria(exercise)
    except ValidationError as error:
        raise RubricError(f"{name}: {which}: {_first_fault(error)}.") from None
    except TimingCourseError as error:
        raise RubricError(f"{name}: {which}: {error}.".replace("..", ".")) from None
    return exercise


def _check_criteria(exercise: ExerciseRubric) -> None:
    """Raise RubricError where a criterion at the bench is judged by a check that there is not, or cannot say that it
    was met or that there was nothing to judge."""
    for criterion in exercise.criteria:
        need_known([criterion.check], CHECKS, f"criteria.{criterion.id}.check")
        need_sentences(criterion.sentences, ("met", "missing"), f"criteria.{criterion.id}.sentences")


def _with_pairs(item: dict) -> dict:
    """A constraint may be a bare pair, ["first", "then"], where it has no sentence of its own."""
    if not isinstance(item, dict) or not isinstance(item.get("before"), list):
        return item
    names = ("first", "then")
    pairs = [dict(zip(names, one, strict=False)) if isinstance(one, list) else one for one in item["before"]]
    return item | {"before": pairs}


def _with_points(exercise: ExerciseRubric, item: dict) -> ExerciseRubric:
    """Criteria, checks, the lines of a sum and what a person marks for may have the points; the exercise is then worth
    their sum."""
    every_part = (*exercise.criteria, *exercise.checks, *exercise.fields, *exercise.marking)
    parts = [part.points for part in every_part if part.points is not None]
    if parts and "points" in item:
        raise RubricError("has points of its own and parts with points: keep one of the two")
    if not parts and "points" not in item:
        raise RubricError("points is missing: add it")
    return replace(exercise, points=float(sum(parts))) if parts else exercise


def _first_fault(error: ValidationError) -> str:
    """What is wrong, with the place of the field; how many more there are."""
    faults = error.errors(include_url=False)
    first = faults[0]
    # Whoever reads the file counts from one.
    place = ", ".join(f"number {part + 1}" if isinstance(part, int) else str(part) for part in first["loc"])
    unknown = first["type"] == "unexpected_keyword_argument"
    what = "there is no such field, take it out" if unknown else first["msg"][0].lower() + first["msg"][1:]
    missing = first["type"].startswith("missing") or unknown
    found = "" if missing else f"; {str(first['input'])[:40]!r} was found"
    more = f" (and {len(faults) - 1} more like it)" if len(faults) > 1 else ""
    return f"{place}: {what}{found}{more}"
