"""What to expect of an engine before anything is compared: bands from engines drawn round its description.

A band reaches from the 5 to the 95 % quantile of drawn engines, by the (n+1) rule, beside the healthy engine of the
description, which is simulated as it is asked for. What the owner has read of the setting narrows it. One that tells
nothing is not shown, and what would narrow it is said. Every band is one to compare with, never a setting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import KPA_PER_INHG, METRES_PER_FOOT, metres_from_feet

from .ask_next import ask_next, own_base_deg
from .band_rule import beside_readings, quantiles, stretched, widened
from .causes import HEALTHY
from .description import OwnedEngine
from .evidence import nominal_of
from .healthy import healthy_engine, idle_at
from .nominal import Assumed, assumed, day_of, nominal_card, weights_of, without_readings
from .own_sweep import after_sweep, draws_for, nominal_method
from .tables import load_tables

WIDEST_INHG = 4.0  # at sea level; a wider band of the idle's vacuum tells nothing
WIDEST_END_DEG = 12.0  # crank degrees; a wider band of the method's end tells nothing
WIDEST_TOTAL_DEG = 9.0  # crank degrees; a wider band of the total tells nothing
WIDEST_OCTANE = 10.0  # RON; a wider band of the octane need tells nothing
NARROW_END_DEG = 8.0  # crank degrees; up to here the end of the method is worth more than practice's own 2 to 12
STRETCH = 1.15  # of the scatter of idle and octane need; calibration: 200 hidden engines scattered more than the drawn
BASE_OPEN_INHG = 0.3  # standard deviation of the idle's vacuum where the label's base is not known; a guess
CAM_OPEN_DEG = 2.5  # standard deviation of the method's end where it is not said whether the cam is as built; a guess
GAUGE_INHG = 0.47  # standard deviation of one reading of an owner's gauge, the eye's error in it; a guess
GAUGE_CHECKED_INHG = 0.29  # the same of a gauge whose error was looked at with the engine off; a guess
LIGHT_DEG = 1.3  # standard deviation of one reading by the light [crank deg]; a guess
TOTAL_RPM = 3000.0  # at which the total is read, as is common practice
BESIDE_HELD = "Vacuum at idle, beside that held at 2,500 rpm"
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
    made = [*_idle(engine), _evenness(engine)]
    if progress:
        progress("The method is carried out on it …")
    made += [_end(engine), _total(engine), _octane(engine)]
    field, sentence = ask_next(engine)
    return Expected(
        tuple(one for one in made if isinstance(one, Band)),
        tuple(one for one in made if isinstance(one, NotShown)),
        assumed(engine),
        field,
        sentence,
    )


# ---- idle ----------------------------------------------------------------------------------------------------------


def _idle(engine: OwnedEngine) -> list[Band | NotShown]:
    """Vacuum at idle: as owners keep such engines, or set as this one was read; and beside what it holds at speed."""
    title = "Vacuum at idle"
    if engine.build.cam == "not as built":
        return [NotShown("idle", title, "The cam is not as built: how much lower it idles only this engine can show.")]
    if engine.place.altitude_ft is None and engine.readings.altitude_ft is None:
        why = "Without the height of the place no band tells anything: look it up on a map."
        return [NotShown("idle", title, why)]
    share = float(air_share(metres_from_feet(day_of(engine).altitude_ft)))
    values, middle = _idle_draws(engine)
    own = own_base_deg(engine)
    open_inhg = [BASE_OPEN_INHG] if engine.label.base_deg is None and own is None else []
    low, high = widened(*quantiles(stretched(values, STRETCH)), open_inhg)
    if high - low > WIDEST_INHG:
        return [NotShown("idle", title, "Drawn engines lie too far apart: " + ask_next(engine)[1])]
    set_as = "set as owners keep them" if own is None else f"set to your base of {own:g} degrees"
    made: list[Band | NotShown] = [_vacuum_band("idle", title, set_as, engine, middle + share * np.array([low, high]))]
    beside = _beside_held(engine, values, share)
    if beside is not None:
        said = "that hold as much at 2,500 rpm as yours"
        made.append(_vacuum_band("idle_beside_held", BESIDE_HELD, said, engine, middle + beside))
    return made


def _vacuum_band(name: str, title: str, which: str, engine: OwnedEngine, ends: np.ndarray) -> Band:
    low, high = (round(float(end), 1) for end in ends)
    feet = day_of(engine).altitude_ft
    text = (
        f"Healthy, warm, hose off and plugged, at {feet:,.0f} ft ({feet * METRES_PER_FOOT:,.0f} m): 90 % of engines "
        f"drawn like yours, {which}, show {low:.1f} to {high:.1f} inHg ({low * KPA_PER_INHG:.0f} to "
        f"{high * KPA_PER_INHG:.0f} kPa)."
    )
    if engine.build.cam is None:
        text += " This supposes that the cam is as built."
    if name == "idle_beside_held":
        text += " What lowers both readings alike does not show here."
    return Band(name, title, "inHg", low=low, high=high, text=text)


def _idle_draws(engine: OwnedEngine) -> tuple[np.ndarray, float]:
    """Vacuum of drawn engines beside the healthy engine of the description [inHg as at sea level], and that engine's
    own [inHg]; set as the owner's light and tachometer showed it, where a light was read."""
    base = own_base_deg(engine)
    nominal = nominal_of(engine).numbers["idle_inhg"]
    if base is None:
        return draws_for(engine).idle_inhg, nominal
    alike = _set_alike(without_readings(engine), base, _own_idle_rpm(engine))
    if not np.isfinite(alike):
        return draws_for(engine).idle_inhg, nominal
    return draws_for(engine).idle_set_alike_inhg, nominal + alike


def _own_idle_rpm(engine: OwnedEngine) -> float | None:
    read = engine.readings
    return None if read.idle_rpm is None else read.idle_rpm - (read.tachometer_error_rpm or 0.0)


def _set_alike(text: str, base_deg: float, idle_rpm: float | None) -> float:
    """By how much more vacuum the healthy engine idles with that base and speed than set by its label [inHg]."""
    healthy, table = healthy_engine(text)
    label = healthy.card.setting
    own = idle_at(table, base_deg, label.idle_rpm if idle_rpm is None else idle_rpm)
    return own - idle_at(table, label.label_base_timing_deg, label.idle_rpm)


def _beside_held(engine: OwnedEngine, values: np.ndarray, share: float) -> np.ndarray | None:
    """The ends beside the healthy engine's idle [inHg], given the vacuum that the owner read at 2,500 rpm."""
    read, nominal = engine.readings.held_2500_inhg, nominal_of(engine).numbers.get("held_2500_inhg")
    if read is None or nominal is None:
        return None
    error, draws = engine.readings.gauge_error_inhg, draws_for(engine)
    gauge = (GAUGE_INHG if error is None else GAUGE_CHECKED_INHG) / share
    columns, seen, spreads = [draws.held_inhg], [(read - (error or 0.0) - nominal) / share], [gauge]
    base = own_base_deg(engine)
    if base is not None:
        columns.append(draws.base_deg)
        seen.append(base - nominal_card(engine).setting.label_base_timing_deg)
        spreads.append(LIGHT_DEG)
    left, added = beside_readings(values, np.array(columns).T, np.array(seen), np.diag(np.square(spreads)))
    return share * np.array(widened(*quantiles(stretched(left, STRETCH)), [added]))


def _evenness(engine: OwnedEngine) -> Band | NotShown:
    title = "Evenness at idle"
    if engine.build.cam == "not as built":
        return NotShown("evenness", title, "The cam is not as built: a hot one runs unevenly and is no worse for it.")
    even = 100.0 * load_tables().causes[HEALTHY].words["runs"]["runs evenly"]
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
    draws, nominal = draws_for(engine), nominal_method(without_readings(engine))
    open_deg = [CAM_OPEN_DEG] if engine.build.cam is None else []
    low, high = widened(*quantiles(draws.end_deg), open_deg)
    swept = after_sweep(engine, draws.end_deg)
    if swept is not None and swept[1] - swept[0] < high - low:
        return nominal["end_deg"] + swept[0], nominal["end_deg"] + swept[1], True
    return nominal["end_deg"] + low, nominal["end_deg"] + high, False


# ---- total, octane -------------------------------------------------------------------------------------------------


def _total(engine: OwnedEngine) -> Band | NotShown:
    title = f"Total at {TOTAL_RPM:,.0f} rpm, hose off"
    if weights_of(engine) is None:
        return NotShown("total", title, "The curve of this distributor is not known: read it by light at four speeds.")
    numbers, base = nominal_of(engine).numbers, base_deg(engine)
    rise = numbers["light_3000_off_deg"] - numbers["light_idle_off_deg"]
    low, high = (base + rise + end for end in quantiles(draws_for(engine).rise_deg))
    if high - low > WIDEST_TOTAL_DEG:
        return NotShown("total", title, "Drawn engines lie too far apart: read it by light.")
    text = (
        f"With {base:g} degrees at idle, 90 % of engines drawn like yours show {low:.0f} to {high:.0f} degrees. "
        "The light has the last word, before the first wide-open pull."
    )
    return Band("total", title, "° BTDC", low=round(low, 1), high=round(high, 1), text=text)


def base_deg(engine: OwnedEngine) -> float:
    """The base that the owner's light showed, or else the label's [crank deg]."""
    own = own_base_deg(engine)
    return nominal_card(engine).setting.label_base_timing_deg if own is None else own


def _octane(engine: OwnedEngine) -> Band | NotShown:
    title = "Octane number it needs, wide open"
    if engine.build.compression_by != "gauge":
        return NotShown("octane", title, "Without a reading by a compression gauge no band of it tells anything.")
    if weights_of(engine) is None:
        return NotShown("octane", title, "Without the curve of this distributor no band of it tells anything.")
    nominal, drawn = nominal_method(without_readings(engine))["octane"], draws_for(engine).octane
    low, high = after_sweep(engine, drawn, STRETCH) or quantiles(stretched(drawn, STRETCH))
    low, high = nominal + low, nominal + high
    if high - low > WIDEST_OCTANE:
        return NotShown("octane", title, "Drawn engines lie too far apart: the road says it, on the fuel in use.")
    text = (
        f"Set where the method ends, 90 % of engines drawn like yours need {low:.0f} to {high:.0f} RON, throttle wide "
        "open. The road has the last word."
    )
    return Band("octane", title, "RON", low=round(low, 1), high=round(high, 1), text=text)
