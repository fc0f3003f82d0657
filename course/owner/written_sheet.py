"""The sheet of the last lesson's card, written into the lesson's folder."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from graders.exercises.kinds.own_engine import Answer

from .filled_sheet import sheet_of
from .from_card import described
from .sheet_page import sheet_page

SHEET_NAME = "your_engine.html"


def write_sheet(folder: Path, card: Answer) -> Path:
    """Write the sheet into a folder, whole or not at all, and return its path. Raises OSError."""
    path, text = Path(folder) / SHEET_NAME, sheet_page(sheet_of(described(card).engine))
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=folder, suffix=".part", delete=False) as part:
        part.write(text)
    os.replace(part.name, path)
    return path
