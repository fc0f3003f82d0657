"""The closed cycle written down once more, as an ordinary differential equation for a general-purpose integrator.

Only the sub-models (geometry, gas, flame, Woschni's coefficient, the delay) are shared with engine_sim; the equations
and their solution are not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine_sim.model.cycle import Charge, CycleResult, CycleTrace
from engine_sim.physics import gas, heat_loss, knock

MOTORED_EXPONENT, GAS_CONSTANT, END_GAS_LEFT = 1.32, 282.0, 0.06
TIGHT = {"rtol": 1e-9, "atol": 1e-10, "max_step": 0.5}
AS_GOOD = {"rtol": 1e-5, "atol": 1e-6, "max_step": 4.0}  # about the accuracy of engine_sim's own step


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
    state = [charge.pressure_pa.item(), charge.temperature_k.item(), 0.0, 0.0, 0.0]
    solved = solve_ivp(_equations(engine.setup, speed_rpm, charge), (start, end), state, **settings)
    assert solved.success, solved.message
    return Solution(*solved.y[:, -1])


def _equations(setup, speed_rpm, charge):
    """Derivatives of pressure, end-gas temperature, work, wall heat and knock integral with the crank angle [deg]."""
    geometry = setup.geometry
    closing_m3 = geometry.volume_m3(np.deg2rad(setup.intake_closes_deg))
    closing_pa, closing_k, mass = charge.pressure_pa.item(), charge.temperature_k.item(), charge.mass_kg.item()
    spark, duration, exponent = charge.spark_deg.item(), charge.duration_deg.item(), charge.exponent.item()
    heat, piston_speed = charge.heat_j.item(), geometry.mean_piston_speed_m_s(speed_rpm)
    second_per_degree = 1.0 / (6.0 * speed_rpm)

    def derivatives(angle_deg, state):
        pressure, end_gas_k = state[0], state[1]
        angle = np.deg2rad(angle_deg)
        volume, slope = geometry.volume_m3(angle), geometry.volume_slope_m3_rad(angle) * np.pi / 180
        progress = max((angle_deg - spark) / duration, 0.0)
        left = np.exp(-5.0 * progress**exponent)
        burning = 5.0 * exponent * progress ** (exponent - 1.0) / duration * left
        temperature = pressure * volume / (mass * GAS_CONSTANT)
        cold, hot = gas.gamma_unburned(min(temperature, 1000.0)), gas.gamma_burned(temperature)
        gamma = 1.0 + 1.0 / (left / (cold - 1.0) + (1.0 - left) / (hot - 1.0))
        excess_kpa = max(pressure - closing_pa * (closing_m3 / volume) ** MOTORED_EXPONENT, 0.0) / 1e3
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
        igniting = second_per_degree / knock.ignition_delay_100_s(pressure, end_gas_k) if left > END_GAS_LEFT else 0.0
        return [pressure_slope, end_gas_slope, pressure * slope, wall, igniting]

    return derivatives
