"""Does this distributor suit this engine? Its advance by light, hose off and on, beside what engines of the kind can
use on the fuel that is sold there.

What an engine can use is worked out on drawn engines, throttle wide open: from where it keeps 98 % of the torque
available without ping to where the fuel begins to ping, or where more advance gives nothing. It is a band to compare
with, never a setting.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from engine_sim.model.card import EngineCard
from engine_sim.model.conditions import Conditions
from engine_sim.model.engine import Engine

from .description import OwnedEngine
from .nominal import compression_ratio, day_of, nominal_card, octane_ron, without_readings
from .starting import HIGHEST_TOTAL_DEG
from .unknowns import drawn_card

SPEEDS_RPM = (1500.0, 2500.0, 3000.0)  # at which the light is read
SPARKS_DEG = np.arange(4.0, 53.0, 4.0)  # total advance that is tried [crank deg]
DRAWN = 24  # engines, of which the second earliest ping is one in twenty's
SEED = 31
KEEPS = 0.98  # of the torque available without ping, from which an advance is enough
FLAT = 0.998  # of the best torque, beyond which more advance gives nothing
CRUISE_RPM = 2000.0  # speed of a light cruise; a guess
CRUISE_SHARE = 0.5  # manifold over outside pressure of a light cruise; a guess
CRUISE_LATER_DEG = 10.0  # crank degrees later than a light cruise's best that still suit; a guess
CRUISE_EARLIER_DEG = 6.0  # crank degrees earlier than a light cruise's best that still suit; common practice
DEAD_BELOW_DEG = 3.0  # crank degrees; a vacuum unit that adds less is dead; common practice
STRONG_ABOVE_DEG = 22.0  # crank degrees; a vacuum unit that adds more is too strong; common practice
HIGHEST_CRUISE_DEG = 55.0  # total with the hose on, above which it is too much; common practice
IDLE_ADDS_DEG = 3.0  # with the hose on at idle, from which the unit is fed from the manifold
STARTS_BELOW_DEG = 1.5  # of the weights at idle speed, that are at rest
USUAL_BASE_DEG = 8.0
Progress = Callable[[str], None]


@dataclass(frozen=True)
class SuitRow:
    """One speed: what the light showed, and the band that engines of the kind can use [crank deg]; `may_ping_from` is
    where one engine in twenty pings already. None where nothing was read, or no band belongs to it."""

    speed: str
    hose: str
    read_deg: float | None
    low_deg: float | None
    high_deg: float | None
    may_ping_from_deg: float | None


@dataclass(frozen=True)
class Suitability:
    """The rows, the sentences on what was read, what to ask a specialist for, and what the bands rest on."""

    rows: tuple[SuitRow, ...]
    sentences: tuple[str, ...]
    ask_for: tuple[str, ...]
    ground: tuple[str, ...]


def suits(engine: OwnedEngine, progress: Progress | None = None) -> Suitability:
    """Compare a distributor's light readings with what such engines can use. Raises DescriptionError where cylinders or
    displacement are not known."""
    if progress:
        progress("Engines like yours are drawn and put under full load …")
    low, high, pings, cruise = _usable(without_readings(engine))
    off, on = _read(engine)
    rows = [
        SuitRow("idle", "off", off.get("idle"), None, None, None),
        SuitRow("idle", "on", on.get("idle"), None, None, None),
    ]
    for place, rpm in enumerate(SPEEDS_RPM):
        speed = f"{rpm:.0f}"
        band = (round(float(low[place])), round(float(high[place])), round(float(pings[place])))
        rows.append(SuitRow(speed, "off", off.get(speed), *band))
        late, early = cruise - CRUISE_LATER_DEG, min(cruise + CRUISE_EARLIER_DEG, HIGHEST_CRUISE_DEG)
        cruises = (round(late), round(early), None) if rpm >= CRUISE_RPM else (None, None, None)
        rows.append(SuitRow(speed, "on", on.get(speed), *cruises))
    told = (*_weights(off, rows), *_unit(engine, off, on, cruise))
    return Suitability(tuple(rows), told or _nothing(off), _ask_for(engine, off, rows, told), _ground(engine))


def _read(engine: OwnedEngine) -> tuple[dict[str, float], dict[str, float]]:
    """Light with the hose off and on, by speed: the readings, or where they lack the curve of the description."""
    off: dict[str, float] = {}
    on: dict[str, float] = {}
    for one in engine.ignition.light:
        nearest = min((*SPEEDS_RPM, 800.0), key=lambda rpm: abs(rpm - one.rpm))
        name = "idle" if nearest == 800.0 else f"{nearest:.0f}"
        if abs(nearest - one.rpm) > (300.0 if name == "idle" else 200.0):
            continue
        if one.hose_off_deg is not None:
            off[name] = one.hose_off_deg
        if one.hose_on_deg is not None:
            on[name] = one.hose_on_deg
    error = engine.readings.light_error_deg or 0.0
    for speed in ("idle", *(f"{rpm:.0f}" for rpm in SPEEDS_RPM)):
        for hose, into in (("off", off), ("on", on)):
            value = getattr(engine.readings, f"light_{speed}_{hose}_deg")
            if value is not None:
                into[speed] = value - error
    return off, on


@functools.lru_cache(maxsize=32)
def _usable(text: str) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """At each speed: the middle of the latest and of the earliest advance that drawn engines can use, the earliest that
    nineteen in twenty can, and the best advance of a light cruise [crank deg]; of a text `without_readings`."""
    engine = OwnedEngine.model_validate_json(text)
    rng = np.random.default_rng(SEED)
    nominal, day = nominal_card(engine), day_of(engine)
    ends = [_ends(drawn_card(nominal, engine, rng), day) for _ in range(DRAWN)]
    late, early = (np.array([one[place] for one in ends]) for place in (0, 1))
    low = np.median(late, axis=0)
    high = np.minimum(np.maximum(np.median(early, axis=0), low), HIGHEST_TOTAL_DEG)
    pings = np.minimum(np.quantile(early, 1.0 / (DRAWN + 1), axis=0), high)
    return np.minimum(low, high), high, pings, _cruise_deg(nominal, day)


def _ends(card: EngineCard, day: Conditions) -> tuple[np.ndarray, np.ndarray]:
    """The latest and the earliest advance that one engine can use at each speed, throttle wide open."""
    engine, speeds = Engine(card), np.array(SPEEDS_RPM)
    base = SPARKS_DEG[None, :] - np.asarray(engine.centrifugal_deg(speeds))[:, None]
    pull = engine.full_throttle(speeds[:, None], base, altitude_ft=day.altitude_ft, ambient_c=day.ambient_c)
    late, early = [], []
    for torque, margin in zip(pull.torque_nm, pull.knock_margin_octane, strict=True):
        best = int(np.argmax(torque))
        rising, sparks = torque[: best + 1] / torque[best], SPARKS_DEG[: best + 1]
        silent = np.interp(0.0, -margin, SPARKS_DEG)  # the margin falls with the advance
        early.append(min(np.interp(FLAT, rising, sparks), silent))
        late.append(np.interp(KEEPS * np.interp(early[-1], sparks, rising), rising, sparks))
    return np.array(late), np.array(early)


def _cruise_deg(card: EngineCard, day: Conditions) -> float:
    sparks = np.arange(16.0, 61.0, 4.0)
    points = Engine(card).operating_points(CRUISE_RPM, CRUISE_SHARE * day.ambient_pa / 1e3, sparks, conditions=day)
    return float(sparks[int(np.argmax(points.torque_nm))])


def _weights(off: dict[str, float], rows: list[SuitRow]) -> tuple[str, ...]:
    """Sentences on base and weights, hose off."""
    bands = {row.speed: row for row in rows if row.hose == "off" and row.low_deg is not None}
    told = []
    base, at = off.get("idle"), {speed: off[speed] for speed in bands if speed in off}
    first, last = at.get("1500"), at.get("3000", at.get("2500"))
    whole = bands["3000" if "3000" in at else "2500"]
    assert whole.low_deg is not None and whole.high_deg is not None
    early = bands["1500"]
    if first is not None and early.low_deg is not None and first < early.low_deg - 2.0:
        told.append(
            f"Late start: {first:g} degrees at 1,500 rpm, where such engines use {early.low_deg:.0f} or more. It pulls "
            "dully from low speed."
        )
    if first is not None and early.high_deg is not None and first > early.high_deg + 2.0:
        told.append(
            f"Too quick: {first:g} degrees at 1,500 rpm already, where {early.high_deg:.0f} is the most of use. It "
            "pings first when it pulls from low speed."
        )
    if last is not None and last < whole.low_deg - 2.0:
        rise = "" if base is None else f" The weights give {last - base:g} degrees."
        told.append(f"Total short: {last:g} degrees, where such engines use {whole.low_deg:.0f} or more.{rise}")
    if last is not None and last > whole.high_deg + 2.0:
        told.append(
            f"Total too great: {last:g} degrees, where {whole.high_deg:.0f} is the most of use on this fuel. No "
            "wide-open pull before it is less."
        )
    if base is not None and len(at) > 1 and max(at.values()) - base < STARTS_BELOW_DEG:
        told.append("The weights do not move at all: see whether they are stuck before anything is bought.")
    return tuple(told)


def _unit(engine: OwnedEngine, off: dict[str, float], on: dict[str, float], cruise: float) -> tuple[str, ...]:
    """Sentences on the vacuum unit."""
    adds = {speed: on[speed] - off[speed] for speed in on if speed in off}
    told: list[str] = []
    if not adds:
        return ()
    most = max(adds.values())
    if engine.ignition.hoses != 0 and most < DEAD_BELOW_DEG:
        told.append(
            f"The vacuum unit is dead, or its hose has no vacuum: it adds {most:g} degrees at most. Pump it by hand, "
            "and follow the hose."
        )
    highest = max((on[speed] for speed in on if speed != "idle"), default=0.0)
    if most > STRONG_ABOVE_DEG or highest > max(HIGHEST_CRUISE_DEG, cruise + CRUISE_EARLIER_DEG):
        told.append(
            f"The vacuum unit is too strong: it adds {most:g} degrees, to {highest:g} in all. It surges or pings at a "
            "light throttle. Ask for one with a stop, or with fewer degrees."
        )
    if adds.get("idle", 0.0) > IDLE_ADDS_DEG and engine.ignition.source == "ported":
        told.append("At idle the hose adds advance, though it is said to come from above the throttle: follow it.")
    if min(adds.values()) < -IDLE_ADDS_DEG:
        told.append("With the hose on there is less advance: a unit that retards. Ask what it was made for.")
    return tuple(told)


def _nothing(off: dict[str, float]) -> tuple[str, ...]:
    if len(off) < 3:
        return ("Too little was read: idle, 1,500, 2,500 and 3,000 rpm, hose off and plugged, then hose on.",)
    return ("Nothing speaks against this distributor: its advance lies where such engines can use it.",)


def _ask_for(engine: OwnedEngine, off: dict[str, float], rows: list[SuitRow], told: tuple[str, ...]) -> tuple[str, ...]:
    """What a specialist should be asked for; only where something does not suit."""
    if not told:
        return ()
    bands = {row.speed: row for row in rows if row.hose == "off" and row.low_deg is not None}
    base = min(max(off.get("idle", USUAL_BASE_DEG), 2.0), 12.0)
    last, first = bands["3000"], bands["1500"]
    assert last.low_deg is not None and last.high_deg is not None
    assert first.low_deg is not None and first.high_deg is not None
    whole = max(0.5 * (last.low_deg + last.high_deg) - base, 0.0)
    early = max(min(0.5 * (first.low_deg + first.high_deg) - base, whole), 0.0)
    asked = [
        f"Weights and springs for a base of {base:.0f} degrees: about {early:.0f} crank degrees at 1,500 rpm of the "
        f"crank and {whole:.0f} by 3,000; of the distributor, {early / 2:.0f} at 750 and {whole / 2:.0f} by 1,500.",
        "A run on a distributor machine, and its curve on paper that says whose degrees and speeds it gives: the "
        "crank's or the distributor's.",
        "Bush, shaft and plate without play, before any spring is chosen.",
    ]
    if any("vacuum unit" in one for one in told) and engine.ignition.hoses != 0:
        asked.append(
            "A vacuum unit of 10 to 16 crank degrees, tight for a minute, its beginning and its stop on paper."
        )
    return tuple(asked)


def _ground(engine: OwnedEngine) -> tuple[str, ...]:
    """What the bands rest on."""
    told = [
        f"Bands of {DRAWN} engines drawn like yours, throttle wide open. They are to compare with, never a setting."
    ]
    if octane_ron(engine) is None:
        told.append("The fuel's octane number or its scale was not said: ordinary petrol of 91 RON was supposed.")
    if compression_ratio(engine) is None:
        told.append("The compression is not known, so that where it pings is weak: a gauge narrows it most.")
    return tuple(told)
