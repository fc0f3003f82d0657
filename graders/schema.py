"""One exercise as a rubric describes it: checked tables for the parts of every kind, and the exercise itself.

The tables are pydantic's, so that a field of the wrong form or an unknown one is refused with its place and name.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import TimingCourseError

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Point = tuple[Number, Number]
_AS_DECLARED = ConfigDict(extra="forbid", populate_by_name=True)


class RubricError(TimingCourseError):
    """A rubric file cannot be used."""


@dataclass(frozen=True, config=_AS_DECLARED)
class Criterion:
    """One criterion. `check` names the function that judges it; `sentences` holds what the learner reads for each
    finding of that function; `tolerances` are numbers that the function takes."""

    id: str
    title: str
    check: str
    points: Number
    sentences: dict[str, str]
    tolerances: dict[str, Number] = Field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class Choice:
    """One answer to choose or tick. `sentence` is the feedback, `misconception` the belief behind it.

    Which one is right depends on the learner's engine where a choice names the `pattern` of a needle or the `fault`
    that it stands for ("none" for a sound engine); its sentence is then said where it is wrong.

    In an exercise with several right answers, `sentence` is for those who judged this one wrongly: ticked a wrong
    one, or left a right one out; the sentence of a right one is a hint, then, and does not say which one it is.
    """

    id: str
    text: str
    sentence: str
    right: StrictBool = False
    misconception: str | None = None
    pattern: str = ""
    fault: str = ""


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class WrongNumber:
    """A number that a known mistake leads to: a value, or a formula over the exercise's names."""

    sentence: str
    misconception: str
    value: Number | None = None
    formula: str = ""


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
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


@dataclass(frozen=True, config=_AS_DECLARED)
class Step:
    """One step to put in its place."""

    id: str
    text: str


@dataclass(frozen=True, config=_AS_DECLARED)
class Before:
    """`first` has to come before `then`; `sentence` and `misconception` are for an order in which it does not."""

    first: str
    then: str
    sentence: str = ""
    misconception: str | None = None


@dataclass(frozen=True, config=_AS_DECLARED)
class WrongPort:
    """A port that a known mistake leads to."""

    port: str
    sentence: str
    misconception: str | None = None


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class Hose:
    """A hose that begins at `start` and has to end at one of the `allowed` ports."""

    id: str
    label: str
    start: str
    allowed: tuple[str, ...]
    wrong: tuple[WrongPort, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class CurveAxes:
    """The sheet on which a curve is drawn: speed [rpm] and advance [degrees], each from low to high by steps."""

    rpm: Point
    degrees: Point
    unit: str = "crank degrees"
    rpm_step: Number = 50.0
    degrees_step: Number = 0.5
    fewest_points: int = 2
    most_points: int = 8


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class CurveCheck:
    """One criterion of a curve, of one sort: the advance `at` a speed lies from `low` to `high`; no stretch is
    steeper than `max_slope_deg_per_1000rpm`; the largest advance lies from `total_low` to `total_high`; the curve
    `never_falls`; or `judge_with` names a function of graders/exercises/engine_answers.py.

    `sentences` and `misconceptions` go by finding: met; low or high; steep; falls; or what the function finds.
    """

    id: str
    title: str
    points: Number
    sentences: dict[str, str]
    misconceptions: dict[str, str] = Field(default_factory=dict)
    at: Number | None = None
    low: Number | None = None
    high: Number | None = None
    max_slope_deg_per_1000rpm: Number | None = None
    total_low: Number | None = None
    total_high: Number | None = None
    never_falls: StrictBool = False
    judge_with: str = ""


@dataclass(frozen=True, config=_AS_DECLARED)
class CurveExample:
    """A curve that somebody draws who holds a misconception."""

    misconception: str
    curve: tuple[Point, ...]


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class MarkedFor:
    """One thing that a person looks for in a written answer: its points, and what an answer is like that earns none of
    them, half, and all (`levels`, in this order)."""

    id: str
    title: str
    points: Number
    levels: tuple[str, str, str]


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class NumberDraw:
    """Where a learner's own number comes from: low to high by steps, or one of a list (`from` in the file). Or `words`,
    one of which stands in texts and in no formula."""

    low: Number | None = None
    high: Number | None = None
    step: Number | None = None
    one_of: tuple[Number, ...] = Field(default=(), alias="from")
    words: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class Day:
    """The day of an exercise: altitude, air and fuel; the fuel is the card's own where none is given."""

    altitude_ft: Number = 0.0
    ambient_c: Number = 20.0
    humidity_percent: Number = 0.0
    octane_ron: Number | None = None
    octane_mon: Number | None = None


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class FoundAs:
    """How the engine of an exercise is found: as its owner left it or set by its label (and how far off it, in crank
    degrees), cold or warm, and whether a colleague has made it safe and hooked up the gauges."""

    set_by: Literal["owner", "label"] = "owner"
    off_label_deg: Number = 0.0
    warm: StrictBool = False
    prepared: StrictBool = False


@dataclass(frozen=True, kw_only=True, config=_AS_DECLARED)
class ExerciseRubric:
    """One exercise as the judge sees it; fields that do not belong to its kind are empty.

    `day`, `found`, `tools` (controls beyond the usual ones) and `faults` (of which each learner's engine has one,
    "none" among them) are for exercises at an engine. `draw`, `answer_from` and `worked_out` give names to numbers, in
    this order: drawn for the learner, told by a function of graders/exercises/engine_answers.py, and formulas over the
    names before. Texts hold them as {name}. `inspections` are what a diagnosis offers, `budget_minutes` what they may
    take together, `first` those that come before parts come off.
    """

    id: str
    title: str
    kind: str
    objective: str
    points: Number = 0.0
    question: str = ""
    engine: str = ""
    day: Day = Field(default_factory=Day)
    found: FoundAs = Field(default_factory=FoundAs)
    tools: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    criteria: tuple[Criterion, ...] = ()
    choices: tuple[Choice, ...] = ()
    shuffle: StrictBool | None = None
    partial: StrictBool = True
    units: tuple[str, ...] = ()
    value: Number | None = None
    formula: str = ""
    unit: str = ""
    tolerance: Number = 0.0
    wrong: tuple[WrongNumber, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)
    fields: tuple[NumberField, ...] = ()
    steps: tuple[Step, ...] = ()
    before: tuple[Before, ...] = ()
    ports: tuple[str, ...] = ()
    shared_ports: tuple[str, ...] = ()
    hoses: tuple[Hose, ...] = ()
    axes: CurveAxes | None = None
    start: tuple[Point, ...] = ()
    reference: tuple[Point, ...] = ()
    checks: tuple[CurveCheck, ...] = ()
    examples: tuple[CurveExample, ...] = ()
    inspections: tuple[str, ...] = ()
    budget_minutes: Number = 0.0
    first: tuple[str, ...] = ()
    marking: tuple[MarkedFor, ...] = ()
    draw: dict[str, NumberDraw] = Field(default_factory=dict)
    answer_from: str = ""
    worked_out: dict[str, str] = Field(default_factory=dict)
