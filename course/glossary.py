"""The glossary: terms of course/glossary.toml, each with the lessons that use it, as course/glossary.md.

`python -m course.build glossary` writes the file anew.
"""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

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
    """One term; `also` are other forms under which lessons use it."""

    term: str
    meaning: str
    also: tuple[str, ...] = ()
    symbol: str = ""
    unit: str = ""

    def used_in(self, text: str) -> bool:
        """Whether a text uses the term in one of its forms, whatever the capitals."""
        forms = "|".join(map(re.escape, sorted((self.term, *self.also), key=len, reverse=True)))
        return bool(re.search(rf"\b(?:{forms})\b", text, re.IGNORECASE))


def terms(table: Path = TABLE) -> list[Term]:
    """All terms, in the order of the alphabet. Raises GlossaryError where one is incomplete or stands twice."""
    items = tomllib.loads(table.read_text(encoding="utf-8"))["terms"]
    try:
        found = [Term(**{**item, "also": tuple(item.get("also", ()))}) for item in items]
    except TypeError as error:
        raise GlossaryError(f"{table.name}: a term needs term and meaning, and may have also, symbol and unit "
                            f"({error}): mend that entry.") from None
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
