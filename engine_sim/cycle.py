"""One closed cycle, from intake closing to exhaust opening, for many operating points at once.

Every step over crank angle is one array operation over all points. The pressure follows the first law,

    dp = ((gamma - 1) (dQ_burned - dQ_wall) - gamma p dV) / V,

by the implicit midpoint rule (second order), with gamma and the wall's heat extrapolated to the middle of the step.
The end gas is compressed isentropically; its autoignition integral is kept for a fuel of octane 100.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from . import breathing, burn, fuel, gas, heat_loss, knock
from .geometry import CylinderGeometry

POINTS_AT_ONCE = 4096  # keeps the working arrays inside the processor's cache
BURN_PASSES = 3
COMPRESSION_EXPONENT = 1.32  # of the charge before the flame, for the state at the middle of each burn phase
GAS_CONSTANT_MEAN = 282.0  # between unburned charge and burned gas, J/(kg K)
END_GAS_LEFT = 0.06  # calibration: with less than this unburned, a ping can no longer be heard
WOSCHNI_PISTON, WOSCHNI_COMBUSTION = 2.28, 3.24e-3  # source: woschni_1967


@dataclass(frozen=True)
class CylinderSetup:
    """What the cycle needs to know of one engine, in SI units and crank degrees; from the engine card."""

    geometry: CylinderGeometry
    intake_closes_deg: float  # after top centre of compression, so negative
    exhaust_opens_deg: float
    overlap_factor_deg_m: float
    breathing_loss: float
    development_constant: float
    rapid_constant: float
    wall_k: float
    heat_factor: float


@dataclass(frozen=True)
class CycleResult:
    """Arrays of one shape: what each operating point gave. Pressures are mean effective pressures [Pa]."""

    imep_pa: np.ndarray  # gross: compression and expansion strokes
    integral_100: np.ndarray
    burned_50_deg_atdc: np.ndarray
    peak_pressure_deg_atdc: np.ndarray
    peak_pressure_pa: np.ndarray
    residual_fraction: np.ndarray
    air_kg: np.ndarray  # fresh air a cylinder and cycle
    fuel_kg: np.ndarray
    development_deg: np.ndarray
    rapid_deg: np.ndarray
    heat_loss_share: np.ndarray  # of the fuel's released heat
    exhaust_k: np.ndarray
    burn_deg: np.ndarray  # from the spark until nine tenths have burned
    compression_pa: np.ndarray  # work put into the charge up to top centre, over the swept volume

    @property
    def misfire(self) -> np.ndarray:
        """0 where the charge burns well, 1 where it goes out."""
        return burn.misfire_share(self.burn_deg)


@dataclass
class CycleTrace:
    """The whole cycle of each point, for tests and pictures: rows are crank angles, columns are points."""

    angle_deg: np.ndarray = field(default=None)
    pressure_pa: np.ndarray = field(default=None)
    burned: np.ndarray = field(default=None)
    end_gas_k: np.ndarray = field(default=None)
    wall_heat_j: np.ndarray = field(default=None)
    volume_m3: np.ndarray = field(default=None)
    charge: Charge = field(default=None)


@dataclass(frozen=True)
class Charge:
    """The trapped charge and how it will burn; arrays of one shape."""

    piston_speed_m_s: np.ndarray
    seconds_per_degree: np.ndarray
    pressure_pa: np.ndarray
    temperature_k: np.ndarray
    mass_kg: np.ndarray
    air_kg: np.ndarray
    fuel_kg: np.ndarray
    heat_j: np.ndarray
    residual: np.ndarray
    spark_deg: np.ndarray  # after top centre
    development_deg: np.ndarray
    rapid_deg: np.ndarray
    exponent: np.ndarray
    duration_deg: np.ndarray


def run_cycle(
    setup: CylinderSetup,
    speed_rpm,
    manifold_pa,
    spark_deg_btdc,
    exhaust_pa,
    fresh_k,
    equivalence_ratio,
    vapour_share=0.0,
    step_deg: float = 1.0,
    trace: CycleTrace | None = None,
) -> CycleResult:
    """Compute the closed cycle of every operating point; all arguments after `setup` broadcast.

    `vapour_share` is the mass of water vapour in the moist air. `step_deg` is the largest step over crank
    angle. `trace`, where given, receives the whole cycle.
    """
    arguments = [
        np.asarray(argument, dtype=float)
        for argument in (speed_rpm, manifold_pa, spark_deg_btdc, exhaust_pa, fresh_k, equivalence_ratio, vapour_share)
    ]
    shape = np.broadcast_shapes(*(argument.shape for argument in arguments))
    flat = [np.broadcast_to(argument, shape).ravel() for argument in arguments]
    blocks = [
        _run_block(setup, *(argument[start : start + POINTS_AT_ONCE] for argument in flat), step_deg, trace)
        for start in range(0, max(flat[0].size, 1), POINTS_AT_ONCE)
    ]
    return CycleResult(
        **{
            item.name: np.concatenate([getattr(block, item.name) for block in blocks]).reshape(shape)
            for item in fields(CycleResult)
        }
    )


def trapped_charge(
    setup: CylinderSetup, speed_rpm, manifold_pa, spark_deg_btdc, exhaust_pa, fresh_k, phi, vapour=0.0
) -> Charge:
    """What is in the cylinder when the intake valve closes, and how long it will take to burn."""
    geometry = setup.geometry
    piston_speed = geometry.mean_piston_speed_m_s(speed_rpm)
    pressure = breathing.trapped_pressure_pa(manifold_pa, piston_speed, setup.breathing_loss)
    residual = breathing.residual_fraction(
        speed_rpm, manifold_pa, exhaust_pa, setup.overlap_factor_deg_m, phi, geometry.compression_ratio
    )
    residual_k = breathing.residual_temperature_k(manifold_pa, exhaust_pa)
    temperature = breathing.trapped_temperature_k(fresh_k, residual_k, residual)
    closing_m3 = geometry.volume_m3(np.deg2rad(setup.intake_closes_deg))
    mass = pressure * closing_m3 / (GAS_CONSTANT_MEAN * temperature)
    ratio = fuel.fuel_air_ratio(phi)
    air = (
        mass * (1.0 - residual) * (1.0 - vapour) / (1.0 + ratio * (1.0 - vapour))
    )  # dry; the rest of the air is vapour
    diluted = residual + (1.0 - residual) * vapour  # the flame takes vapour for burned gas, which is half vapour itself
    heat = air * ratio * fuel.LOWER_HEATING_VALUE_J_KG * fuel.combustion_efficiency(phi)
    spark = -np.asarray(spark_deg_btdc, dtype=float)
    development, rapid = _burn_angles(setup, piston_speed, pressure, temperature, phi, diluted, spark)
    return Charge(
        piston_speed,
        1.0 / (6.0 * speed_rpm),
        pressure,
        temperature,
        mass,
        air,
        air * ratio,
        heat,
        residual,
        spark,
        development,
        rapid,
        burn.wiebe_exponent(development, rapid),
        burn.wiebe_duration_deg(development, rapid),
    )


def _burn_angles(setup, piston_speed, closing_pa, closing_k, phi, residual, spark_deg):
    """Both burn angles, each at the state of the charge in the middle of its own phase, by fixed-point passes.

    The kernel burns through eddies of the size that the chamber has at top centre, whenever it is lit: with the height
    of its own moment an early spark would gain nothing, and too much lead would cost no torque.
    """
    eddies_m = setup.geometry.chamber_height_m(0.0)
    development = np.full_like(spark_deg, 15.0)
    rapid = np.full_like(spark_deg, 25.0)
    for _ in range(BURN_PASSES):
        viscosity, _, speed = _phase_state(setup, closing_pa, closing_k, spark_deg + development / 2, phi, residual)
        development = burn.burn_angle_deg(setup.development_constant, piston_speed, viscosity, eddies_m, speed)
        late = _phase_state(setup, closing_pa, closing_k, spark_deg + development + rapid / 2, phi, residual)
        rapid = burn.burn_angle_deg(setup.rapid_constant, piston_speed, *late, bore_m=setup.geometry.bore_m)
        development, rapid = np.clip(development, 2.0, 90.0), np.clip(rapid, 4.0, 180.0)
    return development, rapid


def _phase_state(setup, closing_pa, closing_k, angle_deg, phi, residual):
    """Viscosity, chamber height and flame speed at an angle, had the charge only been compressed."""
    geometry = setup.geometry
    angle = np.deg2rad(np.clip(angle_deg, -120.0, 100.0))
    squeeze = geometry.volume_m3(np.deg2rad(setup.intake_closes_deg)) / geometry.volume_m3(angle)
    pressure = closing_pa * squeeze**COMPRESSION_EXPONENT
    temperature = closing_k * squeeze ** (COMPRESSION_EXPONENT - 1.0)
    speed = burn.laminar_flame_speed_m_s(temperature, pressure, phi, residual)
    return gas.viscosity_m2_s(temperature, pressure), geometry.chamber_height_m(angle), speed


def crank_angles_deg(setup: CylinderSetup, step_deg: float) -> np.ndarray:
    """The common grid of crank angles from intake closing to exhaust opening."""
    span = setup.exhaust_opens_deg - setup.intake_closes_deg
    return np.linspace(setup.intake_closes_deg, setup.exhaust_opens_deg, round(span / step_deg) + 1)


def _run_block(setup, speed_rpm, manifold_pa, spark_deg_btdc, exhaust_pa, fresh_k, phi, vapour, step_deg, trace):
    charge = trapped_charge(setup, speed_rpm, manifold_pa, spark_deg_btdc, exhaust_pa, fresh_k, phi, vapour)
    angles = crank_angles_deg(setup, step_deg)
    march = _march(setup, charge, angles)
    if trace is not None:
        trace.angle_deg, trace.charge, trace.volume_m3 = angles, charge, march.volume_m3
        trace.pressure_pa, trace.burned, trace.end_gas_k = march.pressure_pa, march.burned, march.end_gas_k
        trace.wall_heat_j = march.wall_heat_j
    return _summary(setup, charge, angles, march, manifold_pa, exhaust_pa)


@dataclass
class _March:
    volume_m3: np.ndarray
    pressure_pa: np.ndarray
    burned: np.ndarray
    end_gas_k: np.ndarray
    wall_heat_j: np.ndarray
    work_j: np.ndarray
    integral_100: np.ndarray
    compression_j: np.ndarray


def _march(setup: CylinderSetup, charge: Charge, angles: np.ndarray) -> _March:
    """Step all points together through the closed cycle."""
    volume = setup.geometry.volume_m3(np.deg2rad(angles))
    surface = setup.geometry.surface_m2(np.deg2rad(angles))
    burned = burn.burned_fraction((angles[:, None] - charge.spark_deg) / charge.duration_deg, charge.exponent)
    count, points = angles.size, charge.spark_deg.size
    pressure, end_gas, wall = (np.empty((count, points)) for _ in range(3))
    pressure[0], end_gas[0], wall[0] = charge.pressure_pa, charge.temperature_k, 0.0
    work, integral = np.zeros(points), np.zeros(points)
    top, compression = int(np.argmin(np.abs(angles))), np.zeros(points)
    step_deg = angles[1] - angles[0]
    step_s = step_deg * charge.seconds_per_degree
    flame_through = charge.spark_deg + charge.duration_deg * burn.progress_at_fraction(
        1.0 - END_GAS_LEFT, charge.exponent
    )
    loss = _WallLoss(setup, charge, volume, surface, step_s)
    before = _properties(pressure[0], volume[0], burned[0], end_gas[0], charge.mass_kg)
    lost_before, rate = (
        loss(0, pressure[0], before.temperature_k),
        1.0 / knock.ignition_delay_100_s(pressure[0], end_gas[0]),
    )
    now, lost, log_pressure = before, lost_before, np.log(pressure[0])
    for k in range(count - 1):
        gamma, kappa = 1.5 * now.gamma - 0.5 * before.gamma, 1.5 * now.kappa - 0.5 * before.kappa
        step_loss = 1.5 * lost - 0.5 * lost_before
        middle, change = 0.5 * (volume[k] + volume[k + 1]), volume[k + 1] - volume[k]
        fraction = burned[k + 1] - burned[k]
        heat = (gamma - 1.0) * (charge.heat_j * fraction - step_loss)
        pressure[k + 1] = (pressure[k] * (middle - 0.5 * gamma * change) + heat) / (middle + 0.5 * gamma * change)
        work += 0.5 * (pressure[k] + pressure[k + 1]) * change
        if k + 1 == top:
            compression = -work
        wall[k + 1] = wall[k] + step_loss
        log_before, log_pressure = log_pressure, np.log(pressure[k + 1])
        end_gas[k + 1] = end_gas[k] * np.exp(kappa * (log_pressure - log_before))
        rate_before, rate = rate, _ignition_rate(log_pressure, end_gas[k + 1])
        share = np.clip((flame_through - angles[k]) / step_deg, 0.0, 1.0)  # of this step, before the flame is through
        integral += step_s * share * (rate_before + 0.5 * share * (rate - rate_before))
        before, now = now, _properties(pressure[k + 1], volume[k + 1], burned[k + 1], end_gas[k + 1], charge.mass_kg)
        lost_before, lost = lost, loss(k + 1, pressure[k + 1], now.temperature_k)
    return _March(volume, pressure, burned, end_gas, wall, work, integral, compression)


def _ignition_rate(log_pressure, temperature_k):
    """1/tau of octane 100 [1/s] from the logarithm of the pressure: the form that costs one exponential."""
    constant = -np.log(1e-3 * knock.COEFFICIENT_MS) - knock.PRESSURE_EXPONENT * np.log(knock.PASCAL_PER_ATMOSPHERE)
    return np.exp(constant + knock.PRESSURE_EXPONENT * log_pressure - knock.ACTIVATION_K / temperature_k)


@dataclass
class _State:
    temperature_k: np.ndarray
    gamma: np.ndarray
    kappa: np.ndarray


def _properties(pressure, volume, burned, end_gas_k, mass) -> _State:
    """Mean temperature, mean gamma (by heat capacity), and (gamma-1)/gamma of the end gas."""
    temperature = pressure * volume / (mass * GAS_CONSTANT_MEAN)
    cold, hot = gas.gamma_unburned(np.minimum(temperature, 1000.0)), gas.gamma_burned(temperature)
    capacity = (1.0 - burned) / (cold - 1.0) + burned / (hot - 1.0)
    end_gas = gas.gamma_unburned(end_gas_k)
    return _State(temperature, 1.0 + 1.0 / capacity, 1.0 - 1.0 / end_gas)


class _WallLoss:
    """Heat to the walls in one step [J]: heat_loss.woschni_w_m2_k in the form that costs one exponential."""

    def __init__(self, setup, charge, volume, surface, step_s):
        self.setup, self.volume = setup, volume
        self.area_time = surface[:, None] * step_s * setup.heat_factor
        self.piston = WOSCHNI_PISTON * charge.piston_speed_m_s
        closing = charge.pressure_pa * volume[0]
        self.combustion = WOSCHNI_COMBUSTION * 1e-3 * setup.geometry.swept_volume_m3 * charge.temperature_k / closing
        self.motored = charge.pressure_pa * volume[0] ** COMPRESSION_EXPONENT
        self.constant = np.log(heat_loss.WOSCHNI_FACTOR * setup.geometry.bore_m**heat_loss.WOSCHNI_BORE)

    def __call__(self, index, pressure_pa, temperature_k):
        excess = np.maximum(pressure_pa - self.motored * self.volume[index] ** -COMPRESSION_EXPONENT, 0.0)
        speed = self.piston + self.combustion * excess * 1e3
        moved = heat_loss.WOSCHNI_PRESSURE * np.log(pressure_pa * 1e-3 * speed)
        coefficient = np.exp(self.constant + moved + heat_loss.WOSCHNI_TEMPERATURE * np.log(temperature_k))
        return coefficient * self.area_time[index] * (temperature_k - self.setup.wall_k)


def _summary(setup, charge, angles, march, manifold_pa, exhaust_pa) -> CycleResult:
    swept = setup.geometry.swept_volume_m3
    bottom_m3 = swept + setup.geometry.clearance_volume_m3
    last = march.pressure_pa[-1]
    # before intake closing the cylinder is at manifold pressure; after exhaust opening it blows down on a straight line
    ends = 0.5 * (last + exhaust_pa) * (bottom_m3 - march.volume_m3[-1]) - manifold_pa * (
        bottom_m3 - march.volume_m3[0]
    )
    peak_deg, peak_pa = _peak(angles, march.pressure_pa)
    final = _properties(last, march.volume_m3[-1], march.burned[-1], march.end_gas_k[-1], charge.mass_kg)
    exhaust_k = final.temperature_k * np.minimum(exhaust_pa / last, 1.0) ** (1.0 - 1.0 / final.gamma)
    half = charge.spark_deg + charge.duration_deg * burn.progress_at_fraction(0.5, charge.exponent)
    return CycleResult(
        (march.work_j + ends) / swept,
        march.integral_100,
        half,
        peak_deg,
        peak_pa,
        charge.residual,
        charge.air_kg,
        charge.fuel_kg,
        charge.development_deg,
        charge.rapid_deg,
        march.wall_heat_j[-1] / charge.heat_j,
        exhaust_k,
        charge.development_deg + charge.rapid_deg,
        march.compression_j / swept,
    )


def _peak(angles, pressure):
    """Angle and height of the highest pressure, by the parabola through the three highest points."""
    columns = np.arange(pressure.shape[1])
    top = np.clip(np.argmax(pressure, axis=0), 1, angles.size - 2)
    left, middle, right = (pressure[top + shift, columns] for shift in (-1, 0, 1))
    bend = left - 2 * middle + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return angles[top] + shift * (angles[1] - angles[0]), middle - 0.25 * (left - right) * shift
