"""From the card of the last lesson to a description: the same facts, in crank degrees and the description's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from engine_sim import TimingCourseError
from engine_sim.owned.description import OwnedEngine, owned_from, problems
from graders.exercises.kinds.own_engine import OF_DWELL, Answer, chosen, number

from .fields import labels
from .kept_engines import KeptEngines

NAME, TITLE = "from_the_lesson", "Engine of the last lesson"
NEEDLES = {  # level and movement are apart in a description: the vacuum figure has the level
    "steady and normal": "stands still",
    "steady and low": "stands still",
    "very low": "stands still",
    "flicks in rhythm": "flicks in rhythm",
    "drops now and then": "drops now and then",
    "drifts": "drifts",
    "falls when held at speed": "falls when held at speed",
}
SOURCES = {"a manifold port": "manifold", "a ported fitting": "ported"}


@dataclass(frozen=True)
class FromCard:
    """A description, and the labels of those fields whose figure it could not take from the card."""

    engine: OwnedEngine
    left_out: tuple[str, ...]


def described(card: Answer, before: OwnedEngine | None = None) -> FromCard:
    """The description of a card's engine; what `before` has and the card has not is kept."""
    content: dict[str, Any] = {} if before is None else before.model_dump(exclude_defaults=True)
    for name, value in _facts(card).items():
        if value is not None:
            section, field = name.split(".")
            content[section] = {**content.get(section, {}), field: value}
    left_out = []
    while at := problems(content):
        for name in at:
            section, field = name.split(".")[:2]
            if content.get(section, {}).pop(field, None) is None:
                return FromCard(owned_from({"identity": {"title": TITLE}}), tuple(at.values()))
            left_out.append(labels().get(name, name))
    return FromCard(owned_from(content), tuple(left_out))


def keep_from_card(kept: KeptEngines, card: Answer) -> FromCard:
    """Put a card's engine among the owner's; what was described there besides is kept. Raises OSError."""
    try:
        before = kept.load(NAME)
    except TimingCourseError:
        before = None
    found = described(card, before)
    kept.keep(NAME, found.engine)
    return found


def _facts(card: Answer) -> dict[str, Any]:
    """By the dotted names of a description; None where the card is empty."""
    cylinders, fuel = chosen(card, "cylinders"), card["octane"]
    source, compression = chosen(card, "source"), number(card, "compression")
    curve = number(card, "weights")
    base = number(card, "base")
    return {
        "identity.title": TITLE,
        "build.cylinders": int(cylinders) if cylinders in ("4", "6", "8") else None,
        "build.bore_mm": number(card, "bore"),
        "build.stroke_mm": number(card, "stroke"),
        "build.displacement_l": number(card, "displacement"),
        "build.compression_by": None if compression is None else "paper",
        "build.compression_ratio": compression,
        "ignition.rotor_turns": chosen(card, "rotor"),
        "ignition.trigger": chosen(card, "trigger"),
        "ignition.dwell_deg": number(card, OF_DWELL),
        "ignition.hoses": None if source is None else int(source in SOURCES),
        "ignition.source": SOURCES.get(source or ""),
        "ignition.curve_by": None if curve is None else "paper",
        "ignition.curve_in": None if curve is None else "crank",
        "ignition.centrifugal_deg": curve,
        "ignition.centrifugal_full_rpm": number(card, "all_in"),
        "ignition.vacuum_deg": number(card, "canister") if source in SOURCES else None,
        "label.base_deg": base,
        "label.idle_rpm": number(card, "idle"),
        "place.altitude_ft": number(card, "altitude"),
        "place.octane": fuel[0] if isinstance(fuel, tuple) else None,
        "place.octane_scale": fuel[1] if isinstance(fuel, tuple) else None,
        "readings.idle_inhg": number(card, "read_vacuum"),
        "readings.needle": NEEDLES.get(chosen(card, "read_needle") or ""),
        "readings.idle_rpm": number(card, "read_idle"),
        "readings.light_idle_off_deg": number(card, "read_timing"),
    }
