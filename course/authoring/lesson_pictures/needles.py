"""Pictures about gauges: needles as the simulator's own gauge shows them, and vacuum over altitude."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from engine_sim import (
    SOUND,
    AsFound,
    Draw,
    Engine,
    Session,
    fault_named,
    published,
    usual_screw,
)
from engine_sim.diagnosis.needle import healthy_vacuum_inhg
from engine_sim.physics.units import metres_from_feet
from graders.palette import LIGHT

from .engines import RUNABOUT, engine_named
from .registry import Drawn, lesson_picture
from .sheet import add_kpa_axis, new_sheet, panels, vacuum_in_words

LOOKED_S = 8.0
EVERY_S = 0.02
SETTLED_AFTER_S = 25.0
HELD_RPM = 2500.0
HIGHEST_FT = 10_000.0
RULE_HOLDS_TO_FT = 3000.0  # the first few thousand feet, to which the manual gives it
TOLD_FT = (0.0, 2000.0, 5000.0, 8000.0, 10_000.0)


@dataclass(frozen=True)
class Needle:
    """A needle to show: what is wrong with the engine, and what a person says of the needle."""

    title: str
    fault: str
    held_rpm: float = 0.0
    seconds: float = LOOKED_S


NEEDLES = (
    Needle("steady, where it should be: sound", ""),
    Needle("steady and low: valves timed late", "valves_late"),
    Needle("flicks with the beat: gasket between two cylinders", "gasket_between"),
    Needle("drops now and then: a sticking valve", "valve_sticking"),
    Needle("wanders slowly: a rich idle", "idle_rich", 0.0, 20.0),
    Needle("held at 2,500 rpm, sinks: a blocked exhaust", "exhaust_blocked", HELD_RPM, 20.0),
)


@functools.cache
def needle_over_time(needle: Needle) -> tuple[np.ndarray, np.ndarray]:
    """Time [s] and what the gauge shows [inHg] on the runabout, warm, set by its label, with that fault."""
    card, wear = engine_named(RUNABOUT).card, SOUND
    found = AsFound(
        base_timing_deg=card.setting.label_base_timing_deg,
        idle_screw=round(usual_screw(card), 2),
        prepared=True,
        coolant_c=85.0,
    )
    if needle.fault:
        wear, found = fault_named(needle.fault).on(card, found, Draw("a picture"))
    session = Session(Engine(card, wear), found=found, tools=("hold_speed",))
    session.act("starter")
    session.advance(SETTLED_AFTER_S)
    if needle.held_rpm:
        session.act("hold_speed", needle.held_rpm)
        session.advance(3.0)
    shown = []
    for _ in range(round(needle.seconds / EVERY_S)):
        session.advance(EVERY_S)
        shown.append(session.readings().vacuum_inhg)
    return EVERY_S * np.arange(1, len(shown) + 1), np.array(shown)


@lesson_picture("Six needles, as the gauge shows them")
def six_needles() -> Drawn:
    """Vacuum over some seconds on six engines, each with its own fault or none."""
    figure, strips = panels(6.4, 3, 2, sharey=True)
    told = []
    for axis, needle in zip(strips, NEEDLES, strict=True):
        time_s, shown = needle_over_time(needle)
        axis.plot(time_s, shown, color=LIGHT["vacuum"], linewidth=1.4)
        axis.set(ylim=(8, 22), xlim=(0, needle.seconds))
        axis.set_title(needle.title, fontsize=9)
        told.append(_needle_words(needle, shown))
    figure.supylabel("vacuum, inHg")
    figure.supxlabel("seconds")
    return Drawn(
        figure,
        "\n\n".join(
            ["Six strips, each with the vacuum that a gauge shows over eight seconds, the last two over twenty.", *told]
        ),
    )


def _needle_words(needle: Needle, shown: np.ndarray) -> str:
    if needle.held_rpm:
        return (
            f"{needle.title}: from {vacuum_in_words(shown[:50].mean())} down to "
            f"{vacuum_in_words(shown[-50:].mean())} in {needle.seconds:.0f} seconds."
        )
    return (
        f"{needle.title}: about {vacuum_in_words(float(np.median(shown)))}, between {shown.min():.1f} and "
        f"{shown.max():.1f} inHg."
    )


@lesson_picture("What a healthy gauge shows, over altitude")
def vacuum_over_altitude() -> Drawn:
    """The band of a healthy idle over altitude, by the share of the air that is left, and the rule of thumb."""
    feet = np.arange(0.0, HIGHEST_FT + 1.0, 500.0)
    low, high = healthy_vacuum_inhg(feet)
    middle = (low[0] + high[0]) / 2.0
    by_thumb = middle - published("vacuum_per_1000_ft").value * feet / 1000.0
    rough = feet <= RULE_HOLDS_TO_FT
    figure, axis = new_sheet(3.6)
    axis.fill_between(
        feet,
        low,
        high,
        color=LIGHT["vacuum-soft"],
        edgecolor=LIGHT["vacuum"],
        label="a healthy engine, steady: the share of the air that is left",
    )
    axis.plot(
        feet[rough],
        by_thumb[rough],
        color=LIGHT["speed"],
        linewidth=2,
        label="rule of thumb, from the middle: an inch for each 1,000 ft",
    )
    axis.plot(
        feet[feet >= RULE_HOLDS_TO_FT],
        by_thumb[feet >= RULE_HOLDS_TO_FT],
        color=LIGHT["speed"],
        linestyle=":",
        linewidth=2,
        label="the same higher up, where it takes off too much",
    )
    axis.set(xlabel="altitude, ft", ylabel="vacuum at idle, inHg", ylim=(0, 24), xlim=(0, HIGHEST_FT))
    add_kpa_axis(axis)
    axis.legend(loc="lower left")
    rows = [
        f"At {height:,.0f} ft ({metres_from_feet(height):,.0f} m): {vacuum_in_words(at_low)} to "
        f"{vacuum_in_words(at_high)}; the rule of thumb leads from {middle:.0f} to {thumb:.0f} inHg."
        for height, at_low, at_high, thumb in zip(feet, low, high, by_thumb, strict=True)
        if height in TOLD_FT
    ]
    return Drawn(
        figure,
        "\n\n".join(
            [
                "The band in which the needle of a healthy engine stands at idle, against altitude: the share of the "
                "air that is left, of what it shows at sea level. A line shows the rule of thumb, an inch of mercury "
                f"for each 1,000 ft: it keeps to the band as far as {RULE_HOLDS_TO_FT:,.0f} ft, and leaves it below "
                "soon after 5,000 ft.",
                *rows,
            ]
        ),
    )
