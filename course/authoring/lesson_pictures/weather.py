"""Pictures about the place and the day: what moves an engine's octane."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from engine_sim import Engine, EngineCard, published
from graders.exercises.engine_answers import ambient_up_there_c
from graders.palette import LIGHT

from .registry import Drawn, lesson_picture
from .sheet import panels
from .spark import engine_named

HAULER = "hill_hauler_eight"
HARDEST_RPM = 1100.0
BASE_DEG = 8.0
USUAL_C = 20.0
CLIMB_FT = np.arange(0.0, 10_001.0, 2000.0)  # few points: each day needs its own response map
AIR_C = np.arange(-10.0, 41.0, 10.0)
LEADS_DEG = np.arange(0.0, 17.0, 1.0)
RATIOS = (7.0, 7.5, 8.0, 8.5, 9.0)


@dataclass(frozen=True)
class _Panel:
    """One of the small charts: along what, what the engine gives, and the published slope or points, if any."""

    title: str
    along: np.ndarray
    octane: np.ndarray
    band: tuple[np.ndarray, np.ndarray] | None = None
    said: str = ""


@lesson_picture("What moves the octane that the hauler asks for")
def what_moves_octane() -> Drawn:
    """Requirement at the low end of the full pull along altitude, air temperature, lead and compression."""
    charts = _charts(engine_named(HAULER))
    figure, four = panels(6.4, 2, 2, sharey=True)
    for axis, panel in zip(four, charts, strict=True):
        if panel.band:
            axis.fill_between(panel.along, *panel.band, color=LIGHT["vacuum-soft"], linewidth=0)
        axis.plot(panel.along, panel.octane, color=LIGHT["speed"], linewidth=2)
        axis.set(xlabel=panel.title, xlim=(panel.along[0], panel.along[-1]))
        axis.locator_params(axis="x", nbins=5)
    figure.supylabel("octane number asked for (RON)")
    told = [
        f"Along {panel.title}: from {panel.octane[0]:.0f} at {panel.along[0]:g} to {panel.octane[-1]:.0f} at "
        f"{panel.along[-1]:g}. {panel.said}"
        for panel in charts
    ]
    return Drawn(
        figure,
        "\n\n".join(
            [
                f"Four small charts of what the hill hauler's engine asks for at {HARDEST_RPM:.0f} rpm with the "
                "throttle wide open. The line is this engine; a shaded wedge is what was published of many engines.",
                *told,
            ]
        ),
    )


@functools.cache
def _charts(engine: Engine) -> list[_Panel]:
    per_1000_ft, per_degree = published("octane_per_1000_ft"), published("octane_per_degree")
    altitude = np.array(
        [_asked(engine, altitude_ft=feet, ambient_c=ambient_up_there_c(float(feet))) for feet in CLIMB_FT]
    )
    lead = np.array([_asked(engine, base=base) for base in LEADS_DEG])
    by_height = tuple(altitude[0] + slope * CLIMB_FT / 1000.0 for slope in (per_1000_ft.low, per_1000_ft.high))
    by_lead = tuple(lead[0] + slope * LEADS_DEG for slope in (per_degree.low, per_degree.high))
    surveyed = np.array([published(f"octane_for_compression_{ratio}_to_1").value for ratio in (7, 8, 9)])
    spread = published("octane_for_compression_8_to_1").high - surveyed[1]
    survey = np.interp(RATIOS, (7.0, 8.0, 9.0), surveyed)
    return [
        _Panel(
            "altitude, feet",
            CLIMB_FT,
            altitude,
            by_height,
            "In the cooler air that is usual higher up. The wedge is from memory.",
        ),
        _Panel(
            "air temperature, °C",
            AIR_C,
            np.array([_asked(engine, ambient_c=celsius) for celsius in AIR_C]),
            None,
            "In °F that is 14 to 104. No published figure is at hand for this one.",
        ),
        _Panel("base timing, crank degrees", LEADS_DEG, lead, by_lead, "The wedge is from memory."),
        _Panel(
            "compression ratio",
            np.array(RATIOS),
            np.array([_asked(_squeezed(engine.card, r)) for r in RATIOS]),
            (survey - spread, survey + spread),
            "The wedge is a survey of many engines, second-hand. One zone of end gas, as here, is known to "
            "overreact to compression.",
        ),
    ]


def _asked(engine: Engine, base: float = BASE_DEG, altitude_ft: float = 0.0, ambient_c: float = USUAL_C) -> float:
    state = engine.full_throttle(HARDEST_RPM, base, altitude_ft=altitude_ft, ambient_c=ambient_c)
    return float(state.octane_required_ron)


def _squeezed(card: EngineCard, ratio: float) -> Engine:
    """The same engine with another compression ratio."""
    return Engine(card.model_copy(update={"block": card.block.model_copy(update={"compression_ratio": ratio})}))
