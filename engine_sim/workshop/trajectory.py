"""What a judge sees of a session: every act with the engine's true state at that moment, and the path between."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Protocol

from engine_sim.model.conditions import Conditions
from engine_sim.model.dynamics import TICK_S, ControlInputs, Motion
from engine_sim.physics.units import PA_PER_INHG

from .instruments import CLEAR_PING

SAMPLE_EVERY_TICKS = 10  # five samples a second


@dataclass(frozen=True)
class ActionRecord:
    """One act, and the engine as it truly was just before it took effect."""

    time_s: float
    control: str
    value: str | float | None
    kind: str  # done, stopped, not possible
    running: bool
    base_timing_deg: float
    idle_screw: float
    speed_rpm: float
    vacuum_inhg: float
    coolant_c: float
    settings: dict


@dataclass(frozen=True)
class Sample:
    """The engine's true state, about five times a second."""

    time_s: float
    running: bool
    base_timing_deg: float
    advance_deg: float  # total: base, centrifugal and vacuum
    idle_screw: float
    speed_rpm: float
    vacuum_inhg: float
    coolant_c: float
    throttle: float
    vacuum_hose: str
    on_road: bool
    coupling: str = "neutral"  # of the engine, as ControlInputs has it


@dataclass(frozen=True)
class DriveRecord:
    """One road check: when it ended, with which hose and setting, how much it pinged (share of cycles), whether it was
    driven to its end, on which road and fuel, between which speeds it pinged, and fuel and way of the whole drive."""

    time_s: float
    vacuum_hose: str
    base_timing_deg: float
    worst_ping: float
    complete: bool
    route: str = "full pull"
    fuel: str = "as found"
    pinged_from_rpm: float | None = None
    pinged_to_rpm: float | None = None
    fuel_kg: float = 0.0
    way_m: float = 0.0

    @property
    def told(self) -> bool:
        """Whether it told what it was driven for: it came to its end, or the throttle was shut because it pinged."""
        return self.complete or self.worst_ping >= CLEAR_PING


@dataclass
class Trajectory:
    """One attempt from its beginning to its last act, on the engine of that number among the learner's own."""

    actions: list[ActionRecord] = field(default_factory=list)
    samples: list[Sample] = field(default_factory=list)
    drives: list[DriveRecord] = field(default_factory=list)
    settings: dict = field(default_factory=dict)  # as the attempt was left
    engine_number: int = 0
    hints: list[str] = field(default_factory=list)  # the steps of which the learner asked what comes next
    verdicts: list[tuple[int, int, int]] = field(default_factory=list)  # acts, samples and drives before each verdict
    closed: bool = False  # the learner was shown the engine's own curve: what came after is not in here

    def as_at(self, verdict: tuple[int, int, int]) -> Trajectory:
        """The attempt as it stood at a verdict."""
        acts, samples, drives = verdict
        left = self.actions[acts].settings if acts < len(self.actions) else self.settings
        return replace(
            self,
            actions=self.actions[:acts],
            samples=self.samples[:samples],
            drives=self.drives[:drives],
            settings=left,
            verdicts=[],
        )


class Recorded(Protocol):
    """What a recorder reads of a session."""

    conditions: Conditions
    settings: dict
    _motion: Motion
    _inputs: ControlInputs

    @property
    def time_s(self) -> float: ...
    @property
    def running(self) -> bool: ...
    @property
    def on_road(self) -> bool: ...


class Recorder:
    """Keeps the trajectory of one attempt while a session runs."""

    def __init__(self):
        self.trajectory = Trajectory()
        self._countdown = 0

    def act(self, session: Recorded, control: str, value: str | float | None, kind: str) -> None:
        """Keep one act with the state at its moment."""
        now = _sample(session)
        self.trajectory.actions.append(
            ActionRecord(
                time_s=now.time_s,
                control=control,
                value=value,
                kind=kind,
                running=now.running,
                base_timing_deg=now.base_timing_deg,
                idle_screw=now.idle_screw,
                speed_rpm=now.speed_rpm,
                vacuum_inhg=now.vacuum_inhg,
                coolant_c=now.coolant_c,
                settings=dict(session.settings),
            )
        )

    def verdict(self, session: Recorded) -> None:
        """Keep what there was when the learner was shown a verdict."""
        kept = self.trajectory
        kept.samples.append(_sample(session))
        kept.verdicts.append((len(kept.actions), len(kept.samples), len(kept.drives)))

    def end(self, session: Recorded) -> None:
        """Keep the state in which the attempt is left."""
        self.trajectory.samples.append(_sample(session))
        self.trajectory.settings = dict(session.settings)

    def sample(self, session: Recorded) -> None:
        """Keep every tenth tick."""
        self.pass_over(session, 1)

    def pass_over(self, session: Recorded, ticks: int) -> None:
        """Keep the state after these ticks where a tenth one was among them, and for each further tenth before."""
        self._countdown -= ticks
        if self._countdown >= 0:
            return
        now = _sample(session)
        for back in range((-self._countdown - 1) // SAMPLE_EVERY_TICKS, 0, -1):
            earlier_s = round(now.time_s - back * SAMPLE_EVERY_TICKS * TICK_S, 2)
            self.trajectory.samples.append(_at_another_time(now, earlier_s))
        self._countdown = SAMPLE_EVERY_TICKS - 1
        self.trajectory.samples.append(now)


def _at_another_time(sample: Sample, time_s: float) -> Sample:
    """The same state at another time, in a third of the time that `dataclasses.replace` takes."""
    made = object.__new__(Sample)
    vars(made).update(vars(sample), time_s=time_s)
    return made


def _sample(session: Recorded) -> Sample:
    motion, inputs = session._motion, session._inputs
    vacuum = (session.conditions.ambient_pa - motion.manifold_pa) / PA_PER_INHG
    return Sample(
        time_s=session.time_s,
        running=session.running,
        base_timing_deg=inputs.base_timing_deg,
        advance_deg=motion.total_advance_deg,
        idle_screw=inputs.idle_screw,
        speed_rpm=motion.speed_rpm,
        vacuum_inhg=vacuum,
        coolant_c=motion.coolant_c,
        throttle=inputs.throttle,
        vacuum_hose=inputs.vacuum_hose,
        on_road=session.on_road,
        coupling=inputs.coupling,
    )
