"""What helps the person who marks, from where it is written already: lesson, instructor's guide and rubric.

The source of a lesson has cells for the instructor alone (tagged `instructor`), and the texts that learners were given;
the guide has sections on marking, and the rubric the samples. Nothing of it is kept a second time.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

INSTRUCTORS = "instructor"
_HEADING = re.compile(r"^(#{1,6})\s+(.*?)\s*$")


@dataclass(frozen=True)
class MarkerNotes:
    """Beside an answer, all Markdown: `given` is the text that the learner was given, `about` has what the instructor's
    tables say of it, heading and text, and `guide` are the guide's sections on marking this exercise. `samples` are the
    rubric's, as `WrittenExercise.shown_samples` gives them."""

    given: str = ""
    about: tuple[tuple[str, str], ...] = ()
    guide: str = ""
    samples: tuple[Mapping[str, str], ...] = ()


def marker_notes(
    source: Path, guide: str, exercise: str, drawn: Sequence[str], samples: Iterable[Mapping[str, str]] = ()
) -> MarkerNotes:
    """The notes for one exercise of the lesson whose source is in this folder; `drawn` are the words that were drawn
    for the learner. Without a source that can be read there are guide and samples alone."""
    cells = list(_markdown_cells(source))
    own = [text for text, tags in cells if INSTRUCTORS in tags]
    given = [part for text, tags in cells if INSTRUCTORS not in tags for part in _sections_named(text, drawn)]
    about = [row for text in own for row in _rows_about(text, drawn)]
    how = [*_how_to_mark(own), *_guide_sections(guide, exercise)]
    return MarkerNotes("\n\n".join(given), tuple(about), "\n\n".join(how), tuple(samples))


def _markdown_cells(source: Path) -> Iterator[tuple[str, list[str]]]:
    for path in sorted(source.glob("*.ipynb")):
        try:
            cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
            for cell in cells:
                if cell["cell_type"] == "markdown":
                    yield "".join(cell["source"]), cell["metadata"].get("tags", [])
        except (OSError, ValueError, KeyError, TypeError):  # an instructor may be writing in it
            continue


def sections(text: str) -> list[tuple[str, str]]:
    """A text's sections, each its heading's words and everything up to the next heading of its level or above."""
    lines = text.splitlines()
    found = [(number, match) for number, line in enumerate(lines) if (match := _HEADING.match(line))]
    parts = []
    for number, match in found:
        ends = (later for later, other in found if later > number and len(other[1]) <= len(match[1]))
        parts.append((match[2], "\n".join(lines[number + 1 : next(ends, len(lines))]).strip()))
    return parts


def _sections_named(text: str, drawn: Sequence[str]) -> list[str]:
    wanted = {one.casefold() for one in drawn}
    return [f"**{heading}**\n\n{body}" for heading, body in sections(text) if heading.casefold() in wanted]


def _rows_about(text: str, drawn: Sequence[str]) -> list[tuple[str, str]]:
    """The row of each table whose first cell is a word of what was drawn, as heading and text of its other cells."""
    words = {word for one in drawn for word in re.findall(r"\w+", one)}
    rows = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in text.splitlines() if "|" in line]
    headings: list[str] = []
    found: list[tuple[str, str]] = []
    for row, after in zip(rows, [*rows[1:], []], strict=False):
        if after and set("".join(after)) <= set("-: "):
            headings = row
        elif row[0] in words:
            found += zip(headings[1:], row[1:], strict=False)
    return found


def _how_to_mark(own: Iterable[str]) -> Iterator[str]:
    for text in own:
        for heading, body in sections(text):
            if heading.startswith("How to mark"):
                yield _without_tables(heading, body)


def _guide_sections(guide: str, exercise: str) -> Iterator[str]:
    for heading, body in sections(guide):
        if heading.startswith("Marking") and exercise in f"{heading}\n{body}":
            yield _without_tables(heading, body)


def _without_tables(heading: str, body: str) -> str:
    """A section without its tables: the levels and what was drawn are beside the answer."""
    kept = "\n".join(line for line in body.splitlines() if not line.startswith("|"))
    return f"**{heading}**\n\n{kept}"
