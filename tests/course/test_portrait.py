"""The portrait of an engine: the same figures drawn and in the table, and one sentence where it cannot be had."""

import numpy as np
import pytest

from course import ENGINES
from course.commands.portrait import STARTS, PortraitError, draw, portrait_of, show, table_text
from engine_sim import CardError, Engine, load_card, start_trial

CARD = ENGINES / "delivery_truck_six.toml"


@pytest.fixture(scope="module")
def portrait():
    """The delivery truck's portrait at sea level."""
    return portrait_of(CARD)


def test_figures_are_the_engines_own(portrait):
    """What the portrait shows is what the engine itself gives when it is asked."""
    engine = Engine(load_card(CARD))
    state = engine.idle(10.0, portrait.method.idle_setting)
    at = int(np.flatnonzero(portrait.idle_timing_deg == 10.0)[0])
    assert portrait.idle_vacuum_inhg[at] == pytest.approx(float(state.manifold_vacuum_inhg))
    ping = portrait.ping_from_deg[0]
    base = ping - float(engine.advance_deg(0.0, 1200.0, 0.0))
    assert float(engine.full_throttle(1200.0, base).knock_margin_octane) == pytest.approx(0.0, abs=0.05)


def test_every_panel_is_drawn_and_named(portrait):
    """Five panels, each with a title, both axes named, and lines in it."""
    panels = [axis for axis in draw(portrait).axes if axis.get_title()]
    assert len(panels) == 5
    assert all(axis.get_xlabel() and axis.get_ylabel() and axis.lines for axis in panels)


def test_table_says_what_the_picture_shows(portrait):
    """The table holds the peak and the end of the method, and a line for every speed of the pull."""
    text = table_text(portrait)
    assert f"{portrait.method.timing_deg:.1f} degrees" in text and "1200 rpm" in text and "ping from" in text


def test_start_times_are_the_engines_own_and_never_sooner_when_later(portrait):
    """Start times of cold, warm and hot engine grow as the timing gets later, colder takes longer, and the table has
    a row for each and says where it never starts."""
    cold, warm, hot, without_choke = portrait.start_s
    assert cold[1] == start_trial(Engine(load_card(CARD)), 8.0, 20.0).runs_s
    for seconds in (cold, warm, hot):
        assert np.all(np.diff(seconds[1:]) > 0.0)
    assert np.all(cold > warm) and np.all(warm > hot) and without_choke[1] > 2.0 * cold[1]
    text = table_text(portrait)
    assert all(words in text for words, _, _ in STARTS) and "never" in text and f"{cold[-1]:.1f} s" in text


def test_written_to_a_file(tmp_path, capsys):
    """A name of one of the workshop's engines is enough, and the file is said."""
    show("farm_runabout_four", tmp_path / "portrait.svg", False, 2000.0)
    assert (tmp_path / "portrait.svg").read_text(encoding="utf-8").lstrip().startswith("<?xml")
    assert "portrait.svg" in capsys.readouterr().out


def test_what_cannot_be_had_is_said(tmp_path):
    """An unknown card and an unknown kind of picture each get their sentence."""
    with pytest.raises(CardError, match="There is no engine card"):
        show(tmp_path / "none.toml", None, True, 0.0)
    with pytest.raises(PortraitError, match=r"ends in .png, .svg or .pdf"):
        show(CARD, tmp_path / "portrait.jpg", False, 0.0)
