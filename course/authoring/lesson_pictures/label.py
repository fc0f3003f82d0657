"""The label of an invented engine, for learners without one: the card that the course holds as its example."""

from __future__ import annotations

from graders.exercises.kinds.own_engine import ENGINE, ENTRIES, EXAMPLE, LABEL, SPARK
from graders.palette import LIGHT

from .registry import Drawn, lesson_picture
from .sheet import is_narrow, new_sheet

ON_THE_LABEL = (LABEL, SPARK, ENGINE)
LINE_IN = 0.26  # height of a line on the sheet
LEFT = 0.06  # of the width: where names begin
MIDDLE = 0.52  # where figures begin


def lines() -> list[tuple[str, str]]:
    """What the label says, line by line: the name of the entry and its figure with its unit."""
    return [
        (entry.label, given if isinstance(given, str) else f"{given[0]:g} {given[1]}")
        for group in ON_THE_LABEL
        for name, entry in ENTRIES.items()
        if entry.group == group and (given := EXAMPLE[name]) is not None
    ]


@lesson_picture("A label to practise with")
def a_label_to_practise_with() -> Drawn:
    """A plate with a line for each figure that somebody could read off label and maker's sheet."""
    told = lines()
    figure, axis = new_sheet((len(told) + 3) * LINE_IN * (1.8 if is_narrow() else 1.0))
    axis.set(xlim=(0, 1), ylim=(len(told) + 2.5, 0))
    axis.axis("off")
    axis.axhspan(0.1, len(told) + 2.4, 0.02, 0.98, facecolor=LIGHT["paper"], edgecolor=LIGHT["ink"], linewidth=2)
    axis.text(LEFT, 1.0, "THE HOIST IN THE YARD (invented)", weight="bold", va="center", color=LIGHT["ink"])
    for place, (name, figure_text) in enumerate(told, start=2):
        axis.text(LEFT, place, name, va="center", color=LIGHT["quiet"])
        # On a phone a figure stands below its name.
        x, y = (2 * LEFT, place + 0.42) if is_narrow() else (MIDDLE, place)
        axis.text(x, y, figure_text, va="center", color=LIGHT["ink"])
    return Drawn(
        figure, "The label of an invented engine.\n\n" + "\n\n".join(f"{name}: {text}." for name, text in told)
    )
