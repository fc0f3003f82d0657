"""What an answer rests on, what the terminal tells, and what a sheet and a picture take of the work."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from course import cli
from course.owner.answer import EXERCISE, LESSON, MAKERS, READ, SIMULATED, answer_text, headings
from course.owner.band_picture import ShownBand, band_picture
from course.owner.filled_sheet import EXAMPLE, ToCompare, to_compare
from course.owner.told import told
from course.owner.work import shown_bands
from engine_sim.owned.description import OwnedEngine, load_owned, owned_from
from graders.exercises.loader import load_rubric
from tests.course.worked_example import LEAK, worked_example

HOIST = load_owned(EXAMPLE)


@pytest.fixture
def terminal(monkeypatch):
    """A terminal in which nothing is simulated."""
    monkeypatch.setattr("course.commands.own.work_out", lambda engine, progress: worked_example())
    return lambda *words: CliRunner().invoke(cli.app, ["own", *map(str, words)])


# ---- the answer ------------------------------------------------------------------------------------------------------


def test_the_headings_are_those_of_the_marking_table_in_its_order():
    """Whatever the rubric calls them; each has what an answer with all points is like, and no brace is left."""
    table = load_rubric(LESSON).exercises[EXERCISE].to_mark()
    found = headings(HOIST, worked_example())
    assert [(one.id, one.title) for one in found] == [(one.id, one.title) for one in table]
    assert all(one.best and "{" not in one.best and one.figures for one in found)


def test_danger_comes_first_and_what_was_read_makes_it():
    """Ping, a total that is too early, and too little vacuum for the brakes stand before the usual cautions."""
    read = {"ping": "heavy ping", "light_3000_off_deg": 38.0, "idle_inhg": 7.0, "cranks": "kicks back"}
    figures = headings(owned_from({"readings": read}), None)[0].figures
    assert [one.ground for one in figures[:4]] == [READ] * 4
    said = " ".join(one.text for one in figures[:4])
    assert "heavy ping" in said and "38 degrees at 3,000" in said and "brake booster" in said and "kicks" in said
    assert all(one.ground != READ for one in headings(OwnedEngine(), None)[0].figures)


def test_every_figure_has_its_ground():
    """Read, the maker's, supposed, simulated: each is told apart."""
    found = {one.id: one.figures for one in headings(HOIST, worked_example())}
    right = {one.text: one.ground for one in found["right"]}
    assert right["Vacuum at idle: 16.5 inHg (55.9 kPa)"] == READ and right["Base timing: 6 crank degrees"] == MAKERS
    assert any(ground == SIMULATED for ground in right.values()) and any("supposed" in one for one in right.values())
    asked = " ".join(one.text for one in headings(OwnedEngine(), None)[1].figures)
    assert "Vacuum at idle: not known." in asked and "It would show:" in asked


def test_the_sentences_are_the_writers_own():
    """The text has a place for them under each heading, and nothing written in their stead."""
    found = headings(HOIST, None)
    assert answer_text(found, {}).count("(your sentences)") == len(found)
    text = answer_text(found, {found[0].id: "Stop first."})
    assert text.index(found[0].title.upper()) < text.index("Stop first.") < text.index(found[1].title.upper())


# ---- bands -----------------------------------------------------------------------------------------------------------


def test_a_reading_lies_where_it_lies():
    """Below, within or above its band, in words and in the picture; a gauge that shows too much is corrected."""
    for read, place in ((16.5, "below it"), (18.0, "within it"), (19.5, "above it")):
        assert ShownBand("Vacuum", "inHg", 17.0, 19.0, read).words.endswith(place)
    picture = band_picture([ShownBand("Vacuum <at> idle", "inHg", 17.0, 19.0, 16.5)])
    assert "Vacuum &lt;at&gt; idle" in picture and 'aria-hidden="true"' in picture and "read 16.5" in picture
    odd = owned_from({"readings": {"idle_inhg": 18.0, "gauge_error_inhg": 1.5}})
    (idle, *_more) = shown_bands(odd, worked_example())
    assert idle.read == 16.5 and idle.place == "below it"


def test_bands_and_what_was_read_are_shown_in_the_chosen_units():
    """Vacuum in kPa for who chose the metric system, degrees as they are; in words as in the picture."""
    (idle, *others) = shown_bands(owned_from({"readings": {"idle_inhg": 18.0}}), worked_example(), metric=True)
    assert idle.words == "Vacuum at idle: 57.9 to 64.3 kPa; read: 61.0, within it"
    assert [band.words for band in others] == [
        "Where the method will end: 6 to 15 ° BTDC",
        "Total at 3,000 rpm, hose off: 27 to 34 ° BTDC",
    ]


def test_a_sheet_takes_the_bands_that_it_may_print():
    """The idle's with its sentence; a total that reaches above 36 is not printed."""
    found = to_compare(HOIST, worked_example())
    assert "17.1 to 19.0 inHg" in found.idle_vacuum and "never a setting" in found.idle_vacuum
    assert "27 to 34" in found.total and "static 6 to 8" in found.start[0]
    assert to_compare(HOIST, worked_example(total_high=37.0)).total == ""
    assert to_compare(HOIST, None) == ToCompare()


# ---- the command -----------------------------------------------------------------------------------------------------


def test_the_terminal_tells_all_of_it(terminal):
    """Bands, starting figure, distributor, the list with its grounds, the next test, and what not to do."""
    done = terminal(EXAMPLE)
    assert done.exit_code == 0, done.output
    for said in ("never a setting", "17.1 to 19.0 inHg", "Late start", f"60 %  {LEAK}", "does not fit", "Soapy water"):
        assert said in done.output
    assert "Count the leads" in told(OwnedEngine(), None)


def test_a_new_file_is_begun_and_an_old_one_is_not_overwritten(terminal, tmp_path):
    """The empty file is told to be filled in; then it is read."""
    path = tmp_path / "mine.toml"
    assert "is new" in terminal(path).output and path.is_file()
    assert "Nothing can be worked out yet" in terminal(path).output
    for name in ("mine.txt", "nowhere/mine.toml"):
        assert terminal(tmp_path / name).exit_code == 1


@pytest.mark.parametrize("name", ["sheet.html", "sheet.pdf"])
def test_sheets_are_written_where_they_are_wanted(terminal, tmp_path, name):
    """Of a file, the blank one and the example; on Letter too; another ending is refused in a sentence."""
    for which in (EXAMPLE, "blank", "example"):
        path = tmp_path / name
        done = terminal(which, "--sheet", path, "--paper", "Letter")
        assert done.exit_code == 0 and path.stat().st_size > 5000, done.output
    assert terminal("blank", "--sheet", tmp_path / "sheet.doc").exit_code == 1
    assert terminal("blank", "--sheet", tmp_path / name, "--paper", "A5").exit_code == 1


def test_an_answer_is_not_written_over_sentences(terminal, tmp_path):
    """The second time another name is asked for."""
    path = tmp_path / "answer.txt"
    assert terminal(EXAMPLE, "--answer", path).exit_code == 0 and "(your sentences)" in path.read_text(encoding="utf-8")
    path.write_text("mine", encoding="utf-8")
    assert terminal(EXAMPLE, "--answer", path).exit_code == 1 and path.read_text(encoding="utf-8") == "mine"
