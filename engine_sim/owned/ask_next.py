"""What to ask an owner next: the field that narrows the bands most, and why."""

from __future__ import annotations

from .description import OwnedEngine
from .nominal import weights_of
from .own_sweep import SWEEP_AT_LEAST


def own_base_deg(engine: OwnedEngine) -> float | None:
    """The base that the owner's light showed at idle, hose off, less what the mark shows too much [crank deg]."""
    read = engine.readings
    if read.light_idle_off_deg is None:
        return None
    return min(max(read.light_idle_off_deg - (read.light_error_deg or 0.0), -10.0), 40.0)


def ask_next(engine: OwnedEngine) -> tuple[str, str]:
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
            own_base_deg(engine) is None and engine.build.cam != "not as built",
            "readings.light_idle_off_deg",
            "Read the light at idle, hose off and plugged: how far your base lies from the label moves the vacuum.",
        ),
        (
            engine.readings.held_2500_inhg is None and engine.build.cam != "not as built",
            "readings.held_2500_inhg",
            "Read the vacuum held at 2,500 rpm, hose off and plugged: what the engine takes to turn itself over shows "
            "there, and it halves the band of the idle.",
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
