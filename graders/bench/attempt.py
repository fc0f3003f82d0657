"""What a criterion over work at the bench sees, what it answers, and how it becomes known by its name.

A criterion looks at one attempt and says how much of it was met, and why not. It returns a CheckFinding: the share of
its points (0 to 1), the name of the finding (for which the rubric holds the sentence), and the misconception that it
shows, where it shows one. It sees the engine's true states, as the judge's own simulator replayed them; it never sees
what the learner's screen showed.
"""

from __future__ import annotations

import numbers
from bisect import bisect_left
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from engine_sim import SAMPLE_EVERY_TICKS, SOUND, TICK_S, Conditions, Engine, Trajectory
from engine_sim.workshop.trajectory import ActionRecord, Sample

from .label import AS_MADE, Label
from .reference import PLATEAU_STEP_DEG, Reference, reference_for

SAMPLE_S = SAMPLE_EVERY_TICKS * TICK_S  # between two samples of a trajectory
SMALL_CORRECTION_DEG = 1.1  # crank degrees turned back that are a hand's correction: one, with room for rounding
CREEP_DEG = 0.75  # crank degrees that a clamp may add when it bites; more than any in population.toml
NEARLY = 2.0  # tolerances: what misses by no more than this many earns half of the points


@dataclass(frozen=True)
class CheckFinding:
    """What a criterion found; `values` fill the braces of the rubric's sentence."""

    share: float
    name: str
    misconception: str | None = None
    values: dict = field(default_factory=dict)


class UndeclaredError(Exception):
    """A criterion did something that it does not declare: a fault of ours, never of a learner's work."""


MISSING = CheckFinding(0.0, "missing")


@dataclass(frozen=True)
class Attempt:
    """One attempt at the bench, with the engine it was made on, the day, the id of its fault, empty for none, and what
    its label is worth."""

    trajectory: Trajectory
    engine: Engine
    conditions: Conditions
    fault: str = ""
    label: Label = AS_MADE

    @cached_property
    def reference(self) -> Reference:
        """What the method gives on this engine on this day, without its fault. Raises OutsideValidity where it has no
        peak."""
        return reference_for(self.engine.card, self.conditions, SOUND if self.fault else self.engine.wear)

    @cached_property
    def done(self) -> list[ActionRecord]:
        """The acts that took effect, in their order."""
        return [action for action in self.trajectory.actions if action.kind == "done"]

    @cached_property
    def turns(self) -> list[ActionRecord]:
        """The turns of the distributor on the running engine."""
        return [action for action in self.done if action.control == "distributor" and action.running]

    def turned_away(self, further_deg: float) -> bool:
        """Whether the running engine's timing was ever turned away from where it stood before the first turn by more
        than so much [crank deg]."""
        from_deg = self.turns[0].base_timing_deg if self.turns else 0.0
        return bool(self.turns) and any(
            abs(sample.base_timing_deg - from_deg) > further_deg for sample in self.trajectory.samples
        )

    @cached_property
    def setting(self) -> list[ActionRecord]:
        """The turns that set the timing: before the first drive, and while the search and the backing off went on."""
        first_drive = next((action.time_s for action in self.done if action.control == "road_check"), float("inf"))
        return [action for action in self.turns if action.time_s <= first_drive]

    @cached_property
    def at_rest(self) -> list[Sample]:
        """The samples in the workshop, before and between drives."""
        return [sample for sample in self.trajectory.samples if not sample.on_road]

    @property
    def final_timing_deg(self) -> float:
        """Where the base timing was left [crank deg BTDC]."""
        return self.trajectory.samples[-1].base_timing_deg

    @cached_property
    def search(self) -> list[Sample]:
        """The samples from the first turn that sets the timing to the act after the last one: the search, the backing
        off and the settling, before anything is put back."""
        if not self.setting:
            return []
        first, last = self.setting[0].time_s, self.setting[-1].time_s
        end = next((action.time_s for action in self.done if action.time_s > last), float("inf"))
        return [
            sample for sample in self.at_rest if sample.running and first <= sample.time_s <= max(end, last + SAMPLE_S)
        ]

    @cached_property
    def at_peak(self) -> list[Sample]:
        """The samples of the search in which the spark was on the plateau of highest vacuum."""
        least_deg = self.reference.plateau_from_deg - PLATEAU_STEP_DEG
        return [sample for sample, lead in zip(self.search, self.idle_lead_deg, strict=True) if lead >= least_deg]

    @cached_property
    def idle_lead_deg(self) -> np.ndarray:
        """Base and vacuum advance [crank deg BTDC] at each sample of the search: the total without what the weights
        add at a fast idle."""
        total_deg = np.array([sample.advance_deg for sample in self.search])
        speed_rpm = np.array([sample.speed_rpm for sample in self.search])
        return total_deg - self.engine.advance_deg(0.0, speed_rpm, 0.0)

    @cached_property
    def kept_peak(self) -> bool:
        """Whether the search ended on the plateau."""
        return bool(self.at_peak) and self.at_peak[-1] is self.search[-1]

    @cached_property
    def departure(self) -> ActionRecord | None:
        """The first turn of the last run of retards, which began at the peak; None where the peak was never left.

        The run begins after the last change of the idle screw, and a turn back by no more than a degree does not end
        it: hands correct themselves.
        """
        if not self.at_peak or self.kept_peak:
            return None
        screw = max(
            (
                action.time_s
                for action in self.done
                if action.control == "idle_screw" and action.time_s < self.setting[-1].time_s
            ),
            default=0.0,
        )
        after = [*(action.base_timing_deg for action in self.setting[1:]), self.search[-1].base_timing_deg]
        first = None
        for action, left_at in reversed(list(zip(self.setting, after, strict=True))):
            if action.time_s < screw or left_at > action.base_timing_deg + SMALL_CORRECTION_DEG:
                break
            if left_at < action.base_timing_deg:
                first = action
        return first


@dataclass(frozen=True, kw_only=True)
class Check:
    """A criterion with all that it can say: rubrics are held to it when they are read, and it is held to it itself.

    `findings` are the names it can return, `tolerances` the numbers it reads; `values` holds, by finding, the values
    that fill braces, each with its type (float, int or str). `retired` are names of findings and tolerances that
    earlier editions had and nothing reads today: a rubric that a class made then may keep them. `usual` holds the
    values of those tolerances that such a rubric may leave out. `tells` says that its sentences tell of the engine what
    no instrument shows: once they were shown, the criterion earns no more in that attempt.
    """

    function: Callable[[Attempt, dict], CheckFinding]
    findings: tuple[str, ...]
    tolerances: tuple[str, ...]
    values: Mapping[str, Mapping[str, type]]
    retired: tuple[str, ...]
    usual: Mapping[str, float] = field(default_factory=dict)
    tells: bool = False

    def __call__(self, attempt: Attempt, tolerances: Mapping[str, float]) -> CheckFinding:
        """What the criterion found. Raises UndeclaredError for what its declaration does not hold, and KeyError for a
        tolerance that it reads and does not declare."""
        given = {**self.usual, **tolerances}
        found = self.function(attempt, {name: given[name] for name in self.tolerances})
        if found.name not in self.findings:
            raise UndeclaredError(f"{self.function.__name__} found '{found.name}', which it does not declare.")
        declared = self.values.get(found.name, {})
        if set(found.values) != set(declared) or not all(
            isinstance(found.values[name], _TYPES[kind]) for name, kind in declared.items()
        ):
            raise UndeclaredError(
                f"{self.function.__name__} declares for '{found.name}' the values {dict(declared)} and gave "
                f"{found.values}."
            )
        return found

    def counted(self, attempt: Attempt, tolerances: Mapping[str, float]) -> tuple[CheckFinding, bool]:
        """What counts of an attempt, and whether that is less than what it came to: a check that tells counts at most
        what it found at the first verdict at which it had something to tell."""
        found, verdicts = self(attempt, tolerances), attempt.trajectory.verdicts
        if not self.tells or not verdicts:
            return found, False
        place = bisect_left(verdicts, True, key=lambda one: self._at(one, attempt, tolerances).name != "missing")
        then = self._at(verdicts[min(place, len(verdicts) - 1)], attempt, tolerances)
        return (then, True) if then.name != "missing" and then.share < found.share else (found, False)

    def _at(self, verdict: tuple, attempt: Attempt, tolerances: Mapping[str, float]) -> CheckFinding:
        return self(replace(attempt, trajectory=attempt.trajectory.as_at(verdict)), tolerances)


CHECKS: dict[str, Check] = {}
OFF_BY = {"off": float, "side": str}  # how far from where it belongs [crank deg], and "early" or "late"
_TYPES = {float: numbers.Real, int: numbers.Integral, str: str}


def check(
    *,
    findings: tuple[str, ...],
    tolerances: tuple[str, ...] = (),
    values: Mapping[str, Mapping[str, type]] = MappingProxyType({}),
    retired: tuple[str, ...] = (),
    usual: Mapping[str, float] = MappingProxyType({}),
    tells: bool = False,
) -> Callable[[Callable[[Attempt, dict], CheckFinding]], Check]:
    """Make a criterion known by its name, which rubrics use, with what it declares (see Check)."""

    def known(function: Callable[[Attempt, dict], CheckFinding]) -> Check:
        CHECKS[function.__name__] = Check(
            function=function,
            findings=findings,
            tolerances=tolerances,
            values=values,
            retired=retired,
            usual=usual,
            tells=tells,
        )
        return CHECKS[function.__name__]

    return known
