"""The form for one's own engine and the sheet to print: recorded, restored, written whole, and safe to open."""

from __future__ import annotations

import pytest

from course import widgets
from course.owner.from_card import NAME
from course.owner.kept_engines import KeptEngines
from course.owner.written_sheet import SHEET_NAME, write_sheet
from course.widgets.forms.engine_card import KEPT
from engine_sim import read_evidence
from engine_sim.owned.description import owned_from
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.own_engine import EXAMPLE, read_card
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


# ---- the sheet and the engine ----------------------------------------------------------------------------------------


def test_the_sheet_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    """A sheet that cannot be finished leaves the one before as it was."""
    card = read_card(as_text(EXAMPLE))
    path = write_sheet(tmp_path, card)
    before = path.read_text(encoding="utf-8")
    assert "6 crank degrees" in before and "16.5 inHg" in before
    monkeypatch.setattr("course.owner.written_sheet.sheet_page", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_sheet(tmp_path, card)
    assert path.read_text(encoding="utf-8") == before and [one.name for one in tmp_path.iterdir()] == [SHEET_NAME]


def test_the_card_becomes_an_engine_of_the_owner(lesson):
    """The same facts stand under My engine, in crank degrees; what was described there besides stays."""
    form = widgets.engine_card(CARD.id)
    send(form, typed())
    kept = KeptEngines(lesson.parent)
    found = kept.load(NAME)
    assert form.kept == KEPT and (found.build.cylinders, found.label.base_deg) == (6, 6.0)
    assert (found.ignition.centrifugal_deg, found.ignition.curve_in) == (22.0, "crank")  # 11 of the distributor's
    ready = found.model_dump(exclude_defaults=True) | {
        "build": {**found.build.model_dump(), "valve_gear": "side valves"}
    }
    kept.keep(NAME, owned_from(ready))
    send(form, typed({"read_vacuum": ["17", "inHg"]}))
    again = kept.load(NAME)
    assert (again.build.valve_gear, again.readings.idle_inhg) == ("side valves", 17.0)


def test_what_a_description_does_not_take_is_named(lesson):
    """Three cylinders, or an idle that no such engine has, are left out and said; everything else is there."""
    form = widgets.engine_card(CARD.id)
    send(form, typed({"idle": ["1500", "rpm"]}))
    assert form.kept.endswith("does not fit there: Idle speed.")
    found = KeptEngines(lesson.parent).load(NAME)
    assert found.label.idle_rpm is None and found.label.base_deg == 6.0
