"""The demonstrations: recorded by a model learner, and what goes wrong in them does."""

from __future__ import annotations

import pytest

from course import ENGINES
from graders.model_answers.demonstrations import (
    DEMONSTRATIONS,
    HOSE_LEFT_ON,
    RIGHT,
    WOBBLE,
    recording_of,
    session_for,
)


@pytest.mark.parametrize("name", DEMONSTRATIONS)
def test_a_recording_played_again_passes_through_the_same_states(name):
    """The acts at their times on a new engine end at the base timing that was recorded, and none is refused; the hose,
    beside the fan, is touched with the engine off alone."""
    recording, session = recording_of(name, ENGINES), session_for(ENGINES)
    for act in recording.acts:
        session.advance(act.time_s - session.time_s)
        assert act.control != "vacuum_hose" or not session.running
        assert session.act(act.control, act.value).kind == "done", act
    assert session.trajectories[-1].actions[-1].base_timing_deg == recording.ends_deg


def test_the_right_way_does_the_whole_job():
    """Hose off and back on, clamp loose and tight, a drive; and it ends near the label, which is right on this
    engine."""
    acts = [(act.control, act.value) for act in recording_of(RIGHT, ENGINES).acts]
    for wanted in (
        ("vacuum_hose", "off and plugged"),
        ("clamp", "loose"),
        ("clamp", "tight"),
        ("vacuum_hose", "on"),
        ("road_check", None),
    ):
        assert wanted in acts
    label = session_for(ENGINES).engine.card.setting.label_base_timing_deg
    assert abs(recording_of(RIGHT, ENGINES).ends_deg - label) < 4.0


def test_with_the_hose_left_on_it_ends_far_too_late():
    """The hose is never touched, and the vacuum unit's degrees are missing in the end."""
    recording = recording_of(HOSE_LEFT_ON, ENGINES)
    assert "vacuum_hose" not in {act.control for act in recording.acts}
    apart = recording_of(RIGHT, ENGINES).ends_deg - recording.ends_deg
    assert apart > 8.0 and f"ends {apart:.0f} crank degrees later" in recording.ends


def test_a_wobble_taken_for_the_peak_ends_too_late():
    """The search is over before the peak: fewer turns, and a later timing."""
    recording, right = recording_of(WOBBLE, ENGINES), recording_of(RIGHT, ENGINES)
    apart = right.ends_deg - recording.ends_deg
    assert apart > 2.0 and f"ends {apart:.0f} crank degrees later" in recording.ends


@pytest.mark.parametrize("name", DEMONSTRATIONS)
def test_every_recording_is_told(name):
    """The first act has its caption, and so has every part of the job; each is one or two short sentences."""
    captions = [act.caption for act in recording_of(name, ENGINES).acts if act.caption]
    assert recording_of(name, ENGINES).acts[0].caption == captions[0] and len(captions) >= 6
    assert max(map(len, captions)) < 130
