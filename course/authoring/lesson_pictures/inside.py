"""Pictures of what cannot be seen from outside: the spark's way from battery to plug, and a cylinder cut open."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyArrowPatch, FancyBboxPatch, Polygon, Rectangle

from graders.palette import LIGHT

from .parts import at_angle, bare, named
from .registry import Drawn, lesson_picture
from .sheet import new_figure

CAP = (8.3, 3.5)  # middle of the cap in the picture of the spark's way, as the three below
CAP_RADIUS = 1.4
TERMINALS_AT_DEG = (45.0, 135.0, 225.0, 315.0)
PLUG = (11.2, 3.2)  # where the spark jumps
VALVES = {"intake": 4.75, "exhaust": 6.25}  # stems along the picture of the cylinder


def _lead(axes: Axes, *places: tuple[float, float], thick: bool = False) -> None:
    """A wire; a thick one carries the high tension."""
    xs, ys = zip(*places, strict=True)
    axes.plot(xs, ys, color=LIGHT["outline"], linewidth=6 if thick else 3.2, solid_joinstyle="round")
    axes.plot(xs, ys, color=LIGHT["tension-shine" if thick else "primary"], linewidth=3.5 if thick else 1.8)


def _earth(axes: Axes, x: float, y: float) -> None:
    """The sign of earth, as circuit diagrams have it."""
    axes.plot([x, x], [y, y - 0.3], color=LIGHT["ink"], linewidth=1.6)
    for place, half in enumerate((0.32, 0.2, 0.08)):
        axes.plot([x - half, x + half], [y - 0.3 - 0.14 * place] * 2, color=LIGHT["ink"], linewidth=1.8)


def _battery_and_coil(axes: Axes) -> None:
    axes.add_patch(Rectangle((0.4, 0.9), 1.7, 1.0, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    for x, sign in ((0.75, "+"), (1.75, "\N{MINUS SIGN}")):
        axes.add_patch(Rectangle((x - 0.1, 1.9), 0.2, 0.15, fc=LIGHT["brass"], ec=LIGHT["outline"]))
        axes.text(x, 1.55, sign, ha="center", va="center", fontsize=11, color=LIGHT["outline"])
    _lead(axes, (1.75, 2.05), (2.5, 2.05), (2.5, 0.9))
    _earth(axes, 2.5, 0.9)
    _lead(axes, (0.75, 2.05), (0.75, 3.9), (1.5, 3.9))
    axes.add_patch(Circle((1.85, 3.9), 0.35, fc=LIGHT["raised"], ec=LIGHT["outline"]))
    axes.plot([1.62, 2.05], [3.8, 4.05], color=LIGHT["ink"], linewidth=2)
    _lead(axes, (2.2, 3.9), (3.9, 3.9))
    axes.add_patch(
        FancyBboxPatch((3.7, 1.7), 1.4, 1.9, boxstyle="round,pad=0.1", fc=LIGHT["metal"], ec=LIGHT["outline"])
    )
    for x in (3.9, 4.9):
        axes.add_patch(Rectangle((x - 0.09, 3.7), 0.18, 0.35, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
    axes.add_patch(Rectangle((4.22, 3.7), 0.36, 0.6, fc=LIGHT["metal-dark"], ec=LIGHT["outline"]))


def _points(axes: Axes) -> None:
    """The points as a switch below the cap, from the coil's terminal to earth."""
    _lead(axes, (4.9, 3.9), (5.8, 3.9), (5.8, 1.1), (7.7, 1.1))
    axes.plot([7.7, 8.75], [1.1, 1.45], color=LIGHT["ink"], linewidth=3)
    axes.add_patch(Circle((7.7, 1.1), 0.1, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
    axes.add_patch(Circle((8.85, 1.1), 0.1, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=4))
    _lead(axes, (8.95, 1.1), (9.6, 1.1), (9.6, 0.9))
    _earth(axes, 9.6, 0.9)


@lesson_picture("The spark's way, from the battery to the plug")
def way_of_the_spark() -> Drawn:
    """Battery, switch, coil, points, cap with its rotor, and one plug, as they are wired."""
    figure = new_figure(4.2)
    axes = figure.subplots()
    bare(axes, "", (0, 12.4), (0, 6.4))
    _battery_and_coil(axes)
    _points(axes)
    axes.add_patch(Circle(CAP, CAP_RADIUS + 0.14, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    axes.add_patch(Circle(CAP, CAP_RADIUS, fc=LIGHT["raised"], ec=LIGHT["outline"]))
    ends = [(CAP[0] + x, CAP[1] + y) for x, y in (at_angle(1.05, deg) for deg in TERMINALS_AT_DEG)]
    for end in ends:
        axes.add_patch(Circle(end, 0.17, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=3))
    _lead(axes, (4.4, 4.3), (4.4, 5.6), (8.3, 5.6), CAP, thick=True)
    _lead(axes, ends[0], (11.2, 5.0), (11.2, 4.7), thick=True)
    tip = (CAP[0] + 0.52, CAP[1] + 0.52)
    axes.plot([CAP[0], tip[0]], [CAP[1], tip[1]], color=LIGHT["speed"], linewidth=7, solid_capstyle="round", zorder=5)
    axes.add_patch(Circle(CAP, 0.17, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=6))
    axes.add_patch(Rectangle((11.03, 3.9), 0.34, 0.85, fc=LIGHT["paper"], ec=LIGHT["outline"], zorder=4))
    axes.add_patch(Rectangle((10.95, 3.45), 0.5, 0.5, fc=LIGHT["metal"], ec=LIGHT["outline"], zorder=4))
    axes.plot([11.2, 11.2], [3.45, 3.25], color=LIGHT["outline"], linewidth=2.5)
    axes.plot([11.4, 11.4, 11.15], [3.45, 3.0, 3.0], color=LIGHT["outline"], linewidth=2.5)
    axes.plot(*PLUG, marker="*", color=LIGHT["speed"], markersize=9, zorder=5)
    named(axes, "battery", (1.25, 0.5), (1.25, 0.95))
    named(axes, "ignition switch", (1.9, 4.75), (1.85, 4.3))
    named(axes, "coil", (3.1, 2.6), (3.65, 2.6))
    named(axes, "terminal on the\npoints side", (5.9, 4.85), (4.95, 4.05))
    named(axes, "points, under the cap:\nopen, and the spark jumps", (7.1, 0.35), (8.2, 1.25))
    named(axes, "high tension, thick leads", (6.3, 6.05), (6.3, 5.7))
    named(axes, "cap, with a terminal\nfor each cylinder", (10.9, 6.0), (9.35, 4.55))
    named(axes, "rotor", (9.1, 3.3), (8.72, 3.8), "outline")
    named(axes, "plug of a cylinder", (11.2, 2.4), (11.2, 2.95))
    return Drawn(
        figure,
        "How a four-cylinder engine gets its spark, drawn as it is wired.\n\n"
        "1, from the battery's plus a thin wire goes through the ignition switch to one small terminal of the coil. "
        "2, from the coil's other small terminal, the one on the points side, a wire goes to the points in the "
        "distributor, and through them to earth. 3, when the points open, the coil sends one stroke of high tension "
        "through a thick lead to the middle of the cap. 4, under the cap the rotor passes it to one of the terminals "
        "around. 5, from there a thick lead takes it to the plug of one cylinder, where it jumps.",
    )


def _valve(axes: Axes, x: float) -> None:
    """A valve on its seat, with its guide and its spring."""
    axes.add_patch(
        Polygon([(x - 0.55, 4.86), (x + 0.55, 4.86), (x + 0.1, 5.2), (x - 0.1, 5.2)], fc=LIGHT["metal-dark"])
    )
    axes.add_patch(Rectangle((x - 0.22, 5.95), 0.44, 0.75, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=3))
    axes.plot([x, x], [5.1, 7.6], color=LIGHT["metal-dark"], linewidth=4, zorder=4)
    turns = [6.75, 6.9, 7.05, 7.2, 7.35, 7.5]
    axes.plot([x + 0.32 * (-1) ** turn for turn in range(len(turns))], turns, color=LIGHT["ink"], linewidth=1.6)
    axes.plot([x - 0.38, x + 0.38], [7.6, 7.6], color=LIGHT["outline"], linewidth=3)


def _pipe(axes: Axes, corners: list[tuple[float, float]], role: str, arrow: tuple[tuple[float, float], ...]) -> None:
    axes.add_patch(Polygon(corners, closed=True, fc=LIGHT["raised"], ec=LIGHT["outline"]))
    axes.add_patch(FancyArrowPatch(*arrow, arrowstyle="-|>", mutation_scale=13, color=LIGHT[role], linewidth=1.8))


@lesson_picture("A cylinder, cut open")
def cylinder_cut_open() -> Drawn:
    """Piston and rings, gasket, both valves with guides and springs, the runner, the exhaust and the plug."""
    figure = new_figure(4.6)
    axes = figure.subplots()
    bare(axes, "", (0, 11), (0.3, 8.2))
    axes.add_patch(Rectangle((3.6, 4.95), 3.8, 1.4, fc=LIGHT["metal"], ec=LIGHT["outline"]))
    _pipe(
        axes,
        [(0.9, 5.95), (3.7, 5.95), (4.65, 5.3), (4.2, 5.0), (3.4, 5.45), (0.9, 5.45)],
        "vacuum",
        ((1.2, 5.7), (3.2, 5.7)),
    )
    _pipe(
        axes,
        [(10.1, 5.95), (7.3, 5.95), (6.35, 5.3), (6.8, 5.0), (7.6, 5.45), (10.1, 5.45)],
        "speed",
        ((7.8, 5.7), (9.8, 5.7)),
    )
    for x in (3.6, 7.0):
        axes.add_patch(Rectangle((x, 1.4), 0.4, 3.4, fc=LIGHT["metal"], ec=LIGHT["outline"]))
        axes.add_patch(Rectangle((x, 4.8), 0.4, 0.14, fc=LIGHT["speed"], ec=LIGHT["outline"]))
    axes.add_patch(Rectangle((4.05, 2.5), 2.9, 1.3, fc=LIGHT["metal-light"], ec=LIGHT["outline"]))
    for y in (3.55, 3.3, 3.05):
        axes.plot([4.0, 7.0], [y, y], color=LIGHT["outline"], linewidth=2.4)
    axes.plot([5.5, 5.5], [2.75, 0.6], color=LIGHT["metal-dark"], linewidth=8, zorder=1)
    axes.add_patch(Circle((5.5, 2.75), 0.18, fc=LIGHT["brass"], ec=LIGHT["outline"], zorder=3))
    for x in VALVES.values():
        _valve(axes, x)
    axes.add_patch(Rectangle((5.33, 5.0), 0.34, 1.9, fc=LIGHT["paper"], ec=LIGHT["outline"], zorder=3))
    axes.plot([5.5, 5.5], [5.0, 4.75], color=LIGHT["outline"], linewidth=2.5)
    named(axes, "runner, from the manifold", (1.7, 6.4), (1.9, 5.95))
    named(axes, "intake valve", (1.9, 4.4), (4.4, 4.9))
    named(axes, "gasket", (2.2, 3.7), (3.6, 4.87))
    named(axes, "rings", (2.3, 3.0), (4.0, 3.3))
    named(axes, "piston", (8.4, 2.5), (6.9, 2.8))
    named(axes, "exhaust valve", (9.0, 4.4), (6.65, 4.9))
    named(axes, "exhaust: what blocks it\npresses back", (9.2, 6.6), (9.0, 5.95))
    named(axes, "valve spring", (8.6, 7.6), (6.6, 7.2))
    named(axes, "valve guide", (2.6, 7.2), (4.55, 6.4))
    named(axes, "plug", (5.5, 7.9), (5.5, 6.9))
    return Drawn(
        figure,
        "A cylinder, cut open from the side. The piston moves up and down in it; 3 rings seal the piston. Between the "
        "cylinder and the head above it lies the gasket. In the head are two valves and, between them, the plug.\n\n"
        "1, the intake valve lets the charge in from the runner, one branch of the manifold. 2, the exhaust valve lets "
        "the burned gas out into the exhaust; a blocked exhaust presses back. Each valve slides in a guide, and a "
        "spring closes it. The cam that opens them is driven from the crank by the timing chain: where the chain has "
        "jumped, the valves are timed late.",
    )
