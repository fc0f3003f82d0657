"""What an owner's own sweep by light says of where the method ends: beside drawn engines, swept alike."""

from __future__ import annotations

import functools

import numpy as np

from engine_sim.model.idle_table import TIMINGS_DEG
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet

from .band_rule import LEAST_DRAWN, beside_readings, quantiles, stretched, widened
from .description import OwnedEngine
from .healthy import healthy_engine, method_of
from .healthy_draws import HealthyDraws, healthy_draws
from .nominal import compression_ratio, day_of, without_readings

SWEEP_AT_LEAST = 4  # halts of a sweep from which it narrows anything
SWEEP_COMMON_INHG = 0.4  # standard deviation of all vacuums of a sweep together (gauge, idle screw); a guess
SWEEP_INHG = 0.2  # standard deviation of each vacuum of a sweep by itself; a guess
SWEEP_COMMON_RPM = 27.0  # standard deviation of all speeds of a sweep together (tachometer, idle screw); a guess
SWEEP_RPM = 10.0  # standard deviation of each speed of a sweep by itself; a guess


def draws_for(engine: OwnedEngine) -> HealthyDraws:
    """The drawn engines that fit what a description knows."""
    return healthy_draws(compression_ratio(engine) is not None)


def after_sweep(engine: OwnedEngine, values: np.ndarray, stretch: float = 1.0) -> tuple[float, float] | None:
    """The band of a quantity of drawn engines once the owner's sweep is known, their scatter times `stretch`; None
    where there is no sweep."""
    if len(engine.readings.sweep) < SWEEP_AT_LEAST:
        return None
    nominal, draws = nominal_method(without_readings(engine)), draws_for(engine)
    share = float(air_share(metres_from_feet(day_of(engine).altitude_ft)))
    gauge, tachometer = engine.readings.gauge_error_inhg or 0.0, engine.readings.tachometer_error_rpm or 0.0
    kinds = (
        ("vacuum_inhg", gauge, np.array(nominal["inhg_curve"]), share * draws.curve_inhg),
        ("rpm", tachometer, np.array(nominal["rpm_curve"]), draws.curve_rpm),
    )
    columns, seen, of_gauge = [], [], []
    for halt in engine.readings.sweep:
        light = halt.light_deg - (engine.readings.light_error_deg or 0.0)
        for name, error, curve, drawn in kinds:
            value = getattr(halt, name)
            column = np.array([at_timing(curve + row, light) for row in drawn])
            if value is None or np.isfinite(column).sum() < LEAST_DRAWN:
                continue
            columns.append(np.where(np.isfinite(column), column, np.nanmean(column)))
            seen.append(value - error)
            of_gauge.append(name == "vacuum_inhg")
    if not columns:
        return None
    left, added = beside_readings(values, np.array(columns).T, np.array(seen), _sweep_noise(np.array(of_gauge)))
    return widened(*quantiles(stretched(left, stretch)), [added])


def _sweep_noise(of_gauge: np.ndarray) -> np.ndarray:
    """Covariance of a sweep's readings: each instrument's shared error, and each reading's own."""
    noise = np.diag(np.where(of_gauge, SWEEP_INHG, SWEEP_RPM) ** 2)
    for of_one, shared in ((of_gauge, SWEEP_COMMON_INHG), (~of_gauge, SWEEP_COMMON_RPM)):
        noise = noise + shared**2 * np.outer(of_one, of_one)
    return noise


def at_timing(curve: np.ndarray, timing_deg: float) -> float:
    """A curve over the timings of the idle table; NaN where it has none."""
    runs = np.isfinite(curve)
    if runs.sum() < 2 or not TIMINGS_DEG[runs][0] <= timing_deg <= TIMINGS_DEG[runs][-1]:
        return float("nan")
    return float(np.interp(timing_deg, TIMINGS_DEG[runs], curve[runs]))


@functools.lru_cache(maxsize=32)
def nominal_method(text: str) -> dict:
    """Where the method leads on the healthy engine of a description, by its text `without_readings`."""
    healthy, table = healthy_engine(text)
    return method_of(healthy, day_of(OwnedEngine.model_validate_json(text)), table)
