"""One closed cycle, from intake closing to exhaust opening, for many operating points at once.

Every step over crank angle is one array operation over all points. The pressure follows the first law,

    dp = ((gamma - 1) (dQ_burned - dQ_wall) - gamma p dV) / V,

by the implicit midpoint rule (second order), with gamma and the wall's heat extrapolated to the middle of the step.
The end gas is compressed isentropically; its autoignition integral is kept for a fuel of octane 100.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields

import numpy as np

from engine_sim.physics import breathing, burn, fuel, gas, heat_loss, knock, units
from engine_sim.physics.arrays import Numbers
from engine_sim.physics.geometry import CylinderGeometry

POINTS_AT_ONCE = 8192  # many more would leave the processor's cache
BURN_PASSES = 8  # leave 0.03 degree of burn angle, and half a degree where a charge hardly burns
STRETCH = 8  # steps between two looks at which points join: a look costs about as much as a step
COMPRESSION_EXPONENT = 1.32  # of the charge before the flame, for the state at the middle of each burn phase
GAS_CONSTANT_MEAN = 277.0  # of air with fuel vapour and some burned gas, J/(kg K)
END_GAS_LEFT = 0.06  # calibration: with less than this unburned, a ping can no longer be heard
POCKETS_UNTIL_DEG = 10.0  # a little charge stays along the walls so far beyond top centre, unburned; calibration
POCKETS_BLEND_DEG = 2.0  # over which this rounds off the end of the flame's way, for the map's sake
OUTER_NODE = math.sqrt(3.0)  # of three unequal charges, in standard deviations: Gauss and Hermite's rule,
MIDDLE_WEIGHT = 4.0 / 6.0  # exact for polynomials of the fifth degree, with
OUTER_WEIGHT = 1.0 / 6.0  # for each of the outer two
UNEQUAL_FROM = 0.045  # scatter of burn angles from which three charges are worked out, and not one
LEAST_SPREAD = 0.01  # of one charge's work, relative: what nothing else here accounts for; calibration
CUT_SHORT_SPREAD = 0.6  # of the work that late burning loses, from charge to charge; calibration
AVERAGED = ("work_pa", "exhaust_k", "misfire", "late_loss")  # over three unequal charges
LEAST_WORK_PA = 1e4  # below, a spread relative to the mean work says nothing
DEG_S_PER_RPM = 6.0  # crank degrees a second for each revolution a minute, exact
FIRST_DEVELOPMENT_DEG = 15.0  # crank degrees with which the burn angles are begun; the passes forget it
FIRST_RAPID_DEG = 25.0  # the same of the rapid part
DEVELOPMENT_DEG = (2.0, 90.0)  # crank degrees that bound the passes
RAPID_DEG = (4.0, 180.0)  # the same of the rapid part
PHASE_DEG = (-120.0, 100.0)  # crank degrees ATDC within which the middle of a burn phase is looked for
UNBURNED_GAMMA_UP_TO_K = 1000.0  # beyond, the fit of the unburned charge would turn up; nothing unburned gets so hot
WOSCHNI_PISTON = 2.28  # gas speed over mean piston speed, compression and expansion; source: woschni_1967
WOSCHNI_COMBUSTION = 3.24e-3  # gas speed [m/s] for each kelvin that burning adds to the pressure; source: woschni_1967


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
    """Arrays of one shape: what each operating point gave. Pressures are mean effective pressures [Pa].

    All but the last four is of a charge that burns as the mean one does and burns whole. `exhaust_k` is their mean.
    """

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
    wall_heat_j: np.ndarray  # to the walls, a cylinder and cycle
    exhaust_k: np.ndarray
    burn_deg: np.ndarray  # from the spark until nine tenths have burned
    compression_pa: np.ndarray  # work put into the charge up to top centre, over the swept volume
    work_pa: np.ndarray  # mean over unequal charges, with those that go out and what late burning loses
    misfire: np.ndarray  # share of charges that go out
    late_loss: np.ndarray  # share of the work that late, partial burning costs
    work_spread: np.ndarray  # standard deviation of one charge's work over that mean


@dataclass
class CycleTrace:
    """The whole cycle of each point, for tests and pictures: rows are crank angles, columns are points."""

    angle_deg: np.ndarray = field(init=False)
    pressure_pa: np.ndarray = field(init=False)
    burned: np.ndarray = field(init=False)
    end_gas_k: np.ndarray = field(init=False)
    wall_heat_j: np.ndarray = field(init=False)
    volume_m3: np.ndarray = field(init=False)
    charge: Charge = field(init=False)


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
    speed_rpm: Numbers,
    manifold_pa: Numbers,
    spark_deg_btdc: Numbers,
    exhaust_pa: Numbers,
    fresh_k: Numbers,
    equivalence_ratio: Numbers,
    vapour_share: Numbers = 0.0,
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
    points = [np.broadcast_to(argument, shape).ravel() for argument in arguments]
    charge = trapped_charge(setup, *points)
    found = _each_by_itself(setup, points, charge, step_deg, trace)
    found["work_spread"] = _over_unequal_charges(setup, points, charge, step_deg, found, worked_out=trace is None)
    return CycleResult(**{name: column.reshape(shape) for name, column in found.items()})


def _each_by_itself(setup, points, charge: Charge, step_deg, trace=None, whole=True) -> dict[str, np.ndarray]:
    """What each charge gives by itself: the fields of `CycleResult` but for the spread between charges, or, where not
    all are wanted, those of `_work_and_exhaust`."""
    everyone = np.arange(points[0].size)
    if trace is None:
        side_by_side = np.lexsort((points[2], *points[:2], *points[3:]))
        alike_large = np.array_split(side_by_side, max(1, math.ceil(everyone.size / POINTS_AT_ONCE)))
        blocks = [_with_leaders(points, chosen) for chosen in alike_large]
    else:
        blocks = [(everyone, everyone)]  # a trace holds the whole cycle of each point
    done = []
    for chosen, leader in blocks:
        these = Charge(**{item.name: getattr(charge, item.name)[chosen] for item in fields(Charge)})
        done.append(_run_block(setup, [column[chosen] for column in points], these, step_deg, leader, trace, whole))
    back = np.argsort(np.concatenate([chosen for chosen, _ in blocks]))
    return {name: np.concatenate([block[name] for block in done])[back] for name in done[0]}


def _over_unequal_charges(setup, points, charge: Charge, step_deg, found, worked_out: bool) -> np.ndarray:
    """Standard deviation of one charge's work over the mean; `found` gets means where charges burn unequally.

    There a quick and a slow charge are worked out, too. Besides the burn angles two things vary: how much fresh charge
    there is beside a residual that varies, and where late burning is cut short.
    """
    scatter = burn.burn_scatter(_diluted(charge.residual, points[6]))
    uneven = np.flatnonzero(scatter > UNEQUAL_FROM) if worked_out else np.empty(0, dtype=int)
    variance = np.zeros(points[0].size)
    if uneven.size:
        theirs = [column[uneven] for column in points]
        quick, slow = (
            _each_by_itself(setup, theirs, _slower(charge, uneven, nodes * scatter[uneven]), step_deg, whole=False)
            for nodes in (-OUTER_NODE, OUTER_NODE)
        )
        for name in AVERAGED:
            three = quick[name], found[name][uneven], slow[name]
            mean = OUTER_WEIGHT * (three[0] + three[2]) + MIDDLE_WEIGHT * three[1]
            if name == "work_pa":
                outer = (three[0] - mean) ** 2 + (three[2] - mean) ** 2
                variance[uneven] = OUTER_WEIGHT * outer + MIDDLE_WEIGHT * (three[1] - mean) ** 2
            found[name][uneven] = mean
    by_burning = np.sqrt(variance) / np.maximum(found["work_pa"], LEAST_WORK_PA)
    by_filling = burn.RESIDUAL_SCATTER * charge.residual / (1.0 - charge.residual)
    by_cutting = CUT_SHORT_SPREAD * found["late_loss"]
    return np.sqrt(LEAST_SPREAD**2 + by_burning**2 + by_filling**2 + by_cutting**2)


def _slower(charge: Charge, chosen, log_longer) -> Charge:
    """Some of the charges, their burn angles longer by factors of which the logarithms are given."""
    taken = {item.name: getattr(charge, item.name)[chosen] for item in fields(Charge)}
    for name in ("development_deg", "rapid_deg", "duration_deg"):
        taken[name] = taken[name] * np.exp(log_longer)
    return Charge(**taken)


def trapped_charge(
    setup: CylinderSetup,
    speed_rpm: Numbers,
    manifold_pa: Numbers,
    spark_deg_btdc: Numbers,
    exhaust_pa: Numbers,
    fresh_k: Numbers,
    phi: Numbers,
    vapour: Numbers = 0.0,
) -> Charge:
    """What is in the cylinder when the intake valve closes, and how long it will take to burn."""
    piston_speed = setup.geometry.mean_piston_speed_m_s(speed_rpm)
    pressure, temperature, residual = _trapped_state(setup, speed_rpm, manifold_pa, exhaust_pa, fresh_k, phi)
    mass, air = _trapped_masses_kg(setup, pressure, temperature, residual, phi, vapour)
    ratio = fuel.fuel_air_ratio(phi)
    heat = air * ratio * fuel.LOWER_HEATING_VALUE_J_KG * fuel.combustion_efficiency(phi)
    spark = -np.asarray(spark_deg_btdc, dtype=float)
    development, rapid = _burn_angles(
        setup, piston_speed, pressure, temperature, phi, _diluted(residual, vapour), spark
    )
    return Charge(
        piston_speed_m_s=piston_speed,
        seconds_per_degree=1.0 / (DEG_S_PER_RPM * speed_rpm),
        pressure_pa=pressure,
        temperature_k=temperature,
        mass_kg=mass,
        air_kg=air,
        fuel_kg=air * ratio,
        heat_j=heat,
        residual=residual,
        spark_deg=spark,
        development_deg=development,
        rapid_deg=rapid,
        exponent=burn.wiebe_exponent(development, rapid),
        duration_deg=burn.wiebe_duration_deg(development, rapid),
    )


def _diluted(residual, vapour):
    """Share of the charge that slows the flame: it takes vapour for burned gas, which is half vapour itself."""
    return residual + (1.0 - residual) * vapour


def trapped_air_kg(
    setup: CylinderSetup,
    speed_rpm: Numbers,
    manifold_pa: Numbers,
    exhaust_pa: Numbers,
    fresh_k: Numbers,
    phi: Numbers,
    vapour: Numbers = 0.0,
) -> np.ndarray:
    """Fresh dry air in the cylinder when the intake valve closes [kg], as `trapped_charge` has it; broadcast."""
    pressure, temperature, residual = _trapped_state(setup, speed_rpm, manifold_pa, exhaust_pa, fresh_k, phi)
    return _trapped_masses_kg(setup, pressure, temperature, residual, phi, vapour)[1]


def _trapped_state(setup, speed_rpm, manifold_pa, exhaust_pa, fresh_k, phi):
    """Pressure [Pa], temperature [K] and share of residual gas when the intake valve closes."""
    geometry = setup.geometry
    piston_speed = geometry.mean_piston_speed_m_s(speed_rpm)
    pressure = breathing.trapped_pressure_pa(manifold_pa, piston_speed, setup.breathing_loss)
    residual = breathing.residual_fraction(
        speed_rpm, manifold_pa, exhaust_pa, setup.overlap_factor_deg_m, phi, geometry.compression_ratio
    )
    residual_k = breathing.residual_temperature_k(manifold_pa, exhaust_pa)
    return pressure, breathing.trapped_temperature_k(fresh_k, residual_k, residual), residual


def _trapped_masses_kg(setup, pressure, temperature, residual, phi, vapour):
    """All that is trapped, and the fresh dry air in it; the rest of the air is vapour."""
    closing_m3 = setup.geometry.volume_m3(np.deg2rad(setup.intake_closes_deg))
    mass = pressure * closing_m3 / (GAS_CONSTANT_MEAN * temperature)
    ratio = fuel.fuel_air_ratio(phi)
    return mass, mass * (1.0 - residual) * (1.0 - vapour) / (1.0 + ratio * (1.0 - vapour))


def _burn_angles(setup, piston_speed, closing_pa, closing_k, phi, residual, spark_deg):
    """Both burn angles, each at the state of the charge in the middle of its own phase, by fixed-point passes.

    The kernel burns through eddies of the size that the chamber has at top dead centre, whenever it is lit: with the
    height of its own moment an early spark would gain nothing, and too much advance would cost no torque.
    """
    eddies_m = setup.geometry.chamber_height_m(0.0)
    slowing = burn.residual_flame_factor(residual)
    development = np.full_like(spark_deg, FIRST_DEVELOPMENT_DEG)
    rapid = np.full_like(spark_deg, FIRST_RAPID_DEG)
    for _ in range(BURN_PASSES):
        viscosity, _, speed = _phase_state(setup, closing_pa, closing_k, spark_deg + development / 2, phi, slowing)
        development = burn.burn_angle_deg(setup.development_constant, piston_speed, viscosity, eddies_m, speed)
        late = _phase_state(setup, closing_pa, closing_k, spark_deg + development + rapid / 2, phi, slowing)
        rapid = burn.burn_angle_deg(setup.rapid_constant, piston_speed, *late, bore_m=setup.geometry.bore_m)
        development, rapid = np.clip(development, *DEVELOPMENT_DEG), np.clip(rapid, *RAPID_DEG)
    return development, rapid


def _phase_state(setup, closing_pa, closing_k, angle_deg, phi, slowing):
    """Viscosity, chamber height and flame speed at an angle, had the charge only been compressed."""
    geometry = setup.geometry
    volume = geometry.volume_m3(np.deg2rad(np.clip(angle_deg, *PHASE_DEG)))
    squeeze = geometry.volume_m3(np.deg2rad(setup.intake_closes_deg)) / volume
    pressure = closing_pa * squeeze**COMPRESSION_EXPONENT
    temperature = closing_k * squeeze ** (COMPRESSION_EXPONENT - 1.0)
    speed = burn.laminar_flame_speed_m_s(temperature, pressure, phi) * slowing
    return gas.viscosity_m2_s(temperature, pressure), volume / geometry.bore_area_m2, speed


def crank_angles_deg(setup: CylinderSetup, step_deg: float) -> np.ndarray:
    """The common grid of crank angles from intake closing to exhaust opening."""
    span = setup.exhaust_opens_deg - setup.intake_closes_deg
    return np.linspace(setup.intake_closes_deg, setup.exhaust_opens_deg, round(span / step_deg) + 1)


def _run_block(setup, points, charge, step_deg, leader, trace, whole):
    angles = crank_angles_deg(setup, step_deg)
    march = _march(setup, charge, angles, leader, trace)
    work = _work_and_exhaust(setup, charge, march, points[1], points[3])
    if not whole:
        return work
    integral_100 = _autoignition_integral(charge, angles, march.pressure_pa, leader, trace)
    return work | _all_else(setup, charge, angles, march, integral_100)


def _with_leaders(points, chosen):
    """The chosen points in the order in which `_stretches` wants them, and the place of each one's leader.

    `chosen` has companions, which differ in nothing but their spark, side by side, the latest spark first: it leads.
    """
    spark_deg_btdc, others = points[2][chosen], [column[chosen] for column in (*points[:2], *points[3:])]
    leads = np.ones(chosen.size, dtype=bool)
    leads[1:] = np.any([column[1:] != column[:-1] for column in others], axis=0)
    order = np.argsort(np.where(leads, -np.inf, -spark_deg_btdc), kind="stable")
    return chosen[order], (np.cumsum(leads) - 1)[order]


def _stretches(angles, spark_deg, leader):
    """First angle, last angle, and the points that join at the first; those before them are under way already.

    Until its spark comes nothing of a charge has burned, and nothing that a step works with depends on the spark. So
    points that differ in nothing else are compressed alike, to the last bit: one of them, the leader, whose spark is
    the latest, goes ahead for all, and each other one joins with its leader's state before its own spark comes.
    Leaders stand first and lead themselves; the others follow in the order of their sparks.
    """
    starts = np.arange(0, angles.size - 1, STRETCH)
    stops = np.append(starts[1:], angles.size - 1)
    leaders = np.count_nonzero(leader == np.arange(leader.size))
    under_way = leaders + np.searchsorted(spark_deg[leaders:], angles[stops])
    under_way[-1] = leader.size  # with those whose spark never comes
    before = np.append(under_way[:1], under_way[:-1])
    return zip(starts.tolist(), stops.tolist(), map(slice, before.tolist(), under_way.tolist()), strict=True)


@dataclass(frozen=True)
class _March:
    """Volumes and pressures at every angle; all else as it is when the exhaust valve opens."""

    volume_m3: np.ndarray
    pressure_pa: np.ndarray
    burned: np.ndarray
    gamma: np.ndarray
    wall_heat_j: np.ndarray
    work_j: np.ndarray
    compression_j: np.ndarray


def _march(setup: CylinderSetup, charge: Charge, angles: np.ndarray, leader=None, trace=None) -> _March:
    """Step all points together through the closed cycle; without a `leader` each point leads itself.

    `trace`, where given, receives all but the end gas.
    """
    volume = setup.geometry.volume_m3(np.deg2rad(angles))
    points, step_deg, top = charge.spark_deg.size, angles[1] - angles[0], int(np.argmin(np.abs(angles)))
    leader = np.arange(points) if leader is None else leader
    gas_j_k = charge.mass_kg * GAS_CONSTANT_MEAN
    wall_loss = _WallLoss(setup, charge, volume, setup.geometry.surface_m2(np.deg2rad(angles)), step_deg)

    def burned_at(some, here):
        progress = (angles[some, None] - charge.spark_deg[here]) / charge.duration_deg[here]
        return burn.burned_fraction(progress, charge.exponent[here])

    pressure = np.empty((angles.size, points))
    pressure[0] = charge.pressure_pa
    [burned], none = burned_at(slice(1), slice(points)), np.zeros(points)
    temperature = pressure[0] * volume[0] / gas_j_k
    gamma, lost = _mean_gamma(temperature, burned), wall_loss(0, pressure[0], temperature)
    state = np.array([burned, gamma, gamma, lost, lost, none, none, none])
    if trace is not None:
        trace.angle_deg, trace.charge, trace.volume_m3, trace.pressure_pa = angles, charge, volume, pressure
        trace.burned, trace.wall_heat_j = (np.array([first] * angles.size) for first in (burned, none))
    for start, stop, joining in _stretches(angles, charge.spark_deg, leader):
        state[:, joining] = state[:, leader[joining]]
        pressure[: start + 1, joining] = pressure[: start + 1, leader[joining]]
        here = slice(joining.stop)
        burned, gamma, gamma_before, lost, lost_before, wall, work, compression = state[:, here]
        now, heat_j = pressure[start, here], charge.heat_j[here]
        for k, burned_next in enumerate(burned_at(slice(start + 1, stop + 1), here), start):
            middle, change = 0.5 * (volume[k] + volume[k + 1]), volume[k + 1] - volume[k]
            step_loss = 1.5 * lost - 0.5 * lost_before
            gamma_middle = 1.5 * gamma - 0.5 * gamma_before
            heat = (gamma_middle - 1.0) * (heat_j * (burned_next - burned) - step_loss)
            yielding = 0.5 * gamma_middle * change
            before, now = now, (now * (middle - yielding) + heat) / (middle + yielding)
            pressure[k + 1, here] = now
            work = work + 0.5 * (before + now) * change
            if k + 1 == top:
                compression = -work
            wall = wall + step_loss
            burned, temperature = burned_next, now * volume[k + 1] / gas_j_k[here]
            gamma_before, gamma = gamma, _mean_gamma(temperature, burned)
            lost_before, lost = lost, wall_loss(k + 1, now, temperature)
            if trace is not None:
                trace.burned[k + 1], trace.wall_heat_j[k + 1] = burned, wall
        # a new array, since some of these may still be rows of the old one
        state[:, here] = np.array([burned, gamma, gamma_before, lost, lost_before, wall, work, compression])
    return _March(
        volume_m3=volume,
        pressure_pa=pressure,
        burned=burned,
        gamma=gamma,
        wall_heat_j=wall,
        work_j=work,
        compression_j=compression,
    )


def _mean_gamma(temperature_k, burned):
    """Ratio of specific heats of a partly burned charge, its heat capacities added up."""
    cold, hot = gas.gamma_unburned(np.minimum(temperature_k, UNBURNED_GAMMA_UP_TO_K)), gas.gamma_burned(temperature_k)
    return 1.0 + 1.0 / ((1.0 - burned) / (cold - 1.0) + burned / (hot - 1.0))


def _autoignition_integral(charge, angles, pressure_pa, leader, trace):
    """The integral for a fuel of octane 100 in the end gas, which is compressed isentropically.

    The end gas of a point is followed until the flame is through, or to the end where a trace is asked for.
    """
    step_deg = angles[1] - angles[0]
    step_s = step_deg * charge.seconds_per_degree
    flame_through = charge.spark_deg + charge.duration_deg * burn.progress_at_fraction(
        1.0 - END_GAS_LEFT, charge.exponent
    )
    pockets = (flame_through - POCKETS_UNTIL_DEG) / POCKETS_BLEND_DEG
    flame_through = POCKETS_UNTIL_DEG + POCKETS_BLEND_DEG * np.logaddexp(0.0, pockets)  # a maximum without a kink
    rate = 1.0 / knock.ignition_delay_100_s(pressure_pa[0], charge.temperature_k)
    kappa = _kappa(charge.temperature_k)
    state = np.array([np.log(pressure_pa[0]), charge.temperature_k, kappa, kappa, rate, np.zeros(rate.size)])
    if trace is not None:
        trace.end_gas_k = np.array([charge.temperature_k] * angles.size)
    for start, stop, joining in _stretches(angles, charge.spark_deg, leader):
        state[:, joining] = state[:, leader[joining]]
        until = flame_through[: joining.stop]
        here = np.flatnonzero(until > angles[start]) if trace is None else np.arange(until.size)
        if here.size == 0:
            break
        log_pressure, end_gas, kappa, kappa_before, rate, integral = state[:, here]
        # share of each step before the flame is through
        share = np.clip((until[here] - angles[start:stop, None]) / step_deg, 0.0, 1.0)
        for k, (seconds, half) in enumerate(zip(step_s[here] * share, 0.5 * share, strict=True), start):
            log_before, log_pressure = log_pressure, np.log(pressure_pa[k + 1][here])
            end_gas = end_gas * np.exp((1.5 * kappa - 0.5 * kappa_before) * (log_pressure - log_before))
            kappa_before, kappa = kappa, _kappa(end_gas)
            rate_before, rate = rate, _ignition_rate(log_pressure, end_gas)
            integral = integral + seconds * (rate_before + half * (rate - rate_before))
            if trace is not None:
                trace.end_gas_k[k + 1] = end_gas
        state[:, here] = log_pressure, end_gas, kappa, kappa_before, rate, integral
    return state[-1]


def _kappa(temperature_k):
    """(gamma-1)/gamma of the end gas."""
    return 1.0 - 1.0 / gas.gamma_unburned(temperature_k)


def _ignition_rate(log_pressure, temperature_k):
    """1/tau of octane 100 [1/s] from the logarithm of the pressure: the form that costs one exponential."""
    constant = -math.log(1e-3 * knock.COEFFICIENT_MS) - knock.PRESSURE_EXPONENT * math.log(units.PA_PER_ATMOSPHERE)
    return np.exp(constant + knock.PRESSURE_EXPONENT * log_pressure - knock.ACTIVATION_K / temperature_k)


class _WallLoss:
    """Heat to the walls in one step [J]: heat_loss.woschni_w_m2_k in the form that costs one exponential."""

    def __init__(self, setup, charge, volume, surface, step_deg):
        self.setup, self.volume = setup, volume
        self.area, self.step_s = surface * setup.heat_factor, step_deg * charge.seconds_per_degree
        self.piston = WOSCHNI_PISTON * charge.piston_speed_m_s
        closing = charge.pressure_pa * volume[0]
        self.combustion = WOSCHNI_COMBUSTION * 1e-3 * setup.geometry.swept_volume_m3 * charge.temperature_k / closing
        self.motored = charge.pressure_pa * volume[0] ** COMPRESSION_EXPONENT
        self.constant = np.log(heat_loss.WOSCHNI_FACTOR * setup.geometry.bore_m**heat_loss.WOSCHNI_BORE)

    def __call__(self, index, pressure_pa, temperature_k):
        """Of the first points, as many as there are pressures."""
        here = slice(pressure_pa.size)
        excess = np.maximum(pressure_pa - self.motored[here] * self.volume[index] ** -COMPRESSION_EXPONENT, 0.0)
        speed = self.piston[here] + self.combustion[here] * excess * 1e3
        moved = heat_loss.WOSCHNI_PRESSURE * np.log(pressure_pa * 1e-3 * speed)
        coefficient = np.exp(self.constant + moved + heat_loss.WOSCHNI_TEMPERATURE * np.log(temperature_k))
        return coefficient * (self.area[index] * self.step_s[here]) * (temperature_k - self.setup.wall_k)


def _work_and_exhaust(setup, charge, march, manifold_pa, exhaust_pa) -> dict[str, np.ndarray]:
    """What is wanted of a quick and a slow charge."""
    swept = setup.geometry.swept_volume_m3
    bottom_m3 = swept + setup.geometry.clearance_volume_m3
    last = march.pressure_pa[-1]
    # before intake closing the cylinder is at manifold pressure; after exhaust opening it blows down on a straight line
    ends = 0.5 * (last + exhaust_pa) * (bottom_m3 - march.volume_m3[-1]) - manifold_pa * (
        bottom_m3 - march.volume_m3[0]
    )
    temperature = last * march.volume_m3[-1] / (charge.mass_kg * GAS_CONSTANT_MEAN)
    burn_deg = charge.development_deg + charge.rapid_deg
    imep_pa = (march.work_j + ends) / swept
    misfire, late_loss = burn.misfire_share(burn_deg), burn.late_loss_share(charge.spark_deg + burn_deg)
    return {
        "imep_pa": imep_pa,
        "exhaust_k": temperature * np.minimum(exhaust_pa / last, 1.0) ** (1.0 - 1.0 / march.gamma),
        "burn_deg": burn_deg,
        "work_pa": imep_pa * (1.0 - misfire) * (1.0 - late_loss),
        "misfire": misfire,
        "late_loss": late_loss,
    }


def _all_else(setup, charge, angles, march, integral_100) -> dict[str, np.ndarray]:
    """The fields of `CycleResult` beside those, but for the spread between charges."""
    peak_deg, peak_pa = _peak(angles, march.pressure_pa)
    return {
        "integral_100": integral_100,
        "burned_50_deg_atdc": charge.spark_deg + charge.duration_deg * burn.progress_at_fraction(0.5, charge.exponent),
        "peak_pressure_deg_atdc": peak_deg,
        "peak_pressure_pa": peak_pa,
        "residual_fraction": charge.residual,
        "air_kg": charge.air_kg,
        "fuel_kg": charge.fuel_kg,
        "development_deg": charge.development_deg,
        "rapid_deg": charge.rapid_deg,
        "heat_loss_share": march.wall_heat_j / charge.heat_j,
        "wall_heat_j": march.wall_heat_j,
        "compression_pa": march.compression_j / setup.geometry.swept_volume_m3,
    }


def _peak(angles, pressure):
    """Angle and height of the highest pressure, by the parabola through the three highest points."""
    columns = np.arange(pressure.shape[1])
    top = np.clip(np.argmax(pressure, axis=0), 1, angles.size - 2)
    left, middle, right = (pressure[top + shift, columns] for shift in (-1, 0, 1))
    bend = left - 2 * middle + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return angles[top] + shift * (angles[1] - angles[0]), middle - 0.25 * (left - right) * shift
