"""Glossary and reference card: in step with their tables, complete, and fit to be printed."""

from __future__ import annotations

import re

import pytest

from course.authoring import glossary_links, glossary_page, reference_card
from course.authoring.build import main
from course.authoring.edition import lessons
from course.authoring.sourced_values import TOKEN
from course.commands.start import lay_out
from engine_sim import published, value_text


def test_the_glossary_is_in_step():
    """course/authoring/glossary.md is what `python -m course.authoring.build glossary` writes."""
    assert glossary_page.PAGE.read_text(encoding="utf-8") == glossary_page.glossary_text(), (
        "run python -m course.authoring.build glossary"
    )


@pytest.mark.parametrize("term", glossary_links.terms(), ids=lambda term: term.term)
def test_every_term_is_explained_and_used(term):
    """A term has a meaning in a sentence, and some lesson uses it."""
    assert term.meaning.endswith(".") and term.meaning[0].isupper()
    assert any(term.used_in(glossary_links.text_of(lesson)) for lesson in lessons())


def test_a_term_is_found_as_a_whole_word():
    """A term is found in any of its forms and capitals, and not inside another word."""
    term = glossary_links.Term("ping", "It rattles.", also=("pings",))
    assert term.used_in("Ping breaks pistons") and term.used_in("it pings.")
    assert not term.used_in("a camping trip")


def test_a_spoiled_table_says_where(tmp_path):
    """A term that stands twice, and one without its meaning, are named."""
    table = tmp_path / "glossary.toml"
    table.write_text('[[terms]]\nterm = "a"\nmeaning = "A."\n[[terms]]\nterm = "A"\nmeaning = "A."\n', encoding="utf-8")
    with pytest.raises(glossary_links.GlossaryError, match="'a' twice"):
        glossary_links.terms(table)
    table.write_text('[[terms]]\nterm = "a"\n', encoding="utf-8")
    with pytest.raises(glossary_links.GlossaryError, match="meaning"):
        glossary_links.terms(table)


def test_the_card_is_in_step():
    """course/authoring/reference_card.html is what `python -m course.authoring.build card` writes."""
    assert reference_card.PAGE.read_text(encoding="utf-8") == reference_card.card_text()


def test_every_figure_of_the_card_is_the_table_s():
    """The template types no sourced figure: each comes from the table, and stands on the page as the table has it."""
    keys = [token[2] for token in TOKEN.finditer(reference_card.TEMPLATE.read_text(encoding="utf-8"))]
    page = reference_card.card_text()
    assert len(keys) > 10 and "{{" not in page
    assert all(value_text(key) in page for key in keys)


def test_the_card_converts_units_rightly():
    """Whole kilopascal and Fahrenheit, by the published inch of mercury and by the definition of the degree."""
    rows = re.findall(r'<th scope="row">(inHg|kPa|°C|°F)</th>(.*?)</tr>', reference_card.card_text())
    numbers = {
        unit: [int(cell.replace("\u2212", "-")) for cell in re.findall(r"<td>(.*?)</td>", cells)]
        for unit, cells in rows
    }
    inch = published("inch_of_mercury").value
    assert all(abs(kpa - inhg * inch) <= 0.5 for inhg, kpa in zip(numbers["inHg"], numbers["kPa"], strict=True))
    assert dict(zip(numbers["°C"], numbers["°F"], strict=True)) | {0: 32, 100: 212, -10: 14} == dict(
        zip(numbers["°C"], numbers["°F"], strict=True)
    )


def test_the_card_needs_nothing_beside_it():
    """No script, and nothing fetched."""
    page = reference_card.card_text()
    assert "default-src 'none'" in page and not re.search(r"<script|https?://|<img|@import|url\(", page)


def test_a_learner_has_both_beside_the_lessons(tmp_path):
    """Glossary and card lie in the learner's folder; a copy with notes in it is left alone."""
    (tmp_path / "glossary.md").write_text("with my notes", encoding="utf-8")
    lay_out(tmp_path, "Anna")
    assert (tmp_path / "glossary.md").read_text(encoding="utf-8") == "with my notes"
    assert (tmp_path / "reference_card.html").read_bytes() == reference_card.PAGE.read_bytes()


def test_the_build_writes_and_says_which(capsys, monkeypatch, tmp_path):
    """`python -m course.authoring.build card` writes the page; an unknown word lists the words there are."""
    monkeypatch.setattr(reference_card, "PAGE", tmp_path / "reference_card.html")
    monkeypatch.setattr("course.authoring.build.HERE", tmp_path)
    assert main(["card"]) == 0 and (tmp_path / "reference_card.html").exists()
    assert main(["poster"]) == 2 and "glossary" in capsys.readouterr().err
