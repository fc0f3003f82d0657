"""Units are chosen once: the folder keeps them, and every widget begins with them."""

from __future__ import annotations

import json

import pytest

from course.learner.chosen_units import KEPT, choose_units, chosen_units
from course.widgets.bench.bench import Bench
from course.widgets.forms.needle import NeedleForm
from course.widgets.forms.number import NumberForm
from course.widgets.shared.base_widget import BaseWidget

USUAL = {"vacuum": "inHg", "temperature": "°F"}
METRIC = {"vacuum": "kPa", "temperature": "°C"}


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    """A lesson in a learner's folder, in which its cells run; no widget of another test is shown."""
    folder = tmp_path / "my course" / "l04_base_timing"
    folder.mkdir(parents=True)
    monkeypatch.chdir(folder)
    monkeypatch.setattr(BaseWidget, "_shown", type(BaseWidget._shown)())
    return folder


def test_a_choice_holds_for_every_lesson_of_the_folder(lesson):
    """What is chosen in one lesson is what the next one begins with; before that the usual units."""
    assert chosen_units(lesson) == USUAL
    choose_units(lesson, METRIC)
    assert chosen_units(lesson.parent / "l05_road_check") == METRIC


@pytest.mark.parametrize("kept", ["", "no JSON", "[1]", '{"vacuum": "bar", "temperature": 7}', '{"vacuum": ["kPa"]}'])
def test_a_file_that_holds_nonsense_gives_the_usual_units(lesson, kept):
    """And no lesson fails for it."""
    (lesson.parent / KEPT).write_text(kept, encoding="utf-8")
    assert chosen_units(lesson) == USUAL


def test_only_units_that_there_are_are_kept(lesson):
    """What a page sends beside them is left out."""
    choose_units(lesson, {"vacuum": "kPa", "temperature": "K", "more": "x" * 9})
    assert json.loads((lesson.parent / KEPT).read_text(encoding="utf-8")) == {"vacuum": "kPa", "temperature": "°F"}


def test_a_folder_that_cannot_be_written_stops_nothing(lesson):
    """The choice then holds for the page alone."""
    (lesson.parent / KEPT).mkdir()
    choose_units(lesson, METRIC)
    assert chosen_units(lesson) == USUAL


@pytest.mark.parametrize("made", [Bench, NeedleForm, NumberForm])
def test_every_widget_begins_with_the_choice(lesson, made):
    """Bench and forms alike."""
    choose_units(lesson, METRIC)
    assert made().chosen_units == METRIC


def test_a_choice_at_one_widget_reaches_the_others_and_the_folder(lesson):
    """The browser sets the units of one; the others that are shown get them, and the next to be made."""
    first, second = NumberForm(), NeedleForm()
    first.chosen_units = METRIC
    assert second.chosen_units == METRIC and chosen_units(lesson) == METRIC and Bench().chosen_units == METRIC
