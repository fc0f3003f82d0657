"""Pictures of what hands take hold of: pulley, damper and marks, the clamp with its spanner, a carburettor's ports."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyArrowPatch, FancyBboxPatch, Polygon, Rectangle, Wedge

from graders.palette import LIGHT

from .parts import at_angle, bare, named, turning
from .registry import Drawn, lesson_picture
from .sheet import is_narrow, new_figure, panels

RING = 1.0  # radius in the picture, as the three below
RUBBER = 0.8
HUB = 0.72
BOLT = 0.17
TOP = 90.0  # where the scale's zero stands in the picture, anticlockwise from the right
WIDER = 2.0  # a degree of the crank is drawn as so many, so that single ones can be told apart
LABEL_DEG = 8
CREPT_DEG = 7  # as in the lesson's example: touches at 37 before and 23 after
HALF_WAY_DEG = 30  # from either touch to the top
SCALE_DEG = (0, 4, 8, 12)


def _place(deg: float) -> float:
    """Where a place of the crank [deg BTDC by the scale] stands in the picture: the crank runs clockwise."""
    return TOP + WIDER * deg


def _pulley(axes: Axes, mark_deg: float) -> None:
    """Damper, rubber, hub and bolt from the front, with the mark at that place of the scale."""
    axes.add_patch(Circle((0, 0), RING, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(Circle((0, 0), RUBBER, fc=LIGHT["outline"], ec=LIGHT["outline"]))
    axes.add_patch(Circle((0, 0), HUB, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    corners = [at_angle(BOLT, 60.0 * corner) for corner in range(6)]
    axes.add_patch(Polygon(corners, closed=True, fc=LIGHT["metal-dark"], ec=LIGHT["outline"]))
    inner, outer = at_angle(RUBBER + 0.03, _place(mark_deg)), at_angle(RING, _place(mark_deg))
    axes.plot([inner[0], outer[0]], [inner[1], outer[1]], color=LIGHT["mark-paint"], linewidth=5)
    axes.plot([inner[0], outer[0]], [inner[1], outer[1]], color=LIGHT["outline"], linewidth=1)
    turning(axes, 0.5, 215.0, 145.0, LIGHT["speed"])


def _scale(axes: Axes) -> None:
    """The scale on the cover, from 0 to 12 degrees before top centre."""
    axes.add_patch(Wedge((0, 0), 1.3, _place(-3), _place(15), width=0.24, fc=LIGHT["raised"], ec=LIGHT["outline"]))
    for deg in SCALE_DEG[::2] if is_narrow() else SCALE_DEG:
        inner, outer, at = (at_angle(radius, _place(deg)) for radius in (1.06, 1.16, 1.23))
        axes.plot([inner[0], outer[0]], [inner[1], outer[1]], color=LIGHT["ink"], linewidth=1.5)
        axes.text(*at, str(deg), ha="center", va="center", fontsize=8)


@lesson_picture("Pulley, damper and timing marks, seen from the front")
def damper_and_marks() -> Drawn:
    """The mark on the damper's ring against the scale on the cover, and where the spanner goes."""
    figure = new_figure(3.9)
    axes = figure.subplots()
    bare(axes, "", (-3.1, 3.1), (-1.2, 1.75))
    _pulley(axes, LABEL_DEG)
    _scale(axes)
    named(axes, f"mark, at {LABEL_DEG} before\ntop dead centre", (-1.75, 0.75), at_angle(0.93, _place(LABEL_DEG)))
    named(axes, "0: top dead centre", (1.5, 1.55), at_angle(1.17, _place(0)))
    named(axes, "scale on the front cover", (-1.6, 1.5), at_angle(1.28, _place(12)))
    named(axes, "ring of the damper", (2.0, 0.75), at_angle(0.92, 25.0))
    named(axes, "rubber between ring and hub", (2.1, 0.2), at_angle(0.76, 8.0))
    named(axes, "hub, fixed to the crank", (2.0, -0.35), at_angle(0.6, -25.0))
    named(axes, "bolt of the pulley:\nthe spanner goes here", (1.9, -0.95), at_angle(0.1, -45.0))
    named(axes, "the crank runs clockwise,\nseen from here", (-2.0, -0.5), at_angle(0.55, 195.0))
    return Drawn(
        figure,
        "The crank's pulley with its damper, seen from the front of the engine. In the middle is the bolt on which a "
        "spanner goes; round it the hub, a ring of rubber, and the outer ring with the mark.\n\nA scale on the front "
        f"cover has the figures {', '.join(map(str, SCALE_DEG))}: degrees before top dead centre. The crank runs "
        f"clockwise, so the mark comes to {LABEL_DEG} before it comes to 0. Here it stands at {LABEL_DEG}.",
    )


@lesson_picture("A ring that has crept, and the two touches of a piston stop")
def ring_that_crept() -> Drawn:
    """A true ring and one that has crept, each with the places of the old mark at both touches."""
    figure, both = panels(3.6, 1, 2)
    for axes, slip in zip(both, (0, CREPT_DEG), strict=True):
        bare(axes, "the ring has crept" if slip else "the mark is true", (-1.9, 1.9), (-1.15, 1.85))
        _pulley(axes, slip)
        for side, way in ((1, "before"), (-1, "after")):
            deg = slip + side * HALF_WAY_DEG
            inner, outer, at = (at_angle(radius, _place(deg)) for radius in (RING, 1.2, 1.5))
            axes.plot([inner[0], outer[0]], [inner[1], outer[1]], color=LIGHT["vacuum"], linewidth=3)
            axes.text(*at, f"touch:\n{abs(deg)} {way}", ha="center", va="center", fontsize=9)
        top = at_angle(1.12, _place(slip))
        axes.plot([0, 0], [RING, 1.3], color=LIGHT["ink"], linewidth=1.5)
        axes.text(0, 1.4, "0", ha="center", va="center", fontsize=9)
        axes.plot(*top, marker="v", color=LIGHT["speed"], markersize=8)
        axes.text(
            0, 1.68, f"midway: {slip} by the old mark" if slip else "midway: 0", ha="center", va="center", fontsize=9
        )
    return Drawn(
        figure,
        "Two dampers from the front, each with the piston at the top of its stroke. On the first the mark stands at 0, "
        f"and the two touches of the stop lie at {HALF_WAY_DEG} before and {HALF_WAY_DEG} after: the mark is true.\n\n"
        f"On the second the ring has crept. The touches lie at {HALF_WAY_DEG + CREPT_DEG} before and "
        f"{HALF_WAY_DEG - CREPT_DEG} after, as far apart as before; midway between them is {CREPT_DEG} by the old "
        "mark. There the new mark belongs.",
    )


@lesson_picture("The clamp, the spanner and the line across body and block")
def clamp_and_spanner() -> Drawn:
    """A distributor in its seat from the side, the clamp's bolt with the spanner on it, and the line of paint."""
    figure = new_figure(3.7)
    axes = figure.subplots()
    bare(axes, "", (0, 10), (0, 5))
    axes.add_patch(Rectangle((1.2, 0.1), 7.6, 1.2, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((4.1, 1.3), 1.0, 1.1, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(
        FancyBboxPatch((3.5, 2.4), 2.2, 0.9, boxstyle="round,pad=0.05", fc=LIGHT["metal"], ec=LIGHT["outline"])
    )
    axes.add_patch(
        FancyBboxPatch((3.7, 3.4), 1.8, 0.7, boxstyle="round,pad=0.1", fc=LIGHT["raised"], ec=LIGHT["outline"])
    )
    for x in (3.9, 4.6, 5.3):
        axes.add_patch(Rectangle((x - 0.12, 4.2), 0.24, 0.4, fc=LIGHT["tension-shine"], ec=LIGHT["outline"]))
    axes.add_patch(Circle((6.35, 2.85), 0.45, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((5.75, 2.78), 0.3, 0.14, fc=LIGHT["brass"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((3.7, 1.3), 2.9, 0.22, fc=LIGHT["brass"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((5.9, 1.52), 0.5, 0.3, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((6.4, 1.6), 2.5, 0.16, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(Wedge((6.3, 1.68), 0.36, 30, 330, width=0.14, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.plot([4.35, 4.35], [0.9, 2.0], color=LIGHT["mark-paint"], linewidth=5)
    axes.plot([4.35, 4.35], [0.9, 2.0], color=LIGHT["outline"], linewidth=1, linestyle=":")
    named(axes, "cap and leads: never a handle", (1.7, 4.4), (3.65, 3.9))
    named(axes, "body: take hold here,\nand turn it in its seat", (1.5, 2.9), (3.5, 2.8))
    named(axes, "vacuum unit: no handle", (8.3, 3.6), (6.7, 3.0))
    named(axes, "line of paint across body\nand block: the way back", (1.7, 1.8), (4.3, 1.75))
    named(axes, "bolt of the clamp, and a spanner:\nhalf a turn is often enough", (8.3, 2.2), (6.2, 1.75))
    named(axes, "clamp", (5.3, 0.75), (5.3, 1.38), "outline")
    named(axes, "engine block", (2.4, 0.6), (2.4, 0.6), "outline")
    return Drawn(
        figure,
        "A distributor in its seat, from the side. Its body goes down into the engine block, where a clamp holds it "
        "with one bolt; a spanner is on it. Half a turn, 180 degrees, often frees it enough.\n\n"
        "A line of paint runs across body and block, and shows the way back. The body is what hands take hold of; the "
        "cap, the leads and the vacuum unit at the side are no handles.",
    )


@lesson_picture("Where a carburettor has its ports")
def ports_of_a_carburettor() -> Drawn:
    """The barrel in section with its plate closed and a little open, and what each port has."""
    figure, both = panels(3.7, 1, 2)
    for axes, opened in zip(both, (False, True), strict=True):
        bare(axes, "throttle a little open" if opened else "idle: throttle closed", (0, 6), (0, 5))
        for x in (1.9, 3.7):
            axes.add_patch(Rectangle((x, 0.4), 0.4, 4.0, fc=LIGHT["metal"], ec=LIGHT["outline"]))
        turned = math.radians(33.0 if opened else 4.0)
        across, up = 0.69 * math.cos(turned), 0.69 * math.sin(turned)
        axes.plot([3.0 - across, 3.0 + across], [2.3 - up, 2.3 + up], color=LIGHT["ink"], linewidth=5)
        axes.add_patch(Circle((3.0, 2.3), 0.09, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
        for y, role in ((2.48, "speed"), (1.1, "vacuum")):
            axes.add_patch(Rectangle((3.7, y), 0.95, 0.14, fc=LIGHT[role], ec=LIGHT["outline"], zorder=4))
        axes.add_patch(
            FancyArrowPatch((3.0, 4.8), (3.0, 3.4), arrowstyle="-|>", mutation_scale=14, color=LIGHT["edge"])
        )
        named(axes, "air from the\nair cleaner", (1.1, 4.75), (2.75, 4.5))
        named(axes, "throttle\nplate", (0.9, 2.3), (2.5, 2.25))
        named(axes, "ported:\n" + ("vacuum" if opened else "next to none"), (5.3, 3.2), (4.6, 2.6))
        named(axes, "manifold:\nvacuum" + ("" if opened else ", all of it"), (5.2, 0.55), (4.6, 1.12))
        axes.text(3.0, 0.12, "to the manifold", ha="center", va="center", fontsize=9)
    return Drawn(
        figure,
        "The barrel of a carburettor, cut open, twice. Air comes in from the air cleaner above, goes past the throttle "
        "plate and down to the manifold. The manifold port lies well below the plate; the ported fitting lies just "
        "above the plate's edge.\n\n1, at idle, the plate closed: the manifold port has all of the vacuum, the ported "
        "one next to none.\n\n2, the plate a little open: its edge has passed the ported one, and both have vacuum.",
    )


@lesson_picture("A timing light in use")
def timing_light_in_use() -> Drawn:
    """What the light is clipped to, and the mark of the damper in its flash against the scale."""
    figure = new_figure(4.1)
    axes = figure.subplots()
    bare(axes, "", (-1.8, 6.4), (-1.4, 3.0))
    _pulley(axes, LABEL_DEG)
    _scale(axes)
    mark = at_angle(0.9, _place(LABEL_DEG))
    for muzzle in ((3.1, 1.0), (3.1, 0.7)):
        axes.plot([muzzle[0], mark[0]], [muzzle[1], mark[1]], color=LIGHT["brass"], linewidth=1.2, linestyle="--")
    axes.add_patch(
        FancyBboxPatch((3.1, 0.65), 1.3, 0.4, boxstyle="round,pad=0.05", fc=LIGHT["raised"], ec=LIGHT["outline"])
    )
    axes.add_patch(
        Polygon(
            [(3.9, 0.6), (4.35, 0.6), (4.55, -0.3), (4.15, -0.3)], closed=True, fc=LIGHT["raised"], ec=LIGHT["outline"]
        )
    )
    axes.add_patch(Rectangle((5.0, -1.2), 1.2, 0.7, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((2.3, -0.75), 0.9, 0.3, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    for clip in ((5.25, -0.36), (2.9, -0.45)):
        axes.plot([clip[0], 4.35], [clip[1], -0.3], color=LIGHT["edge"], linewidth=1.6)
    for x, sign in ((5.25, "+"), (5.95, "−")):
        axes.add_patch(Rectangle((x - 0.08, -0.5), 0.16, 0.14, fc=LIGHT["brass"], ec=LIGHT["outline"]))
        axes.text(x, -0.72, sign, ha="center", va="center", fontsize=11, color=LIGHT["outline"])
    axes.plot([0.4, 4.0], [2.6, 2.6], color=LIGHT["tension-shine"], linewidth=5)
    axes.add_patch(Rectangle((2.6, 2.42), 0.45, 0.36, fc=LIGHT["metal-dark"], ec=LIGHT["outline"], zorder=4))
    axes.plot([2.82, 4.0], [2.42, 1.05], color=LIGHT["edge"], linewidth=1.6)
    named(axes, "lead of cylinder one,\nto its plug", (0.9, 2.05), (1.2, 2.55))
    named(axes, "pickup, its arrow\ntowards the plug", (5.0, 2.55), (3.05, 2.55))
    named(axes, "timing light, held\nclear of the fan", (5.4, 1.3), (4.4, 0.85))
    named(axes, "red clip: plus.\nEngine off for both clips", (5.6, 0.3), (5.25, -0.36))
    named(axes, "black clip: bare metal\naway from the battery", (3.0, -1.15), (2.8, -0.7))
    axes.text(5.6, -1.02, "battery", ha="center", va="center", fontsize=9, color=LIGHT["outline"])
    named(
        axes, f"in the flash the mark\nstands still: {LABEL_DEG} before", (-0.6, 1.75), at_angle(1.0, _place(LABEL_DEG))
    )
    return Drawn(
        figure,
        "A timing light at work, with three clips. The first goes to the battery's plus, the second to bare metal away "
        "from the battery; the third, the pickup, goes round the lead of cylinder one, its arrow towards the plug. All "
        "are clipped on with the engine off.\n\nThe light is held so that its flash meets the rim of the damper "
        "beside the scale, its leads clear of fan and belts. In the "
        f"flash the mark seems to stand still: here at {LABEL_DEG} before top dead centre.",
    )
