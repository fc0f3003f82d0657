"""A curve of advance over speed, drawn by its points: straight between them, level before the first and after the
last."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path
from typing import ClassVar, Literal, Self

import numpy as np
from pydantic import Field, StrictBool
from pydantic.dataclasses import dataclass

from engine_sim import Draw, EngineCard, Header
from graders.exercises.engine_answers import CURVE_JUDGES, CurveFinding, PulledCurve
from graders.exercises.sentences import need_fillable
from graders.outcome import CriterionOutcome, Outcome
from graders.schema import AS_DECLARED, Number, Point, RubricError, proven

from .common import AnswerError, Parts, as_text, need, need_different, need_known, need_sentences, parts_in
from .exercise import Exercise, ModelAnswer

Curve = tuple[tuple[float, float], ...]
HAIR = 1e-9  # so that a limit is met also in binary numbers


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class CurveAxes:
    """The sheet on which a curve is drawn: speed [rpm] and advance [degrees], each from low to high by steps."""

    rpm: Point
    degrees: Point
    unit: str = "crank degrees"
    rpm_step: Number = 50.0
    degrees_step: Number = 0.5
    fewest_points: int = 2
    most_points: int = 8


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
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


@dataclass(frozen=True, config=AS_DECLARED)
class CurveExample:
    """A curve that somebody draws who holds a misconception."""

    misconception: str
    curve: tuple[Point, ...]


def advance_at(curve: Curve, rpm: float) -> float:
    """The advance of a curve at a speed."""
    speeds, degrees = zip(*curve, strict=True)
    return float(np.interp(rpm, speeds, degrees))


def slopes(curve: Curve) -> np.ndarray:
    """Degrees for each 1,000 rpm of every stretch of a curve."""
    speeds, degrees = np.transpose(curve)
    return np.diff(degrees) / np.diff(speeds) * 1000.0


# ---- the sorts of checks ---------------------------------------------------------------------------------------------


def _at(check: CurveCheck, curve: Curve) -> str:
    return _between(advance_at(curve, proven(check.at, "at")), check.low, check.high)


def _total(check: CurveCheck, curve: Curve) -> str:
    return _between(max(degrees for _, degrees in curve), check.total_low, check.total_high)


def _between(value: float, low: float | None, high: float | None) -> str:
    if low is not None and value < low - HAIR:
        return "low"
    return "high" if high is not None and value > high + HAIR else "met"


def _slope(check: CurveCheck, curve: Curve) -> str:
    limit = proven(check.max_slope_deg_per_1000rpm, "max_slope_deg_per_1000rpm")
    return "met" if slopes(curve).max() <= limit + HAIR else "steep"


def _never_falls(_check: CurveCheck, curve: Curve) -> str:
    return "met" if slopes(curve).min() >= -HAIR else "falls"


_SORTS = {
    "at": (_at, ("low", "high")),
    "max_slope_deg_per_1000rpm": (_slope, ("steep",)),
    "total": (_total, ("total_low", "total_high")),
    "never_falls": (_never_falls, ("falls",)),
}


def sorts_of(check: CurveCheck) -> list[str]:
    """The sorts of a check that a rubric has filled in; exactly one is wanted."""
    given = {
        "at": check.at is not None,
        "max_slope_deg_per_1000rpm": check.max_slope_deg_per_1000rpm is not None,
        "total": check.total_low is not None or check.total_high is not None,
        "never_falls": check.never_falls,
        "judge_with": bool(check.judge_with),
    }
    return [name for name, filled in given.items() if filled]


def findings_of(check: CurveCheck) -> tuple[str, ...]:
    """Everything but "met" that a check can find."""
    sort = sorts_of(check)[0]
    if sort == "judge_with":
        return CURVE_JUDGES[check.judge_with].findings
    limits = {"at": (check.low, check.high), "total": (check.total_low, check.total_high)}.get(sort)
    if limits is None:
        return _SORTS[sort][1]
    return tuple(name for name, limit in zip(("low", "high"), limits, strict=True) if limit is not None)


# ---- the kind --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class CurveExercise(Exercise):
    """A curve to draw on the sheet of `axes`, beginning from the points of `start`. `checks` are its criteria; the
    `reference` meets all of them (where one has `judge_with`: once it is moved to suit the engine), and `examples` are
    curves of people who hold a misconception."""

    kind: Literal["curve"]
    axes: CurveAxes | None = None
    start: tuple[Point, ...] = ()
    reference: tuple[Point, ...] = ()
    checks: tuple[CurveCheck, ...] = ()
    examples: tuple[CurveExample, ...] = ()

    minutes: ClassVar[float] = 5.0

    @property
    def sheet(self) -> CurveAxes:
        """The axes, which `check` has asked for."""
        return proven(self.axes, "axes")

    def check(self) -> None:
        """Raise RubricError unless the reference meets every check and every misconception has its example."""
        need(self.axes is not None, "axes is missing: give the sheet its rpm and degrees")
        need(bool(self.checks), "checks needs one check or more")
        need_different((check.id for check in self.checks), "checks")
        for check in self.checks:
            self._check_check(check)
        self._check_drawn(self.start, "start")
        self._check_drawn(self.reference, "reference")
        for example in self.examples:
            self._check_drawn(example.curve, f"examples of {example.misconception}")
        for check in self.checks:
            found = _found(check, self.reference, None).name if not check.judge_with else "met"
            need(found == "met", f"reference does not meet the check {check.id} ({found}): correct one of the two")
        without = self.misconceptions() - {example.misconception for example in self.examples}
        named = ", ".join(sorted(without))
        need(not without, f"examples has no curve for {named}: add what somebody draws who holds it")

    def _check_check(self, check: CurveCheck) -> None:
        where, sorts = f"checks.{check.id}", sorts_of(check)
        known = ", ".join((*_SORTS, "judge_with"))
        need(len(sorts) == 1, f"{where} wants one of {known}; it has {', '.join(sorts) or 'none'}")
        need(check.points > 0, f"{where}.points has to be more than none")
        need(not check.judge_with or bool(self.engine), f"{where}.judge_with needs the field engine of the exercise")
        need_known([check.judge_with] if check.judge_with else [], CURVE_JUDGES, f"{where}.judge_with")
        need(sorts[0] == "at" or (check.low is None and check.high is None), f"{where}: low and high belong to at")
        need(bool(findings_of(check)), f"{where} has no limit: give low or high")
        need_sentences(check.sentences, ("met", *findings_of(check)), f"{where}.sentences")
        values = CURVE_JUDGES[check.judge_with].values if check.judge_with else {}
        need_fillable(check.sentences, values, f"{where}.sentences")
        need_known(check.misconceptions, findings_of(check), f"{where}.misconceptions")

    def _check_drawn(self, curve: Curve, where: str) -> None:
        try:
            self.read(as_text(curve), None)
        except AnswerError as error:
            raise RubricError(f"{where} is no curve of this sheet: {error}") from None

    def parts(self) -> Parts:
        """Every check, with its points."""
        return [(f"{self.id}.{check.id}", check.title, check.points) for check in self.checks]

    def read(self, value: object, unit: str | None) -> Curve:
        """The points of a curve, by rising speed, on the sheet of the exercise."""
        axes, found = self.sheet, parts_in(value, list, "A list of points")
        if not axes.fewest_points <= len(found) <= axes.most_points:
            raise AnswerError(
                f"From {axes.fewest_points} to {axes.most_points} points were wanted and {len(found)} were found."
            )
        curve = tuple(_point(axes, number, point) for number, point in enumerate(found, start=1))
        for number, (earlier, later) in enumerate(pairwise(curve), start=2):
            if later[0] <= earlier[0]:
                raise AnswerError(f"Point {number} has to lie at a higher speed than point {number - 1}.")
        return curve

    def judge(self, answer: Curve, card: EngineCard | None) -> list[CriterionOutcome]:
        """Every check by itself."""
        return [
            _judged(part, check, _found(check, answer, card))
            for part, check in zip(self.parts(), self.checks, strict=True)
        ]

    def pulled(self, answer: Curve, card: EngineCard | None) -> PulledCurve | None:
        """An answer on the pull on which it is judged; None where no check is about one."""
        judges = [CURVE_JUDGES[check.judge_with] for check in self.checks if check.judge_with]
        pulls = [judge.pulled for judge in judges if judge.pulled is not None]
        return pulls[0](proven(card, "the engine"), answer) if pulls else None

    def for_engine(self, card: EngineCard | None, draw: Draw) -> Self:
        """The reference moved to where it suits the learner's own engine, where a check asks for that."""
        curve = self.reference
        for check in self.checks:
            if check.judge_with:
                curve = CURVE_JUDGES[check.judge_with].fitted(proven(card, "the engine"), curve)
        return replace(self, reference=curve)

    def model_answer(self) -> ModelAnswer:
        """The reference."""
        return ModelAnswer(as_text(self.reference))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """The points of the reference."""
        return "For example: " + ", ".join(f"{degrees:g} at {rpm:g} rpm" for rpm, degrees in self.reference)

    def form_traits(self) -> dict:
        """The sheet and the points to begin with."""
        return {"axes": json.loads(json.dumps(asdict(self.sheet))), "start": [list(point) for point in self.start]}

    def tables_with_points(self) -> Sequence[CurveCheck]:
        """The checks."""
        return self.checks

    def misconceptions(self) -> set[str]:
        """Those of the checks."""
        return {belief for check in self.checks for belief in check.misconceptions.values()}


def _point(axes: CurveAxes, number: int, point) -> tuple[float, float]:
    if not isinstance(point, list) or len(point) != 2 or not all(map(_is_number, point)):
        raise AnswerError(f"Point {number} wants a speed and an advance, both as numbers.")
    for value, (low, high), unit in zip(point, (axes.rpm, axes.degrees), ("rpm", axes.unit), strict=True):
        if not low <= value <= high:
            raise AnswerError(f"Point {number} lies at {value:g} {unit}; the sheet goes from {low:g} to {high:g}.")
    return float(point[0]), float(point[1])


def _is_number(value) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _judged(part, check: CurveCheck, found: CurveFinding) -> CriterionOutcome:
    name, title, points = part
    outcome = Outcome.MET if found.share == 1.0 else Outcome.NOT_YET
    sentence = check.sentences[found.name].format(**found.values)
    earned, belief = round(found.share * points, 2), check.misconceptions.get(found.name)
    return CriterionOutcome(
        criterion=name,
        title=title,
        outcome=outcome,
        points=earned,
        max_points=points,
        sentence=sentence,
        misconception=belief,
    )


def _found(check: CurveCheck, curve: Curve, card: EngineCard | None) -> CurveFinding:
    if check.judge_with:
        return CURVE_JUDGES[check.judge_with].function(proven(card, "the engine"), curve)
    name = _SORTS[sorts_of(check)[0]][0](check, curve)
    return CurveFinding(name, float(name == "met"))
