"""What the exercises of a rubric have in common, whatever their kind: checked tables, and the fields of each exercise.

The tables are pydantic's, so that a field of the wrong form or an unknown one is refused with its place and name.
"""

from __future__ import annotations

from typing import Annotated, Literal, Protocol, TypeVar

from pydantic import ConfigDict, Field, StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import TimingCourseError

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Point = tuple[Number, Number]
Thing = TypeVar("Thing")
AS_DECLARED = ConfigDict(extra="forbid", populate_by_name=True)


class RubricError(TimingCourseError):
    """A rubric file cannot be used."""


def proven(thing: Thing | None, what: str) -> Thing:
    """Something that a rubric may leave out by its form, and that the check of its exercise has asked for. Raises
    TypeError, a fault of ours, where it is not there all the same."""
    if thing is None:
        raise TypeError(f"{what} is missing in an exercise that was checked")
    return thing


@dataclass(frozen=True, config=AS_DECLARED)
class Criterion:
    """One criterion. `check` names the function that judges it; `sentences` holds what the learner reads for each
    finding of that function; `tolerances` are numbers that the function takes."""

    id: str
    title: str
    check: str
    points: Number
    sentences: dict[str, str]
    tolerances: dict[str, Number] = Field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class WrongNumber:
    """A number that a known mistake leads to: a value, or a formula over the exercise's names."""

    sentence: str
    misconception: str
    value: Number | None = None
    formula: str = ""


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class NumberField:
    """One line of a sum: `sign` (+, -, =) stands before its label; its own sentences go before the exercise's."""

    id: str
    label: str
    unit: str
    tolerance: Number
    units: tuple[str, ...] = ()
    sign: str = ""
    value: Number | None = None
    formula: str = ""
    points: Number | None = None
    wrong: tuple[WrongNumber, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)


class ValueOrFormula(Protocol):
    """A number that a rubric gives as a value, or as a formula that has the value worked out for each learner."""

    @property
    def value(self) -> float | None: ...
    @property
    def formula(self) -> str: ...


class NumberWanted(ValueOrFormula, Protocol):
    """What a number that is asked for has, as an exercise by itself or as one line of a sum."""

    @property
    def unit(self) -> str: ...
    @property
    def units(self) -> tuple[str, ...]: ...
    @property
    def tolerance(self) -> float: ...
    @property
    def wrong(self) -> tuple[WrongNumber, ...]: ...
    @property
    def sentences(self) -> dict[str, str]: ...


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class NumberDraw:
    """Where a learner's own number comes from: low to high by steps, or one of a list (`from` in the file). Or `words`,
    one of which stands in texts and in no formula."""

    low: Number | None = None
    high: Number | None = None
    step: Number | None = None
    one_of: tuple[Number, ...] = Field(default=(), alias="from")
    words: tuple[str, ...] = ()

    @property
    def by_steps(self) -> tuple[float, float, float] | None:
        """low, high and step, where all three are given."""
        if self.low is None or self.high is None or self.step is None:
            return None
        return self.low, self.high, self.step


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class Day:
    """The day of an exercise: altitude, air and fuel; the fuel is the card's own where none is given."""

    altitude_ft: Number = 0.0
    ambient_c: Number = 20.0
    humidity_percent: Number = 0.0
    octane_ron: Number | None = None
    octane_mon: Number | None = None


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class FoundAs:
    """How the engine of an exercise is found: as its owner left it or set by its label (and how far off it, in crank
    degrees), cold or warm, whether a colleague has made it safe and hooked up the gauges, with which springs on its
    weights (the maker's where none are named), and whether a label gives its base timing."""

    set_by: Literal["owner", "label"] = "owner"
    off_label_deg: Number = 0.0
    warm: StrictBool = False
    prepared: StrictBool = False
    springs: str = ""
    no_figure: StrictBool = False


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class ExerciseRubric:
    """What every exercise has. Each kind adds its own fields: graders/exercises/kinds/, one module a kind.

    `engine` names the engine card that the exercise is about, where it is about one (the whole path, without ending,
    of a card that is the class's own). `points` may be left out where the parts of an exercise have points.
    """

    id: str
    title: str
    kind: str
    objective: str
    points: Number = 0.0
    question: str = ""
    engine: str = ""


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class EngineExercise(ExerciseRubric):
    """An exercise at an engine: its day, how it is found, controls beyond the usual ones (`tools`), and the faults of
    which each learner's engine has one ("none" among them).

    Where `guessable` is false the label often does not fit the engine, for a reason that its nameplate shows, and a new
    attempt after a check is at another engine.
    """

    day: Day = Field(default_factory=Day)
    found: FoundAs = Field(default_factory=FoundAs)
    tools: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    guessable: StrictBool = True
