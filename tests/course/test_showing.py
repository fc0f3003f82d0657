"""The instructor's bench and the recordings, without a browser: what is shown, and that nothing is written down."""

from __future__ import annotations

import nbformat
import pytest

from course import ENGINES
from course.commands.show import PAGE, write_page
from course.jupyter.plain_page.lesson_list import lessons_in, other_notebooks
from course.learner.known_lessons import is_known, known_lessons, lesson_digest
from course.owner.kept_engines import KeptEngines
from course.owner.practice_page import write_practice_page
from course.widgets.showing.desk import DAYS, NOTHING_WRONG, ShowDesk
from course.widgets.showing.player import Player
from course.widgets.showing.replay_bench import HANDS_OFF
from course.widgets.showing.stand_in import NONE_TO_DRAW, StandInDesk
from engine_sim import FAULTS, load_card
from engine_sim.owned.description import owned_from
from graders.model_answers.demonstrations import DEMONSTRATIONS, HOSE_LEFT_ON, RIGHT, recording_of
from tests.every_case import check_every


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty folder in which the widgets are made."""
    place = tmp_path / "show"
    place.mkdir()
    monkeypatch.chdir(place)
    return place


@pytest.fixture
def desk(folder):
    """The instructor's desk."""
    return ShowDesk()


@pytest.fixture
def player(folder):
    """The recordings."""
    return Player(RIGHT)


def send(widget, **content) -> None:
    """What the browser sends."""
    widget._on_message(widget, content, [])


# ---- the instructor's bench ------------------------------------------------------------------------------------------


def test_every_engine_and_day_can_be_shown(desk):
    """Each stands on the bench, warm and ready to start, with its own plate and day."""

    def shown(engine: str, day: str) -> None:
        send(desk, set_up={"engine": engine, "day": day, "fault": NOTHING_WRONG, "prepared": True})
        assert desk.said == "" and desk.box.children == (desk, desk.bench)
        assert desk.bench.title == load_card(ENGINES / f"{engine}.toml").title
        assert desk.bench.conditions["altitude_ft"] == DAYS[day].altitude_ft
        desk.bench.act("starter")
        desk.bench.step(0.2)
        assert desk.bench.readings["cranking"] or desk.bench.readings["running"]

    first_engine, first_day = desk.engines[0][0], next(iter(DAYS))
    cases = [*((engine, first_day) for engine, _title in desk.engines), *((first_engine, day) for day in DAYS)]
    check_every(shown, [(f"{engine}, {day}", engine, day) for engine, day in cases])


def test_a_fault_is_on_the_engine_and_not_on_the_page(desk):
    """The session has it; the plate and the title do not give it away."""
    before = desk.bench.nameplate
    send(desk, set_up={**desk.shown, "fault": "valve_burnt"})
    assert desk.bench.session.engine.wear.cylinders and desk.bench.nameplate == before
    assert FAULTS["valve_burnt"].title not in f"{desk.bench.title} {desk.bench.task} {desk.bench.nameplate}"


def test_a_fault_that_does_not_fit_is_said_and_the_bench_stays(desk):
    """An engine without points cannot have points set wrongly."""
    cards = {name: load_card(ENGINES / f"{name}.toml") for name, _title in desk.engines}
    name, fault = next(
        (name, fault.id) for name, card in cards.items() for fault in FAULTS.values() if not fault.fits(card)
    )
    before = desk.bench
    send(desk, set_up={**desk.shown, "engine": name, "fault": fault})
    assert "cannot have" in desk.said and desk.bench is before


@pytest.mark.parametrize("wanted", [{}, {"engine": "a"}, {"engine": [], "day": {}, "fault": None}, "text", 7])
def test_what_is_not_offered_changes_nothing(desk, wanted):
    """A page can send anything."""
    before = desk.bench
    send(desk, set_up=wanted)
    assert desk.bench is before


def test_nothing_is_written_down(desk, folder):
    """No evidence, whatever is done."""
    desk.bench.act("brake", "on")
    desk.bench.act("starter")
    assert list(folder.iterdir()) == []


# ---- recordings ------------------------------------------------------------------------------------------------------


def test_step_does_one_act_and_says_what_it_is_for(player):
    """The bench shows the act, the caption says why, and the engine stands still between."""
    send(player, press="step")
    first = recording_of(RIGHT, ENGINES).acts[0]
    assert (player.at, player.acts) == (1, len(recording_of(RIGHT, ENGINES).acts))
    assert player.caption == first.caption and player.bench.settings[first.control] == first.value
    time_s = player.bench.session.time_s
    player.bench.step(1.0)
    assert player.bench.session.time_s == time_s and not player.playing


def test_play_goes_through_the_whole_recording(player):
    """To its end, by the clock's own steps, to the same timing, and then it rests; what ends it is told."""
    send(player, press="play")
    for _ in range(20_000):
        player.bench.step(0.25)
        if not player.playing:
            break
    recording = recording_of(RIGHT, ENGINES)
    assert player.at == player.acts and player.caption == recording.ends
    assert player.bench.session.trajectories[-1].actions[-1].base_timing_deg == recording.ends_deg
    send(player, press="play")
    assert player.at == 0 and player.playing


def test_pause_and_again(player):
    """A pause keeps the place; from the beginning is the engine as it was found."""
    for _ in range(3):
        send(player, press="step")
    send(player, press="play")
    send(player, press="pause")
    assert player.at == 3 and not player.playing
    send(player, press="again")
    assert player.at == 0 and player.bench.settings["brake"] == "off" and not player.playing


def test_hands_move_nothing_in_a_recording(player, folder):
    """The bench says so; nothing is written down."""
    send(player, press="again")
    player.bench._on_message(player.bench, {"control": "brake", "value": "on"}, [])
    assert player.bench.said["sentence"] == HANDS_OFF and player.bench.settings["brake"] == "off"
    assert list(folder.iterdir()) == []


def test_another_recording_is_chosen(player):
    """Its bench comes when it is played; a name that there is not changes nothing."""
    assert [name for name, _title in player.recordings] == list(DEMONSTRATIONS)
    send(player, press="step")
    assert player.box.children == (player, player.bench)
    send(player, choose=HOSE_LEFT_ON)
    assert player.chosen == HOSE_LEFT_ON and player.at == 0 and player.box.children == (player,)
    send(player, press="step")
    before = player.bench
    send(player, choose="another")
    assert player.bench is before and player.chosen == HOSE_LEFT_ON


# ---- the page --------------------------------------------------------------------------------------------------------


def test_the_page_is_one_that_the_server_runs(folder):
    """Its notebook is known by its digest, and calls the desk and the recordings."""
    write_page(folder)
    notebook = nbformat.read(folder / PAGE / f"{PAGE}.ipynb", as_version=4)
    assert lesson_digest(notebook.cells) in known_lessons(folder)
    code = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "code")
    assert "show_desk()" in code and "replays()" in code


# ---- a stand-in for an owner's engine --------------------------------------------------------------------------------


@pytest.fixture
def described(tmp_path):
    """A learner's folder with one engine that can be drawn, one that cannot, and the page of the first."""
    kept = KeptEngines(tmp_path)
    name = kept.add(owned_from({"identity": {"title": "Hoist"}, "build": {"cylinders": 6, "displacement_l": 3.5}}))
    kept.add(owned_from({"identity": {"title": "Unknown"}}))
    assert write_practice_page(tmp_path, name) == "lesson/my_engines/practise"
    return tmp_path


def test_a_stand_in_is_drawn_from_the_description(described):
    """It stands on the bench with its own title and no figure that the owner has not; each draw is another engine."""
    one = StandInDesk(described)
    assert [title for _name, title in one.engines] == ["Hoist, first draw", "Hoist, second draw", "Hoist, third draw"]
    assert one.bench.title == "Hoist" and ["Base timing", "not known"] in one.bench.nameplate
    first = one.bench.session.engine.card.digest
    send(one, set_up={**one.shown, "engine": "hoist 2"})
    assert one.said == "" and one.bench.session.engine.card.digest != first
    one.bench.act("starter")
    one.bench.step(0.2)
    assert one.bench.readings["cranking"] or one.bench.readings["running"]


def test_a_stand_in_can_have_a_fault_and_another_day(described):
    """As the instructor's bench can."""
    one = StandInDesk(described)
    send(one, set_up={**one.shown, "fault": "valve_burnt", "day": "8,000 ft, 4 °C"})
    assert one.bench.session.engine.wear.cylinders and one.bench.conditions["altitude_ft"] == 8000.0


def test_where_no_engine_can_be_drawn_it_is_said(tmp_path):
    """The page says what is missing and has no bench."""
    assert StandInDesk(tmp_path).said == NONE_TO_DRAW and StandInDesk(tmp_path).bench is None


def test_the_practice_page_may_be_run_and_is_no_lesson(described):
    """The server knows its digest; the home page does not list it among lessons or strangers."""
    notebook = described / "my_engines" / "practise" / "practise.ipynb"
    assert is_known(described, notebook) and lessons_in(described) == [] and other_notebooks(described) == []
