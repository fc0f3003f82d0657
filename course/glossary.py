"""The glossary: terms of course/glossary.toml, each with the lessons that use it, as course/glossary.md, and the links
by which a lesson leads from a word's first use to its meaning.

`python -m course.build glossary` writes the file anew. The links are made with the learner's edition, and
`course.widgets.words` shows what they lead to.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from nbconvert.preprocessors import Preprocessor
from traitlets import Bool

from course import HERE, SOURCE
from course.build import INSTRUCTOR_TAG, lessons
from engine_sim import TimingCourseError

TABLE, PAGE = HERE / "glossary.toml", HERE / "glossary.md"
OPENING = """# Glossary

Every term of the course, what it means, its symbol and unit where it has them, and the lessons that use it. The field
and the trade use these words; where a lesson says a thing in plainer words, they stand here too.

"""


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
        """Whether a text uses the term in one of its forms, whatever the capitals."""
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
        found = [Term(**{name: tuple(value) if isinstance(value, list) else value for name, value in item.items()})
                 for item in items]
    except TypeError as error:
        raise GlossaryError(f"{table.name}: a term needs term and meaning, and may have also, not_in, symbol "
                            f"and unit ({error}): mend that entry.") from None
    names = [one.term.lower() for one in found]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise GlossaryError(f"{table.name} has '{twice[0]}' twice: keep one.")
    return sorted(found, key=lambda one: one.term.lower())


def text_of(lesson: str, source: Path = SOURCE) -> str:
    """What a learner reads in a lesson, without what is for the instructor alone."""
    cells = json.loads((source / lesson / f"{lesson}.ipynb").read_text(encoding="utf-8"))["cells"]
    return "\n\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"
                       and INSTRUCTOR_TAG not in cell["metadata"].get("tags", []))


def glossary_text(source: Path = SOURCE) -> str:
    """The page in Markdown."""
    texts = {lesson.partition("_")[0]: text_of(lesson, source) for lesson in lessons(source)}
    rows = [_row(term, [name for name, text in texts.items() if term.used_in(text)]) for term in terms()]
    head = "| term | meaning | symbol | unit | used in |\n|---|---|---|---|---|\n"
    return OPENING + head + "\n".join(rows) + "\n"


def _row(term: Term, used: list[str]) -> str:
    return f"| **{term.term}** | {term.meaning} | {term.symbol} | {term.unit} | {', '.join(used)} |"


def write() -> Path:
    """Write the page anew; return it."""
    PAGE.write_text(glossary_text(), encoding="utf-8", newline="\n")
    return PAGE


# ---- links from a lesson's words to their meaning --------------------------------------------------------------------

# Headings, the paragraph that plain pages leave out, sources, code, tokens, and links that are there already.
_LEFT_ALONE = "|".join((
    r"^\#\#\ Where\ the\ figures\ come\ from[\s\S]*", r"^\#.*$", r"^\*\*First\ of\ all:.*$",
    r"`[^`]*`", r"\{\{[^{}]*\}\}", r"!?\[[^\]]*\]\([^)]*\)", r"<[^<>]*>", r"\w*_\w*"))


class WordsLinked(Preprocessor):
    """Makes the first use of every term in a lesson a link to its meaning. Only in Markdown that nobody answers in."""

    enabled = Bool(True).tag(config=True)

    def preprocess(self, nb, resources):
        seen: set[str] = set()
        for cell in nb.cells:
            if cell.cell_type == "markdown" and "nbgrader" not in cell.metadata:
                cell.source = with_links(cell.source, seen)
        return nb, resources


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
