"""Read a number as people write it: point or comma, spaces between thousands, a real minus sign."""

from __future__ import annotations

import math
import re

from engine_sim import TimingCourseError

_SPACES = re.compile(r"[\s\u00a0\u2009\u202f']+")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")


class NumberTextError(TimingCourseError):
    """A text is not a number, or can be read as two different ones."""


def number_in(text: str) -> float:
    """The number that `text` holds. Raises NumberTextError whose sentence says how to write it."""
    bare = _SPACES.sub("", text).replace("\u2212", "-").replace("\u2013", "-")
    if not bare:
        raise NumberTextError("A number is wanted and the field is empty: write one, such as 12.5 or 12,5.")
    if _GROUPED.fullmatch(bare):
        whole, decimal = bare.replace(",", ""), bare.replace(",", ".")
        raise NumberTextError(f"'{text.strip()}' can be read in two ways: write {whole} or {decimal}.")
    plain = _with_point(bare)
    if not _NUMBER.fullmatch(plain) or not math.isfinite(float(plain)):
        raise NumberTextError(
            f"A number is wanted and '{text.strip()[:40]}' was found: write digits only, "
            "such as 12.5 or 12,5; the unit stands beside the field."
        )
    return float(plain)


def _with_point(bare: str) -> str:
    """Turn the writer's decimal sign into a point; of two kinds of sign the last one is the decimal sign."""
    if "," in bare and "." in bare:
        decimal = max(",.", key=bare.rfind)
        thousands = "," if decimal == "." else "."
        head, tail = bare.rsplit(decimal, 1)
        well_grouped = re.fullmatch(rf"[+-]?\d{{1,3}}(\{thousands}\d{{3}})+", head)
        return head.replace(thousands, "") + "." + tail if well_grouped else bare
    return bare.replace(",", ".")


def named_number(text: str, name: str) -> float:
    """The number that a text means; `name` is the place that a NumberTextError begins with."""
    try:
        return number_in(text)
    except NumberTextError as error:
        raise NumberTextError(f"{name}: {error}") from None
