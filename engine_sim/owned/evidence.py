"""From an owner's readings to the evidence that the likelihoods take: beside the healthy engine of the description,
corrected for what was found at the instruments, and with the spread of what the description leaves open."""

from __future__ import annotations

import functools

import numpy as np

from .causes import CAUSES
from .description import OwnedEngine
from .healthy import nominal_observation
from .likelihood import ReadEvidence
from .nominal import compression_ratio, day_of, unit_known, weights_of, without_readings
from .observe import Observation
from .tables import CRANKING, DWELL, FEATURES, LIGHT, SPEEDS, USUAL_CYLINDERS, VACUUM, WANDER, WORDS, differences

COLD_START_UP_TO_C = 12.0  # air in which a start counts as a cold morning's
RUNS_ON = ("1500", "2500", "3000")
HELD = ("held_2500_inhg", "held_2500_on_inhg")
OPEN_WEIGHT = 0.5  # of the variances below, several of which the drawn engines have in part; calibration
# one standard deviation of what kinds of engines that were not drawn read beside these, each reading by itself;
# calibration
KIND_OPEN = dict.fromkeys(VACUUM, 0.3) | dict.fromkeys((*SPEEDS, *CRANKING), 10.0)
KIND_OPEN |= dict.fromkeys((*LIGHT, *DWELL), 1.0) | dict.fromkeys(WANDER, 0.5)
# what the description leaves open: one standard deviation in the units of the features, all of them together; guesses
BASE_OPEN = dict.fromkeys(LIGHT, 4.0) | dict.fromkeys(VACUUM, 0.3) | {"cranking_inhg": 0.0}
IDLE_OPEN = dict.fromkeys(SPEEDS, 90.0) | {name: 0.5 for name in VACUUM if name.startswith(("idle", "turned"))}
COMPRESSION_OPEN = dict.fromkeys(VACUUM, 0.9) | {"cranking_inhg": 0.2} | dict.fromkeys(CRANKING, 8.0)
ALTITUDE_OPEN = dict.fromkeys(VACUUM, 2.5) | {"cranking_inhg": 0.5}
WEIGHTS_OPEN = {
    f"light_{rpm}_{hose}_deg": deg for rpm, deg in zip(RUNS_ON, (3.0, 5.0, 5.0), strict=True) for hose in ("off", "on")
}
SHAPE_OPEN = {  # a curve on paper gives its ends, and nothing between them
    f"light_{rpm}_{hose}_deg": deg for rpm, deg in (("1500", 2.0), ("2500", 2.0)) for hose in ("off", "on")
}
WEIGHTS_BEGIN_OPEN = {f"light_1500_{hose}_deg": 3.0 for hose in ("off", "on")} | dict.fromkeys(HELD, 0.3)
UNIT_OPEN = {"idle_on_rpm": 20.0, "idle_on_inhg": 0.2, "held_2500_on_inhg": 0.3} | {
    f"light_{speed}_on_deg": 4.0 for speed in ("idle", *RUNS_ON)
}
PORT_OPEN = {"light_1500_on_deg": 7.0}  # how far a held 1,500 rpm uncovers the port above the throttle
DWELL_OPEN = dict.fromkeys(DWELL, 4.0)
SECOND_HOSE_OPEN = {f"light_{speed}_on_deg": 8.0 for speed in ("idle", *RUNS_ON)} | {"held_2500_on_inhg": 0.6}
STANDS_FOR = {"dwell_deg": "dwell_meter", "cut_out": "cylinder_cut_out"}  # a reading and the inspection that it is


@functools.lru_cache(maxsize=32)
def _nominal(text: str) -> Observation:
    return nominal_observation(OwnedEngine.model_validate_json(text), words=True)[1]


def nominal_of(engine: OwnedEngine) -> Observation:
    """What is read on the healthy engine of a description on the day of the readings, set by its label."""
    return _nominal(without_readings(engine))


def evidence_of(engine: OwnedEngine) -> ReadEvidence:
    """All that an owner read and found. Raises DescriptionError where the description lacks cylinders or size."""
    difference = differences(read_numbers(engine), nominal_of(engine).numbers, day_of(engine).altitude_ft)
    for name in left_out(engine):
        difference[FEATURES.index(name)] = np.nan
    read = tuple(one for name, one in STANDS_FOR.items() if getattr(engine.readings, name) is not None)
    return ReadEvidence(
        difference,
        further_covariance(engine),
        telling_words(engine),
        findings={name: found == "in order" for name, found in engine.readings.findings.items() if name not in read},
        excluded=excluded(engine),
        gauge_checked=engine.readings.gauge_error_inhg is not None,
        cylinders=engine.build.cylinders or USUAL_CYLINDERS,
        source=engine.ignition.source,
        read=read,
    )


def read_numbers(engine: OwnedEngine) -> dict[str, float]:
    """The readings as numbers, less what the instruments were found to show too much."""
    read = engine.readings
    errors = dict.fromkeys(VACUUM, read.gauge_error_inhg) | dict.fromkeys(SPEEDS, read.tachometer_error_rpm)
    errors |= dict.fromkeys(LIGHT, read.light_error_deg)
    numbers = {}
    for name in FEATURES:
        value = getattr(read, name)
        if value is not None:
            numbers[name] = value - (errors.get(name) or 0.0)
    return numbers


def read_words(engine: OwnedEngine) -> dict[str, str]:
    """What was said, by the fields of the tables: a cold start belongs to the morning it was made on."""
    read = engine.readings
    words = {name: getattr(read, name) for name in WORDS if name not in ("cold_start", "mild_start")}
    starts = ((read.cold_start, read.cold_start_air_c), (read.second_start, read.second_start_air_c))
    for start, air in starts:
        if start is not None:
            words.setdefault("cold_start" if air is not None and air <= COLD_START_UP_TO_C else "mild_start", start)
    if engine.build.cam == "not as built":
        words["runs"] = None
    if read.mark_wander_deg is not None:
        words["mark"] = None
    return {name: word for name, word in words.items() if word is not None}


def telling_words(engine: OwnedEngine) -> dict[str, str]:
    """The words that tell anything: not those that the healthy engine of the description earns too, though most such
    engines do not, as an uneven idle of a slow chamber."""
    usual, nominal = {name: words[0] for name, words in WORDS.items()}, nominal_of(engine).words
    return {
        name: word
        for name, word in read_words(engine).items()
        if word == usual[name] or word != nominal.get(name, usual[name])
    }


def left_out(engine: OwnedEngine) -> tuple[str, ...]:
    """Readings that say nothing on this engine: the vacuum of a cam that is not as built, and what the description was
    itself taken from."""
    own = engine.ignition
    names: list[str] = []
    if engine.build.cam == "not as built":
        names += VACUUM
    if own.hoses == 0:
        names += [name for name in FEATURES if "_on_" in name]
    elif own.source is None:
        names += ["light_idle_on_deg", "idle_on_rpm", "idle_on_inhg"]
    if own.curve_by == "light":
        names += [f"light_{rpm}_off_deg" for rpm in RUNS_ON]
    return tuple(names)


def excluded(engine: OwnedEngine) -> tuple[str, ...]:
    """Causes that this engine cannot have."""
    own, names = engine.ignition, []
    if own.trigger == "electronic":
        names.append("dwell_wrong")
    if own.hoses == 0:
        names += ["canister_torn", "wrong_port"]
    return tuple(name for name in names if name in CAUSES)


def further_covariance(engine: OwnedEngine) -> np.ndarray:
    """Of what the description leaves open, and of kinds of engines that were not drawn, in the order of FEATURES."""
    label, own = engine.label, engine.ignition
    opened = (
        (label.base_deg is None or label.trusted is False, BASE_OPEN),
        (label.idle_rpm is None, IDLE_OPEN),
        (compression_ratio(engine) is None, COMPRESSION_OPEN),
        (engine.place.altitude_ft is None and engine.readings.altitude_ft is None, ALTITUDE_OPEN),
        (weights_of(engine) is None, WEIGHTS_OPEN),
        (weights_of(engine) is None, WEIGHTS_BEGIN_OPEN),
        (own.curve_by != "light", SHAPE_OPEN),
        (not unit_known(engine), UNIT_OPEN),
        (own.source == "ported", PORT_OPEN),
        (own.hoses == 2, SECOND_HOSE_OPEN),
        (own.dwell_deg is None, DWELL_OPEN),
    )
    covariance = np.diag([KIND_OPEN[name] ** 2 for name in FEATURES])
    for is_open, spreads in opened:
        if is_open:
            loading = np.array([spreads.get(name, 0.0) for name in FEATURES])
            covariance += OPEN_WEIGHT * np.outer(loading, loading)
    return covariance
