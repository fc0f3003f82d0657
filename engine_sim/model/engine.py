"""The engine as a whole: its card turned into SI values, its cycle, its map, and its settled states."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from engine_sim.errors import OutsideValidity
from engine_sim.physics import breathing, distributor, friction, fuel, ignition, knock, units
from engine_sim.physics.arrays import Numbers
from engine_sim.physics.distributor import HOSE_ON, HOSE_OPEN, HOSE_PLUGGED
from engine_sim.physics.geometry import CylinderGeometry
from engine_sim.physics.roots import find_root

from . import cycle
from .conditions import SEA_LEVEL_DAY, Conditions
from .population import usual_area_m2
from .response_family import MapFamily
from .response_map import DRAWS_NOTHING_PA, ResponseMap, works_share
from .results import FullThrottle, IdleState, OperatingPoints
from .wear import SOUND, Wear

if TYPE_CHECKING:
    from .card import EngineCard

EXHAUST_ABOVE_AMBIENT_PA = 1500.0  # calibration: silencer at light load; common practice
THROTTLE_CLOSED_DEG = 8.0  # angle of the closed plate to the bore's cross-section; common practice
THROTTLE_DISCHARGE = 0.8  # effective over geometric area; common practice
HEAT_FACTOR = 1.4  # of Woschni's coefficient, whose chambers were tidier than these; calibration
MANIFOLD_K = 358.0  # of the warm manifold's walls, which heat the charge; common practice
HEATING_AT_K = 293.15  # of the air for which a card gives `charge_heating_k`
OPEN_HOSE_AREA_M2 = 5.0e-6  # an open 4 mm hose, with its length; common practice
IDLE_SEARCH_RPM = (250.0, 3200.0)  # between which a settled idle is looked for
IDLE_SEARCH_POINTS = 40  # speeds that are tried between these two
STALL_SEARCH_RPM = (600.0, 6050.0, 50.0)  # from, to, step: where engine and converter are looked for
MARGIN_SEARCH_DEG = 40.0  # crank degrees either way in which the edge of ping is looked for
MAP_STEP_DEG = 2.0  # the step's own error, 4 in 10,000, is far below that of interpolating the map
LATEST_SPARK_DEG = -30.0  # crank degrees BTDC of total advance that the cycle is asked for
EARLIEST_SPARK_DEG = 80.0  # crank degrees BTDC of the same
LIQUID_AT_CRANKING = 0.15  # share of the fuel that does not vaporise while cranking; calibration
CRANKING_BELOW_RPM = 500.0  # from here down the share of liquid fuel grows; calibration
LIQUID_OVER_RPM = 200.0  # further down, until all of that share stays liquid; calibration
IDLE_BELOW_RPM = 1400.0  # from here down the idle circuit takes over; calibration
IDLE_OVER_RPM = 500.0  # further down, until it feeds alone; calibration
IDLE_BELOW_LOAD = 0.62  # manifold over ambient pressure below which the idle circuit takes over; calibration
IDLE_OVER_LOAD = 0.2  # further down, until it feeds alone; calibration
POWER_FROM_LOAD = 0.72  # manifold over ambient pressure from which the power circuit opens; calibration
POWER_AT_LOAD = 0.90  # at which it is open; calibration
FALSE_AIR_STEP = 0.02  # of the share of leaked air, so that few maps are blended
LEANEST_SHIFT = -0.48  # equivalence ratio that the mixture screws can take away: no charge fires any more
RICHEST_SHIFT = 0.40  # equivalence ratio that they can add: then the idle jet meters, and not the needle; calibration
HIGHEST_BACK_PRESSURE_PA = 60_000.0  # of a blocked exhaust, whose joints then blow past; calibration
WARM_COOLANT_C = 85.0  # of a warm engine at idle; common practice
TRAVEL_PER_IDLE_AREA = 0.057  # share of throttle travel that opens as much as the specified idle takes; calibration
SLOT_UNCOVERED_FROM = 0.02  # share of throttle travel at which an idle screw begins to uncover the transfer slot
SLOT_UNCOVERED_AT = 0.055  # at which all of it is uncovered; both common practice
SLOT_PHI = 0.16  # equivalence ratio that it then adds to the idle; calibration
SLOT_PHI_STEP = 0.01  # in which it is added, so that few maps are blended
CRANKCASE_VALVE_MM2_PER_LITRE = 0.7  # of a sound valve at idle, for each litre of the engine; common practice
CRANKCASE_VALVE_AT_MOST = 0.5  # share of the closed throttle's area that it is
BLOCKED_AT_G_S_PER_LITRE = 20.0  # exhaust flow at which `Wear.exhaust_blocked` is given
OVERLAP_PER_LATE_DEG = 0.01  # valves that close late draw exhaust back in [1/m-deg a degree]; calibration


@dataclass(frozen=True)
class WarmIdle:
    """The warm engine in neutral, hose off and plugged, as the method of `timing_method` needs it."""

    engine: Engine
    conditions: Conditions = SEA_LEVEL_DAY

    def settled(self, timing_deg: float, idle_setting: float) -> tuple[float, float]:
        """Speed [rpm] and vacuum [inHg] where the engine settles; NaN where it stalls."""
        state = self.engine.idle(
            timing_deg, idle_setting, self.conditions.altitude_ft, ambient_c=self.conditions.ambient_c
        )
        return float(state.speed_rpm), float(state.manifold_vacuum_inhg)


class Engine:
    """One engine, from its card and its state of wear. Cheap to make: a map is built or loaded on first use."""

    def __init__(self, card: EngineCard, wear: Wear = SOUND):
        self.card, self.wear = card, wear
        block = card.block
        squeeze = 1.0 + (block.compression_ratio - 1.0) * (1.0 - wear.compression_lost)
        geometry = CylinderGeometry(
            block.bore_mm / 1e3,
            block.stroke_mm / 1e3,
            squeeze,
            block.rod_length_mm / (block.stroke_mm / 2),
        )
        self.setup = self._cylinder_setup(geometry)
        self.cylinders = block.cylinders
        self.displacement_m3 = block.cylinders * geometry.swept_volume_m3
        self.torque_per_pa = self.displacement_m3 / (4 * np.pi)
        weights = card.distributor.weights
        self.weights = replace(
            weights,
            first_spring_n_m=weights.first_spring_n_m * wear.spring_left,
            first_preload_n=weights.first_preload_n * wear.spring_left,
            second_spring_n_m=weights.second_spring_n_m * wear.spring_left,
        )
        self.advance_source = wear.advance_hose_on or card.vacuum_advance.source
        inductance = card.ignition.coil_inductance_mh / 1e3 * wear.coil_left
        self.coil = ignition.Coil(card.ignition.coil_resistance_ohm, inductance)
        name = "|".join(map(str, (card.digest, squeeze, wear.valves_late_deg)))
        self._maps = MapFamily(name, self.build_map)

    def _cylinder_setup(self, geometry: CylinderGeometry) -> cycle.CylinderSetup:
        valves, burn, late = self.card.valves, self.card.burn, self.wear.valves_late_deg
        return cycle.CylinderSetup(
            geometry=geometry,
            intake_closes_deg=-180.0 + valves.intake_closes_deg_abdc + late,
            exhaust_opens_deg=180.0 - valves.exhaust_opens_deg_bbdc + late,
            overlap_factor_deg_m=valves.overlap_factor_deg_m + OVERLAP_PER_LATE_DEG * late,
            breathing_loss=self.card.breathing.loss_at_10_m_s,
            development_constant=burn.development_constant,
            rapid_constant=burn.rapid_constant,
            wall_k=units.kelvin_from_celsius(self.card.block.wall_temperature_c),
            heat_factor=HEAT_FACTOR,
        )

    # ---- the cycle -------------------------------------------------------------------------------------------

    def operating_points(
        self,
        speed_rpm: Numbers,
        manifold_pressure_kpa: Numbers,
        spark_deg_btdc: Numbers,
        octane_ron: Numbers | None = None,
        conditions: Conditions = SEA_LEVEL_DAY,
        step_deg: float = 1.0,
    ) -> OperatingPoints:
        """Compute the cycle itself at operating points; all arguments broadcast.

        `spark_deg_btdc` is the total advance. `octane_ron` is the octane number that the fuel has at that speed, that
        of the day's fuel where it is not given. All cylinders are taken to be sound. Raises
        OutsideValidity outside 200-6,000 rpm, 8-115 kPa, -30 to 80 degrees or 40-130 octane.
        """
        octane = self.fuel_octane(conditions, np.asarray(speed_rpm, float)) if octane_ron is None else octane_ron
        _check_range("speed_rpm", speed_rpm, 200, 6000)
        _check_range("manifold_pressure_kpa", manifold_pressure_kpa, 8, 115)
        _check_range("spark_deg_btdc", spark_deg_btdc, LATEST_SPARK_DEG, EARLIEST_SPARK_DEG)
        _check_range("octane_ron", octane, 40, 130)
        speed, pressure, spark, octane = np.broadcast_arrays(
            *(np.asarray(x, float) for x in (speed_rpm, manifold_pressure_kpa, spark_deg_btdc, octane))
        )
        result = self.run_cycle(speed, pressure * 1e3, spark, conditions, step_deg)
        required = knock.octane_required(result.integral_100)

        def excess_octane(further_deg):
            moved = self.run_cycle(speed, pressure * 1e3, spark + further_deg, conditions, step_deg)
            return knock.octane_required(moved.integral_100) - octane

        reach_deg = (
            np.maximum(-MARGIN_SEARCH_DEG, LATEST_SPARK_DEG - spark),
            np.minimum(MARGIN_SEARCH_DEG, EARLIEST_SPARK_DEG - spark),
        )
        return OperatingPoints(
            imep_kpa=result.work_pa / 1e3,
            torque_nm=result.work_pa * self.torque_per_pa,
            knock_integral=knock.knock_integral(result.integral_100, octane),
            octane_required_ron=required,
            knock_margin_octane=octane - required,
            burned_50_deg_atdc=result.burned_50_deg_atdc,
            peak_pressure_deg_atdc=result.peak_pressure_deg_atdc,
            peak_pressure_kpa=result.peak_pressure_pa / 1e3,
            residual_fraction=result.residual_fraction,
            development_deg=result.development_deg,
            rapid_deg=result.rapid_deg,
            heat_loss_share=result.heat_loss_share,
            exhaust_k=result.exhaust_k,
            air_flow_g_s=result.air_kg * self.cylinders * speed / units.RPM_PER_CYCLE_HZ * 1e3,
            _excess_octane=excess_octane,
            _reach_deg=reach_deg,
        )

    def run_cycle(
        self,
        speed_rpm: Numbers,
        manifold_pa: Numbers,
        spark_deg: Numbers,
        conditions: Conditions = SEA_LEVEL_DAY,
        step_deg: float = 1.0,
        trace: cycle.CycleTrace | None = None,
        mixture_shift: float = 0.0,
        false_air: float = 0.0,
        back_pressure_pa: float = 0.0,
    ) -> cycle.CycleResult:
        """The cycle in SI units, with the mixture that the carburettor meters; arguments broadcast.

        `mixture_shift` is added to the idle's equivalence ratio (the mixture screws); `false_air` is the share of the
        air that did not come through the carburettor; `back_pressure_pa` is added to the exhaust's pressure.
        """
        metered = self.equivalence_ratio(speed_rpm, manifold_pa / conditions.ambient_pa, conditions, mixture_shift)
        phi = metered * (1.0 - false_air)
        fresh_k = self.fresh_k(conditions)
        exhaust_pa = self.exhaust_pa(conditions) + back_pressure_pa
        return cycle.run_cycle(
            self.setup,
            speed_rpm,
            manifold_pa,
            spark_deg,
            exhaust_pa,
            fresh_k,
            phi,
            conditions.vapour_share,
            step_deg,
            trace,
        )

    def equivalence_ratio(
        self, speed_rpm: Numbers, load: Numbers, conditions: Conditions = SEA_LEVEL_DAY, mixture_shift: float = 0.0
    ) -> Numbers:
        """Mixture that the carburettor meters over speed and load (manifold over ambient pressure); broadcast.

        In thinner air than it was jetted for it meters too much fuel: as the square root of the density.
        """
        mixture = self.card.mixture
        idle = _smooth(IDLE_BELOW_RPM - np.asarray(speed_rpm, float), 0.0, IDLE_OVER_RPM)
        idle = idle * _smooth(IDLE_BELOW_LOAD - load, 0.0, IDLE_OVER_LOAD)
        power = _smooth(np.asarray(load, float), POWER_FROM_LOAD, POWER_AT_LOAD)
        cruise = mixture.cruise_phi + (mixture.idle_phi + mixture_shift - mixture.cruise_phi) * idle
        liquid = LIQUID_AT_CRANKING * _smooth(CRANKING_BELOW_RPM - np.asarray(speed_rpm, float), 0.0, LIQUID_OVER_RPM)
        return (cruise + (mixture.power_phi - cruise) * power) * self.enrichment(conditions) * (1.0 - liquid)

    def enrichment(self, conditions: Conditions) -> float:
        """Fuel that the jets meter over what they were chosen for: (density there / density here)^(1/2)."""
        jetted = Conditions(self.card.mixture.jetted_altitude_ft)
        thinner = (jetted.ambient_pa / jetted.ambient_k) / (conditions.ambient_pa / conditions.ambient_k)
        return float(np.sqrt(thinner))

    def fresh_k(self, conditions: Conditions) -> float:
        """Temperature of the charge in the ports [K]: a share of the way from the air to the warm manifold's walls."""
        share = self.card.breathing.charge_heating_k / (MANIFOLD_K - HEATING_AT_K)
        return conditions.ambient_k + share * (MANIFOLD_K - conditions.ambient_k)

    def exhaust_pa(self, conditions: Conditions) -> float:
        """Pressure in the exhaust manifold [Pa], the exhaust being free."""
        return conditions.ambient_pa + EXHAUST_ABOVE_AMBIENT_PA

    def back_pressure_pa(self, exhaust_g_s: Numbers) -> Numbers:
        """What a blocked exhaust adds to that pressure at a flow of gas, once it has built up; any shape."""
        flow = exhaust_g_s / (self.displacement_m3 * 1e3 * BLOCKED_AT_G_S_PER_LITRE)
        return np.minimum(1e3 * self.wear.exhaust_blocked * flow**2, HIGHEST_BACK_PRESSURE_PA)

    def fuel_octane(self, conditions: Conditions, speed_rpm: Numbers = 0.0) -> Numbers:
        """Octane number that the fuel in the tank has at a speed: its RON when the engine turns slowly; any shape."""
        ron, mon = self.fuel(conditions)
        return fuel.octane_in_use(ron, mon, speed_rpm)

    def fuel(self, conditions: Conditions) -> tuple[float, float]:
        """RON and MON of the fuel in the tank."""
        setting = self.card.setting
        ron = setting.fuel_octane_ron if conditions.octane_ron is None else conditions.octane_ron
        return ron, ron - setting.fuel_sensitivity if conditions.octane_mon is None else conditions.octane_mon

    # ---- the map ---------------------------------------------------------------------------------------------

    def response(
        self,
        conditions: Conditions = SEA_LEVEL_DAY,
        mixture_shift: float = 0.0,
        false_air: float = 0.0,
        back_pressure_pa: float = 0.0,
    ) -> ResponseMap:
        """The response map for that day, loaded from disk or built.

        Other idle mixtures, shares of leaked air and back pressures are blended from maps on straight lines; leaked air
        saturates at half of all air.
        """
        return self._maps.map_for(conditions, mixture_shift, false_air, back_pressure_pa)

    def build_map(
        self,
        conditions: Conditions = SEA_LEVEL_DAY,
        mixture_shift: float = 0.0,
        false_air: float = 0.0,
        back_pressure_pa: float = 0.0,
        as_jetted: ResponseMap | None = None,
    ) -> ResponseMap:
        """Build the map, without looking on disk. `as_jetted`, where given, is the same with no `mixture_shift`: then
        only what the idle's circuit feeds is worked out."""

        def differs(speed_rpm, manifold_pa):
            at = speed_rpm, manifold_pa / conditions.ambient_pa, conditions
            return self.equivalence_ratio(*at, mixture_shift) != self.equivalence_ratio(*at)

        def nodes(speed_rpm, manifold_pa, spark_deg):
            return self.run_cycle(
                speed_rpm,
                manifold_pa,
                spark_deg,
                conditions,
                MAP_STEP_DEG,
                mixture_shift=mixture_shift,
                false_air=false_air,
                back_pressure_pa=back_pressure_pa,
            )

        return ResponseMap.build(nodes, conditions.ambient_pa, as_jetted, differs)

    # ---- throttle, losses, advance ----------------------------------------------------------------------------

    def throttle_area_m2(
        self, idle_screw: Numbers, throttle: Numbers = 0.0, vacuum_hose: str = HOSE_PLUGGED
    ) -> Numbers:
        """Effective area that lets air into the manifold [m2]: stop, screw, plate, and an open hose as a leak."""
        return self.metered_area_m2(idle_screw, throttle) + self.leak_area_m2(vacuum_hose)

    def leak_area_m2(self, vacuum_hose: str = HOSE_PLUGGED) -> float:
        """Area that lets air in past the carburettor [m2], which then brings no fuel; as `Wear.leak_m2`."""
        return self.wear.leak_m2 + (OPEN_HOSE_AREA_M2 if self.hose_leaks(vacuum_hose) else 0.0)

    def metered_area_m2(self, idle_screw: Numbers, throttle: Numbers = 0.0) -> Numbers:
        """Effective area through which the carburettor meters [m2]: stop, screw and plate."""
        inlet = self.card.breathing
        stop = (
            inlet.closed_throttle_area_mm2 + inlet.idle_screw_area_mm2_per_turn * np.asarray(idle_screw, float)
        ) * 1e-6
        bore = THROTTLE_DISCHARGE * inlet.throttle_bores * np.pi / 4 * (inlet.throttle_bore_mm / 1e3) ** 2
        closed = np.deg2rad(THROTTLE_CLOSED_DEG)
        angle = closed + np.asarray(throttle, float) * (np.pi / 2 - closed)
        return stop + bore * (1.0 - np.cos(angle) / np.cos(closed))

    def plate_travel(self, idle_screw: Numbers, throttle: Numbers = 0.0) -> Numbers:
        """Share of full travel by which the throttle plate stands open beyond its place at the specified idle [-]:
        opened, or held open by an idle screw that is further in than usual; arguments broadcast."""
        usual_m2 = usual_area_m2(self.card)
        beyond_m2 = np.maximum(self.metered_area_m2(idle_screw) - usual_m2, 0.0)
        return np.minimum(throttle + TRAVEL_PER_IDLE_AREA * beyond_m2 / usual_m2, 1.0)

    def slot_shift(self, idle_screw: float) -> float:
        """Equivalence ratio that the transfer slot adds to the idle, where an idle screw far in uncovers it [-]."""
        beyond = float(self.plate_travel(idle_screw)) - SLOT_UNCOVERED_FROM
        uncovered = min(max(beyond / (SLOT_UNCOVERED_AT - SLOT_UNCOVERED_FROM), 0.0), 1.0)
        return SLOT_PHI_STEP * round(SLOT_PHI * uncovered / SLOT_PHI_STEP)

    def hose_leaks(self, vacuum_hose: str) -> bool:
        """Whether the advance hose lets air into the manifold: off and open, or on a torn vacuum unit; one on a ported
        source does not, at idle."""
        opens = vacuum_hose == HOSE_OPEN or (vacuum_hose == HOSE_ON and self.wear.canister_torn)
        return opens and self.advance_source == "manifold"

    def loss_torque_nm(
        self,
        speed_rpm: Numbers,
        manifold_pa: Numbers,
        conditions: Conditions,
        coolant_c: Numbers = WARM_COOLANT_C,
        back_pressure_pa: Numbers = 0.0,
    ) -> Numbers:
        """Torque spent on friction, pumping and accessories [N m]; arguments broadcast."""
        losses = self.card.losses
        rubbing = friction.rubbing_pressure_pa(speed_rpm) * losses.friction_factor * friction.cold_oil_factor(coolant_c)
        pumping = self.exhaust_pa(conditions) + back_pressure_pa - manifold_pa
        return self.torque_per_pa * (rubbing + pumping) + losses.accessories_nm

    def advance_deg(
        self,
        base_timing_deg: Numbers,
        speed_rpm: Numbers,
        vacuum_inhg: Numbers,
        throttle: Numbers = 0.0,
        vacuum_hose: str = HOSE_PLUGGED,
    ) -> Numbers:
        """Total advance [crank deg]: base, centrifugal, and vacuum where the hose is on; broadcast. `throttle` is the
        plate's travel (`plate_travel`), which uncovers a ported source."""
        total = base_timing_deg + self.centrifugal_deg(speed_rpm)
        if vacuum_hose != HOSE_ON or self.wear.canister_torn:
            return total
        canister = self.card.vacuum_advance
        share = 1.0 if self.advance_source == "manifold" else distributor.ported_share(throttle)
        return total + distributor.vacuum_advance_deg(
            vacuum_inhg * share, canister.start_inhg, canister.full_inhg, canister.degrees
        )

    def centrifugal_deg(self, speed_rpm: Numbers) -> np.ndarray:
        """Advance of the weights [crank deg] as they are: free, weakly sprung, or stuck; any shape."""
        stuck = self.wear.weights_stuck_deg
        return self.weights.advance_deg(speed_rpm) if stuck is None else np.full(np.shape(speed_rpm), stuck)

    def load_torque_nm(self, speed_rpm: Numbers, gear: Literal["neutral", "drive"]) -> Numbers:
        """What the stationary vehicle's converter takes [N m]: nothing out of gear, else as speed squared."""
        if gear == "neutral" or self.card.drive.transmission == "manual":
            return 0.0 * np.asarray(speed_rpm, float)
        return self.card.drive.converter_drag_nm_at_1000_rpm * (np.asarray(speed_rpm, float) / 1000.0) ** 2

    def stall_speed_rpm(self, base_timing_deg_btdc: float, conditions: Conditions = SEA_LEVEL_DAY) -> float:
        """Speed [rpm] of the warm engine of a standing automatic in drive with the throttle wide open, where its
        converter takes all of its torque. Raises OutsideValidity for a gear lever, or where it takes less up to 6,000.
        """
        if self.card.drive.transmission == "manual":
            raise OutsideValidity("A vehicle with a gear lever has no converter, and so no stall speed.")
        speed_rpm = np.arange(*STALL_SEARCH_RPM)
        pull = self.full_throttle(
            speed_rpm, base_timing_deg_btdc, altitude_ft=conditions.altitude_ft, ambient_c=conditions.ambient_c
        )
        surplus = pull.torque_nm - self.load_torque_nm(speed_rpm, "drive")
        after = int(np.argmax(surplus < 0.0))
        if not after:
            raise OutsideValidity(
                f"The engine and its converter meet at no speed from {speed_rpm[0]:g} to {speed_rpm[-1]:g} rpm: give "
                "the card another converter_drag_nm_at_1000_rpm."
            )
        here, there = surplus[after - 1], surplus[after]
        return float(speed_rpm[after - 1] + (speed_rpm[after] - speed_rpm[after - 1]) * here / (here - there))

    # ---- settled states -----------------------------------------------------------------------------------------

    def idle(
        self,
        base_timing_deg_btdc: Numbers,
        idle_screw: Numbers = 1.5,
        altitude_ft: float = 0.0,
        vacuum_advance: str = "plugged",
        gear: Literal["neutral", "drive"] = "neutral",
        ambient_c: float = 20.0,
        throttle: float = 0.0,
        coolant_c: float = WARM_COOLANT_C,
        mixture_screw: float | None = None,
        slot: bool = True,
    ) -> IdleState:
        """Where the warm engine settles with the throttle on its stop; timing and screw broadcast.

        `vacuum_advance` is the hose: plugged, open or connected; `mixture_screw` the turns out, the card's own where
        none is given. Back pressure of a blocked exhaust is left out: at idle there is next to none. Raises
        OutsideValidity for timing outside -12 to 58 degrees, a screw outside 0-10 turns, several screws at once with an
        air leak or the transfer slot uncovered, and where the engine settles above 3,200 rpm; ValueError for another
        word. `slot=False` leaves the slot's fuel out.

        >>> import engine_sim
        >>> engine = engine_sim.Engine(engine_sim.load_card("course/engines/farm_runabout_four.toml"))
        >>> idle = engine.idle([6.0, 14.0, 22.0])
        >>> [round(float(vacuum), 1) for vacuum in idle.manifold_vacuum_inhg]
        [18.2, 18.7, 19.0]
        """
        hose = _hose_words(vacuum_advance)
        _check_range("base_timing_deg_btdc", base_timing_deg_btdc, -12, 58)
        _check_range("idle_screw", idle_screw, 0, 10)
        conditions = Conditions(altitude_ft, ambient_c)
        base, screw = np.asarray(base_timing_deg_btdc, float), np.asarray(idle_screw, float)
        shape = np.broadcast_shapes(base.shape, screw.shape)
        base, screw = (array.reshape((1,) * (len(shape) - array.ndim) + array.shape) for array in (base, screw))
        area = np.asarray(self.throttle_area_m2(screw, throttle, hose))  # not spread over timings: pressure needs none
        shift = 0.0 if mixture_screw is None else mixture_shift(self.card, mixture_screw)
        leak, enriched = self.leak_area_m2(hose), self.slot_shift(float(screw.max())) if slot else 0.0
        if (leak or enriched) and screw.size > 1:
            why = "With an air leak" if leak else f"With a screw of {screw.max():g} turns, which uncovers the slot,"
            raise OutsideValidity(f"{why} the idle is worked out for one screw at a time; {screw.size} were given.")
        response = self.response(conditions, shift + enriched, false_air(leak, float(area.flat[0])) if leak else 0.0)
        travel = self.plate_travel(screw, throttle)

        def surplus(speed_rpm):
            pressure = self._manifold_pa(speed_rpm, area, conditions, response)
            vacuum = units.inhg_from_pa(conditions.ambient_pa - pressure)
            total = self.advance_deg(base, speed_rpm, vacuum, travel, hose)
            imep = response.at(*response.inside(speed_rpm, pressure, total), "work_pa") * works_share(total)
            imep = imep * self.wear.work_share(speed_rpm, self.cylinders)
            spent = self.loss_torque_nm(speed_rpm, pressure, conditions, coolant_c) + self.load_torque_nm(
                speed_rpm, gear
            )
            return imep * self.torque_per_pa - spent, pressure, total

        speed, stalls = _stable_speed(lambda speed_rpm: surplus(speed_rpm)[0], shape)
        _, pressure, total = surplus(np.where(stalls, 600.0, speed))
        gone = np.where(stalls, np.nan, 1.0)
        return IdleState(
            speed,
            pressure / 1e3 * gone,
            units.inhg_from_pa(conditions.ambient_pa - pressure) * gone,
            total * gone,
            stalls,
        )

    def full_throttle(
        self,
        speed_rpm: Numbers,
        base_timing_deg_btdc: Numbers,
        octane_ron: Numbers | None = None,
        altitude_ft: float = 0.0,
        ambient_c: float = 20.0,
        humidity_percent: float = 0.0,
    ) -> FullThrottle:
        """The warm, sound engine with the throttle wide open; speed, timing and octane broadcast.

        Vacuum advance is none, since there is no vacuum to speak of. Raises OutsideValidity as `operating_points`.

        >>> import engine_sim
        >>> engine = engine_sim.Engine(engine_sim.load_card("course/engines/farm_runabout_four.toml"))
        >>> pull = engine.full_throttle(2000.0, [8.0, 16.0], octane_ron=95.0)
        >>> [round(float(margin)) for margin in pull.knock_margin_octane]
        [11, 7]
        """
        conditions = Conditions(altitude_ft, ambient_c, humidity_percent=humidity_percent)
        octane = self.fuel_octane(conditions, np.asarray(speed_rpm, float)) if octane_ron is None else octane_ron
        speed, base = np.asarray(speed_rpm, float), np.asarray(base_timing_deg_btdc, float)
        pressure = self._manifold_pa(speed, self.throttle_area_m2(0.0, 1.0), conditions)  # whatever the timing
        total = self.advance_deg(base, speed, 0.0)
        speed, pressure, total, octane = np.broadcast_arrays(speed, pressure, total, np.asarray(octane, float))
        points = self.operating_points(speed, pressure / 1e3, total, octane, conditions)
        torque = points.torque_nm - self.loss_torque_nm(speed, pressure, conditions)
        return FullThrottle(
            torque_nm=torque,
            power_kw=torque * units.rad_s_from_rpm(speed) / 1e3,
            brake_mep_kpa=torque / self.torque_per_pa / 1e3,
            total_advance_deg=total,
            manifold_pressure_kpa=pressure / 1e3,
            octane_required_ron=points.octane_required_ron,
            knock_margin_octane=points.knock_margin_octane,
            points=points,
        )

    def _manifold_pa(self, speed_rpm, area_m2, conditions: Conditions, response: ResponseMap | None = None):
        """Manifold pressure at which the cylinders draw what the throttle passes [Pa]: by a map, or by the cycle itself
        where none is given; broadcast."""
        ambient = conditions.ambient_pa
        speed, area = np.broadcast_arrays(np.asarray(speed_rpm, float), np.asarray(area_m2, float))
        air_kg = response.air_at(speed) if response else functools.partial(self._air_kg, speed, conditions)
        cycles_s = self.cylinders * speed / units.RPM_PER_CYCLE_HZ * self.wear.draw_share(speed, self.cylinders)

        def surplus(manifold_pa):
            passed = breathing.throttle_flow_kg_s(area, ambient, conditions.ambient_k, manifold_pa)
            return passed - air_kg(manifold_pa) * cycles_s

        return find_root(surplus, np.full(speed.shape, DRAWS_NOTHING_PA), np.full(speed.shape, ambient))

    def _air_kg(self, speed_rpm, conditions: Conditions, manifold_pa):
        """Fresh air that a cylinder takes in a cycle [kg]; arrays of one shape."""
        phi = self.equivalence_ratio(speed_rpm, manifold_pa / conditions.ambient_pa, conditions)
        fresh_k = self.fresh_k(conditions)
        exhaust_pa, vapour = self.exhaust_pa(conditions), conditions.vapour_share
        return cycle.trapped_air_kg(self.setup, speed_rpm, manifold_pa, exhaust_pa, fresh_k, phi, vapour)


def mixture_shift(card: EngineCard, screw_turns: float) -> float:
    """Equivalence ratio that the idle mixture screws add, from their turns out. From `most_turns_out` on the jet meters
    and turning them changes nothing; nor does it where no charge fires any more (-0.48)."""
    shift = (screw_turns - card.mixture.mixture_screw_turns) * card.mixture.phi_per_turn
    return min(max(shift, LEANEST_SHIFT), RICHEST_SHIFT)


def most_turns_out(card: EngineCard) -> float:
    """Turns out of the idle mixture screws from which on they change nothing."""
    return card.mixture.mixture_screw_turns + RICHEST_SHIFT / card.mixture.phi_per_turn


def crankcase_valve_m2(card: EngineCard) -> float:
    """Area of a sound crankcase valve at idle [m2], which is part of the closed throttle's; 0 where there is none."""
    if not card.breathing.crankcase_valve:
        return 0.0
    usual_mm2 = CRANKCASE_VALVE_MM2_PER_LITRE * card.displacement_l
    return 1e-6 * min(usual_mm2, CRANKCASE_VALVE_AT_MOST * card.breathing.closed_throttle_area_mm2)


def false_air(leak_m2: float, area_m2: float) -> float:
    """Share of the air that a leak lets in, of all that comes in through an area; in steps of 0.02, below 0 where less
    comes in than the idle is jetted for."""
    return FALSE_AIR_STEP * round(min(leak_m2 / area_m2, 1.0) / FALSE_AIR_STEP)


def _stable_speed(surplus, shape):
    """Highest speed at which the torque surplus falls through zero, and where there is none."""
    grid = np.linspace(*IDLE_SEARCH_RPM, IDLE_SEARCH_POINTS)
    torque = np.broadcast_to(surplus(grid.reshape(-1, *(1,) * len(shape))), (grid.size, *shape))
    if (torque[-1] > 0).any():
        raise OutsideValidity(
            f"With so much air the engine settles above {IDLE_SEARCH_RPM[1]:g} rpm, which is no idle: turn the screw "
            "out or close the throttle."
        )
    falls = (torque[:-1] > 0) & ~(torque[1:] > 0)
    stalls = ~falls.any(axis=0)
    index = np.where(stalls, 0, len(grid) - 2 - np.argmax(falls[::-1], axis=0))
    at_ends = tuple(np.take_along_axis(torque, end[None], axis=0)[0] for end in (index, index + 1))
    speed = find_root(surplus, grid[index], grid[index + 1], 6, at_ends)
    return np.where(stalls, np.nan, speed), stalls


def _smooth(value, low, high):
    share = np.clip((value - low) / (high - low), 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _hose_words(vacuum_advance: str) -> str:
    words = {"plugged": HOSE_PLUGGED, "open": HOSE_OPEN, "connected": HOSE_ON}
    if vacuum_advance not in words:
        raise ValueError(f"vacuum_advance can be {', '.join(words)}; '{vacuum_advance}' was given.")
    return words[vacuum_advance]


def _check_range(name: str, value, low: float, high: float) -> None:
    array = np.asarray(value, dtype=float)
    wrong = ~((array >= low) & (array <= high))
    if wrong.any():
        raise OutsideValidity(f"{name} is valid from {low:g} to {high:g}; {array[wrong].flat[0]:g} was asked for.")
