"""The engine as a whole: its card turned into SI values, its cycle, its map, and its settled states."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from . import atmosphere, breathing, cycle, distributor, friction, knock, units
from .errors import OutsideValidity
from .geometry import CylinderGeometry
from .response import ResponseMap, stored_map
from .roots import crossing

if TYPE_CHECKING:
    from .card import EngineCard

EXHAUST_ABOVE_AMBIENT_PA = 1500.0  # calibration: silencer at light load; common practice
THROTTLE_CLOSED_DEG = 8.0
THROTTLE_DISCHARGE = 0.8
OPEN_HOSE_AREA_M2 = 5.0e-6  # an open 4 mm hose, with its length; common practice
IDLE_SEARCH_RPM = (250.0, 3200.0)
MARGIN_SEARCH_DEG = 40.0
MAP_STEP_DEG = 2.0  # the step's own error, 4 in 10,000, is far below that of interpolating the map
LATEST_SPARK_DEG, EARLIEST_SPARK_DEG = -30.0, 80.0


@dataclass(frozen=True)
class Conditions:
    """The day: altitude [ft], air temperature [°C], and the fuel in the tank [RON; None: what the card names]."""

    altitude_ft: float = 0.0
    ambient_c: float = 20.0
    octane_ron: float | None = None

    @cached_property
    def ambient_pa(self) -> float:
        """Pressure of the standard atmosphere at this altitude [Pa]."""
        return float(atmosphere.standard_pressure_pa(units.metres_from_feet(self.altitude_ft)))

    @property
    def ambient_k(self) -> float:
        """Air temperature [K]."""
        return units.kelvin_from_celsius(self.ambient_c)


SEA_LEVEL_DAY = Conditions()


@dataclass(frozen=True)
class OperatingPoints:
    """What the cycle gives at each point; arrays of one shape.

    `knock_margin_octane` is the fuel's octane number less the requirement.
    """

    imep_kpa: np.ndarray
    torque_nm: np.ndarray
    knock_integral: np.ndarray
    octane_required_ron: np.ndarray
    knock_margin_octane: np.ndarray
    burned_50_deg_atdc: np.ndarray
    peak_pressure_deg_atdc: np.ndarray
    peak_pressure_kpa: np.ndarray
    residual_fraction: np.ndarray
    development_deg: np.ndarray
    rapid_deg: np.ndarray
    heat_loss_share: np.ndarray
    exhaust_k: np.ndarray
    air_flow_g_s: np.ndarray
    _excess_octane: Callable = field(repr=False)  # requirement less fuel, from degrees of further advance
    _reach_deg: tuple[np.ndarray, np.ndarray] = field(repr=False)

    @cached_property
    def knock_margin_deg(self) -> np.ndarray:
        """How much further the spark may be advanced until ping begins; negative: how far it must be retarded [deg].

        Found by running the cycle at other timings when it is first asked for. Saturates at +-40 degrees and where the
        total advance would leave -30 to 80 degrees.
        """
        return crossing(self._excess_octane, *self._reach_deg)


@dataclass(frozen=True)
class IdleState:
    """Where the engine settles; arrays of one shape. A state that stalls is NaN in all but `stalls`."""

    speed_rpm: np.ndarray
    manifold_pressure_kpa: np.ndarray
    manifold_vacuum_inhg: np.ndarray
    total_advance_deg: np.ndarray
    stalls: np.ndarray


@dataclass(frozen=True)
class WarmIdle:
    """The warm engine in neutral, hose off and plugged, as the method of `procedure` sees it."""

    engine: Engine
    conditions: Conditions = SEA_LEVEL_DAY

    def settled(self, timing_deg: float, idle_setting: float) -> tuple[float, float]:
        """Speed [rpm] and vacuum [inHg] where the engine settles; NaN where it stalls."""
        state = self.engine.idle(
            timing_deg, idle_setting, self.conditions.altitude_ft, ambient_c=self.conditions.ambient_c
        )
        return float(state.speed_rpm), float(state.manifold_vacuum_inhg)


@dataclass(frozen=True)
class FullThrottle:
    """The engine pulling with the throttle wide open; arrays of one shape."""

    torque_nm: np.ndarray
    power_kw: np.ndarray
    brake_mep_kpa: np.ndarray
    total_advance_deg: np.ndarray
    manifold_pressure_kpa: np.ndarray
    octane_required_ron: np.ndarray
    knock_margin_octane: np.ndarray
    points: OperatingPoints

    @property
    def knock_margin_deg(self) -> np.ndarray:
        """How much further the spark may be advanced until ping begins [deg]; see OperatingPoints."""
        return self.points.knock_margin_deg


class Engine:
    """One engine, from its card. Cheap to make: the map is built or loaded when it is first wanted."""

    def __init__(self, card: EngineCard):
        self.card = card
        block, valves, burn = card.block, card.valves, card.burn
        geometry = CylinderGeometry(
            block.bore_mm / 1e3,
            block.stroke_mm / 1e3,
            block.compression_ratio,
            block.rod_length_mm / (block.stroke_mm / 2),
        )
        self.setup = cycle.CylinderSetup(
            geometry,
            -180.0 + valves.intake_closes_deg_abdc,
            180.0 - valves.exhaust_opens_deg_bbdc,
            valves.overlap_factor_deg_m,
            card.breathing.loss_at_10_m_s,
            burn.development_constant,
            burn.rapid_constant,
            units.kelvin_from_celsius(block.wall_temperature_c),
            1.0,
        )
        self.cylinders = block.cylinders
        self.displacement_m3 = block.cylinders * geometry.swept_volume_m3
        self.torque_per_pa = self.displacement_m3 / (4 * np.pi)
        self._maps: dict[tuple, ResponseMap] = {}

    # ---- the cycle -------------------------------------------------------------------------------------------

    def operating_points(
        self,
        speed_rpm,
        manifold_pressure_kpa,
        spark_deg_btdc,
        octane_ron=None,
        conditions: Conditions = SEA_LEVEL_DAY,
        step_deg: float = 1.0,
    ) -> OperatingPoints:
        """Compute the cycle itself at operating points; all arguments broadcast.

        `spark_deg_btdc` is the total advance. `octane_ron` is the card's fuel where it is not given. Raises
        OutsideValidity outside 200-6,000 rpm, 8-115 kPa, -30 to 80 degrees or 40-130 octane.
        """
        octane = self.fuel_octane(conditions) if octane_ron is None else octane_ron
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
            result.imep_pa / 1e3,
            result.imep_pa * self.torque_per_pa,
            knock.knock_integral(result.integral_100, octane),
            required,
            octane - required,
            result.burned_50_deg_atdc,
            result.peak_pressure_deg_atdc,
            result.peak_pressure_pa / 1e3,
            result.residual_fraction,
            result.development_deg,
            result.rapid_deg,
            result.heat_loss_share,
            result.exhaust_k,
            result.air_kg * self.cylinders * speed / 120.0 * 1e3,
            excess_octane,
            reach_deg,
        )

    def run_cycle(self, speed_rpm, manifold_pa, spark_deg, conditions=SEA_LEVEL_DAY, step_deg=1.0, trace=None):
        """The cycle in SI units, with the mixture that the carburettor meters; arguments broadcast."""
        phi = self.equivalence_ratio(speed_rpm, manifold_pa / conditions.ambient_pa)
        fresh_k = conditions.ambient_k + self.card.breathing.charge_heating_k
        return cycle.run_cycle(
            self.setup, speed_rpm, manifold_pa, spark_deg, self.exhaust_pa(conditions), fresh_k, phi, step_deg, trace
        )

    def equivalence_ratio(self, speed_rpm, load):
        """Mixture that the carburettor meters over speed and load (manifold over ambient pressure); broadcast."""
        mixture = self.card.mixture
        idle = _smooth(1400.0 - np.asarray(speed_rpm, float), 0.0, 500.0) * _smooth(0.62 - load, 0.0, 0.2)
        power = _smooth(np.asarray(load, float), 0.72, 0.90)
        cruise = mixture.cruise_phi + (mixture.idle_phi - mixture.cruise_phi) * idle
        return cruise + (mixture.power_phi - cruise) * power

    def exhaust_pa(self, conditions: Conditions) -> float:
        """Pressure in the exhaust manifold [Pa]."""
        return conditions.ambient_pa + EXHAUST_ABOVE_AMBIENT_PA

    def fuel_octane(self, conditions: Conditions) -> float:
        """Octane number of the fuel in the tank [RON]."""
        return self.card.setting.fuel_octane_ron if conditions.octane_ron is None else conditions.octane_ron

    # ---- the map ---------------------------------------------------------------------------------------------

    def response(self, conditions: Conditions = SEA_LEVEL_DAY) -> ResponseMap:
        """The response map for that day, loaded from disk or built."""
        key = (round(conditions.ambient_pa), round(conditions.ambient_k, 2))
        if key not in self._maps:
            name = f"{self.card.digest}|{key[0]}|{key[1]}"
            self._maps[key] = stored_map(name, lambda: self.build_map(conditions), conditions.ambient_pa)
        return self._maps[key]

    def build_map(self, conditions: Conditions = SEA_LEVEL_DAY) -> ResponseMap:
        """Build the map anew, without looking on disk."""

        def nodes(speed_rpm, manifold_pa, spark_deg):
            return self.run_cycle(speed_rpm, manifold_pa, spark_deg, conditions, MAP_STEP_DEG)

        return ResponseMap.build(nodes, conditions.ambient_pa)

    # ---- throttle, losses, advance ----------------------------------------------------------------------------

    def throttle_area_m2(self, idle_screw, throttle=0.0, vacuum_hose: str = "off and plugged"):
        """Effective area that lets air into the manifold [m2]: stop, screw, plate, and an open hose as a leak."""
        inlet = self.card.breathing
        stop = (
            inlet.closed_throttle_area_mm2 + inlet.idle_screw_area_mm2_per_turn * np.asarray(idle_screw, float)
        ) * 1e-6
        bore = THROTTLE_DISCHARGE * inlet.throttle_bores * np.pi / 4 * (inlet.throttle_bore_mm / 1e3) ** 2
        closed = np.deg2rad(THROTTLE_CLOSED_DEG)
        angle = closed + np.asarray(throttle, float) * (np.pi / 2 - closed)
        leak = OPEN_HOSE_AREA_M2 if self.hose_leaks(vacuum_hose) else 0.0
        return stop + bore * (1.0 - np.cos(angle) / np.cos(closed)) + leak

    def hose_leaks(self, vacuum_hose: str) -> bool:
        """Whether an open advance hose lets air into the manifold: one on a ported source does not, at idle."""
        return vacuum_hose == "off and open" and self.card.vacuum_advance.source == "manifold"

    def loss_torque_nm(self, speed_rpm, manifold_pa, conditions: Conditions, coolant_c=85.0):
        """Torque spent on friction, pumping and accessories [N m]; broadcast."""
        losses = self.card.losses
        rubbing = friction.rubbing_pressure_pa(speed_rpm) * losses.friction_factor * friction.cold_oil_factor(coolant_c)
        pumping = self.exhaust_pa(conditions) - manifold_pa
        return self.torque_per_pa * (rubbing + pumping) + losses.accessories_nm

    def advance_deg(self, base_timing_deg, speed_rpm, vacuum_inhg, throttle=0.0, vacuum_hose="off and plugged"):
        """Total advance [crank deg]: base, centrifugal, and vacuum where the hose is on; broadcast."""
        curve, canister = self.card.distributor, self.card.vacuum_advance
        total = base_timing_deg + distributor.centrifugal_deg(
            speed_rpm, curve.centrifugal_start_rpm, curve.centrifugal_full_rpm, curve.centrifugal_deg
        )
        if vacuum_hose != "on":
            return total
        share = 1.0 if canister.source == "manifold" else distributor.ported_share(throttle)
        return total + distributor.vacuum_advance_deg(
            vacuum_inhg * share, canister.start_inhg, canister.full_inhg, canister.degrees
        )

    def load_torque_nm(self, speed_rpm, gear: Literal["neutral", "drive"]):
        """What the stationary vehicle's converter takes [N m]: nothing out of gear, else as speed squared."""
        if gear == "neutral" or self.card.drive.transmission == "manual":
            return 0.0 * np.asarray(speed_rpm, float)
        return self.card.drive.converter_drag_nm_at_1000_rpm * (np.asarray(speed_rpm, float) / 1000.0) ** 2

    # ---- settled states -----------------------------------------------------------------------------------------

    def idle(
        self,
        base_timing_deg_btdc,
        idle_screw=1.5,
        altitude_ft: float = 0.0,
        vacuum_advance: str = "plugged",
        gear: Literal["neutral", "drive"] = "neutral",
        ambient_c: float = 20.0,
        throttle: float = 0.0,
        coolant_c: float = 85.0,
    ) -> IdleState:
        """Where the warm engine settles with the throttle on its stop; timing and screw broadcast.

        `vacuum_advance` is the hose: plugged, open or connected. Raises OutsideValidity for timing outside
        -12 to 58 degrees or a screw outside 0-10 turns, ValueError for another word.
        """
        hose = _hose_words(vacuum_advance)
        _check_range("base_timing_deg_btdc", base_timing_deg_btdc, -12, 58)
        _check_range("idle_screw", idle_screw, 0, 10)
        conditions = Conditions(altitude_ft, ambient_c)
        base, screw = np.asarray(base_timing_deg_btdc, float), np.asarray(idle_screw, float)
        shape = np.broadcast_shapes(base.shape, screw.shape)
        base, screw = (array.reshape((1,) * (len(shape) - array.ndim) + array.shape) for array in (base, screw))
        area = np.asarray(self.throttle_area_m2(screw, throttle, hose))  # not spread over timings: pressure needs none

        def surplus(speed_rpm):
            pressure = self._manifold_pa(speed_rpm, area, conditions)
            vacuum = units.inhg_from_pa(conditions.ambient_pa - pressure)
            total = self.advance_deg(base, speed_rpm, vacuum, throttle, hose)
            imep = self.response(conditions).at(speed_rpm, pressure, total, "imep_pa")
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
        self, speed_rpm, base_timing_deg_btdc, octane_ron=None, altitude_ft: float = 0.0, ambient_c: float = 20.0
    ) -> FullThrottle:
        """The warm engine with the throttle wide open; speed, timing and octane broadcast.

        Vacuum advance is none, since there is no vacuum to speak of. Raises OutsideValidity as `operating_points`.
        """
        conditions = Conditions(altitude_ft, ambient_c)
        octane = self.fuel_octane(conditions) if octane_ron is None else octane_ron
        speed, base, octane = np.broadcast_arrays(
            *(np.asarray(x, float) for x in (speed_rpm, base_timing_deg_btdc, octane))
        )
        pressure = self._manifold_pa(speed, self.throttle_area_m2(0.0, 1.0), conditions)
        total = self.advance_deg(base, speed, 0.0)
        points = self.operating_points(speed, pressure / 1e3, total, octane, conditions)
        torque = points.torque_nm - self.loss_torque_nm(speed, pressure, conditions)
        return FullThrottle(
            torque,
            torque * units.rad_s_from_rpm(speed) / 1e3,
            torque / self.torque_per_pa / 1e3,
            total,
            pressure / 1e3,
            points.octane_required_ron,
            points.knock_margin_octane,
            points,
        )

    def _manifold_pa(self, speed_rpm, area_m2, conditions: Conditions):
        """Manifold pressure at which the cylinders draw what the throttle passes [Pa]; broadcast."""
        response, ambient = self.response(conditions), conditions.ambient_pa
        speed, area = np.broadcast_arrays(np.asarray(speed_rpm, float), np.asarray(area_m2, float))

        def surplus(manifold_pa):
            passed = breathing.throttle_flow_kg_s(area, ambient, conditions.ambient_k, manifold_pa)
            return passed - response.air_at(speed, manifold_pa) * self.cylinders * speed / 120.0

        return crossing(surplus, np.full(speed.shape, 9e3), np.full(speed.shape, ambient))


def _stable_speed(surplus, shape):
    """Highest speed at which the torque surplus falls through zero, and where there is none."""
    grid = np.linspace(*IDLE_SEARCH_RPM, 40)
    over = np.broadcast_to(surplus(grid.reshape(-1, *(1,) * len(shape))) > 0, (grid.size, *shape))
    falls = over[:-1] & ~over[1:]
    stalls = ~falls.any(axis=0)
    index = np.where(stalls, 0, len(grid) - 2 - np.argmax(falls[::-1], axis=0))
    speed = crossing(surplus, grid[index], grid[index + 1], iterations=6)
    return np.where(stalls, np.nan, speed), stalls


def _smooth(value, low, high):
    share = np.clip((value - low) / (high - low), 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _hose_words(vacuum_advance: str) -> str:
    words = {"plugged": "off and plugged", "open": "off and open", "connected": "on"}
    if vacuum_advance not in words:
        raise ValueError(f"vacuum_advance can be {', '.join(words)}; '{vacuum_advance}' was given.")
    return words[vacuum_advance]


def _check_range(name: str, value, low: float, high: float) -> None:
    array = np.asarray(value, dtype=float)
    wrong = ~((array >= low) & (array <= high))
    if wrong.any():
        raise OutsideValidity(f"{name} is valid from {low:g} to {high:g}; {array[wrong].flat[0]:g} was asked for.")
