"""Why a cause stands where it does: which readings fit it and which do not, each beside what it should be."""

from __future__ import annotations

import numpy as np

from engine_sim.diagnosis.inspections import INSPECTIONS

from .causes import HEALTHY, NONE_OF_THESE
from .description import OwnedEngine
from .likelihood import STRENGTHS, ReadEvidence, found_out, heard, instrument_covariance, shrunk, sides_of
from .tables import FEATURES, Cause, Tables

FITS_FROM = 1.5  # times as likely as among all causes, from which a word fits
MISFITS_FROM = 2.0  # times less likely than among all causes, from which a word does not fit
NEAR = 1.0  # standard deviations from a cause's mean, up to which a reading fits
FAR = 2.0  # standard deviations from a cause's mean, from which a reading does not fit
TELLS = 0.7  # standard deviations between a cause's mean and the healthy one's, from which a reading tells of it
NAMES = {
    "idle_inhg": ("the vacuum at idle", "inHg (taken to sea level)", 1),
    "idle_on_inhg": ("the vacuum at idle, hose on,", "inHg (taken to sea level)", 1),
    "held_2500_inhg": ("the vacuum at 2,500 rpm", "inHg (taken to sea level)", 1),
    "held_2500_on_inhg": ("the vacuum at 2,500 rpm, hose on,", "inHg (taken to sea level)", 1),
    "cranking_inhg": ("the vacuum on the starter", "inHg (taken to sea level)", 1),
    "cranking_rpm": ("the speed on the starter", "rpm", 0),
    "mark_wander_deg": ("how far the mark wanders", "degrees", 0),
    "turned_early_inhg": ("the vacuum, body turned towards advance,", "inHg (taken to sea level)", 1),
    "turned_late_inhg": ("the vacuum, body turned towards retard,", "inHg (taken to sea level)", 1),
    "turned_early_rpm": ("the speed, body turned towards advance,", "rpm", 0),
    "turned_late_rpm": ("the speed, body turned towards retard,", "rpm", 0),
    "dwell_deg": ("the dwell", "degrees", 0),
    "idle_rpm": ("the idle speed", "rpm", 0),
    "idle_on_rpm": ("the idle speed, hose on,", "rpm", 0),
} | {
    f"light_{speed}_{hose}_deg": (f"the light at {at}, hose {hose},", "degrees", 0)
    for speed, at in (("idle", "idle"), ("1500", "1,500 rpm"), ("2500", "2,500 rpm"), ("3000", "3,000 rpm"))
    for hose in ("off", "on")
}
SAID = {
    "needle": "the needle",
    "cut_out": "the idle speed, one plug lead off after the other",
    "runs": "the idle",
    "mark": "the mark",
    "misses": "misses",
    "smoke": "the tailpipe",
    "pull": "under load",
    "cold_start": "starting on a cold morning",
    "mild_start": "starting cold",
    "warm_start": "starting warm",
    "cranks": "the starter",
}


def reasons(
    tables: Tables, seen: ReadEvidence, engine: OwnedEngine, name: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What fits a cause, and what does not; each the sentence of one reading."""
    if name == NONE_OF_THESE:
        return (), ()
    cause, healthy = tables.causes[name], tables.causes[HEALTHY]
    fits: list[str] = []
    misfits: list[str] = []
    for said, good in (
        *_numbers(tables, cause, healthy, seen),
        *_words(tables, cause, seen),
        *_found(cause, seen),
    ):
        (fits if good else misfits).append(said)
    return tuple(fits), tuple(misfits)


def _numbers(tables: Tables, cause: Cause, healthy: Cause, seen: ReadEvidence):
    """Numbers beside the mean of the side of the cause that comes nearest."""
    noise = np.diag(instrument_covariance(seen) + seen.further)
    usual = healthy.sides[0].mean
    near = [
        (side.mean_of(strength, seen.cylinders), np.sqrt(np.diag(shrunk(tables, side)) + noise))
        for side in sides_of(cause, seen)
        for strength, _, _ in STRENGTHS
        if side.mean is not None
    ]
    if not near or usual is None:
        return
    mean, spread = min(near, key=lambda one: float(np.nansum(np.square((seen.difference - one[0]) / one[1]))))
    away = (seen.difference - mean) / spread
    tells = (np.abs(mean - usual) > TELLS * spread) | (cause is healthy)
    for place, name in enumerate(FEATURES):
        if not np.isfinite(away[place]):
            continue
        what, unit, digits = NAMES[name]
        shown, expected = (_beside(float(value), unit, digits) for value in (seen.difference[place], mean[place]))
        what = f"{what[0].upper()}{what[1:]}"
        if abs(away[place]) >= FAR:
            yield f"{what} is {shown}; with this cause it is about {expected}.", False
        elif abs(away[place]) <= NEAR and tells[place]:
            yield f"{what} is {shown}; with this cause it is about {expected}.", True


def _beside(value: float, unit: str, digits: int) -> str:
    rounded = round(abs(value), digits)
    if not rounded:
        return "that of the healthy engine"
    unit = "degree" if unit == "degrees" and rounded == 1.0 else unit
    return f"{rounded:.{digits}f} {unit} {'above' if value > 0 else 'below'} that of the healthy engine"


def _words(tables: Tables, cause: Cause, seen: ReadEvidence):
    for name, word in seen.words.items():
        own = heard(cause.words[name][word], name)
        every = np.mean([heard(one.words[name][word], name) for one in tables.causes.values()])
        sentence = f"{SAID[name][0].upper()}{SAID[name][1:]}: {word}"
        if own > FITS_FROM * every:
            yield f"{sentence}, which speaks for it.", True
        elif own * MISFITS_FROM < every:
            yield f"{sentence}, which is rare with it.", False


def _found(cause: Cause, seen: ReadEvidence):
    for name, in_order in seen.findings.items():
        out = found_out(cause, name)
        own = 1.0 - out if in_order else out
        sentence = f"{INSPECTIONS[name].title}: {'in order' if in_order else 'out of order'}"
        if own > 0.6 and not in_order:
            yield f"{sentence}, as with this cause.", True
        elif own < 0.3:
            yield f"{sentence}, which is rare with it.", False
