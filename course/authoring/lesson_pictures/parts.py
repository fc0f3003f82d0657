"""Pictures of parts with their names: a distributor seen from above its cap, and the hose of its vacuum unit."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyArrowPatch, FancyBboxPatch, Rectangle

from graders.palette import LIGHT

from .engines import TRUCK, engine_named
from .registry import Drawn, lesson_picture
from .sheet import is_narrow, lettered, new_figure, panels

FIRING_ORDER = (1, 5, 3, 6, 2, 4)  # of most inline sixes; common practice
FIRST_AT_DEG = 120.0  # where the terminal of cylinder one stands in the picture, anticlockwise from the right
CAP = 1.0  # radius in the picture, as the two below
TERMINALS = 0.78
ROTOR = 0.6


def at_angle(radius: float, degrees: float) -> tuple[float, float]:
    """A place in the picture, by its distance from the middle and its angle [deg], anticlockwise from the right."""
    return radius * math.cos(math.radians(degrees)), radius * math.sin(math.radians(degrees))


def bare(axes: Axes, title: str, width: tuple[float, float], height: tuple[float, float]) -> None:
    """Axes without lines or figures, as wide and as high as is said, for a drawing."""
    axes.set(xlim=width, ylim=height, aspect="equal", title=title)
    axes.set_axis_off()


def named(axes: Axes, text: str, at: tuple[float, float], to: tuple[float, float], role: str = "ink") -> None:
    """A part's name, with a thin line to the part; on a phone its letter, where the drawing alone fills the sheet. A
    name on metal has the role `outline`, which is dark in either light."""
    keyed = is_narrow() and len(axes.figure.axes) == 1
    axes.annotate(
        lettered(axes, text) if keyed else text,
        to,
        at,
        fontsize=9,
        ha="center",
        va="center",
        color=LIGHT["ink" if keyed else role],
        arrowprops={"arrowstyle": "-", "color": LIGHT["edge"], "shrinkA": 2, "shrinkB": 0},
        bbox={"boxstyle": "circle", "fc": LIGHT["paper"], "ec": LIGHT["edge"]} if keyed else None,
    )


def turning(axes: Axes, radius: float, start: float, stop: float, colour: str) -> None:
    """An arrow round the middle, from one angle to the other."""
    bend = -0.35 if stop < start else 0.35
    axes.add_patch(
        FancyArrowPatch(
            at_angle(radius, start),
            at_angle(radius, stop),
            connectionstyle=f"arc3,rad={bend}",
            arrowstyle="-|>",
            mutation_scale=16,
            color=colour,
            linewidth=2.2,
        )
    )


@lesson_picture("A distributor, seen from above the cap")
def distributor_from_above() -> Drawn:
    """Terminals in firing order, the rotor's direction, and which way the body turns for an earlier spark."""
    clockwise = engine_named(TRUCK).card.distributor.rotor_turns == "clockwise"
    sense = -1.0 if clockwise else 1.0
    figure = new_figure(4.4)
    axes = figure.subplots()
    bare(axes, "", (-3.2, 3.2), (-1.75, 1.75))
    axes.add_patch(
        FancyBboxPatch((1.05, -0.28), 0.75, 0.56, boxstyle="round,pad=0.08", fc=LIGHT["metal"], ec=LIGHT["outline"])
    )
    axes.add_patch(Circle((0, 0), CAP + 0.16, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(Circle((0, 0), CAP, fc=LIGHT["raised"], ec=LIGHT["outline"]))
    step = sense * 360.0 / len(FIRING_ORDER)
    for place, cylinder in enumerate(FIRING_ORDER):
        x, y = at_angle(TERMINALS, FIRST_AT_DEG + place * step)
        axes.add_patch(
            Circle((x, y), 0.15, fc=LIGHT["paper"], ec=LIGHT["outline"], linewidth=2 if cylinder == 1 else 1)
        )
        axes.text(
            x, y, str(cylinder), ha="center", va="center", fontsize=10, weight="bold" if cylinder == 1 else "normal"
        )
    tip = at_angle(ROTOR, FIRST_AT_DEG)
    axes.plot([0, tip[0]], [0, tip[1]], color=LIGHT["tension-shine"], linewidth=7, solid_capstyle="round")
    axes.add_patch(Circle((0, 0), 0.13, fc=LIGHT["brass"], ec=LIGHT["outline"]))
    turning(axes, 0.42, FIRST_AT_DEG - 25 * -sense, FIRST_AT_DEG + 95 * sense, LIGHT["speed"])
    turning(axes, 1.38, FIRST_AT_DEG + 30 - 10 * sense, FIRST_AT_DEG + 30 - 75 * sense, LIGHT["vacuum"])
    axes.add_patch(Rectangle((-0.09, -1.5), 0.18, 0.36, fc=LIGHT["metal-dark"], ec=LIGHT["outline"]))
    axes.plot([0, 0], [-1.62, -1.08], color=LIGHT["mark-paint"], linewidth=3)
    axes.plot([0, 0], [-1.62, -1.08], color=LIGHT["outline"], linewidth=1, linestyle=":")
    way, other = ("clockwise", "anticlockwise") if clockwise else ("anticlockwise", "clockwise")
    named(axes, f"the rotor turns {way}", (2.05, 0.75), (-0.36 * sense, 0.32))
    named(axes, f"body turned {other}:\nagainst the rotor, earlier", (-2.25, 1.3), at_angle(1.4, 165.0))
    named(axes, "terminal of cylinder one", (1.9, 1.35), (-0.25, 0.74))
    named(axes, "vacuum unit: no handle", (2.4, -0.75), (1.6, -0.2))
    named(axes, "clamp, and a mark across\nbody and block", (-1.9, -1.35), (-0.06, -1.3))
    order = "-".join(map(str, FIRING_ORDER))
    last = at_angle(TERMINALS, FIRST_AT_DEG + 3 * step)
    named(axes, f"firing order {order},\nround the cap as the rotor turns", (2.2, -1.45), last)
    return Drawn(
        figure,
        f"A distributor of a six, seen from above its cap. The rotor turns {way} and points at the terminal of "
        f"cylinder one; round the cap, in the rotor's direction, stand the terminals {order}: the firing order.\n\n"
        f"The body turned {other}, against the rotor, makes the spark come earlier. The vacuum unit sticks out at the "
        "side and is no handle. At the clamp a line is drawn across body and block before the clamp is loosened.",
    )


@lesson_picture("Hose off at the vacuum unit, the other end plugged")
def hose_off_and_plugged() -> Drawn:
    """The hose as it is driven, and as it is for setting the timing."""
    figure, both = panels(2.9, 1, 2)
    for axes, off in zip(both, (False, True), strict=True):
        bare(axes, "off and plugged: for setting the timing" if off else "on: as it is driven", (0, 6), (0, 3.2))
        axes.add_patch(Circle((1.0, 1.3), 0.7, fc=LIGHT["metal"], ec=LIGHT["outline"]))
        axes.text(1.0, 1.3, "distri-\nbutor", ha="center", va="center", fontsize=8, color=LIGHT["outline"])
        axes.add_patch(
            FancyBboxPatch(
                (1.75, 1.0), 0.5, 0.6, boxstyle="round,pad=0.06", fc=LIGHT["metal-light"], ec=LIGHT["outline"]
            )
        )
        axes.add_patch(Rectangle((2.31, 1.22), 0.3, 0.16, fc=LIGHT["brass"], ec=LIGHT["outline"]))
        axes.add_patch(Rectangle((4.6, 0.7), 1.1, 1.7, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
        axes.text(5.15, 1.9, "carbu-\nrettor", ha="center", va="center", fontsize=8, color=LIGHT["outline"])
        axes.add_patch(Rectangle((4.3, 1.02), 0.3, 0.16, fc=LIGHT["brass"], ec=LIGHT["outline"]))
        end = (3.1, 2.3) if off else (2.5, 1.3)
        axes.add_patch(
            FancyArrowPatch(
                (4.4, 1.1),
                end,
                connectionstyle="arc3,rad=-0.25" if off else "arc3,rad=-0.3",
                arrowstyle="-",
                color=LIGHT["vacuum"],
                linewidth=6,
                capstyle="round",
            )
        )
        if off:
            axes.add_patch(Rectangle((2.88, 2.2), 0.26, 0.26, fc=LIGHT["speed"], ec=LIGHT["outline"], zorder=5))
            named(axes, "plug in the end that\nleads to the carburettor", (1.5, 2.85), (2.9, 2.38))
            named(axes, "nothing on the unit", (2.6, 0.35), (2.5, 1.2))
        else:
            named(axes, "vacuum unit", (2.2, 0.35), (2.05, 0.95))
            named(axes, "hose", (3.6, 0.35), (3.5, 0.92))
    return Drawn(
        figure,
        "Two drawings. 1, as it is driven: the hose runs from the carburettor to the vacuum unit at the side of "
        "the distributor.\n\n2, for setting the timing: the hose is pulled off at the vacuum unit, and a plug is in "
        "its free end, which leads to the carburettor; nothing is on the unit.",
    )
