"""What the pictures share: the size of a sheet, and numbers in both unit systems."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from engine_sim.physics.units import KPA_PER_INHG, KPA_PER_PSI

WIDTH_IN = 8.2
HEIGHT_IN = 4.2


def new_figure(height_in: float = HEIGHT_IN) -> Figure:
    """An empty sheet that fills the width of a lesson's text."""
    return Figure(figsize=(WIDTH_IN, height_in), layout="constrained")


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
