"""The style sheet of all plain pages."""

from __future__ import annotations

import functools
from pathlib import Path

from graders.palette import DARK, LIGHT, css_variables

HERE = Path(__file__).resolve().parent


@functools.cache
def page_style() -> str:
    """The style sheet, with the palette's colours filled in, dark ones where the system is dark."""
    sheet = "".join((HERE / name).read_text(encoding="utf-8") for name in ("plain_page.css", "vignettes/vignettes.css"))
    dark = f"@media (prefers-color-scheme: dark) {{\n:root {{\n{css_variables(DARK)}\n}}\n}}"
    return f":root {{\n{css_variables(LIGHT)}\n}}\n{dark}\n{sheet}"


@functools.cache
def owner_style() -> str:
    """What the pages of an owner's engine have besides."""
    return (HERE / "owner.css").read_text(encoding="utf-8")
