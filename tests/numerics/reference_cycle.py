"""The closed cycle written down once more, as an ordinary differential equation for a general-purpose integrator.

Only the sub-models (geometry, gas, flame, Woschni's coefficient, the delay) are shared with engine_sim; the equations
and their solution are not.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from engine_sim.model.cycle import Charge, CycleResult, CycleTrace
from engine_sim.physics import gas, heat_loss, knock

MOTORED_EXPONENT, GAS_CONSTANT, END_GAS_LEFT = 1.32, 277.0, 0.06
POCKETS_UNTIL_DEG, POCKETS_BLEND_DEG = 10.0, 2.0
TIGHT = {"rtol": 1e-9, "atol": 1e-10, "max_step": 0.5}


@dataclass(frozen=True)
class Solution:
    """The cylinder when the exhaust valve opens."""

    pressure_pa: float
    end_gas_k: float
    work_j: float
    wall_heat_j: float
    integral_100: float


def marched(engine, speed_rpm, manifold_pa, spark_deg, step_deg=1.0) -> tuple[CycleResult, CycleTrace]:
    """engine_sim's own cycle at one or more points, with its trace."""
    trace = CycleTrace()
    arguments = [np.atleast_1d(np.asarray(value, float)) for value in (speed_rpm, manifold_pa, spark_deg)]
    return engine.run_cycle(*arguments, step_deg=step_deg, trace=trace), trace


def integrated(engine, speed_rpm: float, charge: Charge, settings=TIGHT) -> Solution:
    """Solve the cycle of one charge from intake closing to exhaust opening."""
    from scipy.integrate import solve_ivp  # half a second that only this needs

    start, end = engine.setup.intake_closes_deg, engine.setup.exhaust_opens_deg
    charge = Charge(**{item.name: getattr(charge, item.name).item() for item in fields(Charge)})
    state = [charge.pressure_pa, charge.temperature_k, 0.0, 0.0, 0.0]
    solved = solve_ivp(_equations(engine.setup, speed_rpm, charge), (start, end), state, **settings)
    assert solved.success, solved.message
    return Solution(*solved.y[:, -1])


def integrated_together(engine, speed_rpm: np.ndarray, charge: Charge, settings) -> Solution:
    """Solve the cycles of many charges as one large system; the solution's fields are arrays."""
    from scipy.integrate import solve_ivp

    start, end = engine.setup.intake_closes_deg, engine.setup.exhaust_opens_deg
    state, derivatives = _many(engine.setup, speed_rpm, charge)
    solved = solve_ivp(
        lambda angle_deg, flat: derivatives(angle_deg, flat.reshape(state.shape)).ravel(),
        (start, end),
        state.ravel(),
        **settings,
    )
    assert solved.success, solved.message
    return Solution(*solved.y[:, -1].reshape(state.shape))


def runge_kutta_together(engine, speed_rpm: np.ndarray, charge: Charge, step_deg: float) -> Solution:
    """March the cycles of many charges in equal steps of at most `step_deg` by the classical rule of fourth order.

    The step in which the flame is through counts to the knock integral as far as it goes, by the parabola through its
    beginning, middle and end.
    """
    start, end = engine.setup.intake_closes_deg, engine.setup.exhaust_opens_deg
    state, derivatives = _many(engine.setup, speed_rpm, charge, np.inf)
    until_deg = _end_gas_until_deg(charge)
    steps = int(np.ceil((end - start) / step_deg))
    step = (end - start) / steps
    for angle_deg in start + step * np.arange(steps):
        first = derivatives(angle_deg, state)
        second = derivatives(angle_deg + 0.5 * step, state + 0.5 * step * first)
        third = derivatives(angle_deg + 0.5 * step, state + 0.5 * step * second)
        fourth = derivatives(angle_deg + step, state + step * third)
        change = (step / 6.0) * (first + 2.0 * second + 2.0 * third + fourth)
        share = np.clip((until_deg - angle_deg) / step, 0.0, 1.0)
        begins, middle, ends = first[-1], 0.5 * (second[-1] + third[-1]), fourth[-1]
        bend, slope = 2.0 * (begins - 2.0 * middle + ends), 4.0 * middle - 3.0 * begins - ends
        change[-1] = step * share * (begins + share * (slope / 2.0 + share * bend / 3.0))
        state = state + change
    return Solution(*state)


def _many(setup, speed_rpm, charge, until_deg=None):
    """State of many charges when the intake valve closes, a column for each, and its derivatives as one array."""
    none = np.zeros_like(charge.pressure_pa)
    lists = _equations(setup, speed_rpm, charge, np.minimum, np.maximum, until_deg)
    state = np.array([charge.pressure_pa, charge.temperature_k, none, none, none])
    return state, lambda angle_deg, state: np.array(lists(angle_deg, state))


def _end_gas_until_deg(charge):
    """Crank angle at which the flame is through [deg], and not before the pockets along the walls have burned."""
    through = charge.spark_deg + charge.duration_deg * (-np.log(END_GAS_LEFT) / 5.0) ** (1.0 / charge.exponent)
    return POCKETS_UNTIL_DEG + POCKETS_BLEND_DEG * np.log1p(np.exp((through - POCKETS_UNTIL_DEG) / POCKETS_BLEND_DEG))


def _equations(setup, speed_rpm, charge, smaller=min, larger=max, until_deg=None):
    """Derivatives of pressure, end-gas temperature, work, wall heat and knock integral with the crank angle [deg].

    Of one charge in plain floats; with numpy's `smaller` and `larger` of many, in arrays. From `until_deg` on, which is
    where the flame is through unless it is given, the knock integral stays as it is.
    """
    until_deg = _end_gas_until_deg(charge) if until_deg is None else until_deg
    geometry = setup.geometry
    closing_m3 = geometry.volume_m3(np.deg2rad(setup.intake_closes_deg))
    closing_pa, closing_k, mass = charge.pressure_pa, charge.temperature_k, charge.mass_kg
    spark, duration, exponent = charge.spark_deg, charge.duration_deg, charge.exponent
    heat, piston_speed = charge.heat_j, geometry.mean_piston_speed_m_s(speed_rpm)
    second_per_degree = 1.0 / (6.0 * speed_rpm)

    def derivatives(angle_deg, state):
        pressure, end_gas_k = state[0], state[1]
        angle = np.deg2rad(angle_deg)
        volume, slope = geometry.volume_m3(angle), geometry.volume_slope_m3_rad(angle) * np.pi / 180
        progress = larger((angle_deg - spark) / duration, 0.0)
        left = np.exp(-5.0 * progress**exponent)
        burning = 5.0 * exponent * progress ** (exponent - 1.0) / duration * left
        temperature = pressure * volume / (mass * GAS_CONSTANT)
        cold, hot = gas.gamma_unburned(smaller(temperature, 1000.0)), gas.gamma_burned(temperature)
        gamma = 1.0 + 1.0 / (left / (cold - 1.0) + (1.0 - left) / (hot - 1.0))
        excess_kpa = larger(pressure - closing_pa * (closing_m3 / volume) ** MOTORED_EXPONENT, 0.0) / 1e3
        combustion = 3.24e-3 * geometry.swept_volume_m3 * closing_k / (closing_pa / 1e3 * closing_m3)
        coefficient = heat_loss.woschni_w_m2_k(
            geometry.bore_m, pressure / 1e3, temperature, 2.28 * piston_speed + combustion * excess_kpa
        )
        wall = (
            coefficient
            * geometry.surface_m2(angle)
            * (temperature - setup.wall_k)
            * second_per_degree
            * setup.heat_factor
        )
        pressure_slope = ((gamma - 1.0) * (heat * burning - wall) - gamma * pressure * slope) / volume
        gamma_end = gas.gamma_unburned(end_gas_k)
        end_gas_slope = end_gas_k * (1.0 - 1.0 / gamma_end) * pressure_slope / pressure
        igniting = (angle_deg < until_deg) * second_per_degree / knock.ignition_delay_100_s(pressure, end_gas_k)
        return [pressure_slope, end_gas_slope, pressure * slope, wall, igniting]

    return derivatives
