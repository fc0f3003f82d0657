"""The sheet for the car as one page of HTML that needs nothing from outside."""

from __future__ import annotations

from pathlib import Path

import jinja2

from .cautions import CAUTIONS, FIRST, NOT_STARTING, STOP, STOP_FOR
from .sheet import NEVER_A_SETTING, Sheet

TEMPLATES = Path(__file__).with_name("templates")


def sheet_page(sheet: Sheet) -> str:
    """The whole page."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES), autoescape=True, trim_blocks=True, undefined=jinja2.StrictUndefined
    )
    return environment.get_template("sheet.html.j2").render(
        sheet=sheet,
        stop=STOP,
        stop_for=STOP_FOR,
        cautions=CAUTIONS,
        first=FIRST,
        not_starting=NOT_STARTING,
        never=NEVER_A_SETTING,
    )
