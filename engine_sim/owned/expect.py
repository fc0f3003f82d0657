"""What to expect of an engine before anything is read: bands from engines drawn round its description.

A band reaches from the 5 to the 95 % quantile of drawn engines, by the (n+1) rule, beside the healthy engine of the
description, which is simulated as it is asked for. One that tells nothing is not shown, and what would narrow it is
said. Every band is one to compare with, never a setting.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from engine_sim.model.engine import Engine
from engine_sim.model.idle_table import TIMINGS_DEG
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet

from .causes import HEALTHY
from .description import OwnedEngine
from .evidence import ALTITUDE_OPEN, BASE_OPEN, COMPRESSION_OPEN, IDLE_OPEN, nominal_of
from .healthy import method_of
from .nominal import Assumed, assumed, compression_ratio, day_of, nominal_card, weights_of
from .sections import OwnedReadings
from .tables import FEATURES, load_tables

SHARE = 0.90  # of drawn engines inside a band
WITHIN = 1.645  # standard deviations either way that hold as many of a normal distribution
WIDEST_INHG = 5.0  # wider, a band tells nothing
WIDEST_END_DEG = 12.0  # likewise
WIDEST_TOTAL_DEG = 9.0  # likewise
WIDEST_OCTANE = 12.0  # likewise
NARROW_END_DEG = 8.0  # up to here the end of the method is worth more than practice's own 2 to 12 degrees
SWEEP_AT_LEAST = 4  # halts of a sweep from which it narrows anything
SWEEP_COMMON_INHG = 1.0  # of a sweep's vacuum: common to all halts (gauge, screw), and each
SWEEP_INHG = 0.2  # a guess
SWEEP_COMMON_RPM = 80.0  # of its speeds
SWEEP_RPM = 10.0  # likewise
TOTAL_RPM = 3000.0
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Band:
    """One band: what it is of, its unit, its ends, and a sentence; `weak` where it is hardly narrower than practice."""

    id: str
    title: str
    unit: str
    low: float
    high: float
    text: str
    weak: bool = False


@dataclass(frozen=True)
class NotShown:
    """A band that would tell nothing, and why."""

    id: str
    title: str
    why: str


@dataclass(frozen=True)
class Expected:
    """Bands, those left out, what was assumed, and what narrows them most (`ask_field` is its field, "" where nothing
    is left to ask)."""

    bands: tuple[Band, ...]
    not_shown: tuple[NotShown, ...]
    assumed: tuple[Assumed, ...]
    ask_field: str
    ask_next: str


def expected(engine: OwnedEngine, progress: Progress | None = None) -> Expected:
    """What to expect. Raises DescriptionError where cylinders or displacement are not known."""
    if progress:
        progress("The healthy engine of your description is simulated …")
    made = [_idle(engine), _evenness(engine)]
    if progress:
        progress("The method is carried out on it …")
    made += [_end(engine), _total(engine), _octane(engine)]
    field, sentence = _ask(engine)
    return Expected(
        tuple(one for one in made if isinstance(one, Band)),
        tuple(one for one in made if isinstance(one, NotShown)),
        assumed(engine),
        field,
        sentence,
    )


def quantiles(values: np.ndarray, share: float = SHARE) -> tuple[float, float]:
    """The ends between which the next value of the same kind lies with that probability: order statistics at (n+1) p.

    Raises ValueError for fewer than 20 values, whose ends are not known so far out.
    """
    ordered = np.sort(values[np.isfinite(values)])
    count = ordered.size
    if count < 20:
        raise ValueError(f"A band needs 20 drawn engines or more; {count} were given.")
    places = np.array([(1 - share) / 2, (1 + share) / 2]) * (count + 1) - 1
    low, high = np.interp(places, np.arange(count), ordered)
    return float(low), float(high)


def _widened(low: float, high: float, spreads: list[float]) -> tuple[float, float]:
    """The same band where further things are open, each with its standard deviation."""
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    half = math.sqrt(half**2 + sum((WITHIN * spread) ** 2 for spread in spreads))
    return middle - half, middle + half


# ---- idle ----------------------------------------------------------------------------------------------------------


def _idle(engine: OwnedEngine) -> Band | NotShown:
    title = "Vacuum at idle"
    if engine.build.cam == "not as built":
        return NotShown("idle", title, "The cam is not as built: how much lower it idles only this engine can show.")
    day, label = day_of(engine), engine.label
    share = float(air_share(metres_from_feet(day.altitude_ft)))
    low, high = quantiles(load_tables().healthy.idle_inhg)
    opened = [
        spreads["idle_inhg"]
        for is_open, spreads in (
            (compression_ratio(engine) is None, COMPRESSION_OPEN),
            (label.idle_rpm is None, IDLE_OPEN),
            (label.base_deg is None, BASE_OPEN),
            (engine.place.altitude_ft is None and engine.readings.altitude_ft is None, ALTITUDE_OPEN),
        )
        if is_open
    ]
    low, high = (share * end for end in _widened(low, high, opened))
    if high - low > WIDEST_INHG:
        return NotShown("idle", title, "Without the height of the place no band tells anything: look it up on a map.")
    middle = nominal_of(engine).numbers["idle_inhg"]
    text = (
        f"Healthy, warm, hose off and plugged, at {day.altitude_ft:,.0f} ft: 90 % of engines drawn like yours show "
        f"{middle + low:.1f} to {middle + high:.1f} inHg."
    )
    return Band("idle", title, "inHg", low=round(middle + low, 1), high=round(middle + high, 1), text=text)


def _evenness(engine: OwnedEngine) -> Band | NotShown:
    title = "Evenness at idle"
    if engine.build.cam == "not as built":
        return NotShown("evenness", title, "The cam is not as built: a hot one runs unevenly and is no worse for it.")
    even = 100.0 * load_tables().healthy.runs["runs evenly"]
    text = f"Of healthy engines drawn like yours {even:.0f} % run evenly at idle, the needle standing still."
    return Band("evenness", title, "% run evenly", low=even, high=100.0, text=text)


# ---- the method ----------------------------------------------------------------------------------------------------


def _end(engine: OwnedEngine) -> Band | NotShown:
    title = "Where the method will end"
    low, high, swept = end_band(engine)
    if high - low > WIDEST_END_DEG:
        return NotShown("end", title, "Engines drawn like yours end too far apart: make a sweep by light.")
    weak = high - low > NARROW_END_DEG
    ground = "By your own sweep" if swept else "Before a sweep of your own"
    text = f"{ground}, 90 % of engines drawn like yours end at {low:.0f} to {high:.0f} degrees, once the idle is set."
    if weak:
        text += " That is weak: it says little beyond common practice. A sweep by light narrows it."
    return Band(
        "end",
        title,
        "° BTDC",
        low=round(low, 1),
        high=round(high, 1),
        text=f"{text} Compare, never set to it.",
        weak=weak,
    )


def end_band(engine: OwnedEngine) -> tuple[float, float, bool]:
    """The band of the method's end [crank deg], and whether the owner's sweep narrowed it."""
    draws, nominal = load_tables().healthy, _nominal_method(_without_readings(engine))
    ends = nominal["end_deg"] + draws.end_deg
    opened = [2.0] if compression_ratio(engine) is None else []
    opened += [2.5] if engine.build.cam is None else []
    low, high = _widened(*quantiles(ends), opened[:1])
    swept = len(engine.readings.sweep) >= SWEEP_AT_LEAST
    if swept:
        middle, spread = _after_sweep(engine, nominal, ends)
        half = WITHIN * spread
        if 2.0 * half < high - low:
            return middle - half, middle + half, True
    return low, high, False


def _after_sweep(engine: OwnedEngine, nominal: dict, ends: np.ndarray) -> tuple[float, float]:
    """Mean and standard deviation of the end once the sweep is known: the linear Gaussian rule over drawn engines."""
    share = float(air_share(metres_from_feet(day_of(engine).altitude_ft)))
    draws, halts = load_tables().healthy, engine.readings.sweep
    gauge = engine.readings.gauge_error_inhg or 0.0
    columns, seen, common, single = [], [], [], []
    for halt in halts:
        for read, nominal_curve, drawn, shared, each in (
            (halt.vacuum_inhg - gauge, nominal["inhg_curve"], share * draws.curve_inhg, SWEEP_COMMON_INHG, SWEEP_INHG),
            (halt.rpm, nominal["rpm_curve"], draws.curve_rpm, SWEEP_COMMON_RPM, SWEEP_RPM),
        ):
            if read is None:
                continue
            column = np.array([_at(np.array(nominal_curve) + row, halt.light_deg) for row in drawn])
            if np.isfinite(column).sum() < 20:
                continue
            columns.append(np.where(np.isfinite(column), column, np.nanmean(column)))
            seen.append(read)
            common.append((shared, shared == SWEEP_COMMON_INHG))
            single.append(each)
    if not columns:
        return float(ends.mean()), float(ends.std())
    drawn_readings = np.array(columns).T
    noise = np.diag(np.square(single))
    for of_gauge in (True, False):
        loading = np.array([shared if kind == of_gauge else 0.0 for shared, kind in common])
        noise = noise + np.outer(loading, loading)
    off = drawn_readings - drawn_readings.mean(axis=0)
    count = len(ends) - 1
    across = off.T @ (ends - ends.mean()) / count
    gain = np.linalg.solve(off.T @ off / count + noise, across)
    middle = float(ends.mean() + gain @ (np.array(seen) - drawn_readings.mean(axis=0)))
    variance = float(ends.var(ddof=1) - gain @ across)
    return middle, math.sqrt(max(variance, 0.5))


def _at(curve: np.ndarray, timing_deg: float) -> float:
    """A curve over the timings of the idle table; NaN where it has none."""
    runs = np.isfinite(curve)
    if runs.sum() < 2 or not TIMINGS_DEG[runs][0] <= timing_deg <= TIMINGS_DEG[runs][-1]:
        return float("nan")
    return float(np.interp(timing_deg, TIMINGS_DEG[runs], curve[runs]))


def _without_readings(engine: OwnedEngine) -> str:
    day = {"altitude_ft": engine.readings.altitude_ft, "air_c": engine.readings.air_c}
    return engine.model_copy(update={"readings": OwnedReadings(**day)}).model_dump_json()


@functools.lru_cache(maxsize=32)
def _nominal_method(text: str) -> dict:
    engine = OwnedEngine.model_validate_json(text)
    return method_of(Engine(nominal_card(engine)), day_of(engine))


# ---- total, octane -------------------------------------------------------------------------------------------------


def _total(engine: OwnedEngine) -> Band | NotShown:
    title = f"Total at {TOTAL_RPM:,.0f} rpm, hose off"
    if weights_of(engine) is None:
        return NotShown("total", title, "The curve of this distributor is not known: read it by light at four speeds.")
    healthy = load_tables().causes[HEALTHY].sides[0]
    assert healthy.mean is not None and healthy.covariance is not None
    at, idle = FEATURES.index("light_3000_off_deg"), FEATURES.index("light_idle_off_deg")
    covariance = healthy.covariance
    spread = math.sqrt(covariance[at, at] + covariance[idle, idle] - 2.0 * covariance[at, idle])
    numbers, base = nominal_of(engine).numbers, nominal_card(engine).setting.label_base_timing_deg
    middle = numbers["light_3000_off_deg"] - numbers["light_idle_off_deg"] + base
    middle += float(healthy.mean[at] - healthy.mean[idle])
    low, high = middle - WITHIN * spread, middle + WITHIN * spread
    if high - low > WIDEST_TOTAL_DEG:
        return NotShown("total", title, "Drawn engines lie too far apart: read it by light.")
    text = (
        f"With {base:g} degrees at idle, 90 % of engines drawn like yours show {low:.0f} to {high:.0f} degrees. "
        "The light has the last word, before the first wide-open pull."
    )
    return Band("total", title, "° BTDC", low=round(low, 1), high=round(high, 1), text=text)


def _octane(engine: OwnedEngine) -> Band | NotShown:
    title = "Octane number it needs, wide open"
    if engine.build.compression_by != "gauge":
        return NotShown("octane", title, "Without a reading by a compression gauge no band of it tells anything.")
    nominal = _nominal_method(_without_readings(engine))["octane"]
    low, high = (nominal + end for end in quantiles(load_tables().healthy.octane))
    if high - low > WIDEST_OCTANE:
        return NotShown("octane", title, "Drawn engines lie too far apart: the road says it, on the fuel in use.")
    text = (
        f"Set where the method ends, 90 % of engines drawn like yours need {low:.0f} to {high:.0f} RON, throttle wide "
        "open. The road has the last word."
    )
    return Band("octane", title, "RON", low=round(low, 1), high=round(high, 1), text=text)


# ---- what to ask next ----------------------------------------------------------------------------------------------


def _ask(engine: OwnedEngine) -> tuple[str, str]:
    """The field that narrows most, and why."""
    asked = (
        (
            engine.place.altitude_ft is None and engine.readings.altitude_ft is None,
            "place.altitude_ft",
            "How high does it run? A thousand feet lower the gauge by more than half an inch.",
        ),
        (engine.build.cam is None, "build.cam", "Is the cam as built? A hotter one takes inches off the gauge."),
        (
            weights_of(engine) is None,
            "ignition.light",
            "Read the light at four speeds, hose off and on: without the curve no total can be expected.",
        ),
        (
            len(engine.readings.sweep) < SWEEP_AT_LEAST,
            "readings.sweep",
            "Make a sweep by light, at least four halts from late to past the peak: it halves the band of the end.",
        ),
        (
            engine.build.compression_by != "gauge",
            "build.cranking_kpa",
            "Read the compression by a gauge: without it the octane number that it needs cannot be told.",
        ),
        (engine.label.idle_rpm is None, "label.idle_rpm", "What idle speed does the maker give? It moves the vacuum."),
        (engine.label.base_deg is None, "label.base_deg", "What base timing does the maker give?"),
    )
    return next(((field, sentence) for is_open, field, sentence in asked if is_open), ("", "Nothing is left to ask."))
