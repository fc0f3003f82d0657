"""The course's colours, read from their one home, palette.toml: as a table, as CSS variables, as a chart style."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

_HOME = tomllib.loads((Path(__file__).parent / "palette.toml").read_text(encoding="utf-8"))
LIGHT: Mapping[str, str] = MappingProxyType(_HOME["light"])  # role -> "#rrggbb"
DARK: Mapping[str, str] = MappingProxyType(_HOME["dark"])
THEMES: Mapping[str, Mapping[str, str]] = MappingProxyType({"light": LIGHT, "dark": DARK})
DASHES = ("-", "--", ":", "-.")  # lines are told apart by dashes as well as by colour


def css_variables(theme: Mapping[str, str]) -> str:
    """A theme as declarations `--eb-<role>: #rrggbb;`, one a line, to be set between the braces of a rule."""
    return "\n".join(f"  --eb-{role}: {colour};" for role, colour in theme.items())


def chart_style(theme: Mapping[str, str] = LIGHT) -> dict[Any, Any]:
    """The same look for matplotlib, as rcParams: `with matplotlib.rc_context(chart_style()): ...`."""
    ink, quiet, paper = theme["ink"], theme["quiet"], theme["paper"]
    return {
        "figure.facecolor": paper,
        "axes.facecolor": paper,
        "savefig.facecolor": paper,
        "text.color": ink,
        "axes.titlecolor": ink,
        "axes.labelcolor": ink,
        "axes.edgecolor": theme["edge"],
        "xtick.color": quiet,
        "ytick.color": quiet,
        "grid.color": theme["line"],
        "grid.linewidth": 0.6,
        "axes.grid": True,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.titleweight": "bold",
        "axes.titlesize": 11,
        "legend.frameon": False,
        "axes.prop_cycle": f"cycler('color', {[theme['vacuum'], theme['speed'], ink]})",
        "svg.fonttype": "none",
    }
