"""Rubrics: one TOML file for each lesson, which an instructor may read and change without touching code."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass, fields, replace
from operator import or_
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, TypeAdapter, ValidationError

from engine_sim import TimingCourseError
from graders.exercises.kinds.common import need, need_different
from graders.exercises.kinds.exercise import Exercise, VariedExercise
from graders.schema import RubricError

from .individualise import check_variants
from .kinds import KINDS
from .packing import ENDING, unpacked

__all__ = [
    "OWN_CARDS",
    "OWN_RUBRICS",
    "Misconception",
    "Rubric",
    "RubricError",
    "cards_folder",
    "exercise_schema",
    "lessons_with_rubrics",
    "load_rubric",
    "own_cards",
    "rubric_for",
    "rubric_from",
    "rubric_path",
]

FOLDER = Path(__file__).parents[1] / "rubrics"
OWN_RUBRICS, OWN_CARDS = "rubrics", "engines"  # in a class folder
_ANY_KIND: Any = Annotated[functools.reduce(or_, KINDS.values()), Field(discriminator="kind")]
_EXERCISE: TypeAdapter[Exercise] = TypeAdapter(_ANY_KIND)


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
    exercises: dict[str, Exercise]
    misconceptions: dict[str, Misconception]


def exercise_schema() -> dict[str, Any]:
    """The JSON Schema of an exercise of any kind, as a rubric's file has it."""
    return _EXERCISE.json_schema(by_alias=True)


def lessons_with_rubrics() -> tuple[str, ...]:
    """Ids of all lessons that have a rubric, in order."""
    return tuple(sorted(path.stem for path in FOLDER.glob("l[0-9][0-9]_*.toml")))


def rubric_path(lesson_id: str, own: Path | None = None) -> Path:
    """The file of a lesson's rubric: the class's own in the folder `own` where it has one, else the course's.

    `own` is the folder of a class's rubrics, or a lesson's folder in which the class's rubric was handed out, packed.
    """
    of_class = [Path(own) / f"{lesson_id}{ending}" for ending in (".toml", ENDING)] if own else []
    return next((path for path in of_class if path.is_file()), FOLDER / f"{lesson_id}.toml")


def rubric_for(lesson_id: str, own: Path | None = None) -> Rubric:
    """The rubric by which a class judges a lesson: its own in `own`, else the course's, at the class's own engines
    where it has cards of their names. Raises RubricError."""
    path = rubric_path(lesson_id, own)
    rubric = load_rubric(lesson_id) if path.parent == FOLDER else _rubric_of_class(path, path.stat().st_mtime_ns)
    cards = {card.stem: card for card in cards_folder(own).glob("*.toml")} if own else {}
    at_own = {
        name: replace(exercise, engine=str(cards[exercise.engine].with_suffix("")))
        for name, exercise in rubric.exercises.items()
        if exercise.engine in cards
    }
    return replace(rubric, exercises={**rubric.exercises, **at_own}) if at_own else rubric


def cards_folder(own: Path) -> Path:
    """The folder of a class's own engine cards, beside its rubrics or in a lesson's folder that was handed out."""
    own = Path(own).absolute()
    return (own.parent if own.name == OWN_RUBRICS else own) / OWN_CARDS


def own_cards(lesson_id: str, own: Path | None) -> list[Path]:
    """The files of the class's own engine cards that a lesson is at, in the order of their names. Raises RubricError
    where the lesson's rubric cannot be used."""
    engines = {exercise.engine for exercise in rubric_for(lesson_id, own).exercises.values()} if own else set()
    return sorted(path for path in (Path(f"{engine}.toml") for engine in engines) if path.is_absolute())


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
        content = tomllib.loads(text.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RubricError(f"{path.name} is not readable as TOML ({error}): correct that line.") from None
    except RecursionError:
        raise RubricError(f"{path.name} is not readable as TOML: it holds lists in lists without end.") from None
    except OSError as error:
        raise RubricError(
            f"{path.name} cannot be read ({error.strerror}): a file that you may read is wanted."
        ) from None
    return rubric_from(content, path.name)


def rubric_from(content: dict, name: str) -> Rubric:
    """Build a rubric from a table that was read already. Raises RubricError that names file, exercise and field."""
    try:
        misconceptions = {
            key: Misconception(key, _text(item, "sentence"), _texts(item, "costs"), _texts(item, "may_cost"))
            for key, item in content.get("misconceptions", {}).items()
        }
        exercises = [_exercise(item, number, name) for number, item in enumerate(content["exercises"], start=1)]
        need(bool(exercises), "exercises: at least one was wanted and none was found: begin it with [[exercises]]")
        need_different((exercise.id for exercise in exercises), "exercises")
        rubric = Rubric(
            _text(content, "lesson"), _text(content, "title"), {one.id: one for one in exercises}, misconceptions
        )
        _check_misconceptions(rubric)
        _check_predictions(rubric)
        return rubric
    except KeyError as error:
        raise RubricError(f"{name}: the field {error} is missing: add it.") from None
    except (TypeError, AttributeError) as error:
        raise RubricError(f"{name}: a field does not belong there or has the wrong form ({error}).") from None
    except RubricError as error:
        text = str(error)
        raise RubricError(text if text.startswith(f"{name}: ") else f"{name}: {text}.") from None


def _text(table: dict, field: str) -> str:
    found = table[field]
    need(isinstance(found, str), f"{field}: a text was wanted and {str(found)[:40]!r} was found")
    return found


def _texts(table: dict, field: str) -> tuple[str, ...]:
    found = table.get(field, [])
    are_texts = isinstance(found, list) and all(isinstance(one, str) for one in found)
    need(are_texts, f"{field}: a list of texts was wanted and {str(found)[:40]!r} was found")
    return tuple(found)


def _check_misconceptions(rubric: Rubric) -> None:
    for exercise in rubric.exercises.values():
        strange = sorted(exercise.misconceptions() - set(rubric.misconceptions))
        if strange:
            raise RubricError(f"{exercise.id}: there is no [misconceptions.{strange[0]}]: add it with its sentence")


def _check_predictions(rubric: Rubric) -> None:
    benches = [one.id for one in rubric.exercises.values() if one.at_the_bench]
    for exercise in rubric.exercises.values():
        tried = getattr(exercise, "predicts", "") or None
        if tried and tried not in benches:
            named = ", ".join(benches) or "none"
            raise RubricError(f"{exercise.id}: predicts names '{tried}'; the lesson's benches are {named}")


def _exercise(item: dict, number: int, name: str) -> Exercise:
    """One exercise, checked: the form of every field, then what its kind wants, then the learners' variants."""
    which = str(item.get("id", f"exercise {number}")) if isinstance(item, dict) else f"exercise {number}"
    try:
        _check_kind(item)
        exercise = _with_points(_EXERCISE.validate_python(item), item)
        exercise.check()
        need(exercise.points > 0, f"is worth {exercise.points:g} points: give it more than none")
        if isinstance(exercise, VariedExercise):
            check_variants(exercise)
    except ValidationError as error:
        raise RubricError(f"{name}: {which}: {_first_fault(error, item)}.") from None
    except TimingCourseError as error:
        raise RubricError(f"{name}: {which}: {error}.".replace("..", ".")) from None
    return exercise


def _check_kind(item: dict) -> None:
    """Raise RubricError for a kind that there is not, and for fields that belong to other kinds than this one."""
    need(isinstance(item, dict), f"a table was wanted and {str(item)[:40]!r} was found: begin it with [[exercises]]")
    need("kind" in item, f"kind: field required; there are {', '.join(KINDS)}")
    kind = item["kind"]
    need(isinstance(kind, str) and kind in KINDS, f"is of kind '{kind}'; there are {', '.join(KINDS)}")
    strange = sorted(set(item) - _fields_of(kind))
    elsewhere = set().union(*map(_fields_of, KINDS))
    if strange and elsewhere.issuperset(strange):
        raise RubricError(f"the field {', '.join(strange)} does not belong to kind '{kind}': take it out")


def _fields_of(kind: str) -> set[str]:
    return {field.name for field in fields(KINDS[kind])}


def _with_points(exercise: Exercise, item: dict) -> Exercise:
    """Criteria, checks, the lines of a sum and what a person marks for may have the points; the exercise is then worth
    their sum."""
    parts = [part.points for part in exercise.tables_with_points() if part.points is not None]
    if parts and "points" in item:
        raise RubricError("has points of its own and parts with points: keep one of the two")
    if not parts and "points" not in item:
        raise RubricError("points is missing: add it")
    return replace(exercise, points=float(sum(parts))) if parts else exercise


def _first_fault(error: ValidationError, item) -> str:
    """What is wrong, with the place of the field and the id of the part it is in; how many more there are."""
    faults = error.errors(include_url=False)
    first = faults[0]
    # The first place is the kind; a person who reads the file counts from one.
    where = first["loc"][1:]
    place = ", ".join(f"number {part + 1}" if isinstance(part, int) else str(part) for part in where)
    unknown = first["type"] == "unexpected_keyword_argument"
    what = "there is no such field, take it out" if unknown else first["msg"][0].lower() + first["msg"][1:]
    missing = first["type"].startswith("missing") or unknown
    found = "" if missing else f"; {str(first['input'])[:40]!r} was found"
    more = f" (and {len(faults) - 1} more like it)" if len(faults) > 1 else ""
    return f"{place}{_of_part(item, where)}: {what}{found}{more}"


def _of_part(item, place: tuple) -> str:
    """The id of the part of an exercise in which a place lies, where it has one."""
    part = ""
    for step in place:
        try:
            item = item[step]
        except (LookupError, TypeError):
            break
        part = str(item["id"])[:40] if isinstance(item, dict) and "id" in item else part
    return f" (in '{part}')" if part else ""
