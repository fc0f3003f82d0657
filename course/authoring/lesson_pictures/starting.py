"""Pictures about getting it to start: how the starter turns the engine, and what the gap of the points does."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from engine_sim import CRANK_AT_MOST_S, AsFound, Session, usual_screw
from engine_sim.physics.units import MM_PER_INCH
from graders.palette import LIGHT

from .engines import RUNABOUT, engine_named
from .registry import Drawn, lesson_picture
from .sheet import new_sheet, panels

EVERY_S = 0.02
SHOWN_S = 5.0
GAPS_MM = (0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55)
READ_AFTER_S = 0.8
READINGS = 10


@dataclass(frozen=True)
class Start:
    """One way of starting: base timing [crank deg BTDC], and whether the plugs are wet with fuel."""

    title: str
    base_deg: float
    flood: float = 0.0


STARTS = (
    Start("timing right: it turns, catches and runs", 8.0),
    Start("much too early: it is thrown back, in jerks", 36.0),
    Start("much too late: it turns evenly, and pops", -16.0),
    Start("flooded: it turns evenly, and smells of petrol", 8.0, 1.0),
)


def _runabout(base_deg: float, flood: float = 0.0, tools: tuple[str, ...] = ()) -> Session:
    engine = engine_named(RUNABOUT)
    found = AsFound(base_timing_deg=base_deg, idle_screw=round(usual_screw(engine.card), 2), prepared=True, flood=flood)
    return Session(engine, found=found, tools=tools)


@functools.cache
def start_over_time(start: Start) -> tuple[np.ndarray, np.ndarray, str]:
    """Time [s], speed as the tachometer shows it [rpm], and the last sentence of the record."""
    session = _runabout(start.base_deg, start.flood)
    session.act("starter")
    shown = []
    for _ in range(round(SHOWN_S / EVERY_S)):
        session.advance(EVERY_S)
        shown.append(session.readings().speed_rpm)
    session.advance(CRANK_AT_MOST_S)
    return EVERY_S * np.arange(1, len(shown) + 1), np.array(shown), session.log[-1].text


@lesson_picture("How the starter turns the engine")
def how_the_starter_turns() -> Drawn:
    """Crank speed over the first seconds of four starts of the cold runabout."""
    (figure, strips), told = panels(4.6, 2, 2, sharey=True), []
    for axis, start in zip(strips, STARTS, strict=True):
        time_s, shown, said = start_over_time(start)
        axis.plot(time_s, shown, color=LIGHT["speed"], linewidth=1.6)
        axis.set(xlim=(0, SHOWN_S), ylim=(0, 1300))
        axis.set_title(start.title, fontsize=9)
        told.append(
            f"{start.title}: after half a second {shown[25]:.0f} rpm, after one {shown[50]:.0f}, after two "
            f"{shown[100]:.0f}, after five {shown[-1]:.0f}. {said}"
        )
    figure.supylabel("speed, rpm")
    figure.supxlabel("seconds with the key turned")
    return Drawn(
        figure,
        "\n\n".join(
            [
                "Four strips, each with the speed of the crank over five seconds from the turn of the key.",
                *told,
                "Without fuel or without a spark the engine turns as evenly as when it is too late or flooded. There "
                "the exhaust, the nose and the plugs tell.",
            ]
        ),
    )


@functools.cache
def points_at_gap(gap_mm: float) -> tuple[float, float]:
    """Dwell that the meter shows while the starter turns [distributor deg], and where that leaves the base timing that
    stood at 8 with the right gap [crank deg BTDC]."""
    session = _runabout(engine_named(RUNABOUT).card.setting.label_base_timing_deg, tools=("point_gap", "dwell_meter"))
    session.act("point_gap", gap_mm)
    session.act("dwell_meter", "on")
    session.act("starter")
    session.advance(READ_AFTER_S)
    shown = []
    for _ in range(READINGS):
        session.advance(5 * EVERY_S)
        shown.append(session.readings().dwell_deg or 0.0)
    return float(np.mean(shown)), session.base_timing_deg


@lesson_picture("Gap, dwell and timing of the points")
def gap_dwell_and_timing() -> Drawn:
    """Dwell over the gap of the runabout's points, and the timing that comes of it."""
    dwell, timing = np.array([points_at_gap(gap) for gap in GAPS_MM]).T
    figure, axis = new_sheet(3.6)
    axis.plot(GAPS_MM, dwell, color=LIGHT["vacuum"], marker="o", linewidth=2, label="dwell, distributor degrees")
    axis.plot(
        GAPS_MM,
        timing,
        color=LIGHT["speed"],
        marker="s",
        linestyle="--",
        linewidth=2,
        label="base timing, crank degrees before top centre",
    )
    axis.set(xlabel="gap of the points, mm", ylabel="degrees", ylim=(0, 70))
    axis.legend(loc="center left")
    rows = [
        f"Gap {gap:.2f} mm ({gap / MM_PER_INCH:.3f} in): dwell {one:.0f}, base timing {other:.0f}."
        for gap, one, other in zip(GAPS_MM, dwell, timing, strict=True)
    ]
    return Drawn(
        figure,
        "\n\n".join(
            [
                "The runabout's points at seven gaps; the body is not touched. The line of the dwell falls as the gap "
                "grows, the line of the base timing climbs by as much.",
                *rows,
            ]
        ),
    )
