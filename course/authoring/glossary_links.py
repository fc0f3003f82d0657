"""The terms of the course, from glossary.toml: where a lesson uses them, and the links from a term's first use to its
meaning. The page of all terms is made in glossary_page.py; the links, with the learner's edition, in build.py."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from course import AUTHORING, SOURCE
from engine_sim import TimingCourseError

TABLE = AUTHORING / "glossary.toml"
INSTRUCTOR_TAG = "instructor"  # of cells that no learner is given


class GlossaryError(TimingCourseError):
    """The table of terms cannot be used."""


@dataclass(frozen=True)
class Term:
    """One term; `also` are other forms under which lessons use it, `not_in` phrases in which a form is another word:
    points that are earned are not the points of a distributor."""

    term: str
    meaning: str
    also: tuple[str, ...] = ()
    not_in: tuple[str, ...] = ()
    symbol: str = ""
    unit: str = ""

    @property
    def forms(self) -> tuple[str, ...]:
        """Every form of the term."""
        return (self.term, *self.also)

    @property
    def anchor(self) -> str:
        """What a link to the term ends in, behind the #."""
        return f"word-{re.sub(r'[^a-z]+', '-', self.term.lower())}"

    def used_in(self, text: str) -> bool:
        """Whether a text uses the term in one of its forms, in capitals or not."""
        if self.not_in:
            text = re.sub(_any_of(self.not_in), " ", text, flags=re.IGNORECASE)
        return bool(re.search(_any_of(self.forms), text, re.IGNORECASE))


def _any_of(phrases: Iterable[str]) -> str:
    """A pattern of whole words; the longest phrase is tried first, and a line may end between two words."""
    longest_first = sorted(phrases, key=len, reverse=True)
    either = "|".join(r"\s+".join(map(re.escape, one.split())) for one in longest_first)
    return rf"\b(?:{either})\b"


def terms(table: Path = TABLE) -> list[Term]:
    """All terms, in the order of the alphabet. Raises GlossaryError where one is incomplete or stands twice."""
    items = tomllib.loads(table.read_text(encoding="utf-8"))["terms"]
    try:
        found = [_term(item) for item in items]
    except TypeError as error:
        raise GlossaryError(
            f"{table.name}: a term needs term and meaning, and may have also, not_in, symbol "
            f"and unit ({error}): correct that entry."
        ) from None
    names = [one.term.lower() for one in found]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise GlossaryError(f"{table.name} has '{twice[0]}' twice: keep one.")
    return sorted(found, key=lambda one: one.term.lower())


def _term(item: dict[str, Any]) -> Term:
    fields: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in item.items()}
    return Term(**fields)


def text_of(lesson: str, source: Path = SOURCE) -> str:
    """What a learner reads in a lesson, without what is for the instructor alone."""
    cells = json.loads((source / lesson / f"{lesson}.ipynb").read_text(encoding="utf-8"))["cells"]
    return "\n\n".join(
        "".join(cell["source"])
        for cell in cells
        if cell["cell_type"] == "markdown" and INSTRUCTOR_TAG not in cell["metadata"].get("tags", [])
    )


# ---- links from a lesson's words to their meaning --------------------------------------------------------------------

# Headings, the paragraph that plain pages leave out, sources, code, tokens, and links that are there already.
_LEFT_ALONE = "|".join(
    (
        r"^\#\#\ Where\ the\ figures\ come\ from[\s\S]*",
        r"^\#.*$",
        r"^\*\*First\ of\ all:.*$",
        r"`[^`]*`",
        r"\{\{[^{}]*\}\}",
        r"!?\[[^\]]*\]\([^)]*\)",
        r"<[^<>]*>",
        r"\w*_\w*",
    )
)


def with_links(text: str, seen: set[str], known: list[Term] | None = None) -> str:
    """Return Markdown in which the first use of each term that is not in `seen` is a link; `seen` gets their names."""
    known = terms() if known is None else known
    by_form = {form.lower(): term for term in known for form in term.forms}
    others = [phrase for term in known for phrase in term.not_in]
    alone = "|".join([_LEFT_ALONE, *([_any_of(others)] if others else [])])
    pattern = re.compile(rf"(?P<alone>{alone})|(?P<word>{_any_of(by_form)})", re.IGNORECASE | re.MULTILINE)

    def linked(found: re.Match) -> str:
        word = found["word"]
        term = by_form[" ".join(word.lower().split())] if word else None
        if term is None or term.term in seen:
            return found[0]
        seen.add(term.term)
        return f"[{word}](#{term.anchor})"

    return pattern.sub(linked, text)
