"""Lesson l10: a card that is filled in as the lesson says earns everything, and nothing about the engine is judged."""

from __future__ import annotations

import json

import pytest

from course.authoring.lesson_pictures import label, picture_named
from engine_sim import Event, EvidenceWriter, Header
from graders.exercises.kinds.own_engine import ENTRIES, EXAMPLE, READ
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.model_answers.model_learner import CREATED, NO_ENGINE, faultless_evidence

from .working import ENGINES, lost

LESSON, CARD = "l10_your_own_engine", "l10_engine_card"


def entered(tmp_path, **changes):
    """What the judge says of the example's card with some entries changed."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("anna", LESSON, "", NO_ENGINE, CREATED))
    writer.append(Event(1.0, CARD, "answer", json.dumps(EXAMPLE | changes)))
    return judge_lesson(LESSON, writer.path, ENGINES, "anna").exercise(CARD)


def test_a_whole_card_earns_everything(tmp_path):
    """Every entry filled in, and none against another: all points."""
    result = entered(tmp_path)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    "change",
    [
        {"base": [-5.0, "crank degrees"]},
        {"compression": [11.0, "to 1"]},
        {"read_vacuum": [4.0, "inHg"]},
        {"read_timing": [40.0, "crank degrees"]},
    ],
)
def test_an_unusual_engine_loses_nothing(tmp_path, change):
    """What an engine is, and what was read at it, is not marked, however strange it is."""
    assert lost(entered(tmp_path, **change)) == {}


def test_no_engine_at_hand_costs_one_point(tmp_path):
    """Who has no engine before them leaves the readings empty."""
    empty = dict.fromkeys(("read_vacuum", "read_needle", "read_idle", "read_timing"))
    result = entered(tmp_path, **empty)
    assert set(lost(result)) == {"card_readings"} and result.max_points - result.points == 1


def test_contradictions_are_named(tmp_path):
    """A dwell wider than from one spark to the next cannot be, and is said; nothing counts until it is put right."""
    result = entered(tmp_path, dwell=[70.0, "distributor degrees"])
    assert result.points == 0 and len(lost(result)) == len(result.criteria)
    assert any("Look again" in one.sentence for one in result.criteria)


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_whole_lesson_can_earn_everything(tmp_path, learner):
    """A faultless learner has every point of the lesson, whatever numbers were drawn."""
    evidence = faultless_evidence(load_rubric(LESSON), learner, "", ENGINES)
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", evidence.header)
    for event in evidence.events:
        writer.append(event)
    result = judge_lesson(LESSON, writer.path, ENGINES, learner)
    assert result.points == result.max_points


def test_the_label_to_practise_with_has_every_entry_that_is_not_read_at_the_engine():
    """A learner without an engine can fill in the whole card from it: in its picture and in its text alternative."""
    wanted = {ENTRIES[name].label for name, given in EXAMPLE.items() if given and ENTRIES[name].group != READ}
    assert {name for name, _ in label.lines()} == wanted
    said = picture_named("a_label_to_practise_with").drawn.words
    assert all(f"{name}: {figure}." in said for name, figure in label.lines())
