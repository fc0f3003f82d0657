"""Figures from the table of sources in lessons and handouts: {{value:KEY}} and {{source:KEY}}."""

from __future__ import annotations

import re

from engine_sim import citation_text, value_text

TOKEN = re.compile(r"\{\{\s*(value|source)\s*:\s*([^{}\s]+)\s*\}\}")


def with_values(text: str) -> str:
    """Return `text` with every token replaced from the table of sources. Raises the table's own error."""
    return TOKEN.sub(lambda token: {"value": value_text, "source": citation_text}[token[1]](token[2]), text)
