"""The engine in time: crank speed, manifold pressure and coolant temperature, one fixed tick after another.

    crank: J dw/dt = T_indicated - T_pumping - T_friction - T_load
    vehicle: m r^2 dn/dt = T_turbine i - (road load and climb) r, n the propeller shaft's speed, i the gear's ratio
    manifold: dp/dt = (R T / V) (m_throttle - m_cylinders)

While next to nothing changes, ten ticks are taken in one stride; on the road, where the vehicle's mass makes everything
slow, five are taken as soon as the manifold has settled. An engine that stands and is as cold as its surroundings, so
that a tick leaves it as it is, is asleep. Any act ends that (`Motion.disturb`). The rules look at the state alone, so
that live work and its replay stride and sleep alike.

The manifold is stepped by a linearly implicit theta rule, near second order while it is not stiff and damped where it
is (throttle wide open), and so is the crank with a converter behind it; crank speed otherwise by the two-step
Adams-Bashforth rule. One lookup of the map a tick.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from operator import attrgetter

from engine_sim.physics import converter, ignition, units
from engine_sim.physics.breathing import FLOW_LINEAR_ABOVE, GAMMA_AIR, critical_pressure_ratio
from engine_sim.physics.constants import (
    GAS_CONSTANT_AIR_J_KG_K,
    ICE_POINT_K,
    STANDARD_ATMOSPHERE_PA,
    STANDARD_GRAVITY_M_S2,
)
from engine_sim.physics.distributor import (
    HOSE_ON,
    HOSE_STATES,
    PORT_UNCOVERED_AT,
    PORT_UNCOVERED_FROM,
    rotor_miss_share,
)
from engine_sim.physics.fuel import octane_in_use_at
from engine_sim.physics.knock import octane_required_at, ping_share
from engine_sim.physics.units import RPM_PER_RAD_S

from .conditions import Conditions
from .cycle import COMPRESSION_EXPONENT
from .damage import GASKET_OVER_COMPRESSION, NO_DOSES, PING_COUNTS_FROM, PISTON_K_PER_W_M2, PISTON_SOFT_C
from .engine import Engine, false_air
from .population import usual_area_m2
from .response_family import MOST_FALSE_AIR
from .response_map import (
    DRAWS_NOTHING_PA,
    EARLIEST_DEG,
    LATEST_DEG,
    LOWEST_PA,
    QUANTITIES,
    ResponseMap,
    draws_share,
    works_share,
)
from .starting import CHOKE_OFF_C, Starting, burns_later_deg, film_left, share

TICK_S = 0.02  # fixed, so that a replay passes through the same states; its error is measured by test_dynamics
STRIDE = 10  # ticks taken in one when the engine is calm
CALM_TICKS = 25  # ticks without a change of any pace, after which it counts as calm
# The stride, and the changes [rad/s2, Pa/s] below which the engine counts as calm: standing, and with a vehicle's mass
# behind it, where a drive in strides must tell what a drive tick by tick tells.
STANDING, ON_ROAD = (STRIDE, 0.25, 200.0), (5, 25.0, 5000.0)
FIRES_FROM_RPM = 60.0  # slower, nothing vaporises and mixes; calibration
FIRES_FULLY_RPM = 180.0  # from here on all of it does; calibration
FLOATS_FROM_RPM = 5000.0  # faster, points and valves no longer follow their cams; calibration
FLOATS_FULLY_RPM = 6000.0  # at which no charge does any work; calibration
STALLED_BELOW_RPM = 40.0  # without the starter: slower, no piston passes its top; calibration
COOLANT_HEAT_J_K_PER_LITRE = 10_000.0  # of coolant and block, for each litre of the engine; calibration
COOLANT_OVER_WALLS = 1.1  # heat to the coolant over that to the chambers' walls, as friction adds to it; calibration
PORT_SHARE = 0.4  # share of the exhaust's heat that its ports take; calibration
EXHAUST_HEAT_J_KG_K = 1150.0  # specific heat of burned gas; common handbook practice
THERMOSTAT_C = 82.0  # coolant temperature at which the thermostat begins to open; common practice
WIDE_OPEN_C = 92.0  # at which it is wide open; common practice
BOILING_C = 110.0  # of coolant under its cap's pressure; common practice
RADIATOR_W_K_PER_LITRE = 26.0  # for each litre of the engine, with the fan at 800 rpm; calibration
BLOCK_W_K_PER_LITRE = 3.0  # what the block sheds without its radiator; calibration
FAN_REFERENCE_RPM = 800.0  # engine speed at which RADIATOR_W_K_PER_LITRE holds
FAN_EXPONENT = 0.7  # of the fan's speed; calibration
ROAD_WIND_M_S = 2.5  # speed of the vehicle that cools as much as the fan does; calibration
FAST_IDLE_MM2_PER_LITRE = 6.3  # what the automatic choke opens the throttle, for each litre, when cold; calibration
CHOKE_FULL_C = 10.0  # below which it is fully on; calibration
EXHAUST_COOLS_S = 150.0  # in which the exhaust's metal cools to a third beside a fan; calibration
EXHAUST_EVEN_G_S_PER_LITRE = 4.0  # gas for each litre that heats the metal as well as the air cools it; calibration
EXHAUST_FLOW_EXPONENT = 0.8  # of that heating; turbulent flow in a pipe, common handbooks, from memory
BACK_PRESSURE_LAG_S = 8.0  # in which a blocked silencer fills and heats; calibration
BACK_PRESSURE_STEP_PA = 500.0  # steps in which the map follows it, so that few maps are blended
BRAKE_LAG_S = 0.4  # in which the test stand's brake brings the engine to its speed; calibration
STAND_WIND_M_S = 20.0  # of the test stand's cooling fan; calibration
MANIFOLD_FILLS_S = 0.3  # in which a manifold fills once the engine stands; calibration
COMPRESSION = QUANTITIES.index("compression_pa")
_CRITICAL = critical_pressure_ratio()
_CHOKED = math.sqrt(GAMMA_AIR) * (2 / (GAMMA_AIR + 1)) ** ((GAMMA_AIR + 1) / (2 * (GAMMA_AIR - 1)))


@dataclass
class ControlInputs:
    """Where the engine's adjustments stand at this tick.

    `base_timing_deg` holds all that is turned, set in, and moved by the points. `coupling` is neutral, drive (standing,
    an automatic's converter slipping), road, or brake (a test stand that holds `brake_rpm`). `gear_ratio`, 1 in top
    gear, and `grade` are for roads.
    `fires` is off where the distributor sits half a turn out: the sparks come between two cycles.
    """

    base_timing_deg: float
    idle_screw: float
    throttle: float = 0.0
    vacuum_hose: str = HOSE_ON
    ignition: bool = False
    starter: bool = False
    coupling: str = "neutral"
    mixture_shift: float = 0.0
    dwell_deg: float | None = None  # None: as the card has it
    canister_shift_inhg: float = 0.0
    gear_ratio: float = 1.0
    grade: float = 0.0
    brake_rpm: float = 0.0
    fires: bool = True


@dataclass
class Motion:
    """The state that time carries forward, and what the last tick worked out from it."""

    speed_rad_s: float
    manifold_pa: float
    coolant_c: float
    total_advance_deg: float = 0.0
    octane_required: float = 0.0
    octane_margin: float = 0.0
    ping_rate: float = 0.0  # share of cycles that ping
    misfire: float = 0.0  # share of charges that go out
    missed: float = 0.0  # share of sparks that fail, and of charges that floating valves lose
    work_spread: float = 0.0  # of one charge's work, as a standard deviation over its mean
    burning: float = 0.0
    torque_nm: float = 0.0
    indicated_nm: float = 0.0
    drawn_kg_s: float = 0.0
    shaft_rad_s: float = 0.0  # of the propeller shaft: the crank's speed in a top gear that does not slip
    shaft_rad_s2: float = 0.0
    fuel_kg_s: float = 0.0
    exhaust_k: float = 300.0  # of the gas
    exhaust_metal_k: float = 300.0
    back_pressure_pa: float = 0.0
    doses: tuple[float, ...] = NO_DOSES  # of what damages the engine, in the order of DAMAGES
    start: Starting = field(default_factory=Starting)
    acceleration: float | None = None  # of the tick before [rad/s2]; None: there is none
    calm: int = 0  # ticks since the engine last changed at any pace
    asleep: bool = False  # it stands, and no tick would change anything

    def disturb(self) -> None:
        """Something was changed at the engine: take every tick by itself again."""
        self.calm, self.asleep = 0, False

    def note_pace(self, quiet: bool) -> None:
        """Count one more tick, or stride, in which next to nothing changed, or begin to count again."""
        if not quiet:
            self.calm = 0
        elif self.calm < CALM_TICKS:
            self.calm += 1

    def copy(self) -> Motion:
        """The same state by itself, in a third of the time that `copy.copy` takes."""
        return type(self)(*_carried(self))

    @property
    def speed_rpm(self) -> float:
        """Crank speed [rpm]."""
        return self.speed_rad_s * RPM_PER_RAD_S


_carried = attrgetter(*(one.name for one in fields(Motion)))  # all of a motion; vars() would slow every tick


class Dynamics:
    """Steps one engine under one day's conditions."""

    def __init__(self, engine: Engine, conditions: Conditions):
        self.engine, self.conditions = engine, conditions
        self.map = engine.response(conditions)
        self.ambient_pa = conditions.ambient_pa
        self.ron, self.mon = engine.fuel(conditions)
        self.weights = engine.weights
        self.ambient_k, self.ambient_c = conditions.ambient_k, conditions.ambient_c
        self.wear, self.coil, self.torque_per_pa = engine.wear, engine.coil, engine.torque_per_pa
        card = engine.card
        self.drive, self.canister, self.ignition = card.drive, card.vacuum_advance, card.ignition
        self.litres = engine.displacement_m3 * 1e3
        self.even_kg_s = EXHAUST_EVEN_G_S_PER_LITRE * self.litres / 1e3
        self.per_cylinder_rate = engine.cylinders / (4.0 * math.pi)  # cycles a second for each rad/s
        self.filling = GAS_CONSTANT_AIR_J_KG_K * engine.fresh_k(conditions) / (card.breathing.manifold_volume_l / 1e3)
        self.choked_flux = self.ambient_pa / math.sqrt(GAS_CONSTANT_AIR_J_KG_K * self.ambient_k) * _CHOKED
        self.usual_area_m2 = usual_area_m2(card)
        self.top_metres_per_rad = card.drive.top_gear_m_per_rev / (2 * math.pi)
        self.slips = card.drive.transmission == "automatic"
        self.capacity_nm_s2 = card.drive.converter_drag_nm_at_1000_rpm / units.rad_s_from_rpm(1000.0) ** 2
        self.leaky = [place for place, one in engine.wear.cylinders if one.runner_leak_m2 > 0]
        self.leak_m2 = {  # into the plenum past the carburettor; a runner's leak thins its own cylinder alone
            hose: engine.leak_area_m2(hose) - engine.wear.runner_leak_m2 for hose in HOSE_STATES
        }
        self.squeeze_at = self._squeeze_table()
        geometry = engine.setup.geometry
        self.piston_k_per_w = PISTON_K_PER_W_M2 / (engine.cylinders * geometry.bore_area_m2)
        squeezed_pa = STANDARD_ATMOSPHERE_PA * geometry.compression_ratio**COMPRESSION_EXPONENT
        self.lifts_pa = GASKET_OVER_COMPRESSION * squeezed_pa
        self._stands_key: tuple[float, float, str] | None = None
        self._area = self._travel = self._slot_shift = 0.0

    def _squeeze_table(self) -> list[float]:
        """Pressure at the spark over that at intake closing, had the charge only been compressed; each degree BTDC."""
        geometry, closing = self.engine.setup.geometry, math.radians(self.engine.setup.intake_closes_deg)
        closing_m3 = geometry.volume_m3(closing)
        degrees = range(int(LATEST_DEG) - 1, int(EARLIEST_DEG) + 2)
        return [float(closing_m3 / geometry.volume_m3(math.radians(-x))) ** COMPRESSION_EXPONENT for x in degrees]

    def at_rest(self, coolant_c: float, flood: float = 0.0, bowl: float = 1.0, battery: float = 1.0) -> Motion:
        """The engine standing still."""
        start = Starting(film=film_left(coolant_c), flood=flood, bowl=bowl, battery=battery)
        metal_k = units.kelvin_from_celsius(coolant_c)
        return Motion(0.0, self.ambient_pa, coolant_c, exhaust_metal_k=metal_k, start=start)

    def wear_out(self, engine: Engine) -> None:
        """Go on with the same engine whose cylinders have been damaged."""
        self.engine, self.wear = engine, engine.wear

    def tick(self, motion: Motion, inputs: ControlInputs, dt: float = TICK_S) -> None:
        """Carry the state one tick forward."""
        stands = motion.speed_rad_s == 0.0
        if stands and inputs.starter:
            motion.disturb()
        stride, calm_rad_s2, calm_pa_s = _striding(inputs)
        if motion.calm >= CALM_TICKS:
            motion.calm += 1
            if (motion.calm - CALM_TICKS) % stride:
                return
            dt *= stride
        if stands and not inputs.starter:
            was, before_pa = _carried(motion), motion.manifold_pa
            self._rest(motion, dt)
            motion.note_pace(abs(motion.manifold_pa - before_pa) <= calm_pa_s * dt)
            motion.asleep = motion.start.rested and _carried(motion) == was
            return
        self._note_stands(inputs)
        speed_rpm = motion.speed_rad_s * RPM_PER_RAD_S
        response = self._response(motion, inputs)
        spark = self._spark(motion, inputs, speed_rpm)
        imep, log_integral, air, fuel, exhaust_k, _, misfire, motion.work_spread, peak_pa, wall_j = response.at_point(
            speed_rpm, motion.manifold_pa, spark
        )
        motion.burning = self._burning(motion, speed_rpm, inputs, spark, dt)
        motion.missed = self._missed(motion, inputs, speed_rpm, spark)
        if speed_rpm > FLOATS_FROM_RPM:
            motion.missed = max(motion.missed, share(speed_rpm, FLOATS_FROM_RPM, FLOATS_FULLY_RPM))
        work, draw = self._shares(speed_rpm)
        if motion.manifold_pa < LOWEST_PA:
            draw *= draws_share(motion.manifold_pa)
        if self.leaky:
            imep = self._with_lean_runners(imep, air, motion, spark, speed_rpm)
        motion.indicated_nm = imep * self.torque_per_pa * motion.burning * (1.0 - motion.missed) * work
        torque_nm = motion.indicated_nm - self._drag_nm(motion, inputs, speed_rpm)
        if self.slips and inputs.coupling in ("drive", "road"):
            acceleration, speed = self._slip(motion, inputs, torque_nm, dt)
        else:
            acceleration, speed = self._turn(motion, inputs, torque_nm, dt)
        if speed < 0.0:
            speed = 0.0
        middle = 0.5 * (speed + motion.speed_rad_s)
        motion.drawn_kg_s = air * draw * self.per_cylinder_rate * middle
        pressure = self._fill(motion, motion.drawn_kg_s, dt)
        restless = abs(acceleration) > calm_rad_s2 or abs(pressure - motion.manifold_pa) > calm_pa_s * dt
        motion.note_pace(not (restless or inputs.starter))  # a cranked engine may fire at any tick
        motion.manifold_pa = pressure
        motion.acceleration, motion.total_advance_deg = acceleration, spark
        motion.misfire = min(max(misfire, 0.0), 1.0)
        motion.torque_nm = torque_nm
        motion.fuel_kg_s = motion.drawn_kg_s * fuel / air
        gas_kg_s = (air + fuel) * self.per_cylinder_rate * motion.speed_rad_s
        wall_w = wall_j * self.per_cylinder_rate * motion.speed_rad_s * motion.burning * (1.0 - motion.missed)
        self._exhaust(motion, inputs, gas_kg_s, exhaust_k, wall_w, dt)
        self._listen(motion, log_integral, speed_rpm)
        self._overload(motion, peak_pa, wall_w, speed_rpm, dt)
        if inputs.starter:
            kept = self._kept_speed(motion, spark, middle * dt)
            speed, motion.acceleration = kept * speed, acceleration if kept == 1.0 else None
        if inputs.starter or not motion.start.settled:
            turns = middle * dt / (2.0 * math.pi)
            motion.start.turn(turns, motion.coolant_c, inputs.throttle, self.wear.choke_stuck_open, inputs.starter, dt)
        if speed * RPM_PER_RAD_S < STALLED_BELOW_RPM and not inputs.starter:
            speed = 0.0
        motion.speed_rad_s = speed

    @staticmethod
    def pass_over(motion: Motion, inputs: ControlInputs, most: int) -> int:
        """Take together the next ticks of a calm engine, up to `most`, that leave it as it is; return how many."""
        stride = _striding(inputs)[0]
        together = most if motion.asleep else min(stride - 1 - (motion.calm - CALM_TICKS) % stride, most)
        motion.calm += together
        return together

    # ---- parts of a tick --------------------------------------------------------------------------------------

    def _rest(self, motion: Motion, dt: float) -> None:
        motion.manifold_pa += (self.ambient_pa - motion.manifold_pa) * min(dt / MANIFOLD_FILLS_S, 1.0)
        motion.acceleration, motion.total_advance_deg, motion.torque_nm = None, 0.0, 0.0
        motion.ping_rate = motion.misfire = motion.missed = 0.0
        motion.burning = motion.indicated_nm = motion.drawn_kg_s = motion.fuel_kg_s = 0.0
        motion.start.stand(motion.coolant_c, self.ambient_c, dt)
        motion.back_pressure_pa -= motion.back_pressure_pa * min(dt / BACK_PRESSURE_LAG_S, 1.0)
        motion.exhaust_metal_k -= (motion.exhaust_metal_k - self.ambient_k) * dt / EXHAUST_COOLS_S
        self._warm(motion, 0.0, 0.0, 0.0, dt)

    def _response(self, motion: Motion, inputs: ControlInputs) -> ResponseMap:
        """The map for the mixture screws and the back pressure as they are."""
        leak, back = self.leak_m2[inputs.vacuum_hose], motion.back_pressure_pa
        shift = inputs.mixture_shift + self._slot_shift
        if leak == back == shift == 0.0:
            return self.map
        back = BACK_PRESSURE_STEP_PA * round(back / BACK_PRESSURE_STEP_PA)
        thin = false_air(leak, self._open_m2(motion.coolant_c)) if leak else 0.0
        if shift == thin == back == 0.0:
            return self.map
        return self.engine.response(self.conditions, shift, thin, back)

    def _burning(self, motion: Motion, speed_rpm: float, inputs: ControlInputs, spark: float, dt: float) -> float:
        """Share of the charge's work that is done: none without a spark, unless a hot engine runs on; less while fuel
        lacks or floods, or where the spark comes outside the map."""
        if not inputs.ignition:
            return self._running_on(motion, inputs, dt)
        if not inputs.fires:
            return 0.0
        motion.start.glow = 1.0
        burning = share(speed_rpm, FIRES_FROM_RPM, FIRES_FULLY_RPM)
        if inputs.starter or not motion.start.settled:
            burning *= motion.start.fires_share(spark, inputs.starter)
        return burning if LATEST_DEG <= spark <= EARLIEST_DEG else burning * works_share(spark)

    def _running_on(self, motion: Motion, inputs: ControlInputs, dt: float) -> float:
        """Share of the charge's work that is done without a spark."""
        if not motion.start.glow:
            return 0.0
        relative_area = self.area_m2(inputs, motion.coolant_c) / self.usual_area_m2
        relative_octane = self.ron / self.engine.card.setting.fuel_octane_ron
        return motion.start.runs_on_share(motion.coolant_c, relative_area, relative_octane, dt)

    def _missed(self, motion: Motion, inputs: ControlInputs, speed_rpm: float, spark: float) -> float:
        """Share of sparks that fail: the coil has too little for the plug's gap, or the rotor misses its terminal."""
        card, wear = self.ignition, self.wear
        kept = LATEST_DEG if spark < LATEST_DEG else EARLIEST_DEG if spark > EARLIEST_DEG else spark
        place = int(kept) - (int(LATEST_DEG) - 1)
        pressure = motion.manifold_pa * self.squeeze_at[place]
        dwell = card.dwell_deg if inputs.dwell_deg is None else inputs.dwell_deg
        volt = motion.start.cranking_volt if inputs.starter else ignition.RUNNING_VOLT
        missed = ignition.missed_at(self.coil, dwell, speed_rpm, pressure, wear.plug_gap_mm or card.plug_gap_mm, volt)
        if wear.rotor_off_deg:
            missed = max(missed, float(rotor_miss_share(wear.rotor_off_deg + 0.5 * self._canister(motion, inputs))))
        return missed

    def _shares(self, speed_rpm: float) -> tuple[float, float]:
        """Work and air of all cylinders over those of sound ones."""
        wear, count = self.wear, self.engine.cylinders
        if not wear.cylinders:
            return 1.0, 1.0
        turning_rpm = max(speed_rpm, STALLED_BELOW_RPM)
        return wear.work_share(turning_rpm, count), wear.draw_share(turning_rpm, count)

    def _with_lean_runners(self, imep: float, air: float, motion: Motion, spark: float, speed_rpm: float) -> float:
        """Mean pressure of all cylinders where air leaks into some of their runners, which then burn lean."""
        total = imep
        for place in self.leaky:
            thin = self.own_false_air(place, air, motion, speed_rpm)
            response = self.engine.response(self.conditions, 0.0, thin)
            lean = response.at_point(speed_rpm, motion.manifold_pa, spark)[0]
            total += (lean - imep) / self.engine.cylinders
        return total

    def own_false_air(self, place: int, air_kg: float, motion: Motion, speed_rpm: float) -> float:
        """Share of leaked air in the charge of a cylinder whose runner leaks."""
        one = dict(self.engine.wear.cylinders)[place]
        leaked = self._throttle_flow(one.runner_leak_m2, motion.manifold_pa)[0]
        taken = air_kg * max(speed_rpm, STALLED_BELOW_RPM) / units.RPM_PER_CYCLE_HZ
        return min(false_air(leaked, leaked + taken), MOST_FALSE_AIR)

    def _canister(self, motion: Motion, inputs: ControlInputs) -> float:
        """Advance of the vacuum unit [crank deg]; the plain form of `distributor.vacuum_advance_deg`."""
        if inputs.vacuum_hose != HOSE_ON or self.wear.canister_torn:
            return 0.0
        vacuum = (self.ambient_pa - motion.manifold_pa) / units.PA_PER_INHG
        if self.engine.advance_source == "ported":
            self._note_stands(inputs)
            vacuum *= share(self._travel, PORT_UNCOVERED_FROM, PORT_UNCOVERED_AT)  # distributor.ported_share
        canister, shift = self.canister, inputs.canister_shift_inhg
        return canister.degrees * share(vacuum, canister.start_inhg + shift, canister.full_inhg + shift)

    def _spark(self, motion: Motion, inputs: ControlInputs, speed_rpm: float) -> float:
        stuck = self.wear.weights_stuck_deg
        centrifugal = self.weights.at(speed_rpm) if stuck is None else stuck
        return inputs.base_timing_deg + centrifugal + self._canister(motion, inputs)

    def _drag_nm(self, motion: Motion, inputs: ControlInputs, speed_rpm: float) -> float:
        drag = self.engine.loss_torque_nm(
            speed_rpm, motion.manifold_pa, self.conditions, motion.coolant_c, motion.back_pressure_pa
        )
        if inputs.starter:
            drag -= motion.start.starter_nm(self.litres, speed_rpm)
        return drag

    def _turn(self, motion: Motion, inputs: ControlInputs, torque_nm: float, dt: float) -> tuple[float, float]:
        """Acceleration [rad/s2] and speed [rad/s] of the crank after the tick: free, held by the test stand, or with a
        manual gearbox and its vehicle behind it."""
        if inputs.coupling == "road":
            metres_per_rad = self.top_metres_per_rad / inputs.gear_ratio
            torque_nm -= self._resistance_n(motion.speed_rad_s * metres_per_rad, inputs) * metres_per_rad
        acceleration = torque_nm / self._inertia(inputs)
        if inputs.coupling == "brake":
            acceleration = (units.rad_s_from_rpm(inputs.brake_rpm) - motion.speed_rad_s) / BRAKE_LAG_S
        before = acceleration if motion.acceleration is None else motion.acceleration
        speed = motion.speed_rad_s + dt * (1.5 * acceleration - 0.5 * before)
        if inputs.coupling == "road":
            motion.shaft_rad_s = max(speed, 0.0) / inputs.gear_ratio
            motion.shaft_rad_s2 = acceleration / inputs.gear_ratio
        return acceleration, speed

    def _inertia(self, inputs: ControlInputs) -> float:
        """Of all that turns with the crank: behind a converter the vehicle does not [kg m2]."""
        if self.slips or inputs.coupling != "road":
            return self.drive.inertia_kg_m2
        metres_per_rad = self.top_metres_per_rad / inputs.gear_ratio
        return self.drive.inertia_kg_m2 + self.drive.vehicle_mass_kg * metres_per_rad**2

    def _slip(self, motion: Motion, inputs: ControlInputs, torque_nm: float, dt: float) -> tuple[float, float]:
        """The same with a converter behind the crank; the vehicle stands, or goes on by what the turbine gives it."""
        turbine_rad_s = motion.shaft_rad_s * inputs.gear_ratio if inputs.coupling == "road" else 0.0
        taken_nm, given_nm, stiffness = converter.slip(self.capacity_nm_s2, motion.speed_rad_s, turbine_rad_s)
        inertia = self.drive.inertia_kg_m2
        gained_rad_s = (torque_nm - taken_nm) / inertia * _damped(dt, stiffness / inertia)
        if inputs.coupling == "road":
            metres_per_rad, mass_kg = self.top_metres_per_rad, self.drive.vehicle_mass_kg
            resistance_nm = self._resistance_n(motion.shaft_rad_s * metres_per_rad, inputs) * metres_per_rad
            motion.shaft_rad_s2 = (given_nm * inputs.gear_ratio - resistance_nm) / (mass_kg * metres_per_rad**2)
            motion.shaft_rad_s = max(motion.shaft_rad_s + dt * motion.shaft_rad_s2, 0.0)  # it does not roll back
        return gained_rad_s / dt, motion.speed_rad_s + gained_rad_s

    def _resistance_n(self, speed_m_s: float, inputs: ControlInputs) -> float:
        """What holds the vehicle back at a speed: road, air and climb."""
        drive = self.drive
        climb_n = drive.vehicle_mass_kg * STANDARD_GRAVITY_M_S2 * math.sin(math.atan(inputs.grade))
        return drive.road_load_n + drive.road_load_n_s2_m2 * speed_m_s**2 + climb_n

    def _kept_speed(self, motion: Motion, spark: float, turned_rad: float) -> float:
        """Share of the speed that is kept as pistons pass their top: an early spark burns the charge before it, and the
        starter may not have the work that this takes."""
        pitch = 4.0 * math.pi / self.engine.cylinders
        before = motion.start.turns * 2.0 * math.pi
        passed = int((before + turned_rad) / pitch) - int(before / pitch)
        if not passed or not motion.burning:
            return 1.0
        # both from the engine's own map, so that a thin mixture changes the kick through `burning` alone
        burned_pa, unburned_pa = (
            self.map.at_point(motion.speed_rpm, motion.manifold_pa, deg)[COMPRESSION]
            for deg in (spark - burns_later_deg(motion.coolant_c), LATEST_DEG)
        )
        extra_j = motion.burning * (burned_pa - unburned_pa) * self.engine.displacement_m3 / self.engine.cylinders
        return motion.start.passed(extra_j, self.litres)

    def area_m2(self, inputs: ControlInputs, coolant_c: float) -> float:
        """Effective area of everything that lets air in [m2], the choke's fast idle included."""
        self._note_stands(inputs)
        return self._open_m2(coolant_c)

    def _open_m2(self, coolant_c: float) -> float:
        """The same as screw, throttle and hose were last noted."""
        if coolant_c >= CHOKE_OFF_C:
            return self._area
        cold = share(CHOKE_OFF_C - coolant_c, 0.0, CHOKE_OFF_C - CHOKE_FULL_C)
        return self._area + FAST_IDLE_MM2_PER_LITRE * self.litres * 1e-6 * cold

    def mixture_shift(self, inputs: ControlInputs) -> float:
        """Equivalence ratio that mixture screws and transfer slot add to the idle."""
        self._note_stands(inputs)
        return inputs.mixture_shift + self._slot_shift

    def plate_travel(self, inputs: ControlInputs) -> float:
        """`Engine.plate_travel` of throttle and screw as they stand."""
        self._note_stands(inputs)
        return self._travel

    def _note_stands(self, inputs: ControlInputs) -> None:
        """Work out what depends on screw, throttle and hose alone, when one of them has been moved."""
        key = (inputs.idle_screw, inputs.throttle, inputs.vacuum_hose)
        if key == self._stands_key:
            return
        if self._stands_key is None or key[0] != self._stands_key[0]:
            self._slot_shift = self.engine.slot_shift(inputs.idle_screw)
        self._stands_key, self._area = key, float(self.engine.throttle_area_m2(*key))
        self._travel = float(self.engine.plate_travel(inputs.idle_screw, inputs.throttle))

    def _fill(self, motion: Motion, drawn_kg_s: float, dt: float) -> float:
        """Manifold pressure after the tick, by the theta rule with the least damping that keeps it from ringing."""
        pressure, area = motion.manifold_pa, self._open_m2(motion.coolant_c)
        passed, slope = self._throttle_flow(area, pressure)
        rate = self.filling * (drawn_kg_s / pressure - slope)
        pressure += self.filling * (passed - drawn_kg_s) * _damped(dt, rate)
        if pressure > self.ambient_pa:
            return self.ambient_pa
        return pressure if pressure > DRAWS_NOTHING_PA else DRAWS_NOTHING_PA

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
        capped = ratio if ratio < FLOW_LINEAR_ABOVE else FLOW_LINEAR_ABOVE
        power = capped ** (2 / GAMMA_AIR) - capped ** ((GAMMA_AIR + 1) / GAMMA_AIR)
        flow = math.sqrt(2 * GAMMA_AIR / (GAMMA_AIR - 1) * power) / _CHOKED
        return flow * (1.0 - ratio) / (1.0 - capped) if ratio > FLOW_LINEAR_ABOVE else flow

    def _exhaust(
        self, motion: Motion, inputs: ControlInputs, gas_kg_s: float, exhaust_k: float, wall_w: float, dt: float
    ):
        """Temperatures of the exhaust and of its metal, heat for the coolant, and the pressure of a blocked exhaust."""
        burns, ambient_k, metal_k = motion.burning * (1.0 - motion.missed), self.ambient_k, motion.exhaust_metal_k
        motion.exhaust_k = gas_k = ambient_k + burns * (exhaust_k - ambient_k)
        if self.wear.exhaust_blocked:
            target = float(self.engine.back_pressure_pa(gas_kg_s * 1e3))
            motion.back_pressure_pa += (target - motion.back_pressure_pa) * min(dt / BACK_PRESSURE_LAG_S, 1.0)
        # gas heats the exhaust's metal the more, the more of it flows; the air outside cools it
        gained_k = (gas_kg_s / self.even_kg_s) ** EXHAUST_FLOW_EXPONENT * (gas_k - metal_k) - (metal_k - ambient_k)
        motion.exhaust_metal_k = metal_k + gained_k * dt / EXHAUST_COOLS_S
        in_ports = PORT_SHARE * EXHAUST_HEAT_J_KG_K * gas_kg_s * (gas_k - motion.coolant_c - ICE_POINT_K)
        wind = motion.shaft_rad_s * self.top_metres_per_rad
        wind = STAND_WIND_M_S if inputs.coupling == "brake" else wind
        self._warm(motion, COOLANT_OVER_WALLS * wall_w, in_ports, wind, dt)

    def _warm(self, motion: Motion, wall_w: float, ports_w: float, wind_m_s: float, dt: float) -> None:
        """Coolant temperature: heat in, less what block and radiator shed; the fan turns with the engine."""
        shed_w_k = BLOCK_W_K_PER_LITRE
        if motion.coolant_c > THERMOSTAT_C:
            opened = share(motion.coolant_c, THERMOSTAT_C, WIDE_OPEN_C)
            moved_air = (motion.speed_rpm / FAN_REFERENCE_RPM) ** FAN_EXPONENT + wind_m_s / ROAD_WIND_M_S
            shed_w_k += opened * RADIATOR_W_K_PER_LITRE * moved_air
        shed = self.litres * shed_w_k * (motion.coolant_c - self.ambient_c)
        gained = wall_w + ports_w if ports_w > 0.0 else wall_w
        coolant_c = motion.coolant_c + dt * (gained - shed) / (COOLANT_HEAT_J_K_PER_LITRE * self.litres)
        motion.coolant_c = coolant_c if coolant_c < BOILING_C else BOILING_C

    def _overload(self, motion: Motion, peak_pa: float, wall_w: float, speed_rpm: float, dt: float) -> None:
        """Add to the doses of what damages the engine; `peak_pa` is of a charge that burns, `wall_w` of all."""
        pings = motion.ping_rate if motion.ping_rate > PING_COUNTS_FROM else 0.0
        hot_k = motion.coolant_c + self.piston_k_per_w * wall_w - PISTON_SOFT_C
        lifts = peak_pa * motion.burning > self.lifts_pa
        boils, floats = motion.coolant_c >= BOILING_C, speed_rpm > FLOATS_FROM_RPM
        if pings or hot_k > 0.0 or lifts or boils or floats:
            adds = (pings, hot_k if hot_k > 0.0 else 0.0, lifts, boils, floats)
            motion.doses = tuple(dose + dt * rate for dose, rate in zip(motion.doses, adds, strict=True))

    def _listen(self, motion: Motion, log_integral: float, speed_rpm: float) -> None:
        motion.octane_required = octane_required_at(log_integral)
        motion.octane_margin = octane_in_use_at(self.ron, self.mon, speed_rpm) - motion.octane_required
        motion.ping_rate = motion.burning * (1.0 - motion.missed) * ping_share(motion.octane_margin)


def _damped(dt: float, rate: float) -> float:
    """Time [s] by which a slope is carried forward, where what it drives comes to rest at a rate [1/s]: the theta rule
    with the least damping that keeps it from ringing."""
    theta = 1.0 - 1.0 / (rate * dt) if rate * dt > 2.0 else 0.5
    return dt / (1.0 + theta * dt * rate)


def _striding(inputs: ControlInputs) -> tuple[int, float, float]:
    """The stride of a calm engine, and what is calm, as the engine stands or drives."""
    return ON_ROAD if inputs.coupling == "road" else STANDING
