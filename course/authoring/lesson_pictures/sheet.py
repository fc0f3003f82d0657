"""What the pictures share: the size of a sheet, on a page and on a phone, and numbers in both unit systems.

Each picture is drawn twice. For a phone (`for_a_phone`) the sheet is narrow, panels stand one below the other, parts of
a drawing have letters with a key below, and `fit_a_phone` breaks what is too long: nothing has to be moved sideways.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from string import ascii_lowercase
from typing import Any
from weakref import WeakKeyDictionary

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from engine_sim.physics.units import KPA_PER_INHG, KPA_PER_PSI

WIDTH_IN = 8.2
HEIGHT_IN = 4.2


NARROW_IN = 4.0
NARROW_HEIGHT = 0.85  # of a sheet on a phone, over that on a page
LETTERS_PT = 10.0  # the smallest on a phone, where a point is a pixel or a little more
LINE_IN = 0.19  # height of a line of a key or a legend
LONGEST_LABEL = 34  # characters that fit beside an axis
LONGEST_LINE = 42  # and across a phone

_narrow = ContextVar("narrow", default=False)
_keys: WeakKeyDictionary[Any, list[str]] = WeakKeyDictionary()


@contextmanager
def for_a_phone() -> Iterator[None]:
    """Sheets that are made meanwhile are as narrow as a phone."""
    token = _narrow.set(True)
    try:
        yield
    finally:
        _narrow.reset(token)


def is_narrow() -> bool:
    """Whether the sheet is for a phone."""
    return _narrow.get()


def new_figure(height_in: float = HEIGHT_IN) -> Figure:
    """An empty sheet that fills the width of a lesson's text."""
    size = (NARROW_IN, NARROW_HEIGHT * height_in) if is_narrow() else (WIDTH_IN, height_in)
    return Figure(figsize=size, layout="constrained")


def panels(height_in: float, rows: int, columns: int, sharey: bool = False) -> tuple[Figure, list[Axes]]:
    """A sheet with several axes, row by row; on a phone one below the other."""
    figure = new_figure(height_in * (columns if is_narrow() else 1))
    if is_narrow():
        rows, columns = rows * columns, 1
    return figure, list(figure.subplots(rows, columns, squeeze=False, sharey=sharey).flat)


def lettered(axes: Axes, name: str) -> str:
    """The letter under which the key below a drawing has this name; figures belong to cylinders and scales."""
    key = _keys.setdefault(axes.figure, [])
    key.append(" ".join(name.split()))
    return ascii_lowercase[len(key) - 1]


def fit_a_phone(figure: Figure) -> None:
    """Break labels and titles, put legend and key below the sheet, and make no letter smaller than can be read."""
    below: list[str] = []
    for axes in figure.axes:
        axes.set_title(textwrap.fill(axes.get_title(), LONGEST_LINE - 6))
        axes.set_xlabel(textwrap.fill(axes.get_xlabel(), LONGEST_LABEL))
        axes.set_ylabel(textwrap.fill(axes.get_ylabel(), LONGEST_LABEL))
        legend = axes.get_legend()
        if legend is not None:
            handles, labels = axes.get_legend_handles_labels()
            broken = [textwrap.fill(label, LONGEST_LINE) for label in labels]
            legend.remove()
            figure.legend(handles, broken, loc="outside lower left", alignment="left")
            below += [line for label in broken for line in label.splitlines()]
    key = [
        textwrap.fill(f"{letter}  {name}", LONGEST_LINE, subsequent_indent="    ")
        for letter, name in zip(ascii_lowercase, _keys.get(figure, ()), strict=False)
    ]
    if key:
        figure.supxlabel("\n".join(key), x=0.02, ha="left", fontsize=LETTERS_PT)
        below += [line for name in key for line in name.splitlines()]
    width_in, height_in = figure.get_size_inches()
    if key:  # a drawing is as high as it is wide, and no higher
        (low, high), (left, right) = figure.axes[0].get_ylim(), figure.axes[0].get_xlim()
        height_in = width_in * (high - low) / (right - left)
    figure.set_size_inches(width_in, height_in + LINE_IN * len(below))
    for letters in figure.findobj(Text):
        letters.set_fontsize(max(letters.get_fontsize(), LETTERS_PT))


def new_sheet(height_in: float = HEIGHT_IN) -> tuple[Figure, Axes]:
    """A sheet with one pair of axes."""
    figure = new_figure(height_in)
    return figure, figure.subplots()


def with_unit_kpa(kilopascal: float) -> str:
    """A pressure in the cylinder in both unit systems."""
    return f"{kilopascal:,.0f} kPa ({kilopascal / KPA_PER_PSI:,.0f} psi)"


def vacuum_in_words(inhg: float) -> str:
    """A vacuum in both unit systems."""
    return f"{inhg:.1f} inHg ({inhg * KPA_PER_INHG:.0f} kPa)"


def add_kpa_axis(axes: Axes) -> None:
    """The same vacuum in kPa, on the right of a sheet that shows it in inches of mercury."""
    axes.secondary_yaxis("right", functions=(_kpa_from_inhg, _inhg_from_kpa)).set_ylabel("kPa")


def _kpa_from_inhg(vacuum_inhg: Any) -> Any:
    return vacuum_inhg * KPA_PER_INHG


def _inhg_from_kpa(vacuum_kpa: Any) -> Any:
    return vacuum_kpa / KPA_PER_INHG
