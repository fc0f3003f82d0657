"""Figures from the table of sources in lessons and handouts: {{value:KEY}} and {{source:KEY}}; and what a test takes at
the bench: {{minutes:INSPECTION}}."""

from __future__ import annotations

import re

from engine_sim import citation_text, inspection_named, value_text


def minutes_text(inspection: str) -> str:
    """The minutes that an inspection of the bench takes. Raises UnknownInspection.

    >>> minutes_text("snap_and_hold")
    '5 minutes'
    """
    return f"{inspection_named(inspection).minutes} minutes"


TOKEN = re.compile(r"\{\{\s*(value|source|minutes)\s*:\s*([^{}\s]+)\s*\}\}")


def with_values(text: str) -> str:
    """Return `text` with every token replaced from its table. Raises the table's own error."""
    texts = {"value": value_text, "source": citation_text, "minutes": minutes_text}
    return TOKEN.sub(lambda token: texts[token[1]](token[2]), text)
