"""The pages of the book in Markdown: the lessons, from the learner's edition, and the pages around them."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Mapping
from html import escape

from course import EDITION
from course.authoring.edition import lessons
from course.authoring.glossary_links import Term, terms, text_of
from course.authoring.lesson_pictures import picture_named
from course.jupyter.plain_page.lesson_list import VIGNETTES, Opening, opening_of
from course.owner.cautions import CAUTIONS, FIRST, NOT_STARTING
from course.owner.sheet import blank_sheet
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import load_rubric

from .exercises import BookError, printed_exercise

CARD = "reference_card.html"  # the page to print, as the course hands it out
CARD_IN_WORDS = "has the whole method, the needle and the usual figures on one page of A4."
TITLE = "Set the timing by vacuum gauge and tachometer"
RECORDINGS = "Recordings of the method, going right and going wrong, are played here in the course."
# Paragraphs about the page of the course itself: how a notebook is run, and how a lesson is handed in.
_TALK = re.compile(r"^\*\*(?:First of all:|Handing in\.)\*\*.*?(?:\n\n|\Z)", re.MULTILINE | re.DOTALL)
_WORD = re.compile(r"\[(?P<text>[^\]]*)\]\(#(?P<anchor>word-[\w-]+)\)")


def all_pages() -> dict[str, str]:
    """Every page in Markdown, by its name. Raises BookError, and TimingCourseError where a rubric cannot be used."""
    wanted = lessons(EDITION)
    cells = {one: _cells(one) for one in wanted}
    openings = {one: opening_of(cells[one]) for one in wanted}
    by_anchor = {term.anchor: term for term in terms()}
    found = {one: lesson_page(cells[one], load_rubric(one).exercises, by_anchor) for one in wanted}
    return {
        "index": front_page(openings),
        **found,
        "your_own_engine": own_engine_page(),
        "glossary": glossary_page(wanted),
    }


def _cells(lesson: str) -> list[dict]:
    return json.loads((EDITION / lesson / f"{lesson}.ipynb").read_text(encoding="utf-8"))["cells"]


def lesson_page(cells: list[dict], exercises: Mapping[str, Exercise], by_anchor: Mapping[str, Term]) -> str:
    """A lesson as it is read. Raises BookError for a cell that the book does not know."""
    parts = []
    for cell in cells:
        text = "".join(cell["source"])
        if cell["cell_type"] == "code":
            parts.append(_worked(text, exercises))
        elif not cell["metadata"].get("nbgrader", {}).get("solution"):  # else the place of a written answer
            parts.append(_with_terms(_TALK.sub("", text), by_anchor))
    return "\n\n".join(part for part in parts if part.strip()) + "\n"


def _with_terms(text: str, by_anchor: Mapping[str, Term]) -> str:
    return _WORD.sub(lambda found: f"{{term}}`{found['text']} <{by_anchor[found['anchor']].term}>`", text)


def _worked(code: str, exercises: Mapping[str, Exercise]) -> str:
    """What the book has in the place of a cell of code: one call of a widget of the course."""
    match ast.parse(code).body:
        case [ast.ImportFrom(module="course.widgets")]:
            return ""
        case [ast.Expr(ast.Call(ast.Name(name), []))] if name in _ALONE:
            return _ALONE[name]
        case [ast.Expr(ast.Call(ast.Name("check"), [ast.Constant(str())]))]:
            return ""
        case [ast.Expr(ast.Call(ast.Name("picture"), [ast.Constant(str(name))]))]:
            return _raw(printed_picture(name))
        case [ast.Expr(ast.Call(ast.Name(), [ast.Constant(str(name))]))] if name in exercises:
            return _raw(printed_exercise(exercises[name]))
    raise BookError(
        f"The book cannot print this cell of a lesson: {code[:80]!r}. Only the course's own widgets are known."
    )


_ALONE = {"words": "", "hand_in": "", "replays": f":::{{note}}\n{RECORDINGS}\n:::"}


def _raw(html: str) -> str:
    return f"```{{raw}} html\n{html}\n```"


def printed_picture(name: str) -> str:
    """A picture of the lessons as HTML, with the same in words."""
    picture = picture_named(name)
    words = "".join(f"<p>{escape(part)}</p>" for part in picture.drawn.words.split("\n\n"))
    label = escape(f"{picture.title}: the picture. What it shows stands below in words.")
    return (
        f'<figure class="picture" aria-labelledby="{name}-title">\n'
        f'<figcaption id="{name}-title">{escape(picture.title)}</figcaption>\n'
        f"{_printed_svg(picture.svg, 'picture-wide', label)}{_printed_svg(picture.narrow_svg, 'picture-narrow', label)}"
        f"<details><summary>The picture in words</summary>{words}</details>\n</figure>"
    )


def _printed_svg(svg: str, size: str, label: str) -> str:
    tag, _, drawing = svg.partition(">")
    tag = re.sub(r' (?:width|height)="[^"]*"', "", tag)
    return (
        f'{tag} class="{size}" role="img" aria-label="{label}" focusable="false"><g aria-hidden="true">'
        f"{drawing.rpartition('</svg>')[0]}</g></svg>\n"
    )


# ---- around the lessons ----------------------------------------------------------------------------------------------


def front_page(openings: Mapping[str, Opening]) -> str:
    """What the book is, the cautions, and the lessons."""
    cards = "".join(_lesson_card(lesson, opening) for lesson, opening in openings.items())
    entries = [f"{_place(lesson)} · {opening.title} <{lesson}>" for lesson, opening in openings.items()]
    return f"""# {TITLE}

An old engine with a carburettor and a distributor, a vacuum gauge and a tachometer: this book teaches how to set its
timing so that it starts well, idles well, pulls well, and does not ping on the fuel you can buy.

The book is the text of a course, to be read before it or printed for the workshop. The engines, the bench and the
answers are in the course itself, which runs in a browser on your own computer: `python3 -m course`, in the course's
folder, opens it. Each page here prints by itself, without what is around it on a screen.

{_cautions()}

## The lessons

{_raw(f'<ol class="lessons">{cards}</ol>')}

{_contents("Lessons", entries)}

{_contents("To keep", ["your_own_engine", "glossary"])}
"""


def _lesson_card(lesson: str, opening: Opening) -> str:
    picture = (VIGNETTES / f"{lesson}.svg").read_text(encoding="utf-8").strip()
    minutes = f" · {opening.minutes} minutes" if opening.minutes else ""
    return (
        f'<li><a href="{lesson}.html">{picture}<span class="lesson-label">Lesson {_place(lesson)}{minutes}</span>'
        f"<strong>{escape(opening.title)}</strong></a></li>"
    )


def _contents(caption: str, entries: list[str]) -> str:
    return "\n".join(["```{toctree}", ":hidden:", f":caption: {caption}", "", *entries, "```"])


def _cautions() -> str:
    listed = "\n".join(f"- {one}" for one in CAUTIONS)
    return f":::{{caution}}\n**{FIRST}**\n\n{listed}\n:::"


def own_engine_page() -> str:
    """What to take along to a vehicle of one's own: cautions, the work, and the card to print."""
    return f"""# At your own engine

{_cautions()}

## The work

{_numbered(tuple(step.text for step in blank_sheet().steps))}

## If it does not start

{chr(10).join(f"- {one}" for one in NOT_STARTING)}

## To print

{_raw(f'<p><a href="{CARD}">The reference card</a> {CARD_IN_WORDS}</p>')}

The course makes a further sheet, for your own engine. Lesson {_place("l10_your_own_engine")} asks what can be read off
it, and works out what to expect.
"""


def _numbered(texts: tuple[str, ...]) -> str:
    return "\n".join(f"{number}. {text}" for number, text in enumerate(texts, start=1))


def _place(lesson: str) -> int:
    return lessons(EDITION).index(lesson) + 1


def glossary_page(wanted: list[str]) -> str:
    """Every word of the course, each with the lessons that use it."""
    texts = {place: text_of(lesson) for place, lesson in enumerate(wanted, start=1)}
    entries = [_entry(term, [place for place, text in texts.items() if term.used_in(text)]) for term in terms()]
    opening = "The words of the field and the trade, each with the lessons that use it."
    return "\n\n".join(["# Glossary", opening, "```{glossary}\n" + "\n\n".join(entries) + "\n```"]) + "\n"


def _entry(term: Term, used: list[int]) -> str:
    lessons_of_it = ", ".join(map(str, used))
    about = {"Symbol": term.symbol, "Unit": term.unit, "In lessons" if len(used) > 1 else "In lesson": lessons_of_it}
    told = ". ".join(f"{name} {value}" for name, value in about.items() if value not in ("", "none"))
    return f"{term.term}\n    {term.meaning}\n" + (f"\n    *{told}*" if told else "")
