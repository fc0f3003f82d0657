"""The words of a lesson: each first use leads to its meaning, where learners are, and none goes without."""

from __future__ import annotations

import json
import re

import pytest

from course import HERE as COURSE
from course.authoring.edition import lessons
from course.authoring.glossary_links import Term, terms, text_of, with_links
from course.widgets import words
from course.widgets.cards.words_card import ALL, HERE
from graders.exercises.loader import load_rubric
from tests.graders.instrument import tables_in

every_lesson = pytest.mark.parametrize("lesson", lessons())
LINK = re.compile(r"\[([^\]]*)\]\(#(word-[^)]*)\)")


def card_in(folder, monkeypatch):
    """The card that a notebook in this folder shows."""
    monkeypatch.chdir(folder)
    return words()


def prose_of(folder) -> list[str]:
    """The Markdown cells of the lesson in a folder."""
    cells = json.loads((folder / f"{folder.name}.ipynb").read_text(encoding="utf-8"))["cells"]
    return ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"]


def broken_links(texts, card) -> list[str]:
    """Links to words that the card does not list, and those whose word is no form of the term that it leads to."""
    listed = {word["anchor"]: word["term"] for word in card.words if word["here"]}
    forms = {term.term: [form.lower() for form in term.forms] for term in terms()}
    return [
        link
        for text in texts
        for link, anchor in LINK.findall(text)
        if anchor not in listed or link.lower() not in forms[listed[anchor]]
    ]


@every_lesson
def test_every_term_of_a_lesson_is_offered(lesson, editions, monkeypatch):
    """The card lists every term of the glossary that the lesson or one of its questions uses, with its meaning."""
    card = card_in(editions / lesson, monkeypatch)
    exercises = load_rubric(lesson).exercises.values()
    read = "\n".join(
        [
            *prose_of(editions / lesson),
            *(one.question for one in exercises),
            *(choice.text for one in exercises for choice in tables_in(one, "choices")),
        ]
    )
    listed = {word["term"]: word["meaning"] for word in card.words if word["here"]}
    assert card.problem == "" and card.title == HERE and len(listed) > 15
    assert [term.term for term in terms() if term.used_in(LINK.sub(r"\1", read)) and not listed.get(term.term)] == []


@every_lesson
def test_every_link_of_the_learners_edition_leads_to_its_word(lesson, editions, monkeypatch):
    """So does each link in the edition that `timing-course start` lays out, and every term has one link."""
    texts = prose_of(editions / lesson)
    anchors = [anchor for text in texts for _, anchor in LINK.findall(text)]
    assert len(anchors) > 10 and len(anchors) == len(set(anchors))
    assert broken_links(texts, card_in(editions / lesson, monkeypatch)) == []


@every_lesson
def test_no_term_is_left_without_its_link(lesson, editions):
    """Nothing is left to be linked in the learner's edition: every term that stands by itself there has a link."""
    texts = prose_of(editions / lesson)
    seen = {term.term for term in terms() if any(f"(#{term.anchor})" in text for text in texts)}
    answers = [text for text in texts if text.startswith("*Your answer stands here")]
    assert [with_links(text, seen) for text in texts if text not in answers] == [
        text for text in texts if text not in answers
    ]


@pytest.mark.classroom
def test_every_link_of_a_class_s_release_leads_to_its_word(autumn, monkeypatch):
    """A lesson that a class hands out has the same links, and its card knows them all."""
    for lesson in lessons():
        folder = autumn / "release" / lesson
        texts = prose_of(folder)
        assert sum(len(LINK.findall(text)) for text in texts) > 10, lesson
        assert broken_links(texts, card_in(folder, monkeypatch)) == [], lesson


def test_a_broken_link_would_be_noticed(editions, monkeypatch):
    """The check sees a link to a word that there is not, and one that leads to another word."""
    card = card_in(editions / lessons()[0], monkeypatch)
    texts = ["[label](#word-labels)", "[label](#word-choke)", "[label](#word-label)"]
    assert broken_links(texts, card) == ["label", "label"]


ADVANCE = Term("advance", "Sooner.")
VACUUM_ADVANCE = Term("vacuum advance", "By vacuum.", also=("canister's advance",))
POINTS = Term("points", "A switch.", not_in=("earns points",))
KNOWN = [ADVANCE, VACUUM_ADVANCE, POINTS]


@pytest.mark.parametrize(
    ("text", "linked"),
    [
        ("Advance, and more advance", "[Advance](#word-advance), and more advance"),
        ("**vacuum advance** and advance", "**[vacuum advance](#word-vacuum-advance)** and [advance](#word-advance)"),
        ("vacuum\nadvance", "[vacuum\nadvance](#word-vacuum-advance)"),
        ("# Advance\n\ntext", "# Advance\n\ntext"),
        ("`advance` and [advance](x.md)", "`advance` and [advance](x.md)"),
        ("It earns points.", "It earns points."),
        ("It earns points. New points.", "It earns points. New [points](#word-points)."),
        ("disadvantage, advanced", "disadvantage, advanced"),
        ("**First of all:** advance\n\nadvance", "**First of all:** advance\n\n[advance](#word-advance)"),
        ("a\n## Where the figures come from\n\n- On advance", "a\n## Where the figures come from\n\n- On advance"),
    ],
)
def test_the_first_use_is_linked(text, linked):
    """The longest term is taken, once; headings, code, links, sources and other senses of a word are left alone."""
    assert with_links(text, set(), KNOWN) == linked


def test_a_use_in_an_earlier_cell_is_the_first():
    """What an earlier cell has linked is not linked again."""
    seen: set[str] = set()
    assert "](" in with_links("advance", seen, KNOWN) and with_links("advance", seen, KNOWN) == "advance"


def test_no_two_terms_share_a_form_or_a_link():
    """A form belongs to one term alone, and so does the end of its link."""
    forms = [form.lower() for term in terms() for form in term.forms]
    anchors = [term.anchor for term in terms()]
    assert len(forms) == len(set(forms)) and len(anchors) == len(set(anchors))


def test_a_notebook_of_another_name_has_all_words(tmp_path, monkeypatch):
    """Where the notebook was renamed the card lists the whole glossary, and says so."""
    (tmp_path / "my_lesson").mkdir()
    card = card_in(tmp_path / "my_lesson", monkeypatch)
    assert card.title == ALL and all(word["here"] for word in card.words) and len(card.words) == len(terms())


@pytest.mark.parametrize("spoiled", ["not a notebook", "{}"])
def test_a_spoiled_notebook_is_said(spoiled, tmp_path, monkeypatch):
    """A notebook that cannot be read gives one sentence that says how to mend it."""
    folder = tmp_path / "l04_base_timing"
    folder.mkdir()
    (folder / "l04_base_timing.ipynb").write_text(spoiled, encoding="utf-8")
    assert "save the notebook and run this cell again" in card_in(folder, monkeypatch).problem


# ---- words that the course does not use ------------------------------------------------------------------------------

OLD_WORDS = (  # beside each the words that are said instead
    "false air",  # air leak
    "dead point",  # top dead centre
    "reckon",  # work out
    "whoever",  # the person who
    "in a hundred",  # per cent
    "hangs on",  # depends on
    "anew",  # again
    "to be had",  # available
    "is said at once",  # the program says
    "is told at once",
    "for who does",
    "gasoline tank",  # petrol
    "under the hood",  # bonnet
    "down to the sea",  # to sea level
)
MINE = [name for name in lessons() if name >= "l05"]  # the lessons before have still to be gone through
SAID = {name: text_of(name) for name in MINE} | {
    "guide": (COURSE / "instructors.md").read_text(encoding="utf-8"),
    "glossary": "\n".join(f"{one.term} {' '.join(one.also)} {one.meaning}" for one in terms()),
}


def old_words_in(text: str) -> list[str]:
    """The old words that a text still has, whatever breaks its lines."""
    flat = re.sub(r"[\s>*]+", " ", text).lower()
    return [word for word in OLD_WORDS if re.search(rf"\b{word}\b", flat)]


@pytest.mark.parametrize("place", SAID)
def test_old_words_are_gone(place):
    """Lessons, guide and glossary say each thing by the one name that it has."""
    assert old_words_in(SAID[place]) == []


def test_an_old_word_would_be_noticed():
    """The search sees one whose line is broken, and in capitals."""
    assert old_words_in("No False\nair here. Whoever asks.") == ["false air", "whoever"]


def test_the_trade_s_words_have_their_meaning():
    """Each of these leads to its meaning under one of its names."""
    forms = {form.lower() for term in terms() for form in term.forms}
    words = "tdc, atdc, btdc, pinking, detonation, condenser, pcv, vacuum advance unit, ballast resistor, module"
    more = "accelerator pump, float level, heat soak, vacuum leak, valve guides, valve springs, pick-up, hunts"
    assert [word for word in f"{words}, {more}".split(", ") if word not in forms] == []
