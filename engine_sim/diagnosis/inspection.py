"""What an inspection in the workshop is, and the engine as it stands there to be inspected.

An inspection reads the engine as it is: its card, its state of wear, how its adjustments were found. It never asks
which fault was put into it. What a workshop would call out of order stands beside each inspection as a limit.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property

from engine_sim.model.conditions import SEA_LEVEL_DAY, Conditions
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics, Motion
from engine_sim.model.engine import Engine
from engine_sim.model.population import AsFound, Draw
from engine_sim.model.starting import under_way
from engine_sim.model.wear import Wear
from engine_sim.physics import units
from engine_sim.physics.distributor import HOSE_PLUGGED
from engine_sim.workshop import adjustments
from engine_sim.workshop.session import Readings, Session

WARM_C = 85.0  # coolant of an engine that was driven to the workshop
TOOLS = ("hold_speed", "timing_light", "dwell_meter")
START_S = 7.0  # in which an engine that starts has started
SETTLE_S = 12.0  # in which its idle settles
HELPED_BY_DISTRIBUTOR_DEG = 12.0  # towards advance, where an engine does not start by itself
BEGIN_AT_RPM = 800.0  # from where a settled idle is looked for
BEGIN_AT_SHARE = 0.4  # manifold over ambient pressure, from where it is looked for
Look = Callable[["OnTheStand"], "Finding"]
DOES_NOT_RUN = "The engine does not run, so this cannot be looked at."


@dataclass(frozen=True)
class SeenOnGauge:
    """Where the needle of the vacuum gauge moved, from the lowest to the highest [inHg], and when that was."""

    when: str
    lowest_inhg: float
    highest_inhg: float


@dataclass(frozen=True)
class Finding:
    """What an inspection told: one or two sentences, whether a workshop would call it in order, and what was seen on
    the vacuum gauge where it was watched."""

    text: str
    in_order: bool
    seen: tuple[SeenOnGauge, ...] = ()


class OnTheStand:
    """One engine in the workshop, made safe, gauges on, warm where it has to run; `draw` gives the noise."""

    def __init__(self, engine: Engine, found: AsFound, conditions: Conditions, draw: Draw | None = None):
        self.engine, self.conditions, self.draw = engine, conditions, draw or Draw("inspection")
        self.card, self.wear = engine.card, engine.wear
        self.found = replace(found, prepared=True, coolant_c=WARM_C)
        self.settings = adjustments.settings_as_found(self.card, self.found)

    def near(self, value: float, spread: float, step: float) -> float:
        """A reading of a value: off by up to `spread` either way, and rounded to `step`."""
        return step * round((value + self.draw.between(-spread, spread)) / step)

    @cached_property
    def sound(self) -> Engine:
        """An engine of the same card with nothing wrong: what the maker's sheet describes."""
        return Engine(self.card)

    @property
    def base_timing_deg(self) -> float:
        """Base timing as it truly stands [crank deg BTDC]."""
        return adjustments.base_timing_deg(self.card, self.found, self.settings, 0.0)

    # ---- running -----------------------------------------------------------------------------------------------

    def started(self, wear: Wear | None = None) -> Session | None:
        """The engine running by itself at idle and settled, advance hose off and plugged; None where it does not run.

        One that does not start is helped, by turning the distributor towards advance until it has started.
        """
        engine = self.engine if wear is None else Engine(self.card, wear)
        for helped_deg in (0.0, HELPED_BY_DISTRIBUTOR_DEG):
            session = Session(engine, conditions=self.conditions, found=self.found, tools=TOOLS)
            session.act("timing_light", "on")
            if helped_deg:
                self._turn(session, helped_deg)
            session.act("throttle", 0.1)
            session.act("starter")
            session.advance(START_S)
            session.act("throttle", 0.0)
            if helped_deg:
                session.act("distributor", 0.0)
            session.advance(SETTLE_S)
            if session.running:
                return session
        return None

    def held(self, session: Session, speed_rpm: float, seconds: float) -> None:
        """Hold a speed, or let it idle for 0; an engine that dies on the way is started again, once. A blocked exhaust
        chokes one when the throttle closes."""
        session.act("hold_speed", speed_rpm)
        session.advance(seconds)
        if session.running:
            return
        session.act("hold_speed", 0.0)
        session.act("throttle", 0.1)
        session.act("starter")
        session.advance(START_S)
        session.act("throttle", 0.0)
        session.advance(SETTLE_S)
        session.act("hold_speed", speed_rpm)
        session.advance(seconds)

    def _turn(self, session: Session, towards_advance_deg: float) -> None:
        sense = 1.0 if self.card.distributor.rotor_turns == "anticlockwise" else -1.0
        session.act("clamp", "loose")
        session.act("distributor", sense * towards_advance_deg)

    @cached_property
    def inputs(self) -> ControlInputs:
        """The adjustments as they stand, ignition on, hose off and plugged, throttle closed."""
        inputs = ControlInputs(base_timing_deg=self.base_timing_deg, idle_screw=self.found.idle_screw, ignition=True)
        adjustments.set_inputs(inputs, self.card, self.found, self.settings, 0.0)
        inputs.vacuum_hose = HOSE_PLUGGED
        return inputs

    def idle_rpm(self, wear: Wear | None = None, **adjusted) -> float:
        """Mean speed at which the warm engine settles with its hands `adjusted`; 0 where it stops [rpm]."""
        engine = self.engine if wear is None else Engine(self.card, wear)
        inputs = copy(self.inputs)
        for name, value in adjusted.items():
            setattr(inputs, name, value)
        dynamics = Dynamics(engine, self.conditions)
        motion = Motion(
            speed_rad_s=units.rad_s_from_rpm(BEGIN_AT_RPM),
            manifold_pa=BEGIN_AT_SHARE * dynamics.ambient_pa,
            coolant_c=WARM_C,
            start=under_way(),
        )
        for _ in range(round(SETTLE_S / TICK_S)):
            dynamics.tick(motion, inputs)
        return motion.speed_rpm


@dataclass(frozen=True)
class Inspection:
    """One inspection: its name for people, how long it takes, whether it is made on an engine at rest, and whether
    parts come off that an owner pays to have put on again."""

    id: str
    title: str
    minutes: int
    at_rest: bool
    takes_apart: bool
    _look: Look

    def look(
        self, engine: Engine, found: AsFound, conditions: Conditions = SEA_LEVEL_DAY, draw: Draw | None = None
    ) -> Finding:
        """What it tells of this engine, and whether that is in order; the same for the same draw."""
        return self._look(OnTheStand(engine, found, conditions, draw))

    def tell(
        self, engine: Engine, found: AsFound, conditions: Conditions = SEA_LEVEL_DAY, draw: Draw | None = None
    ) -> str:
        """The sentences alone."""
        return self.look(engine, found, conditions, draw).text


def maker(at_rest: bool, table: dict[str, Inspection]) -> Callable[..., Callable[[Look], Look]]:
    """A decorator that enters an inspection of this sort in a table under its function's name."""

    def inspection(title: str, minutes: int, takes_apart: bool = False):
        def known(look):
            table[look.__name__] = Inspection(look.__name__, title, minutes, at_rest, takes_apart, look)
            return look

        return known

    return inspection


# ---- words for readings --------------------------------------------------------------------------------------------


def watched(session: Session, seconds: float, every_s: float = 0.1) -> list[Readings]:
    """What the instruments show over a while."""
    seen = []
    for _ in range(round(seconds / every_s)):
        session.advance(every_s)
        seen.append(session.readings())
    return seen


def mean(values: Iterable[float]) -> float:
    """Arithmetic mean."""
    return statistics.fmean(values)


def pressure_words(pascal: float, step_kpa: float = 1.0) -> str:
    """A pressure in kPa and psi."""
    kilopascal = step_kpa * round(pascal / 1e3 / step_kpa)
    digits = 1 if step_kpa < 1.0 else 0
    return f"{kilopascal:,.{digits}f} kPa ({kilopascal * 1e3 / units.PA_PER_PSI:.{digits}f} psi)"


def vacuum_words(inhg: float) -> str:
    """A vacuum in inHg and kPa."""
    return f"{inhg:.1f} inHg ({inhg * units.KPA_PER_INHG:.0f} kPa)"


def listed(values: Iterable[float], digits: int = 0) -> str:
    """Numbers in a row."""
    return ", ".join(f"{value:,.{digits}f}" for value in values)
