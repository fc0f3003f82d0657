"""Whatever stands in an archive, a class list or the first lines of a hand-in, no error comes that is not one of ours,
and nothing that the instructor reads moves a terminal."""

from __future__ import annotations

import io
import zipfile

import pytest
from hypothesis import given, strategies as st

from graders.nbgrader_bridge.collect import _unpacked, archive_problem
from graders.submissions.folder import printable
from graders.submissions.resemblance import remarks_on
from graders.submissions.roster import Roster, RosterError, class_handed_out, folded, name_in_evidence, read_list
from tests.fuzz.test_evidence_and_cards import chained, odd_values, search, sound_header

texts = st.text(max_size=30) | st.sampled_from(["\x1b[2J", "\u202e", "a;b", "\ud800", "..", "ada", "ADA ", ""])


def archive_of(members) -> bytes:
    """A zip archive of these names and contents; names that no archive can hold are left out."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name, content in members:
            try:
                archive.writestr(name or "empty", content)
            except (UnicodeError, ValueError, IndexError):  # the last: of a name that begins with a null
                continue
    return held.getvalue()


@search(60)
@pytest.mark.filterwarnings("ignore:Duplicate name")
@given(
    members=st.lists(st.tuples(texts, st.binary(max_size=60)), max_size=4),
    place=st.floats(0.0, 1.0),
    junk=st.binary(max_size=6),
)
def test_any_damage_to_an_archive(tmp_path, members, place, junk):
    """It is unpacked inside its folder, or there is one sentence."""
    data = archive_of(members)
    at = int(place * len(data))
    path, target = tmp_path / "a.zip", tmp_path / "unpacked"
    path.write_bytes(data[:at] + junk + data[at + len(junk) // 2 :])
    sentence = archive_problem(path) or _unpacked(path, target)
    assert isinstance(sentence, str)
    assert {one.name for one in tmp_path.iterdir()} <= {"a.zip", "unpacked"}
    for one in sorted(target.rglob("*"), reverse=True) if target.is_dir() else ():
        one.rmdir() if one.is_dir() else one.unlink()
    if target.is_dir():
        target.rmdir()


@search(100)
@given(
    rows=st.lists(st.lists(texts, max_size=6), max_size=5),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
    begins=st.sampled_from(["", "id\n", "id,first_name,also_known_as\n", "name;id\n"]),
)
def test_any_class_list(tmp_path, rows, encoding, begins):
    """It is a list of learners whose names can be looked up, or our error."""
    text = begins + "\n".join(",".join(row) for row in rows)
    (tmp_path / "roster.csv").write_bytes(text.encode(encoding, "replace"))
    try:
        listed = read_list(tmp_path / "roster.csv")
    except RosterError as error:
        assert str(error)
        return
    roster = Roster(listed)
    assert all(one.id in roster.ids_for(one.id) for one in listed)


@search(100)
@given(
    contents=st.lists(st.dictionaries(st.sampled_from(["learner", "exercise", "time_s", "control"]), odd_values)),
    junk=st.binary(max_size=60),
    first=st.booleans(),
)
def test_any_hand_in_beside_others(tmp_path, contents, junk, first):
    """Names and what hand-ins have in common are looked for in any file."""
    sound = chained([sound_header(), *contents])
    path = tmp_path / "evidence.jsonl"
    path.write_bytes(junk + sound if first else sound + junk)
    (tmp_path / "class.toml").write_bytes(junk)
    assert isinstance(name_in_evidence(tmp_path), str) and isinstance(folded(name_in_evidence(tmp_path)), str)
    assert class_handed_out(tmp_path) is None or isinstance(class_handed_out(tmp_path), str)
    told = remarks_on({"ada": path, "bo": path})
    assert all(isinstance(sentence, str) for sentences in told.values() for sentence in sentences)


@search(200)
@given(text=st.text(max_size=40) | st.text(st.characters(categories=["Cc", "Cf", "Cs"]), max_size=10))
def test_any_text_that_a_terminal_is_shown(text):
    """Every sign of it prints, or ends a line."""
    assert all(sign.isprintable() or sign == "\n" for sign in printable(text))
    printable(text).encode()
