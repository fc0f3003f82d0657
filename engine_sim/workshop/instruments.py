"""What a person perceives: gauge and tachometer with lag and wobble, timing light, dwell meter, and the ear. Noise is
seeded and belongs to the instruments alone: the engine does not feel it, and a judge who replays the evidence does
not need it. Where nobody looks for a while, only the last seconds of it are filled in: a needle forgets sooner."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, replace
from operator import mul

import numpy as np

from engine_sim.model.cylinder_ripple import SUBSTEPS, Ripple
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics, Motion
from engine_sim.model.starting import LABOURS_FROM
from engine_sim.physics import units
from engine_sim.physics.fuel import DENSITY_KG_L
from engine_sim.physics.units import PA_PER_INHG, RPM_PER_RAD_S

NEEDLE_HZ = 8.0  # natural frequency of a workshop's vacuum gauge on a yard of hose; common practice
NEEDLE_DAMPING = 0.6  # of critical damping; common practice
NEEDLE_STIFFNESS = (2.0 * math.pi * NEEDLE_HZ) ** 2  # 1/s2
NEEDLE_DRAG = 2.0 * NEEDLE_DAMPING * 2.0 * math.pi * NEEDLE_HZ  # 1/s
TACHOMETER_LAG_S = 0.30  # common practice
GAUGE_WOBBLE_INHG = 0.05  # standard deviation on an even idle; common practice
GAUGE_WOBBLE_FULL_INHG = 5.0  # from this vacuum on the whole of it, less below; calibration
TACHOMETER_WOBBLE_RPM = 2.5  # standard deviation on an even idle; common practice
WOBBLE_MEMORY_S = 0.4  # how long a wobble lasts; calibration
TACHOMETER_STEP_RPM = 5.0  # in which it shows; common practice
BRAKE_LAG_S = 0.5  # of what the test stand's brake shows; common practice
FUEL_METER_LAG_S = 1.0  # common practice
TORQUE_WOBBLE_NM = 0.3  # standard deviation of the same; common practice
TIMING_LIGHT_SCATTER_DEG = 0.3  # standard deviation, crank degrees, on a sound distributor; common practice
TIMING_LIGHT_STEP_DEG = 0.5  # to which the eye reads the marks; common practice
DWELL_SCATTER_DEG = 0.2  # standard deviation, distributor degrees, on a sound distributor; common practice
DWELL_STEP_DEG = 0.5  # to which the eye reads the meter; common practice
PING_LAG_S = 0.3  # over which the ear adds pings up; calibration of the ear
BEATS_LAG_S = 1.0  # over which the ear judges the beat; calibration of the ear
NOISE_BLOCK = 2048  # ticks for which random numbers are drawn together
FILLED_IN_TICKS = 250  # five times the slowest lag, of the ear: what was before is next to forgotten, e**-5
TRACE_OF_PING = 0.03  # share of cycles that ping; calibration of the ear
CLEAR_PING = 0.15  # share of cycles; calibration of the ear
HEAVY_PING = 0.50  # share of cycles; calibration of the ear
BEATS_EVEN = 0.085  # standard deviation of the last beats up to which they sound even; calibration of the ear
BEATS_UNEVEN = 0.18  # above it the engine stumbles; calibration of the ear
LABOURS_BELOW_RPM = 480.0  # an idle that is close to stalling, to the ear; calibration
GLOWS_DULL_FROM_C = 525.0  # from which metal is seen to glow in the dark; Draper 1847, from memory
GLOWS_RED_FROM_C = 700.0  # from which it is seen by day; common practice, from memory
CRANKS_SLOWLY_BELOW_RPM = 120.0  # to the ear; calibration
CATCHES_FROM_SHARE = 0.3  # of the charge's work, from which a cranking engine is heard to catch; calibration


@dataclass
class _Unseen:
    """Ticks, the last of them `tick`, in which the engine was as these say and nobody looked."""

    motion: Motion
    inputs: ControlInputs
    gauge_share: float
    tick: int
    ticks: int


class Instruments:
    """Gauge, tachometer, timing light, dwell meter and ear of one bench. Call `follow` once a tick, or `pass_over` for
    ticks that nobody sees and `catch_up` before anybody looks."""

    def __init__(self, dynamics: Dynamics, seed: int):
        self.dynamics, self.seed = dynamics, seed
        self.ripple = Ripple(dynamics, seed)
        self.vacuum_inhg = self.speed_rpm = self.ping = 0.0
        self.unevenness = self.torque_nm = self.fuel_kg_s = 0.0
        self._needle_rate = 0.0
        self._wobble = [0.0, 0.0, 0.0]
        self._block = -1
        self._noise: list[list[float]] = []
        self._unseen: deque[_Unseen] = deque()
        self._unseen_ticks = 0
        self._left_out = False
        self._inputs = ControlInputs(base_timing_deg=0.0, idle_screw=0.0)

    def pass_over(self, motion: Motion, inputs: ControlInputs, gauge_share: float, tick: int, ticks: int) -> None:
        """Keep the last ticks that nobody sees; arguments as of `follow`, for `ticks` up to `tick`. Several at once are
        those in which the engine stays as it was."""
        if motion.asleep:
            return
        self._unseen_ticks += ticks
        if ticks > 1 and self._unseen:
            self._unseen[-1].tick, self._unseen[-1].ticks = tick, self._unseen[-1].ticks + ticks
        else:
            if inputs != self._inputs:
                self._inputs = replace(inputs)
            self._unseen.append(_Unseen(motion.copy(), self._inputs, gauge_share, tick, ticks))
        while self._unseen_ticks - self._unseen[0].ticks >= FILLED_IN_TICKS:
            oldest = self._unseen.popleft()
            self._unseen_ticks -= oldest.ticks
            self.ripple.pass_over(oldest.motion, oldest.ticks)
            self._left_out = True

    def catch_up(self) -> None:
        """Let the needles go through what nobody saw; pings that nobody heard are past."""
        if not self._unseen:
            return
        unseen, self._unseen, self._unseen_ticks = self._unseen, deque(), 0
        if self._left_out:
            self.ripple.recall(unseen[0].motion)
            self._left_out = False
        for one in unseen:
            for tick in range(one.tick - one.ticks + 1, one.tick + 1):
                self.follow(one.motion, one.inputs, one.gauge_share, tick)
        self.ripple.take_pings()

    def follow(self, motion: Motion, inputs: ControlInputs, gauge_share: float, tick: int) -> None:
        """Let the needles move for one tick; `gauge_share` is the share of manifold vacuum at the gauge's port."""
        self.ripple.follow(motion, inputs)
        pressure = motion.manifold_pa + self.ripple.pressure_pa
        self._swing(gauge_share * (self.dynamics.ambient_pa - pressure) / PA_PER_INHG)
        speed = (motion.speed_rad_s + self.ripple.speed_rad_s) * RPM_PER_RAD_S
        self.speed_rpm += (speed - self.speed_rpm) * (TICK_S / TACHOMETER_LAG_S)
        self.torque_nm += (motion.torque_nm - self.torque_nm) * (TICK_S / BRAKE_LAG_S)
        self.fuel_kg_s += (motion.fuel_kg_s - self.fuel_kg_s) * (TICK_S / FUEL_METER_LAG_S)
        self.ping += (motion.ping_rate - self.ping) * (TICK_S / PING_LAG_S)
        beats = self.ripple.beats
        mean = sum(beats) / len(beats)
        spread = math.sqrt(max(sum(map(mul, beats, beats)) / len(beats) - mean * mean, 0.0)) / max(mean, 0.1)
        self.unevenness += (spread - self.unevenness) * (TICK_S / BEATS_LAG_S)
        keep = 1.0 - TICK_S / WOBBLE_MEMORY_S
        fresh = math.sqrt(1.0 - keep * keep)
        self._wobble = [keep * last + fresh * draw for last, draw in zip(self._wobble, self._draw(tick), strict=True)]

    def _swing(self, vacuum_inhg: float) -> None:
        """The needle of the gauge: a damped swing."""
        dt, needle, speed = TICK_S / SUBSTEPS, self.vacuum_inhg, self._needle_rate
        for _ in range(SUBSTEPS):
            speed += dt * (NEEDLE_STIFFNESS * (vacuum_inhg - needle) - NEEDLE_DRAG * speed)
            needle += dt * speed
        self.vacuum_inhg, self._needle_rate = needle, speed

    def _draw(self, tick: int) -> list[float]:
        block, place = divmod(tick, NOISE_BLOCK)
        if block != self._block:
            self._block = block
            self._noise = np.random.default_rng([self.seed, block]).standard_normal((NOISE_BLOCK, 3)).tolist()
        return self._noise[place]

    def vacuum_shown_inhg(self, motion: Motion) -> float:
        """What the needle of the vacuum gauge shows [inHg]."""
        wobble = GAUGE_WOBBLE_INHG * self._wobble[0] if motion.speed_rad_s else 0.0
        return max(self.vacuum_inhg + wobble * min(self.vacuum_inhg / GAUGE_WOBBLE_FULL_INHG, 1.0), 0.0)

    def speed_shown_rpm(self, motion: Motion) -> float:
        """What the tachometer shows [rpm], in steps of 5."""
        wobble = TACHOMETER_WOBBLE_RPM * self._wobble[1] if motion.speed_rad_s else 0.0
        return max(TACHOMETER_STEP_RPM * round((self.speed_rpm + wobble) / TACHOMETER_STEP_RPM), 0.0)

    def torque_shown_nm(self) -> float:
        """What the brake of the test stand shows [N m], to a tenth."""
        return round(self.torque_nm + TORQUE_WOBBLE_NM * self._wobble[1], 1)

    def fuel_shown_l_h(self) -> float:
        """What a meter in the fuel line shows [litres an hour], to a hundredth."""
        return round(self.fuel_kg_s * units.SECONDS_PER_HOUR / DENSITY_KG_L, 2)

    def timing_light_deg(self, motion: Motion) -> float:
        """Where the marks seem to stand under the light [crank deg BTDC]: what a slipped damper ring shows, and not
        what is true."""
        wear = self.dynamics.engine.wear
        scatter = (TIMING_LIGHT_SCATTER_DEG + wear.shaft_play_deg) * self._wobble[2]
        shown = motion.total_advance_deg + wear.mark_slip_deg + scatter
        return TIMING_LIGHT_STEP_DEG * round(shown / TIMING_LIGHT_STEP_DEG)

    def dwell_shown_deg(self, dwell_deg: float) -> float:
        """What a dwell meter shows [distributor deg]; worn bushes make it wander."""
        play = 0.5 * self.dynamics.engine.wear.shaft_play_deg
        return DWELL_STEP_DEG * round((dwell_deg + (DWELL_SCATTER_DEG + play) * self._wobble[2]) / DWELL_STEP_DEG)


def idle_words(motion: Motion, cranking: bool, unevenness: float = 0.0, lit: bool = True) -> str:
    """How the engine sounds, in words; `lit` is whether the ignition is on."""
    if motion.speed_rad_s == 0.0:
        return "silent"
    if cranking:
        return cranking_words(motion)
    if not lit:
        return "runs on without a spark" if motion.burning else "runs down"
    if motion.speed_rpm < LABOURS_BELOW_RPM:
        return "labours and is close to stalling"
    return "stumbles" if unevenness > BEATS_UNEVEN else "runs unevenly" if unevenness > BEATS_EVEN else "runs evenly"


def cranking_words(motion: Motion) -> str:
    """How the starter sounds, in words."""
    if motion.start.kicks:
        return "cranks in jerks and kicks back"
    if motion.start.labour > LABOURS_FROM:
        return "labours at each compression"
    if motion.speed_rpm < CRANKS_SLOWLY_BELOW_RPM:
        return "cranks slowly"
    return "cranks and catches now and then" if motion.burning > CATCHES_FROM_SHARE else "cranks evenly"


def ping_words(rate: float) -> str:
    """How much ping the ear makes out, from the share of cycles that ping."""
    if rate < TRACE_OF_PING:
        return "no ping"
    if rate < CLEAR_PING:
        return "a trace of ping"
    return "clear ping" if rate < HEAVY_PING else "heavy ping"


def glow_words(metal_c: float) -> str:
    """How hot exhaust metal looks, from its temperature [°C]."""
    if metal_c < GLOWS_DULL_FROM_C:
        return "dark"
    return "glowing dull red, seen in the dark" if metal_c < GLOWS_RED_FROM_C else "glowing red"


def fuel_words(l_h: float, speed_m_s: float) -> str:
    """What fuel is used: a standing vehicle's an hour [litres an hour], a moving one's over its way."""
    if speed_m_s:
        litres_per_100_km = l_h * 1e5 / (speed_m_s * units.SECONDS_PER_HOUR)
        return way_words(litres_per_100_km) if l_h else "no fuel"
    return f"{l_h:.2f} litres an hour ({l_h / units.LITRES_PER_US_GALLON:.2f} US gallons an hour)"


def way_words(litres_per_100_km: float) -> str:
    """Fuel over a way, in both of the trade's units; more than none."""
    miles_a_gallon = 1e5 / units.METRES_PER_MILE * units.LITRES_PER_US_GALLON / litres_per_100_km
    return f"{litres_per_100_km:.1f} litres in 100 km ({miles_a_gallon:.1f} miles a US gallon)"


def exhaust_words(metal_c: float) -> str:
    """What the probe at the exhaust shows, to the nearest five degrees, and how the metal looks."""
    celsius, fahrenheit = 5 * round(metal_c / 5), 5 * round(units.fahrenheit_from_celsius(metal_c) / 5)
    return f"{celsius} °C ({fahrenheit} °F), {glow_words(metal_c)}"
