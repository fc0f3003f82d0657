"""The glossary: the words of the course, each with the lessons that use it, as course/authoring/glossary.md.

`python -m course.authoring.build glossary` writes the file.
"""

from __future__ import annotations

from pathlib import Path

from course import AUTHORING, SOURCE

from .edition import lessons
from .glossary_links import Term, terms, text_of

PAGE = AUTHORING / "glossary.md"
OPENING = """# Glossary

Every term of the course, what it means, its symbol and unit where it has them, and the lessons that use it. The field
and the trade use these words; where a lesson says a thing in plainer words, they stand here too.

"""


def glossary_text(source: Path = SOURCE) -> str:
    """The page in Markdown."""
    texts = {str(place): text_of(lesson, source) for place, lesson in enumerate(lessons(source), start=1)}
    rows = [_row(term, [name for name, text in texts.items() if term.used_in(text)]) for term in terms()]
    head = "| term | meaning | symbol | unit | in lessons |\n|---|---|---|---|---|\n"
    return OPENING + head + "\n".join(rows) + "\n"


def _row(term: Term, used: list[str]) -> str:
    return f"| **{term.term}** | {term.meaning} | {term.symbol} | {term.unit} | {', '.join(used)} |"


def write() -> Path:
    """Write the page; return it."""
    PAGE.write_text(glossary_text(), encoding="utf-8", newline="\n")
    return PAGE
