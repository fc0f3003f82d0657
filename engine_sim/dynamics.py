"""The engine in time: crank speed, manifold pressure and coolant temperature, one fixed tick after another.

    crank: J dw/dt = T_indicated - T_pumping - T_friction - T_load
    manifold: dp/dt = (R T / V) (m_throttle - m_cylinders)

While next to nothing changes, ten ticks are taken in one stride; any act ends that (`Motion.disturb`). The rule looks
at the state alone, so that live work and its replay stride alike.

The manifold is stepped by a linearly implicit theta rule, near second order while it is not stiff and damped where it
is (throttle wide open); crank speed by the two-step Adams-Bashforth rule. One lookup of the map a tick.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from . import units
from .breathing import FLOW_LINEAR_ABOVE, GAMMA_AIR, critical_pressure_ratio
from .burn import GOES_OUT_FROM_DEG, GONE_OUT_AT_DEG
from .distributor import ported_share
from .engine import Conditions, Engine
from .fuel import LOWER_HEATING_VALUE_J_KG
from .gas import GAS_CONSTANT_AIR
from .knock import OCTANE_EXPONENT, ping_share

TICK_S = 0.02
STRIDE, CALM_TICKS = 10, 25  # ticks taken in one when the engine has been calm for so many
CALM_RAD_S2, CALM_PA_S = 0.25, 200.0  # changes below which the engine counts as calm
STARTER_STALL_NM, STARTER_FREE_RPM = 160.0, 260.0  # at the crank; common practice
FIRES_FROM_RPM, FIRES_FULLY_RPM = 60.0, 180.0  # below, too slow to vaporise and mix; calibration
STALLED_BELOW_RPM = 40.0
DRY_TURNS, WET_TURNS = 1.0, 3.5  # turns of the crank until the first charges reach the cylinders; calibration
COOLANT_HEAT_J_K = 40_000.0
HEAT_TO_COOLANT = 0.30  # of the fuel's heat; common practice
THERMOSTAT_C = 82.0
RADIATOR_W_K, BLOCK_W_K = 4000.0, 12.0
FAST_IDLE_MM2_AT_COLD, CHOKE_OFF_C, CHOKE_FULL_C = 26.0, 65.0, 10.0  # automatic choke; calibration
_CRITICAL = critical_pressure_ratio()
_CHOKED = math.sqrt(GAMMA_AIR) * (2 / (GAMMA_AIR + 1)) ** ((GAMMA_AIR + 1) / (2 * (GAMMA_AIR - 1)))


@dataclass
class Hands:
    """Where the engine's adjustments stand at this tick."""

    base_timing_deg: float
    idle_screw: float
    throttle: float = 0.0
    vacuum_hose: str = "on"
    ignition: bool = False
    starter: bool = False
    coupling: str = "neutral"  # neutral, drive (standing, converter slipping) or road (top gear)


@dataclass
class Motion:
    """The state that time carries forward, and what the last tick worked out from it."""

    speed_rad_s: float
    manifold_pa: float
    coolant_c: float
    total_advance_deg: float = 0.0
    octane_required: float = 0.0
    ping_rate: float = 0.0  # share of cycles that ping
    misfire: float = 0.0
    torque_nm: float = 0.0
    turns: float = 0.0  # crank turns since standstill
    acceleration: float | None = None  # of the tick before [rad/s2]; None: begin anew
    calm: int = 0  # ticks since the engine last changed at any pace

    def disturb(self) -> None:
        """Something was changed by hand: take every tick by itself again."""
        self.calm = 0

    @property
    def speed_rpm(self) -> float:
        """Crank speed [rpm]."""
        return self.speed_rad_s * units.RPM_PER_RAD_S


class Dynamics:
    """Steps one engine under one day's conditions."""

    def __init__(self, engine: Engine, conditions: Conditions):
        self.engine, self.conditions = engine, conditions
        self.map = engine.response(conditions)
        self.ambient_pa = conditions.ambient_pa
        self.octane = engine.fuel_octane(conditions)
        card = engine.card
        self.per_cylinder_rate = engine.cylinders / (4.0 * math.pi)  # cycles a second for each rad/s
        self.filling = (
            GAS_CONSTANT_AIR
            * (conditions.ambient_k + card.breathing.charge_heating_k)
            / (card.breathing.manifold_volume_l / 1e3)
        )
        self.choked_flux = self.ambient_pa / math.sqrt(GAS_CONSTANT_AIR * conditions.ambient_k) * _CHOKED
        self.metres_per_rad = card.drive.top_gear_m_per_rev / (2 * math.pi)
        self._area_key, self._area = None, 0.0

    def at_rest(self, coolant_c: float) -> Motion:
        """The engine standing still."""
        return Motion(0.0, self.ambient_pa, coolant_c)

    def tick(self, motion: Motion, hands: Hands, dt: float = TICK_S) -> None:
        """Carry the state one tick forward."""
        if motion.speed_rad_s == 0.0 and not hands.starter:
            self._rest(motion, dt)
            return
        if motion.calm >= CALM_TICKS:
            motion.calm += 1
            if (motion.calm - CALM_TICKS) % STRIDE:
                return
            dt *= STRIDE
        speed_rpm = motion.speed_rpm
        burning = self._burning(motion, speed_rpm, hands)
        spark = self._spark(motion, hands, speed_rpm)
        imep, log_integral, air, fuel, burn_deg = self.map.at_point(speed_rpm, motion.manifold_pa, spark)
        indicated = imep * self.engine.torque_per_pa * burning
        drag = self._drag_nm(motion, hands, speed_rpm)
        inertia = self._inertia(hands)
        acceleration = (indicated - drag) / inertia
        before = acceleration if motion.acceleration is None else motion.acceleration
        speed = max(motion.speed_rad_s + dt * (1.5 * acceleration - 0.5 * before), 0.0)
        middle = 0.5 * (speed + motion.speed_rad_s)
        pressure = self._fill(motion, hands, air * self.per_cylinder_rate * middle, dt)
        if abs(acceleration) > CALM_RAD_S2 or abs(pressure - motion.manifold_pa) > CALM_PA_S * dt:
            motion.calm = 0
        elif motion.calm < CALM_TICKS:
            motion.calm += 1
        motion.manifold_pa = pressure
        cycles = self.per_cylinder_rate * motion.speed_rad_s
        self._warm(motion, fuel * cycles * burning, dt)
        motion.acceleration, motion.total_advance_deg, motion.misfire = (
            acceleration,
            spark,
            _share(burn_deg, GOES_OUT_FROM_DEG, GONE_OUT_AT_DEG),
        )
        motion.torque_nm = indicated - drag
        self._listen(motion, log_integral, burning)
        motion.turns += middle * dt / (2.0 * math.pi)
        if speed * units.RPM_PER_RAD_S < STALLED_BELOW_RPM and not hands.starter:
            speed = 0.0
        motion.speed_rad_s = speed

    @staticmethod
    def pass_over(motion: Motion, most: int) -> int:
        """Take together the next ticks, up to `most`, that leave a calm engine as it is; return how many they were."""
        if motion.calm < CALM_TICKS:
            return 0
        together = min(STRIDE - 1 - (motion.calm - CALM_TICKS) % STRIDE, most)
        motion.calm += together
        return together

    # ---- parts of a tick --------------------------------------------------------------------------------------

    def _rest(self, motion: Motion, dt: float) -> None:
        motion.manifold_pa += (self.ambient_pa - motion.manifold_pa) * min(dt / 0.3, 1.0)
        motion.acceleration, motion.total_advance_deg, motion.torque_nm = None, 0.0, 0.0
        motion.ping_rate = motion.misfire = motion.turns = 0.0
        motion.calm = 0
        self._warm(motion, 0.0, dt)

    def _burning(self, motion: Motion, speed_rpm: float, hands: Hands) -> float:
        """Share of the charge's work that is had: none without ignition, less while the intake is still dry."""
        if not hands.ignition:
            return 0.0
        return _share(speed_rpm, FIRES_FROM_RPM, FIRES_FULLY_RPM) * _share(motion.turns, DRY_TURNS, WET_TURNS)

    def _spark(self, motion: Motion, hands: Hands, speed_rpm: float) -> float:
        curve, canister = self.engine.card.distributor, self.engine.card.vacuum_advance
        total = hands.base_timing_deg + curve.centrifugal_deg * _share(
            speed_rpm, curve.centrifugal_start_rpm, curve.centrifugal_full_rpm
        )
        if hands.vacuum_hose != "on":
            return total
        vacuum = (self.ambient_pa - motion.manifold_pa) / units.PA_PER_INHG
        if canister.source == "ported":
            vacuum *= float(ported_share(hands.throttle))
        return total + canister.degrees * _share(vacuum, canister.start_inhg, canister.full_inhg)

    def _drag_nm(self, motion: Motion, hands: Hands, speed_rpm: float) -> float:
        drag = self.engine.loss_torque_nm(speed_rpm, motion.manifold_pa, self.conditions, motion.coolant_c)
        if hands.starter:
            drag -= STARTER_STALL_NM * max(1.0 - speed_rpm / STARTER_FREE_RPM, 0.0)
        if hands.coupling == "drive":
            drag += float(self.engine.load_torque_nm(speed_rpm, "drive"))
        elif hands.coupling == "road":
            drive, road_m_s = self.engine.card.drive, motion.speed_rad_s * self.metres_per_rad
            drag += (drive.road_load_n + drive.road_load_n_s2_m2 * road_m_s**2) * self.metres_per_rad
        return drag

    def _inertia(self, hands: Hands) -> float:
        drive = self.engine.card.drive
        carried = drive.vehicle_mass_kg * self.metres_per_rad**2 if hands.coupling == "road" else 0.0
        return drive.inertia_kg_m2 + carried

    def area_m2(self, hands: Hands, coolant_c: float) -> float:
        """Effective area of everything that lets air in [m2], the choke's fast idle included."""
        key = (hands.idle_screw, hands.throttle, hands.vacuum_hose)
        if key != self._area_key:
            self._area_key, self._area = key, float(self.engine.throttle_area_m2(*key))
        cold = _share(CHOKE_OFF_C - coolant_c, 0.0, CHOKE_OFF_C - CHOKE_FULL_C)
        return self._area + FAST_IDLE_MM2_AT_COLD * 1e-6 * cold

    def _fill(self, motion: Motion, hands: Hands, drawn_kg_s: float, dt: float) -> float:
        """Manifold pressure after the tick, by the theta rule with the least damping that keeps it from ringing."""
        pressure, area = motion.manifold_pa, self.area_m2(hands, motion.coolant_c)
        passed, slope = self._throttle_flow(area, pressure)
        rate = self.filling * (drawn_kg_s / pressure - slope)
        theta = max(0.5, 1.0 - 1.0 / (rate * dt)) if rate > 0 else 0.5
        change = dt * self.filling * (passed - drawn_kg_s) / (1.0 + theta * dt * rate)
        return min(max(pressure + change, 5e3), self.ambient_pa)

    def _throttle_flow(self, area_m2: float, pressure_pa: float) -> tuple[float, float]:
        """Air through the throttle [kg/s] and its change with manifold pressure [kg/s/Pa]; breathing.flow_function."""
        ratio = pressure_pa / self.ambient_pa
        if ratio <= _CRITICAL:
            return area_m2 * self.choked_flux, 0.0
        scale, flow = area_m2 * self.choked_flux, self._relative_flow(ratio)
        if ratio < FLOW_LINEAR_ABOVE:
            slope = (self._relative_flow(min(ratio + 1e-4, FLOW_LINEAR_ABOVE)) - flow) / 1e-4
        else:
            slope = -self._relative_flow(FLOW_LINEAR_ABOVE) / (1.0 - FLOW_LINEAR_ABOVE)
        return scale * flow, scale * slope / self.ambient_pa

    @staticmethod
    def _relative_flow(ratio: float) -> float:
        """Flow over choked flow: the scalar form of breathing.flow_function, above the critical ratio."""
        capped = min(ratio, FLOW_LINEAR_ABOVE)
        power = capped ** (2 / GAMMA_AIR) - capped ** ((GAMMA_AIR + 1) / GAMMA_AIR)
        flow = math.sqrt(2 * GAMMA_AIR / (GAMMA_AIR - 1) * power) / _CHOKED
        return flow * (1.0 - ratio) / (1.0 - capped) if ratio > FLOW_LINEAR_ABOVE else flow

    def _warm(self, motion: Motion, fuel_kg_s: float, dt: float) -> None:
        gained = HEAT_TO_COOLANT * fuel_kg_s * LOWER_HEATING_VALUE_J_KG
        lost = BLOCK_W_K * (motion.coolant_c - self.conditions.ambient_c)
        lost += RADIATOR_W_K * max(motion.coolant_c - THERMOSTAT_C, 0.0)
        motion.coolant_c += dt * (gained - lost) / COOLANT_HEAT_J_K

    def _listen(self, motion: Motion, log_integral: float, burning: float) -> None:
        motion.octane_required = 100.0 * math.exp(log_integral / OCTANE_EXPONENT)
        motion.ping_rate = burning * ping_share(self.octane - motion.octane_required)


def _share(value: float, low: float, high: float) -> float:
    return min(max((value - low) / (high - low), 0.0), 1.0)
