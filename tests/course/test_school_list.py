"""A school's own list of learners read as a class list, whatever its columns are called."""

from __future__ import annotations

import pytest

from course.commands.school_list import read_school_list
from graders.submissions.roster import RosterError


def listed(tmp_path, text: str, coding: str = "utf-8", stated=None, ask=None):
    """Ids with first names, last names and e-mail addresses of a list with this text."""
    path = tmp_path / "list.csv"
    path.write_bytes(text.encode(coding))
    rows = read_school_list(path, stated, ask).rows
    return [(row["id"], row["first_name"], row["last_name"], row["email"]) for row in rows]


@pytest.mark.parametrize(
    ("text", "coding", "first"),
    [
        ("id,first_name,last_name,email\nada,Ada,Berg,a@b.example\n", "utf-8", ("ada", "Ada", "Berg", "a@b.example")),
        ("Surname;Given name;Student number\nBerg;Ada;17\n", "utf-8-sig", ("17", "Ada", "Berg", "")),
        ("Nachname\tVorname\tBenutzername\nWeiß\tAda\taw\n", "utf-16", ("aw", "Ada", "Weiß", "")),
        ('Full name,User name\n"Berg, Ada",ab\n', "utf-8", ("ab", "Ada", "Berg", "")),
        ("Name,Login\nAda Maria Berg,ab\n", "utf-8", ("ab", "Ada Maria", "Berg", "")),
        ("Name,First name,ID\nBerg,Ada,7\n", "utf-8", ("7", "Ada", "Berg", "")),
        (
            "Name,E-mail address\nAda Berg,Ada.B@school.example\n",
            "utf-8",
            ("ada.b", "Ada", "Berg", "Ada.B@school.example"),
        ),
        ("First name,Last name\nAda,Berg\n", "utf-8", ("ada-berg", "Ada", "Berg", "")),
    ],
)
def test_the_headings_say_which_column_is_which(tmp_path, text, coding, first):
    """Commas, semicolons or tabs, with or without a byte order mark, and ids made where there are none."""
    assert listed(tmp_path, text, coding) == [first]


def test_e_mail_addresses_of_two_schools_keep_learners_apart(tmp_path):
    """Where the part before the @ stands twice, the whole address is the id."""
    found = listed(tmp_path, "Name,Email\nA B,a@one.example\nA C,a@two.example\n")
    assert [row[0] for row in found] == ["a@one.example", "a@two.example"]


def test_columns_can_be_stated_or_asked_for(tmp_path):
    """Where the headings say nothing, --columns or the instructor at the terminal does; other columns are kept."""
    text = 'Code,Who,Room\nx1,"Berg, Ada",3\n'
    assert listed(tmp_path, text, stated={"id": "Code", "name": "Who"}) == [("x1", "Ada", "Berg", "")]
    answers = {"id": "Code", "whole name": "Who"}
    assert listed(tmp_path, text, ask=lambda wanted, headings: answers.get(wanted, "")) == [("x1", "Ada", "Berg", "")]
    assert read_school_list(tmp_path / "list.csv", {"id": "Code"}).rows[0]["Room"] == "3"
    assert "No column of names" in read_school_list(tmp_path / "list.csv", {"id": "Code"}).taken


@pytest.mark.parametrize(
    ("text", "stated", "says"),
    [
        ("Code,Who\nx,y\n", {}, "has 'Code', 'Who'"),
        ("id\nx\n", {"id": "Code"}, "id=Code, and .* has the columns id"),
        ("Name,Email\nA B,\n", {}, "line 2 has no e-mail address"),
        ("Name\nA B\nA B\n", {}, "lines 2 and 3"),
        ("ID,Name\n1,A\n1,B\n", {}, "line 3"),
    ],
)
def test_a_list_that_cannot_be_used_gets_a_sentence(tmp_path, text, stated, says):
    """Unknown headings, a column that is not there, learners whom nothing tells apart: the line or the headings."""
    with pytest.raises(RosterError, match=says):
        listed(tmp_path, text, stated=stated)
