"""What an engine card tells its owner: what follows by arithmetic, what is common practice, and what the simulated
engine of the same kind does. The label and the maker come first; no number of a simulated engine is for a real one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from engine_sim import SOUND_PATTERN, Conditions, load_card, published
from engine_sim.diagnosis.needle import healthy_vacuum_inhg
from engine_sim.physics.units import KPA_PER_INHG, LITRES_PER_CUBIC_INCH, METRES_PER_FOOT
from graders.bench.reference import reference_for

from .own_engine import OF_DWELL, Answer, chosen, displacement_l, number

ARITHMETIC, COMMON, SIMULATED = "arithmetic", "common practice", "the simulated engine, not yours"
SAME_KIND = {"4": "farm_runabout_four", "6": "delivery_truck_six", "8": "hill_hauler_eight"}
DWELL_OF = {"4": "dwell_four", "6": "dwell_six", "8": "dwell_eight"}
OFF_LABEL_DEG = 4.0
OFF_IDLE_RPM = 100.0
FIRST = "The label under the bonnet and the maker's sheet come first: where they disagree with this, they are right."


@dataclass(frozen=True)
class Advice:
    """One thing that is told, and what it rests on."""

    title: str
    text: str
    basis: str


def advice_for(card: Answer, engines: Path) -> list[Advice]:
    """Everything that can be told of an engine card; what lacks its entries is left out."""
    makers = (_displacement, _vacuum, _turning, _dwell, _sum)
    told = [one for maker in makers for one in maker(card)]
    return [*told, *_same_kind(card, engines), *_readings(card)]


def _displacement(card: Answer) -> list[Advice]:
    litres = displacement_l(card)
    if litres is None:
        return []
    cubic_inches = litres / LITRES_PER_CUBIC_INCH
    return [Advice("Displacement", f"{litres:.2f} litres, or {cubic_inches:.0f} cubic inches.", ARITHMETIC)]


def _vacuum(card: Answer) -> list[Advice]:
    altitude = number(card, "altitude")
    if altitude is None:
        return []
    low, high = healthy_vacuum_inhg(altitude)
    place = f"{altitude:.0f} ft ({altitude * METRES_PER_FOOT:.0f} m)"
    return [
        Advice(
            "Vacuum to expect",
            f"A healthy warm engine idles at {low:.0f} to {high:.0f} inHg ({low * KPA_PER_INHG:.0f} to "
            f"{high * KPA_PER_INHG:.0f} kPa) at {place}. A hot camshaft idles lower and is no worse for it.",
            f"{COMMON}, and {ARITHMETIC} for the altitude",
        )
    ]


def _turning(card: Answer) -> list[Advice]:
    if card["rotor"] is None:
        return []
    advance = "anticlockwise" if card["rotor"] == "clockwise" else "clockwise"
    return [
        Advice(
            "Turning the distributor",
            f"The rotor turns {card['rotor']}, so turning the body {advance} advances the spark. Two crank degrees are "
            "one distributor degree: a step of 4 crank degrees is 2 degrees of the body.",
            ARITHMETIC,
        )
    ]


def _dwell(card: Answer) -> list[Advice]:
    dwell = number(card, OF_DWELL)
    if dwell is None or card["trigger"] != "breaker points":
        return []
    text = f"With {dwell:g} degrees the coil carries current for {_on_ms(dwell, 800):.1f} ms at 800 rpm and "
    text += f"{_on_ms(dwell, 4000):.1f} ms at 4,000."
    told = [Advice("Dwell and the coil", f"{text} Set the dwell before the timing: it moves the spark.", ARITHMETIC)]
    key = DWELL_OF.get(chosen(card, "cylinders") or "")
    if key is not None:
        band, cylinders = published(key), card["cylinders"]
        usual = f"Points of {cylinders} cylinders usually have {band.low:.0f} to {band.high:.0f} degrees of dwell."
        told.append(Advice("Dwell of such engines", usual, COMMON))
    return told


def _on_ms(dwell_deg: float, rpm: float) -> float:
    """Milliseconds of current: dwell over three times the crank speed. Key: coil_on_time."""
    return 1e3 * dwell_deg / (3.0 * rpm)


def _sum(card: Answer) -> list[Advice]:
    base, weights, canister = (number(card, name) for name in ("base", "weights", "canister"))
    if base is None or weights is None:
        return []
    from_rpm = number(card, "all_in")
    when = "" if from_rpm is None else f" from {from_rpm:.0f} rpm up"
    text = f"At full throttle{when}: {base:g} + {weights:g} = {base + weights:g} crank degrees."
    if canister and card["source"] != "there is none":
        text += f" On a level road the vacuum unit adds up to {canister:g} more: {base + weights + canister:g}."
    return [Advice("What the spark adds up to", text, ARITHMETIC)]


def _same_kind(card: Answer, engines: Path) -> list[Advice]:
    """Where the peak and the setting lie on the simulated engine with as many cylinders, at its own altitude."""
    name = SAME_KIND.get(chosen(card, "cylinders") or "")
    if name is None:
        return []
    same = load_card(Path(engines) / f"{name}.toml")
    found = reference_for(same, Conditions(same.mixture.jetted_altitude_ft)).method
    text = (
        f"On the simulated {same.title.lower()} the highest vacuum comes at {found.peak_timing_deg:.0f} degrees and "
        f"the method ends at {found.timing_deg:.0f}. So expect the peak far ahead of the setting; where yours lies, "
        "your own gauge says. Never set a real engine to a number of this one."
    )
    return [Advice("Peak and setting, in order of size", text, SIMULATED)]


# ---- readings that were entered ------------------------------------------------------------------------------------


def _readings(card: Answer) -> list[Advice]:
    return [one for maker in (_read_vacuum, _read_needle, _read_timing, _read_idle) for one in maker(card)]


def _read_vacuum(card: Answer) -> list[Advice]:
    read, altitude = number(card, "read_vacuum"), number(card, "altitude")
    if read is None or altitude is None:
        return []
    low, high = healthy_vacuum_inhg(altitude)
    if read < low:
        says = "below what a healthy engine shows there. Look for late timing, a leak or a worn engine before you go on"
    elif read > high:
        says = "above what a healthy engine shows there. Check the gauge, and that the altitude is right"
    else:
        says = "what a healthy engine shows there"
    return [Advice("Your vacuum", f"{read:.1f} inHg ({read * KPA_PER_INHG:.0f} kPa) is {says}.", COMMON)]


def _read_needle(card: Answer) -> list[Advice]:
    pattern = card["read_needle"]
    if pattern is None:
        return []
    if pattern == SOUND_PATTERN:
        return [Advice("Your needle", "It stands still where it should: the method can be used.", COMMON)]
    text = f"It was entered as '{pattern}'. That is found and repaired first; timing will not cure most of its causes."
    return [Advice("Your needle", text, COMMON)]


def _read_timing(card: Answer) -> list[Advice]:
    read, base = number(card, "read_timing"), number(card, "base")
    if read is None or base is None:
        return []
    off = read - base
    if abs(off) <= OFF_LABEL_DEG:
        text = f"The light shows {read:g} degrees and the label asks for {base:g}: they agree."
    else:
        side = "more" if off > 0 else "less"
        text = (
            f"The light shows {read:g} degrees, {abs(off):g} {side} than the label. Before you believe either, check "
            "that the mark on the damper has not slipped, that the hose was plugged and the idle slow enough."
        )
    return [Advice("Your timing", text, ARITHMETIC)]


def _read_idle(card: Answer) -> list[Advice]:
    read, idle = number(card, "read_idle"), number(card, "idle")
    if read is None or idle is None or abs(read - idle) <= OFF_IDLE_RPM:
        return []
    text = f"It idles at {read:.0f} rpm and the label asks for {idle:.0f}: set the idle first, or the weights join in."
    return [Advice("Your idle", text, ARITHMETIC)]
