"""The figures of one engine that the targets speak of, each worked out when it is first asked for."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property

import numpy as np

from engine_sim import (
    CLEAR_PING,
    SOUND,
    TRACE_OF_PING,
    AsFound,
    Conditions,
    Engine,
    IdleTable,
    Session,
    WarmIdle,
    peak_and_back_off,
    start_trial,
    usual_screw,
)
from engine_sim.model.card import EngineCard, card_from
from engine_sim.model.dynamics import TICK_S, ControlInputs, Dynamics
from engine_sim.physics.constants import GAS_CONSTANT_AIR_J_KG_K
from engine_sim.physics.distributor import HOSE_PLUGGED
from engine_sim.physics.roots import find_root
from engine_sim.physics.units import PA_PER_INHG
from engine_sim.workshop.road_check import pulls_rpm
from engine_sim.workshop.timing_method import back_off, bring_idle_to
from graders.model_answers.operator import Operator
from tests.published.needle import HOME_FT

SCREW_LIMITS = (0.0, 10.0)
DROP_RPM, HALF_INCH = 75.0, 0.5
EARLY_DEG = 37.0  # how much earlier than the setting a body turned to the end of its travel stands
LATEST_IDLE_DEG = -12.0  # base timing down to which the settled idle is worked out
SETTLES_S = 40.0
NEVER_S = 60.0  # stands for a start that never comes
RIGHT_DEG, COLD_C, HOT_C = 8.0, 20.0, 90.0
FULL_RPM = np.arange(1000.0, 5000.0, 100.0)
STOICHIOMETRIC_SPEEDS = (1000.0, 2000.0, 4000.0)
HEAT_AT_RPM = 2000.0
REVS_FOR_S, FARTHER_DEG = 4.0, 8.0
CAM_IDLE_RPM, CAM_BASE_DEG, CAM_CLOSES_DEG = 900.0, 18.0, 72.0


def changed(card: EngineCard, section: str, **fields) -> Engine:
    """The engine of a card of which fields of one section are different."""
    content = card.model_dump()
    content[section] |= fields
    return Engine(card_from(content))


class Idling:
    """The method on one engine at one height: highest vacuum, idle brought back, two ways of backing off."""

    def __init__(self, engine: Engine, altitude_ft: float = 0.0, plant=None):
        setting = engine.card.setting
        self.plant = plant or WarmIdle(engine, Conditions(altitude_ft))
        start = IdleTable(engine, SCREW_LIMITS, Conditions(altitude_ft)) if plant is None else plant
        self.found = peak_and_back_off(start, 14.0, 2.3, setting.idle_rpm, DROP_RPM, SCREW_LIMITS)

    @cached_property
    def setting_deg(self) -> float:
        """Where the speed has fallen by 75 rpm."""
        found = self.found
        speed = self.plant.settled(found.peak_timing_deg, found.idle_setting)[0]
        return back_off(self.plant, found.peak_timing_deg, found.idle_setting, speed - DROP_RPM)

    def inhg(self, timing_deg: float) -> float:
        """Vacuum at a timing, the screw as it was left at the peak."""
        return self.plant.settled(timing_deg, self.found.idle_setting)[1]

    @cached_property
    def half_inch_deg(self) -> float:
        """Where the vacuum has fallen by half an inch."""
        wanted = self.inhg(self.found.peak_timing_deg) - HALF_INCH
        late, early = self.setting_deg - 10.0, self.found.peak_timing_deg
        return float(find_root(lambda timing: np.array(self.inhg(float(timing)) - wanted), late, early, iterations=9))


class ByTheCycle(WarmIdle):
    """The same plant, the settled idle worked out by the cycle itself in the place of the map."""

    def settled(self, timing_deg: float, idle_setting: float) -> tuple[float, float]:
        """Speed [rpm] and vacuum [inHg] where torque and air balance."""
        engine, conditions = self.engine, self.conditions
        area_m2, speed = engine.throttle_area_m2(idle_setting), np.geomspace(400.0, 4000.0, 12)
        for _ in range(3):
            pressure = engine._manifold_pa(speed, area_m2, conditions)
            work = engine.run_cycle(speed, pressure, timing_deg + engine.centrifugal_deg(speed), conditions).work_pa
            surplus = work * engine.torque_per_pa - engine.loss_torque_nm(speed, pressure, conditions)
            falls = np.flatnonzero((surplus[:-1] > 0) & (surplus[1:] <= 0))
            if falls.size == 0:
                return float("nan"), float("nan")
            around = slice(falls[-1], falls[-1] + 2)
            (early, late), ends = surplus[around], (speed[around], pressure[around])
            speed = np.linspace(*speed[around], 6)
        share = early / (early - late)
        settled, pa = (float(one + share * (other - one)) for one, other in ends)
        return settled, (conditions.ambient_pa - pa) / PA_PER_INHG


class Figures:
    """One engine's figures; every property is one of them, in the unit of its target."""

    def __init__(self, card: EngineCard):
        self.card, self.engine = card, Engine(card)

    # ---- idle ----------------------------------------------------------------------------------------------------

    @cached_property
    def idling(self) -> Idling:
        """The method at sea level."""
        return Idling(self.engine)

    @cached_property
    def peak_deg(self) -> float:
        """Timing of the highest vacuum."""
        return self.idling.found.peak_timing_deg

    @cached_property
    def setting_deg(self) -> float:
        """Timing 75 rpm below it."""
        return self.idling.setting_deg

    @cached_property
    def settings_apart_deg(self) -> float:
        """From there to where the vacuum is half an inch below the peak's."""
        return abs(self.idling.half_inch_deg - self.setting_deg)

    @cached_property
    def early_fall_inhg(self) -> float:
        """How far the vacuum has fallen at the early end of the body's travel."""
        return self.idling.inhg(self.peak_deg) - self.idling.inhg(self.setting_deg + EARLY_DEG)

    def _late(self, deg: float, idling: Idling) -> float:
        timing = idling.setting_deg - deg
        return idling.inhg(idling.setting_deg) - (
            idling.inhg(timing) if timing >= LATEST_IDLE_DEG else self._run(timing)
        )

    def _run(self, timing_deg: float) -> float:
        """Vacuum to which the running engine comes [inHg], for a timing at which no settled idle is worked out."""
        dynamics = Dynamics(self.engine, Conditions())
        motion, inputs = (
            dynamics.at_rest(85.0),
            ControlInputs(RIGHT_DEG, self.idling.found.idle_setting, vacuum_hose=HOSE_PLUGGED, ignition=True),
        )
        for tick in range(round(SETTLES_S / TICK_S)):
            inputs.starter = tick * TICK_S < 1.0
            inputs.base_timing_deg = max(timing_deg, RIGHT_DEG - max(0.0, tick * TICK_S - 5.0) * 4.0)
            dynamics.tick(motion, inputs)
            motion.coolant_c = 85.0
        return (dynamics.ambient_pa - motion.manifold_pa) / PA_PER_INHG

    @cached_property
    def late_12_inhg(self) -> float:
        """Vacuum lost from the setting to 12 degrees later."""
        return self._late(12.0, self.idling)

    @cached_property
    def late_20_inhg(self) -> float:
        """Vacuum lost to 20 degrees later."""
        return self._late(20.0, self.idling)

    @cached_property
    def late_28_inhg(self) -> float:
        """Vacuum lost to 28 degrees later."""
        return self._late(28.0, self.idling)

    @cached_property
    def late_12_high_up_inhg(self) -> float:
        """Vacuum lost from the setting to 12 degrees later, at 5,000 ft."""
        return self._late(12.0, Idling(self.engine, 5000.0))

    def _at_idle(self, late_deg: float):
        """What the cycle gives so many degrees later than the setting, the screw as left at the peak."""
        timing = self.setting_deg - late_deg
        speed, vacuum = self.idling.plant.settled(timing, self.idling.found.idle_setting)
        manifold_pa = Conditions().ambient_pa - PA_PER_INHG * vacuum
        return self.engine.run_cycle(speed, manifold_pa, timing + self.engine.centrifugal_deg(speed), Conditions())

    @cached_property
    def residual(self) -> float:
        """Share of residual gas at the setting."""
        return float(self._at_idle(0.0).residual_fraction)

    @cached_property
    def spread_percent(self) -> float:
        """Standard deviation of one charge's work over its mean, at the setting."""
        return 100.0 * float(self._at_idle(0.0).work_spread)

    @cached_property
    def spread_12_late_percent(self) -> float:
        """The same 12 degrees later."""
        return 100.0 * float(self._at_idle(12.0).work_spread)

    @cached_property
    def spread_20_late_percent(self) -> float:
        """The same 20 degrees later, or as late as the settled idle is worked out."""
        return 100.0 * float(self._at_idle(min(20.0, self.setting_deg - LATEST_IDLE_DEG)).work_spread)

    @cached_property
    def late_loss_percent(self) -> float:
        """Share of the work that late burning costs at the setting."""
        return 100.0 * float(self._at_idle(0.0).late_loss)

    # ---- full throttle -------------------------------------------------------------------------------------------

    @cached_property
    def _at_best(self):
        """Best base timing at full throttle and 2,000 rpm, and what the engine gives there."""
        base = np.arange(-10.0, 30.0, 0.5)
        best = base[int(np.argmax(self.engine.full_throttle(HEAT_AT_RPM, base).torque_nm))]
        return float(best), self.engine.full_throttle(HEAT_AT_RPM, best)

    def _cycle_at_best(self, late_deg: float = 0.0):
        pull = self._at_best[1]
        spark = pull.total_advance_deg - late_deg
        return self.engine.run_cycle(HEAT_AT_RPM, pull.manifold_pressure_kpa * 1e3, spark, Conditions())

    @cached_property
    def late_loss_full_throttle_percent(self) -> float:
        """Share of the work that late burning costs 20 degrees later than the best."""
        return 100.0 * float(self._cycle_at_best(20.0).late_loss)

    @cached_property
    def wall_heat_percent(self) -> float:
        """Share of the fuel's heat that the walls take."""
        return 100.0 * float(self._at_best[1].points.heat_loss_share)

    @cached_property
    def fuel_g_per_kwh(self) -> float:
        """Fuel for each kilowatt hour at the crank."""
        kg_s = float(self._cycle_at_best().fuel_kg) * self.engine.cylinders * HEAT_AT_RPM / 120.0
        return kg_s * 3600e3 / float(self._at_best[1].power_kw)

    @cached_property
    def brake_pressure_bar(self) -> float:
        """Brake mean effective pressure."""
        return float(self._at_best[1].brake_mep_kpa) / 100.0

    @cached_property
    def _filling(self) -> np.ndarray:
        air_kg_s = self.engine.full_throttle(FULL_RPM, RIGHT_DEG).points.air_flow_g_s / 1e3
        day = Conditions()
        density = day.ambient_pa / (GAS_CONSTANT_AIR_J_KG_K * day.ambient_k)
        return air_kg_s / (self.engine.displacement_m3 * FULL_RPM / 120.0 * density)

    @cached_property
    def volumetric_efficiency(self) -> float:
        """Air drawn over displacement, at its highest."""
        return float(self._filling.max())

    @cached_property
    def fills_best_rpm(self) -> float:
        """Speed at which it is highest."""
        return float(FULL_RPM[int(np.argmax(self._filling))])

    # ---- knock ---------------------------------------------------------------------------------------------------

    def required(self, speed_rpm, base_deg=RIGHT_DEG, altitude_ft=0.0, ambient_c=20.0, engine=None) -> float:
        """Octane number that full throttle asks for."""
        pull = (engine or self.engine).full_throttle(speed_rpm, base_deg, altitude_ft=altitude_ft, ambient_c=ambient_c)
        return float(pull.octane_required_ron)

    @cached_property
    def octane_fall_over_spark(self) -> float:
        """Greatest fall below the highest requirement of any later spark."""
        spark = np.arange(20.0, 81.0, 2.5)
        found = self.engine.operating_points(np.array(STOICHIOMETRIC_SPEEDS)[:, None], 100.0, spark).octane_required_ron
        return float(np.max(np.maximum.accumulate(found, axis=1) - found))

    @cached_property
    def octane_over_speed(self) -> float:
        """Change from 1,000 to 3,000 rpm."""
        return self.required(3000.0) - self.required(1000.0)

    @cached_property
    def octane_per_degree_of_air(self) -> float:
        """Change for each degree Celsius, from 10 to 30, where the card is jetted for; the greatest of three speeds."""
        height = self.card.mixture.jetted_altitude_ft
        rises = [
            (self.required(rpm, RIGHT_DEG, height, 30.0) - self.required(rpm, RIGHT_DEG, height, 10.0)) / 20.0
            for rpm in (1000.0, 2000.0, 3000.0)
        ]
        return max(rises)

    def _per_degree(self, speed_rpm: float) -> float:
        return (self.required(speed_rpm, 12.0) - self.required(speed_rpm, 4.0)) / 8.0

    @cached_property
    def octane_per_degree_1000(self) -> float:
        """Change for each degree of base timing at 1,000 rpm."""
        return self._per_degree(1000.0)

    @cached_property
    def octane_per_degree_2000(self) -> float:
        """The same at 2,000 rpm."""
        return self._per_degree(2000.0)

    @cached_property
    def octane_per_degree_3000(self) -> float:
        """The same at 3,000 rpm."""
        return self._per_degree(3000.0)

    @cached_property
    def octane_per_1000_ft(self) -> float:
        """Change for each 1,000 ft, the air colder by 2 °C each, at 1,000 rpm."""
        return (self.required(1000.0, altitude_ft=5000.0, ambient_c=10.0) - self.required(1000.0)) / 5.0

    @cached_property
    def octane_per_1000_ft_as_warm(self) -> float:
        """The same with the air as warm as below."""
        return (self.required(1000.0, altitude_ft=5000.0) - self.required(1000.0)) / 5.0

    def _squeezed(self, ratio: float) -> Engine:
        return changed(self.card, "block", compression_ratio=ratio)

    def _phased(self, ratio: float) -> float:
        """Requirement at a compression ratio, the base turned until half has burned as late as at 8:1."""

        def half(engine, base):
            return float(engine.full_throttle(1000.0, base).points.burned_50_deg_atdc)

        engine, wanted = self._squeezed(ratio), half(self._squeezed(8.0), RIGHT_DEG)
        base = find_root(lambda deg: np.array(wanted - half(engine, float(deg))), -12.0, 40.0, iterations=12)
        return self.required(1000.0, float(base), engine=engine)

    octane_at_6 = cached_property(lambda self: self.required(1000.0, engine=self._squeezed(6.0)))
    octane_at_7 = cached_property(lambda self: self.required(1000.0, engine=self._squeezed(7.0)))
    octane_at_8 = cached_property(lambda self: self.required(1000.0, engine=self._squeezed(8.0)))
    octane_at_9 = cached_property(lambda self: self.required(1000.0, engine=self._squeezed(9.0)))
    octane_at_10 = cached_property(lambda self: self.required(1000.0, engine=self._squeezed(10.0)))
    octane_at_6_phased = cached_property(lambda self: self._phased(6.0))
    octane_at_7_phased = cached_property(lambda self: self._phased(7.0))
    octane_at_9_phased = cached_property(lambda self: self._phased(9.0))
    octane_at_10_phased = cached_property(lambda self: self._phased(10.0))

    # ---- starting ------------------------------------------------------------------------------------------------

    def _starts(self, timing_deg=RIGHT_DEG, coolant_c=COLD_C, engine=None, **how) -> float:
        return start_trial(engine or self.engine, timing_deg, coolant_c, **how).runs_s or NEVER_S

    def _first_kick(self, coolant_c: float, battery: float = 1.0) -> float:
        for quarters in range(60, 180):
            if start_trial(self.engine, quarters / 4.0, coolant_c, battery=battery, at_most_s=3.0).kicks:
                return quarters / 4.0
        return float("nan")

    starts_s = cached_property(lambda self: self._starts())
    starts_10_late = cached_property(lambda self: self._starts(RIGHT_DEG - 10.0) / self.starts_s)
    starts_20_late = cached_property(lambda self: self._starts(RIGHT_DEG - 20.0))
    starts_empty_s = cached_property(lambda self: self._starts(bowl=0.0))
    starts_flooded_s = cached_property(lambda self: self._starts(flood=1.0))
    starts_flooded_open_s = cached_property(lambda self: self._starts(flood=1.0, throttle=1.0))
    starts_weak_battery = cached_property(lambda self: self._starts(battery=0.6) / self.starts_s)
    kicks_cold_deg = cached_property(lambda self: self._first_kick(COLD_C))
    kicks_hot_sooner_deg = cached_property(lambda self: self.kicks_cold_deg - self._first_kick(HOT_C))
    kicks_weak_battery_sooner_deg = cached_property(lambda self: self.kicks_cold_deg - self._first_kick(COLD_C, 0.6))

    @cached_property
    def starts_15_late(self) -> float:
        """Times as long 15 degrees later; NEVER_S where it does not start."""
        found = self._starts(RIGHT_DEG - 15.0)
        return found if found == NEVER_S else found / self.starts_s

    @cached_property
    def starts_without_choke_s(self) -> float:
        """Key to running at 5 °C, the choke stuck open."""
        return self._starts(coolant_c=5.0, engine=Engine(self.card, replace(SOUND, choke_stuck_open=True)))

    # ---- cams ----------------------------------------------------------------------------------------------------

    def _cam(self, overlap: float) -> tuple[float, float]:
        """Vacuum [inHg] and spread of one charge's work [%] with another cam, at its idle speed and base timing."""
        engine = changed(self.card, "valves", overlap_factor_deg_m=overlap, intake_closes_deg_abdc=CAM_CLOSES_DEG)
        screw = bring_idle_to(WarmIdle(engine), CAM_BASE_DEG, CAM_IDLE_RPM, SCREW_LIMITS)
        speed, vacuum = WarmIdle(engine).settled(CAM_BASE_DEG, screw)
        manifold_pa = Conditions().ambient_pa - PA_PER_INHG * vacuum
        spark = CAM_BASE_DEG + engine.centrifugal_deg(speed)
        return vacuum, 100.0 * float(engine.run_cycle(speed, manifold_pa, spark, Conditions()).work_spread)

    warm_cam_inhg = cached_property(lambda self: self._cam(0.9)[0])
    hot_cam_inhg = cached_property(lambda self: self._cam(1.3)[0])
    hottest_cam_inhg = cached_property(lambda self: self._cam(2.0)[0])
    hot_cam_spread_percent = cached_property(lambda self: self._cam(1.3)[1])
    hottest_cam_spread_percent = cached_property(lambda self: self._cam(2.0)[1])

    # ---- in gear, without load and on the road -------------------------------------------------------------------

    @cached_property
    def _into_drive(self) -> tuple[float, float]:
        """Speed [rpm] and vacuum [inHg] that an idle loses from neutral to drive, at the setting."""
        neutral, drive = (
            self.engine.idle(self.setting_deg, self.idling.found.idle_setting, gear=gear)
            for gear in ("neutral", "drive")
        )
        return (
            float(neutral.speed_rpm - drive.speed_rpm),
            float(neutral.manifold_vacuum_inhg - drive.manifold_vacuum_inhg),
        )

    drive_loses_rpm = cached_property(lambda self: self._into_drive[0])
    drive_loses_inhg = cached_property(lambda self: self._into_drive[1])
    stall_rpm = cached_property(lambda self: self.engine.stall_speed_rpm(self.setting_deg))

    @cached_property
    def revs_free_rpm(self) -> float:
        """The highest speed without load, the throttle wide open."""
        dynamics, fastest_rpm = Dynamics(self.engine, Conditions()), 0.0
        motion = dynamics.at_rest(85.0)
        inputs = ControlInputs(RIGHT_DEG, self.idling.found.idle_setting, vacuum_hose=HOSE_PLUGGED, ignition=True)
        for tick in range(round((SETTLES_S + REVS_FOR_S) / TICK_S)):
            inputs.starter = tick * TICK_S < 1.0
            inputs.throttle = 1.0 if tick * TICK_S > SETTLES_S else 0.0
            dynamics.tick(motion, inputs)
            fastest_rpm = max(fastest_rpm, motion.speed_rpm)
        return fastest_rpm

    @cached_property
    def _home(self) -> Conditions:
        return Conditions(HOME_FT[self.card.name])

    @cached_property
    def _setting_at_home_deg(self) -> float:
        return Idling(self.engine, self._home.altitude_ft).setting_deg

    @cached_property
    def road_margin_octane(self) -> float:
        """The least octane to spare on the full pull, at home, on the card's own fuel, at the setting."""
        home, (lowest_rpm, highest_rpm) = self._home, pulls_rpm(self.engine, self._home)
        speed = np.linspace(lowest_rpm, highest_rpm, 25)
        pull = self.engine.full_throttle(speed, self._setting_at_home_deg, altitude_ft=home.altitude_ft)
        return float(np.min(pull.knock_margin_octane))

    def _heard(self, farther_deg: float) -> float:
        """Worst ping of a full pull at home, the base so much earlier than the setting."""
        screw = usual_screw(self.card)
        found = AsFound(self._setting_at_home_deg + farther_deg, screw, coolant_c=85.0, prepared=True)
        session = Session(self.engine, conditions=self._home, found=found, tools=("route", "fuel"), watch=False)
        session.act("starter")
        session.advance(8.0)
        session.act("vacuum_hose", "on")
        session.act("route", "full pull")
        assert Operator(session).to_the_road() and session.act("road_check").kind == "done"
        session.advance(60.0)
        return session.trajectories[-1].drives[-1].worst_ping

    def _heard_from(self, ping: float) -> float:
        return float(find_root(lambda deg: np.array(ping - self._heard(float(deg))), 0.0, FARTHER_DEG, iterations=6))

    trace_from_deg = cached_property(lambda self: self._heard_from(TRACE_OF_PING))
    clear_from_deg = cached_property(lambda self: self._heard_from(CLEAR_PING))

    # ---- the map -------------------------------------------------------------------------------------------------

    @cached_property
    def map_error_kpa(self) -> float:
        """Work by the map beside the cycle where engines idle and labour."""
        day, generator = Conditions(), np.random.default_rng(4)
        speed, manifold_pa = generator.uniform(500.0, 1200.0, 300), generator.uniform(25e3, 50e3, 300)
        spark = generator.uniform(-5.0, 40.0, 300)
        by_map = self.engine.response(day).at(speed, manifold_pa, spark, "work_pa")
        by_cycle = self.engine.run_cycle(speed, manifold_pa, spark, day).work_pa
        return float(np.sqrt(np.mean((by_map - by_cycle) ** 2))) / 1e3

    @cached_property
    def map_setting_error_deg(self) -> float:
        """Setting by the map beside that by the cycle, the greatest of the overlaps 0.4, 0.6 and 0.8."""
        errors = []
        for overlap in (0.4, 0.6, 0.8):
            engine = changed(self.card, "valves", overlap_factor_deg_m=overlap)
            exactly = Idling(engine, plant=ByTheCycle(engine))
            errors.append(abs(Idling(engine).setting_deg - exactly.setting_deg))
        return max(errors)
