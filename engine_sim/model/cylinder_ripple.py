"""What single cylinders do around the mean: the events that make a needle flick, a speed waver and a note uneven.

The dynamics carry the mean of all cylinders. Here each cylinder's turn comes round: it may fire or not, hold its
charge or not, draw air or breathe it back. Its deviation from the mean pushes crank and manifold while its turn lasts:

    J dw'/dt = T' - J w'/t_w          dp'/dt = -(R T/V) m (draw' + w'/w) - p'/t_p

with the mean's own time constants t_w = J w/T and t_p = p/((R T/V) m). The engine does not feel it back, so that a
judge may leave it out; the seed is the bench's own. Every turn has its number, and its random numbers with it, so that
turns which nobody saw can be passed over: what they leave behind is forgotten within a cycle, but for the wandering
mixture, which is recalled.
"""

from __future__ import annotations

import math
from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from engine_sim.physics.knock import CYCLE_SPREAD_OCTANE
from engine_sim.physics.units import RPM_PER_CYCLE_HZ, RPM_PER_RAD_S

from .dynamics import TICK_S, ControlInputs, Dynamics, Motion
from .response_map import QUANTITIES
from .wear import HANGING_DRAW, HANGING_WORK, CylinderWear

if TYPE_CHECKING:
    from .card import EngineCard

WORK, MISFIRE = QUANTITIES.index("work_pa"), QUANTITIES.index("misfire")
SUBSTEPS = 4  # a tick; one is 5 ms, shorter than a turn of an eight-cylinder engine at 3,000 rpm
FOUR_PI = 4.0 * math.pi
MIXTURE_SPREAD = 0.005  # slow wander of the equivalence ratio that reaches the cylinders; calibration
SPREAD_PER_SHIFT = 0.06  # its growth as the idle mixture is set off by an equivalence ratio of 1; calibration
MIXTURE_MEMORY_S = 2.5  # how long the mixture stays rich or lean; calibration
MEMORIES_RECALLED = 8.0  # after so many of them next to nothing is left, e**-8
SLOPE_EVERY_TICKS = 25  # between two looks at the slopes below, which change slowly
SLOPE_STEP_PHI = 0.08  # equivalence ratio: a node of the map family, so that no blend is needed
SLOPE_STEP_DEG = 4.0  # crank degrees: wide enough for the flat top of the work
SLOWEST_TURN_RPM = 100.0  # slower, a cylinder's turn is taken to last as long as at this speed
LEAST_MEAN_PA = 1e4  # of mean pressure: below, a slope relative to it says nothing
LEAST_MISFIRE = 1e-3  # share of charges that go out: below, a slope relative to it says nothing
LEAST_SHARE = 0.05  # of mean work or draw: below, a deviation relative to it says nothing
LOUDEST_EXCESS_OCTANE = 4.0  # a charge that asks for so much more than the fuel has pings as loud as any; calibration
SOUND_CYLINDER = CylinderWear()
EVENT_BLOCK = 1024
LARGEST_SHARE = 0.3  # of the mean that a deviation may reach: beyond, the engine is stopping and the mean says so


class Ripple:
    """Follows one engine's cylinders, tick by tick. `pressure_pa` and `speed_rad_s` are deviations from the mean;
    `beats` the strength of the last firing of each cylinder (1 is the mean of a sound engine); `pings` the loudness
    0 to 1 of every charge that has pinged since `take_pings` was last called."""

    def __init__(self, dynamics: Dynamics, seed: int):
        self.dynamics, self.seed = dynamics, seed
        self.count = dynamics.engine.cylinders
        self.wear = dict(dynamics.engine.wear.cylinders)
        self.own_phi = mixture_of_cylinders(dynamics.engine.card, seed)
        self.beats: deque[float] = deque([1.0] * self.count, maxlen=self.count)
        self._pings: list[float] = []
        self._ticks = 0
        self._passed = 0.0  # turns of a cylinder, one firing each
        self._slopes_of = -1
        self._block = -1
        self._numbers: list[list[float]] = []
        self._leaked = [0.0] * self.count
        self.rest()

    def rest(self) -> None:
        """The engine stands still."""
        self.pressure_pa = self.speed_rad_s = 0.0
        self._work = self._draw = self._wander = 0.0
        self._slope_phi = self._slope_deg = self._slope_log_misfire = 0.0
        self._wandered = int(self._passed)

    def take_pings(self) -> tuple[float, ...]:
        """Loudness of the charges that have pinged since the last call."""
        taken, self._pings = tuple(self._pings), []
        return taken

    def follow(self, motion: Motion, inputs: ControlInputs) -> None:
        """Carry the deviations one tick forward."""
        if motion.speed_rad_s <= 0.0:
            self.rest()
            return
        if self._ticks // SLOPE_EVERY_TICKS != self._slopes_of:
            self._slopes_of = self._ticks // SLOPE_EVERY_TICKS
            self._take_slopes(motion, inputs)
        self._ticks += 1
        inertia = self.dynamics._inertia(inputs)
        drawn = self.dynamics.filling * motion.drawn_kg_s
        spin_down = max(motion.indicated_nm, 1.0) / (inertia * motion.speed_rad_s)
        empty = drawn / motion.manifold_pa
        dt = TICK_S / SUBSTEPS
        turn, pull = self._turns_in(dt, motion), motion.indicated_nm / inertia
        most_rad_s, most_pa = LARGEST_SHARE * motion.speed_rad_s, LARGEST_SHARE * motion.manifold_pa
        speed, pressure = self.speed_rad_s, self.pressure_pa
        for _ in range(SUBSTEPS):
            before = int(self._passed)
            self._passed += turn
            if int(self._passed) != before:
                self._begin_turn(int(self._passed), motion, inputs)
            speed = _within(speed + dt * (pull * self._work - speed * spin_down), most_rad_s)
            push = -drawn * (self._draw + speed / motion.speed_rad_s)
            pressure = _within((pressure + dt * push) / (1.0 + dt * empty), most_pa)
        self.speed_rad_s, self.pressure_pa = speed, pressure

    def pass_over(self, motion: Motion, ticks: int) -> None:
        """Let ticks go by that nobody sees and in which the engine stays as it is."""
        if motion.speed_rad_s <= 0.0:
            self.rest()
            return
        self._ticks += ticks
        self._passed += self._turns_in(ticks * TICK_S, motion)

    def recall(self, motion: Motion) -> None:
        """Bring the mixture to where the turns that were passed over have left it, taking the engine to have run as it
        runs now through all of them, or for as long as the mixture remembers."""
        rpm, now = max(motion.speed_rpm, SLOWEST_TURN_RPM), int(self._passed)
        remembered = MEMORIES_RECALLED * MIXTURE_MEMORY_S / pitch_time(rpm, self.count)
        turns = min(int(remembered), now - self._wandered)
        if turns < now - self._wandered:
            self._wander = 0.0
        for number in range(now - turns + 1, now + 1):
            self._wander_on(rpm, number)

    # ---- one cylinder's turn ----------------------------------------------------------------------------------

    def _turns_in(self, seconds: float, motion: Motion) -> float:
        return seconds * motion.speed_rad_s * self.count / FOUR_PI

    def _begin_turn(self, number: int, motion: Motion, inputs: ControlInputs) -> None:
        rpm, place = max(motion.speed_rad_s * RPM_PER_RAD_S, SLOWEST_TURN_RPM), number % self.count
        one = self.wear.get(place, SOUND_CYLINDER)
        mean_work, mean_draw = self.dynamics._shares(rpm)
        fires = (1.0 - motion.missed) * (1.0 - motion.misfire)
        goes_out = min(motion.misfire * math.exp(self._slope_log_misfire * self.own_phi[place]), 1.0)
        takes_fire = (1.0 - motion.missed) * (1.0 - goes_out)
        chance, hangs, spread, scatter, _, ping = self._numbers_of(number)
        strength, charge_fires, own_air = self._lean(place, one, motion, rpm, takes_fire)
        if _chance(hangs) < one.hangs_share:
            work, draw = HANGING_WORK, HANGING_DRAW
        else:
            work, draw = one.work_when_it_fires(rpm), one.draw_when_closed(rpm)
        fired = _chance(chance) < charge_fires * one.fires_share
        self._wander_on(rpm, number)
        shift = self.dynamics.mixture_shift(inputs)
        mixture = self._wander * (MIXTURE_SPREAD + SPREAD_PER_SHIFT * abs(shift)) + self.own_phi[place]
        offset = self.dynamics.engine.wear.shaft_play_deg * scatter
        had = (
            work * strength * (1.0 + motion.work_spread * spread + self._slope_phi * mixture + self._slope_deg * offset)
        )
        had = had if fired else 0.0
        self._work = had / max(mean_work * fires, LEAST_SHARE) - 1.0 if motion.burning else 0.0
        self._draw = (draw - own_air) / max(mean_draw, LEAST_SHARE) - 1.0 + self._own_air(place, own_air)
        self.beats.append(max(had, 0.0) * motion.burning)
        excess = CYCLE_SPREAD_OCTANE * ping - motion.octane_margin
        if fired and motion.burning and excess > 0.0:
            self._pings.append(min(excess / LOUDEST_EXCESS_OCTANE, 1.0))

    def _wander_on(self, rpm: float, number: int) -> None:
        """Let the mixture, in its own standard deviations, wander on for one turn."""
        keep = math.exp(-pitch_time(rpm, self.count) / MIXTURE_MEMORY_S)
        self._wander = keep * self._wander + math.sqrt(1.0 - keep * keep) * self._numbers_of(number)[4]
        self._wandered = number

    def _own_air(self, place: int, share: float) -> float:
        """Mean over all cylinders of the air that they get from leaks in their own runners."""
        self._leaked[place] = share
        return sum(self._leaked) / self.count

    def _lean(self, place: int, one: CylinderWear, motion: Motion, rpm: float, fires: float):
        """Strength of a charge with leaked air in it over that of the others, the share of such charges that burn, and
        the share of leaked air in them."""
        if not one.runner_leak_m2:
            return 1.0, fires, 0.0
        point = (rpm, motion.manifold_pa, motion.total_advance_deg)
        sound = self.dynamics.map.at_point(*point)
        thin = self.dynamics.own_false_air(place, sound[2], motion, rpm)
        lean = self.dynamics.engine.response(self.dynamics.conditions, 0.0, thin).at_point(*point)
        strength = max(lean[0], 0.0) / max(sound[0], 1.0)
        # a weak charge burns well in one cycle and goes out in the next: the mean is the map's
        return (1.0, fires * strength, thin) if strength < 1.0 else (strength, fires, thin)

    def _take_slopes(self, motion: Motion, inputs: ControlInputs) -> None:
        """How the work of a charge changes with its mixture, and with the moment of its spark, relative to itself, and
        the share of charges that go out, as a logarithm, with the mixture."""
        engine, point = self.dynamics.engine, (motion.speed_rpm, motion.manifold_pa)
        shift = self.dynamics.mixture_shift(inputs)
        rich, lean = (
            engine.response(self.dynamics.conditions, shift + step).at_point(*point, motion.total_advance_deg)
            for step in (SLOPE_STEP_PHI, -SLOPE_STEP_PHI)
        )
        mean = max(0.5 * (rich[WORK] + lean[WORK]), LEAST_MEAN_PA)
        self._slope_phi = (rich[WORK] - lean[WORK]) / (2.0 * SLOPE_STEP_PHI) / mean
        over = (max(rich[MISFIRE], 0.0) + LEAST_MISFIRE) / (max(lean[MISFIRE], 0.0) + LEAST_MISFIRE)
        self._slope_log_misfire = math.log(over) / (2.0 * SLOPE_STEP_PHI)
        if engine.wear.shaft_play_deg:
            response = engine.response(self.dynamics.conditions, shift)
            early, late = (
                response.at_point(*point, motion.total_advance_deg + step)[0]
                for step in (SLOPE_STEP_DEG, -SLOPE_STEP_DEG)
            )
            self._slope_deg = (early - late) / (2.0 * SLOPE_STEP_DEG) / mean

    def _numbers_of(self, number: int) -> list[float]:
        """The six normal numbers that belong to one turn."""
        block, row = divmod(number, EVENT_BLOCK)
        if block != self._block:
            self._block = block
            self._numbers = np.random.default_rng([self.seed, 7, block]).standard_normal((EVENT_BLOCK, 6)).tolist()
        return self._numbers[row]


def mixture_of_cylinders(card: EngineCard, seed: int) -> list[float]:
    """Equivalence ratio of each cylinder beside the mean of all, by its place in the firing order: one carburettor does
    not feed all runners alike. Their standard deviation is the card's, which runners get more is each engine's own."""
    numbers = np.random.default_rng([seed, 11]).standard_normal(card.block.cylinders)
    numbers -= numbers.mean()
    return (card.mixture.spread_between_cylinders / numbers.std() * numbers).tolist()


def _within(value: float, limit: float) -> float:
    if value > limit:
        return limit
    return value if value > -limit else -limit


def pitch_time(speed_rpm: float, cylinders: int) -> float:
    """Seconds from one firing to the next."""
    return RPM_PER_CYCLE_HZ / (speed_rpm * cylinders)


def _chance(normal: float) -> float:
    """An even number from 0 to 1, from a normal one."""
    return 0.5 * math.erfc(-normal / math.sqrt(2.0))
