"""Verdicts as text a browser can show safely: what the judge says of an exercise, and what a learner wrote.

Everything here ends in the small set of HTML elements that nbgrader's own pages let through when they sanitise, and
carries the two class names by which MathJax knows to leave a passage alone.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from html import escape

import nh3

from .outcome import CriterionOutcome, ExerciseResult, Outcome

TAGS = {"div", "span", "strong", "em", "ul", "li", "code", "br"}
UNTOUCHED_BY_MATHJAX = "tex2jax_ignore mathjax_ignore"
LONGEST_NOTE = 20_000
_KEPT_MARKS = frozenset(" .,;:!?()-")
DIRECTION_OVERRIDES = frozenset(chr(code) for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A)))


def exercise_html(result: ExerciseResult, points: float, max_points: float) -> str:
    """Return what the judge says of one exercise, as sanitised HTML; points are counted as the cell counts them."""
    lines = [
        f'<div class="verdict {UNTOUCHED_BY_MATHJAX}">',
        f'<div class="heading"><strong>{escape(_heading(result, points, max_points))}</strong></div>',
    ]
    if result.needs_person:
        lines.append(f"<div><em>A person looks at this: {escape(result.needs_person)}</em></div>")
    for heading, criteria in _tries(result):
        lines.append(f"<div><strong>{escape(heading)}</strong></div>" if heading else "")
        lines += ["<ul>", *map(_criterion_html, criteria), "</ul>"]
    return sanitised("".join([*lines, "</div>"]))


def marking_html(result: ExerciseResult) -> str:
    """What a person marks an answer for, as one line of sanitised HTML; nothing where the rubric does not say."""
    if len(result.criteria) < 2:
        return ""
    items = "".join(
        f"<li><strong>{escape(one.title)}</strong> ({one.max_points:g}) · {escape(one.sentence)}</li>"
        for one in result.criteria
    )
    return sanitised(f'<div class="marked-for {UNTOUCHED_BY_MATHJAX}"><em>Marked for:</em><ul>{items}</ul></div>')


def problem_html(sentence: str, max_points: float) -> str:
    """Return the sentence where nothing could be judged, as sanitised HTML."""
    return sanitised(
        f'<div class="verdict {UNTOUCHED_BY_MATHJAX}"><div class="heading"><strong>0 of {max_points:g} '
        f"points</strong></div><div>{escape(sentence)}</div></div>"
    )


def exercise_text(result: ExerciseResult, points: float, max_points: float) -> str:
    """Return what the judge says of one exercise, as plain lines."""
    lines = [_heading(result, points, max_points)]
    for heading, criteria in _tries(result):
        lines += [heading] if heading else []
        lines += [f"- {one.outcome.value}: {one.title} {one.sentence}".rstrip() for one in criteria]
    return "\n".join(lines)


def sanitised(html: str) -> str:
    """Return `html` with nothing left in it but the few elements and class names that our pages use."""
    return nh3.clean(html, tags=TAGS, attributes={"*": {"class"}}, url_schemes=set())


def inert_text(text: str, kind: str = "written-answer") -> str:
    """Return a learner's text as one line of HTML that shows it letter by letter, wherever it is rendered.

    Every character that HTML, Markdown or MathJax might read as a command is written as a numbered entity; control
    characters, halves of characters and direction overrides are left out. Text beyond LONGEST_NOTE is cut, and said.
    """
    shown = text[:LONGEST_NOTE].strip()
    body = "".join(map(_inert_character, shown.replace("\r\n", "\n").replace("\r", "\n")))
    cut = f"<br><em>(cut after {LONGEST_NOTE} characters)</em>" if len(text) > LONGEST_NOTE else ""
    return f'<div class="{kind} {UNTOUCHED_BY_MATHJAX}">{body}{cut}</div>'


def notes_html(sentences: Sequence[str]) -> str:
    """Return sentences about a hand-in as one line of HTML."""
    items = "".join(f"<li>{escape(sentence)}</li>" for sentence in sentences)
    return sanitised(f'<div class="hand-in-notes {UNTOUCHED_BY_MATHJAX}"><ul>{items}</ul></div>').replace("\n", " ")


def _heading(result: ExerciseResult, points: float, max_points: float) -> str:
    # A dash: nobody scored a nought where nothing was judged.
    nothing_judged = bool(result.criteria) and all(map(_not_judged, result.criteria))
    earned = "–" if nothing_judged and not points else f"{points:g}"
    return f"{result.title}: {earned} of {max_points:g} points"


def _tries(result: ExerciseResult) -> list[tuple[str, Sequence[CriterionOutcome]]]:
    """The criteria of the latest try; and beside them those of the best one, where it earned more."""
    if result.better is None:
        return [("", result.shown.criteria)]
    latest = f"Your latest try: {result.shown.points:g} of {result.max_points:g}"
    best = f"Your best try, which counts: {result.points:g} of {result.max_points:g}"
    return [(latest, result.shown.criteria), (best, result.criteria)]


def _not_judged(criterion: CriterionOutcome) -> bool:
    return criterion.outcome is Outcome.COULD_NOT_BE_JUDGED


def _criterion_html(criterion: CriterionOutcome) -> str:
    earned = "–" if _not_judged(criterion) else f"{criterion.points:g}"
    points = f" ({earned} of {criterion.max_points:g})" if criterion.max_points else ""
    kind = criterion.outcome.name.lower().replace("_", "-")
    return (
        f'<li class="{kind}"><strong>{escape(criterion.outcome.value)}</strong>{points} · '
        f"{escape(criterion.title)}<div>{escape(criterion.sentence)}</div></li>"
    )


def _inert_character(character: str) -> str:
    if character == "\n":
        return "<br>"
    if character == "\t":
        return " "
    if unicodedata.category(character) in ("Cc", "Cs", "Cn") or character in DIRECTION_OVERRIDES:
        return ""
    return character if character.isalnum() or character in _KEPT_MARKS else f"&#{ord(character)};"
