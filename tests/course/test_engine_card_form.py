"""The form for one's own engine and the sheet to print: recorded, restored, written whole, and safe to open."""

from __future__ import annotations

import html
import re

import pytest

from course import ENGINES, widgets
from course.learner.worksheet import SHEET_NAME, sheet_text, write_sheet
from engine_sim import read_evidence
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.own_engine import ENTRIES, EXAMPLE, read_card
from graders.exercises.kinds.own_engine_advice import FIRST
from graders.exercises.loader import rubric_in
from tests.graders.instrument import TRIAL

RUBRIC = rubric_in(TRIAL / "l96_inspections.toml")
CARD = RUBRIC.exercises["l96_card"]


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    """A lesson folder of the trial rubric, in which cells work."""
    folder = tmp_path / RUBRIC.lesson
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    monkeypatch.setattr("course.widgets.at_work.rubric_for", lambda lesson, own: RUBRIC)
    monkeypatch.setattr("graders.judge.rubric_for", lambda lesson, _folder=None: RUBRIC)
    return folder


def typed(changes: dict | None = None) -> dict:
    """The example as the browser sends it: text and unit, or a choice."""
    entries = {**EXAMPLE, **(changes or {})}
    return {
        name: {"text": str(value[0]), "unit": value[1]} if isinstance(value, list) else value
        for name, value in entries.items()
    }


def send(form, entries: dict) -> None:
    """What the browser sends."""
    form._on_message(form, {"answer": {"value": entries}}, [])


def test_a_card_is_recorded_judged_told_and_written(lesson):
    """One press: evidence, points, what follows, and the sheet in the lesson's folder."""
    form = widgets.engine_card(CARD.id)
    assert not form.problem and form.first == FIRST and form.told == [] and form.sheet == ""
    send(form, typed())
    assert form.result["points"] == CARD.points and form.sheet == SHEET_NAME and (lesson / SHEET_NAME).is_file()
    assert {"Vacuum to expect", "Turning the distributor"} <= {one["title"] for one in form.told}
    event = read_evidence(lesson / "evidence.jsonl").events[-1]
    assert (event.control, event.value) == ("answer", as_text(EXAMPLE))


def test_the_card_comes_back_after_a_restart(lesson):
    """The cell run again shows the entries and what follows."""
    send(widgets.engine_card(CARD.id), typed())
    again = widgets.engine_card(CARD.id)
    assert again.answer["value"] == EXAMPLE and len(again.told) > 5 and again.tries == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"bore": ["three", "in"]}, "Bore: A number is wanted and 'three' was found"),
        ({"bore": ["3,5", "in"]}, "Your answer is recorded."),
        ({"bore": ["3.5", ""]}, "Bore: choose the unit as well, mm or in."),
        ({"bore": ["89", "in"]}, "Bore lies between"),
        ({"rotor": "sideways"}, "can be clockwise, anticlockwise"),
    ],
)
def test_what_was_typed_is_taken_or_said(lesson, changes, said):
    """A number as people write it is taken; anything else is one sentence, and nothing is recorded."""
    form = widgets.engine_card(CARD.id)
    send(form, typed(changes))
    assert said in form.said["sentence"] and form.tries == int(said.startswith("Your answer"))


def test_a_folder_that_cannot_be_written_into_is_said(lesson, monkeypatch):
    """The entries are kept, and the sentence says what to do."""

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("course.widgets.forms.engine_card.write_sheet", full)
    form = widgets.engine_card(CARD.id)
    send(form, typed())
    assert "could not be written (No space left on device)" in form.said["sentence"] and form.tries == 1


# ---- the sheet -------------------------------------------------------------------------------------------------------


def test_the_sheet_stands_alone_and_says_who_comes_first():
    """One page that fetches nothing, with the label first, the cautions, all entries and lines for a pencil."""
    text = sheet_text(read_card(as_text(EXAMPLE)), ENGINES)
    assert not re.search(r"(src|href)=|https?://|<script|@import|url\(", text)
    assert text.index(html.escape(FIRST)) < text.index("Before you start it") < text.index("The work")
    assert all(entry.label.replace("'", "&#x27;") in text for entry in ENTRIES.values())
    assert "Exhaust is poison" in text and text.count("class='line'") >= 6 and "Never set a real engine" in text


def test_an_empty_entry_is_a_line_to_write_on():
    """What is not known yet can be filled in with a pencil."""
    card = read_card(as_text({**EXAMPLE, "base": None}))
    assert "<th scope='row'>Base timing</th><td>________________</td>" in sheet_text(card, ENGINES)


def test_the_sheet_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    """A sheet that cannot be finished leaves the one before as it was."""
    card = read_card(as_text(EXAMPLE))
    path = write_sheet(tmp_path, card, ENGINES)
    before = path.read_text(encoding="utf-8")
    monkeypatch.setattr("course.learner.worksheet.sheet_text", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_sheet(tmp_path, card, ENGINES)
    assert path.read_text(encoding="utf-8") == before and [one.name for one in tmp_path.iterdir()] == [SHEET_NAME]
