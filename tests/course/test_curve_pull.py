"""What the form of a curve shows of a pull: the judge's own, of the curve that was recorded, and nothing before."""

from __future__ import annotations

import pytest

from course import ENGINES, widgets
from engine_sim import learners_engine, load_card
from graders.exercises.engine_answers import CURVE_JUDGES, MOST_LOST_SHARE, pulled_on_the_cards_fuel

LESSON, EXERCISE = "l06_advance_curve", "l06_design_curve"
EARLY = [["800", "16"], ["1100", "16"], ["1500", "22"], ["2000", "28"], ["2800", "36"]]
LATE = [["800", "0"], ["1600", "2"], ["2200", "6"], ["3100", "14"]]


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    """A folder of the lesson, in which its cells work."""
    folder = tmp_path / LESSON
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder


def own_card():
    """The hauler of this learner."""
    return learners_engine(load_card(ENGINES / "hill_hauler_eight.toml"), "", "anna", LESSON).card


def test_nothing_is_shown_before_a_curve_is_recorded(lesson):
    """Neither at first, nor by an answer that is none."""
    form = widgets.curve(EXERCISE)
    assert form.pull == {}
    form.submit([["800", "16"], ["1100", "no number"], ["1500", "22"]])
    assert form.said["kind"] == "wrong" and form.pull == {}


@pytest.mark.parametrize(("points", "finding"), [(EARLY, "pings"), (LATE, "weak")])
def test_the_picture_is_the_judges_own(lesson, points, finding):
    """Speeds, where it pings and the torque lost come from the computation that gives the points, also when the lesson
    is opened again."""
    form = widgets.curve(EXERCISE)
    form.submit(points)
    curve = tuple((float(rpm), float(degrees)) for rpm, degrees in points)
    judged = CURVE_JUDGES["full_throttle_on_the_cards_fuel"].function(own_card(), curve)
    assert judged.name == finding
    shown = form.pull
    assert shown["rpm"][0] == 1100.0 and shown["rpm"][-1] == 2800.0
    assert any(shown["pings"]) == (finding == "pings")
    worst = shown["rpm"].index(judged.values["speed"])
    if finding == "pings":
        assert shown["pings"][worst]
    else:
        assert shown["lost_percent"][worst] > 100.0 * MOST_LOST_SHARE
    assert widgets.curve(EXERCISE).pull == shown


def test_the_torque_lost_adds_up_to_what_the_judge_counts():
    """Where it is silent everywhere, the losses at each speed give the share that the judge compares with its limit."""
    curve = tuple((float(rpm), float(degrees)) for rpm, degrees in LATE)
    pulled = pulled_on_the_cards_fuel(own_card(), curve)
    lost = (pulled.lost_percent / 100.0 * pulled.best_silent_nm).sum() / pulled.best_silent_nm.sum()
    judged = CURVE_JUDGES["full_throttle_on_the_cards_fuel"].function(own_card(), curve)
    assert 100.0 * lost == pytest.approx(judged.values["lost"], abs=0.05)


def test_a_curve_that_no_engine_judges_has_no_pull(lesson):
    """A form without a pull shows none after an answer either."""
    form = widgets.curve(EXERCISE)
    form._pulled = None
    form.submit(EARLY)
    assert form.tries == 1 and form.pull == {}
