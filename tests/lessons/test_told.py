"""Everything that the course tells of an engine is what that engine gives, and no number is told without a reason."""

from __future__ import annotations

import re

import pytest

from engine_sim import published

from .told_numbers import FILES, ToldFile


@pytest.fixture(scope="module")
def told_files():
    """Each file of told numbers, read and computed once."""
    return {name: ToldFile(path) for name, path in FILES.items()}


@pytest.mark.parametrize("name", FILES)
def test_what_is_told_is_what_the_engine_gives(told_files, name):
    """Each number is computed again from the engine, state and acts that its row names; each that differs is named
    with its sentence, the value told and the value computed."""
    wrong = told_files[name].wrong()
    assert not wrong, f"{len(wrong)} differ:\n" + "\n".join(wrong)


@pytest.mark.parametrize("name", FILES)
def test_no_number_is_told_without_a_row(told_files, name):
    """A number with a unit stands in a row of what is computed, or of what is given with its reason."""
    unowned = told_files[name].unowned()
    assert not unowned, f"{len(unowned)} belong to no row:\n" + "\n".join(unowned)


@pytest.mark.parametrize("name", FILES)
def test_what_is_given_has_one_reason(told_files, name):
    """A row of `given` has a reason in words, or the key of a published value, and not both."""
    for row in told_files[name].given:
        assert bool(row.reason) != bool(row.source), row.text
        if row.source:
            published(row.source)


def test_the_figures_of_a_first_pull_are_the_published_ones():
    """Wherever a text gives the total, the speed at which it is read, or the total of an unknown chamber, that value of
    the table stands in it."""
    found = [row for path in FILES.values() for row in ToldFile(path).given if row.source.startswith("total_")]
    numbers = {row.text: [float(one.replace(",", "")) for one in re.findall(r"\d[\d,]*", row.text)] for row in found}
    assert len(found) > 10
    assert [row.text for row in found if published(row.source).value not in numbers[row.text]] == []


def test_a_wrong_number_and_one_without_a_row_are_named(tmp_path):
    """A wrong number is named with both values and written rightly by `fix`; so is a claim that does not hold, and a
    number that stands in no row."""
    (tmp_path / "text.md").write_text("The runabout idles at 1,400 rpm. A pump gives 3 kPa.", encoding="utf-8")
    (tmp_path / "told.toml").write_text(
        """
        texts = []
        states.found = { engine = "farm_runabout_four", idle = {} }
        [[told]]
        text = "idles at {found_speed_rpm ~10} rpm"
        [[told]]
        text = "The runabout"
        value = "found_speed_rpm"
        at_most = 700
        [[told]]
        text = "The runabout"
        value = "found_vacuum_inhg"
        within = "idle_vacuum_leak"
        """,
        encoding="utf-8",
    )
    file = ToldFile(tmp_path / "told.toml")
    file.paths = [tmp_path / "text.md"]
    number, bound, band = file.wrong()
    assert "told 1400" in number and "computed " in number and "to 700" in bound and "idle_vacuum_leak" in band
    (strange,) = file.unowned()
    assert "3 kPa" in strange
    assert file.fix() == 1
    again = ToldFile(tmp_path / "told.toml")
    again.paths = file.paths
    assert again.wrong() == [bound, band] and "1,400" not in (tmp_path / "text.md").read_text(encoding="utf-8")
