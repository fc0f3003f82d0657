"""Put a learner's own numbers into the texts of an exercise, and work out its formulas."""

from __future__ import annotations

import re
from collections.abc import Mapping

from graders.schema import RubricError, ValueOrFormula

from .formulas import value_of

Drawn = float | str
_IN_TEXT = re.compile(r"\{([^{}]*)\}")


def filled_text(text: str, numbers: Mapping[str, Drawn], where: str) -> str:
    """A text with its names in braces filled in. Raises RubricError that begins with `where`, the place of the text in
    the rubric, for a name that there is not."""
    if not numbers:
        return text

    def number(found: re.Match) -> str:
        if found[1] not in numbers:
            raise RubricError(f"{where}: the text names {{{found[1]}}}; there are {', '.join(sorted(numbers))}")
        value = numbers[found[1]]
        return value if isinstance(value, str) else f"{value:.6g}".replace("-", "\u2212")

    return _IN_TEXT.sub(number, text)


def filled_sentences(sentences: Mapping[str, str], numbers: Mapping[str, Drawn], where: str) -> dict[str, str]:
    """The sentences of an exercise or of one of its parts, by finding, filled in."""
    return {name: filled_text(text, numbers, where) for name, text in sentences.items()}


def worked_out_value(wanted: ValueOrFormula, numbers: Mapping[str, Drawn], where: str) -> float | None:
    """The `value` of something that may have a `formula` in its place. Raises RubricError that begins with `where`."""
    if not wanted.formula:
        return wanted.value
    try:
        return value_of(wanted.formula, told_apart(numbers)[1])
    except RubricError as error:
        raise RubricError(f"{where}: {error}") from None


def told_apart(drawn: Mapping[str, Drawn]) -> tuple[dict[str, str], dict[str, float]]:
    """The words and the numbers among what was drawn: no formula can hold a word."""
    words = {name: value for name, value in drawn.items() if isinstance(value, str)}
    return words, {name: value for name, value in drawn.items() if not isinstance(value, str)}


def in_words(drawn: Mapping[str, Drawn]) -> str:
    """What was drawn, for the end of a sentence that says what is wrong with it; nothing where nothing was drawn."""
    told = (f"{name} = {value if isinstance(value, str) else f'{value:g}'}" for name, value in drawn.items())
    return f" (where {', '.join(told)})" if drawn else ""
