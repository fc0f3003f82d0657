"""Pictures of the ignition's parts: points and their gap under the cap, the lamp's clips, and the coil's terminals."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyBboxPatch, Polygon, Rectangle

from graders.palette import LIGHT

from .parts import at_angle, bare, named
from .registry import Drawn, lesson_picture
from .sheet import new_figure, panels

LOBES = 4  # of the runabout
CAM = (3.4, 2.9)  # middle of the cam in the picture, as the lengths below
FLAT = 0.8  # from the middle of the cam to a flat
LOBE = 1.06  # and to the top of a lobe
BOWL = 2.75
PIVOT = (1.45, 4.25)
MEETS_AT = 5.15  # along the picture: where the contacts meet
COIL_CLIP = (8.3, 6.15)
EARTH_CLIP = (8.3, 0.75)


def _clip(axes: Axes, at: tuple[float, float]) -> None:
    """A crocodile clip that bites from the right."""
    x, y = at
    for side in (1, -1):
        axes.add_patch(
            Polygon(
                [(x - 0.25, y), (x + 0.25, y + 0.3 * side), (x + 0.9, y + 0.16 * side), (x + 0.9, y)],
                closed=True,
                fc=LIGHT["primary"],
                ec=LIGHT["outline"],
                zorder=5,
            )
        )


def _earth(axes: Axes, at: tuple[float, float]) -> None:
    """The sign of earth, as circuit diagrams have it: three lines that grow shorter downwards."""
    for place, half in enumerate((0.4, 0.25, 0.1)):
        y = at[1] - 0.16 * place
        axes.plot([at[0] - half, at[0] + half], [y, y], color=LIGHT["ink"], linewidth=2)


def _cam(axes: Axes, turned_deg: float) -> None:
    corners = []
    for lobe in range(LOBES):
        middle = turned_deg + 360.0 / LOBES * lobe
        for away in (-14.0, 0.0, 14.0):
            x, y = at_angle(LOBE if away == 0.0 else LOBE - 0.03, middle + away)
            corners.append((CAM[0] + x, CAM[1] + y))
    axes.add_patch(Polygon(corners, closed=True, fc=LIGHT["metal-dark"], ec=LIGHT["outline"], linewidth=1.5, zorder=3))
    axes.add_patch(Circle(CAM, 0.35, fc=LIGHT["metal-light"], ec=LIGHT["outline"], zorder=3))


def _points(axes: Axes, opened: bool) -> None:
    """Arm, rubbing block and both contacts; open they are the gap apart."""
    foot = CAM[1] + (LOBE if opened else FLAT + 0.02)
    rise = (foot + 0.42 - PIVOT[1]) / (CAM[0] - PIVOT[0])
    y = PIVOT[1] + rise * (MEETS_AT - PIVOT[0])
    rest = PIVOT[1] + (CAM[1] + FLAT + 0.44 - PIVOT[1]) / (CAM[0] - PIVOT[0]) * (MEETS_AT - PIVOT[0])
    axes.add_patch(Rectangle((MEETS_AT - 0.5, rest - 0.95), 1.2, 0.45, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(Circle((MEETS_AT + 0.42, rest - 0.72), 0.16, fc=LIGHT["brass"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((MEETS_AT - 0.2, rest - 0.5), 0.4, 0.26, fc=LIGHT["brass"], ec=LIGHT["outline"]))
    axes.plot([PIVOT[0], MEETS_AT + 0.2], [PIVOT[1], y], color=LIGHT["outline"], linewidth=7, solid_capstyle="round")
    axes.plot([PIVOT[0], MEETS_AT + 0.2], [PIVOT[1], y], color=LIGHT["metal-light"], linewidth=4.5)
    axes.add_patch(Rectangle((MEETS_AT - 0.2, y - 0.32), 0.4, 0.24, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
    axes.add_patch(Rectangle((CAM[0] - 0.16, foot), 0.32, 0.4, fc=LIGHT["primary"], ec=LIGHT["outline"], zorder=4))
    axes.add_patch(Circle(PIVOT, 0.2, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))


def _wire(axes: Axes, *places: tuple[float, float], role: str = "primary") -> None:
    xs, ys = zip(*places, strict=True)
    axes.plot(xs, ys, color=LIGHT["outline"], linewidth=3.6, solid_joinstyle="round")
    axes.plot(xs, ys, color=LIGHT[role], linewidth=2, solid_joinstyle="round")


def _lamp(axes: Axes, at: tuple[float, float], lit: bool) -> None:
    if lit:
        for ray in range(8):
            inner, outer = at_angle(0.62, 45.0 * ray + 22.5), at_angle(0.95, 45.0 * ray + 22.5)
            axes.plot([at[0] + inner[0], at[0] + outer[0]], [at[1] + inner[1], at[1] + outer[1]], color=LIGHT["brass"])
    axes.add_patch(Circle(at, 0.48, fc=LIGHT["brass" if lit else "metal-dark"], ec=LIGHT["outline"], linewidth=1.5))


@lesson_picture("Under the cap: the points, their gap, and where the test lamp is clipped")
def points_gap_and_lamp() -> Drawn:
    """The runabout's points from above, closed on a flat of the cam and open on a lobe, and the lamp across them."""
    figure, both = panels(4.3, 1, 2)
    for axes, opened in zip(both, (False, True), strict=True):
        title = "open, on top of a lobe: the lamp lights" if opened else "closed, between two lobes: the lamp is dark"
        bare(axes, title, (-0.3, 11.4), (-0.5, 8.3))
        axes.add_patch(Circle((3.4, 3.3), BOWL, fc=LIGHT["raised"], ec=LIGHT["outline"], linewidth=1.5))
        _cam(axes, 90.0 if opened else 45.0)
        _points(axes, opened)
        # The condenser lies on the plate, at the wire of the points.
        axes.add_patch(
            FancyBboxPatch((1.4, 4.95), 1.3, 0.4, boxstyle="round,pad=0.08", fc=LIGHT["metal"], ec=LIGHT["outline"])
        )
        _wire(axes, (1.45, 4.4), (2.0, 4.95))
        _wire(axes, (1.45, 4.4), (0.9, 5.6), (1.6, 7.0), (8.0, 7.0), COIL_CLIP)
        axes.add_patch(
            FancyBboxPatch((7.3, 6.5), 1.9, 1.1, boxstyle="round,pad=0.1", fc=LIGHT["metal-dark"], ec=LIGHT["outline"])
        )
        axes.add_patch(Circle((8.15, 6.5), 0.2, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
        lamp = (9.9, 3.5)
        _wire(axes, (9.1, 6.15), (9.9, 6.15), (9.9, 3.9))
        _wire(axes, (9.9, 3.1), (9.9, 0.75), (9.1, 0.75))
        _clip(axes, (8.25, 6.15))
        _clip(axes, (8.25, 0.75))
        _lamp(axes, lamp, opened)
        axes.add_patch(Rectangle((6.9, 0.35), 1.5, 0.8, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
        _earth(axes, (7.65, 0.2))
        if opened:
            named(axes, "gap", (6.75, 4.6), (5.2, 4.18))
            named(axes, "coil's terminal on\nthe points side", (5.1, 7.75), (8.0, 6.6))
            named(axes, "clean metal\nof the engine", (5.4, -0.1), (6.95, 0.6))
            named(axes, "test lamp", (7.9, 2.7), (9.5, 3.3))
        else:
            named(axes, "rubbing\nblock", (1.6, 3.1), (3.28, 3.95))
            named(axes, "cam", (3.4, 1.3), (3.4, 2.15))
            named(axes, "condenser", (0.9, 7.5), (2.0, 5.3))
            named(axes, "fixed contact,\nand its screw", (7.85, 2.5), (5.65, 3.5))
            named(axes, "wire to the coil", (5.4, 7.6), (5.4, 7.05))
    return Drawn(
        figure,
        "The inside of a four-cylinder distributor, seen from above with cap and rotor off, twice. In the middle "
        "is the cam with its four lobes. An arm on a pivot carries one contact and a rubbing block, which rests "
        "on the cam; the other contact is held to the plate by a screw. The condenser beside them is on the same "
        "wire, which leads to the coil's terminal on the points side.\n\n"
        "1, the block lies between two lobes: the contacts touch, and the current flows through them to earth. "
        "The lamp is dark. One clip of it is at the coil's terminal on the points side, the other at clean metal "
        "of the engine.\n\n"
        "2, the block is on top of a lobe: the contacts are apart by the gap, which is measured here. The lamp "
        "lights. The moment between the two, when the contacts begin to part, is the moment of the spark.",
    )


@lesson_picture("The coil's terminals, and where the tachometer's clips go")
def coil_and_its_terminals() -> Drawn:
    """A coil from the side: high tension in the middle, its two small terminals, and the clips of a tachometer."""
    figure = new_figure(4.0)
    axes = figure.subplots()
    bare(axes, "", (0, 12.4), (0, 6))
    axes.add_patch(
        FancyBboxPatch((3.9, 0.5), 2.6, 2.9, boxstyle="round,pad=0.1", fc=LIGHT["metal"], ec=LIGHT["outline"])
    )
    axes.add_patch(Rectangle((3.65, 1.4), 3.1, 0.35, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    axes.add_patch(
        FancyBboxPatch((4.1, 3.5), 2.2, 0.35, boxstyle="round,pad=0.1", fc=LIGHT["metal-dark"], ec=LIGHT["outline"])
    )
    axes.add_patch(Rectangle((4.9, 3.9), 0.6, 0.95, fc=LIGHT["metal-dark"], ec=LIGHT["outline"]))
    axes.plot([5.2, 5.2, 4.2], [4.8, 5.5, 5.8], color=LIGHT["outline"], linewidth=8, solid_joinstyle="round")
    axes.plot([5.2, 5.2, 4.2], [4.8, 5.5, 5.8], color=LIGHT["tension-shine"], linewidth=5, solid_joinstyle="round")
    for x, sign in ((4.35, "+"), (6.05, "\N{MINUS SIGN}")):
        axes.add_patch(Rectangle((x - 0.1, 3.9), 0.2, 0.45, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
        axes.text(x, 4.62, sign, ha="center", va="center", fontsize=12, weight="bold")
    _wire(axes, (4.35, 4.1), (2.6, 4.1), (1.2, 3.3))
    _wire(axes, (6.05, 4.1), (7.0, 5.2), (9.0, 5.5))
    _clip(axes, (6.2, 4.1))
    _wire(axes, (7.05, 4.1), (9.4, 4.1), (9.4, 3.3), role="vacuum")
    axes.add_patch(
        FancyBboxPatch((8.6, 1.9), 1.9, 1.3, boxstyle="round,pad=0.1", fc=LIGHT["raised"], ec=LIGHT["outline"])
    )
    axes.add_patch(Circle((9.55, 2.55), 0.55, fc=LIGHT["paper"], ec=LIGHT["outline"]))
    axes.plot([9.55, 9.2], [2.4, 2.85], color=LIGHT["speed"], linewidth=2)
    _wire(axes, (9.2, 1.8), (9.2, 0.6), (8.6, 0.6), role="vacuum")
    axes.add_patch(Rectangle((7.2, 0.25), 0.75, 0.7, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    _clip(axes, (7.75, 0.6))
    named(axes, "high tension: to the middle of the cap.\nNo clip belongs here", (1.9, 5.55), (4.85, 5.62))
    named(axes, "feed, from the\nignition switch", (1.2, 2.5), (1.7, 3.5))
    named(axes, "thin wire to the points,\nin the distributor", (10.5, 5.2), (8.6, 5.45))
    named(axes, "tachometer's clip: on the\nterminal of that wire", (10.9, 4.35), (7.0, 4.2))
    named(axes, "tachometer, its switch at\nthe number of cylinders", (11.0, 1.35), (10.4, 2.0))
    named(axes, "its second clip: earth", (5.6, 0.2), (7.3, 0.4))
    named(axes, "coil", (2.6, 1.1), (3.9, 1.0))
    return Drawn(
        figure,
        "An ignition coil from the side, with three connections on its top. In the middle is the tower of the "
        "high tension: its thick lead goes to the middle of the distributor's cap, and no clip belongs there. "
        "Beside it are 2 small terminals.\n\n"
        "1, one of them gets the feed from the ignition switch; on a negative-earth vehicle it is the plus.\n\n"
        "2, from the other a thin wire leads to the points in the distributor. This is the terminal on the points"
        " side: the minus on a negative-earth vehicle, the plus on a positive-earth one. The tachometer's clip "
        "goes there, and its second clip to earth.",
    )
