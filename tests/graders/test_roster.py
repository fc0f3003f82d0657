"""Names matched to the class list: every spelling, every doubt, and full credit for anybody who typed another name."""

from __future__ import annotations

import os
import shlex

import pytest

from engine_sim import EvidenceWriter, Header
from graders.classroom.run import JUDGED, NEEDS_PERSON, NOT_JUDGED, NOTHING, Classroom
from graders.submissions.roster import (
    Listed,
    Roster,
    RosterError,
    filed_hand_ins,
    folded,
    name_in_evidence,
    read_list,
    state_same,
)

LESSON = "l98_trial"
TABLE = """id,first_name,last_name,email,also_known_as,room
ada,Ada,Brandt,,,1
ben,Ben,Ødegård,ben@workshop.example,B. O.; Benno,1
julia,Юлия,Ковалёва,,,2
anna1,Anna,Weiß,,,2
anna2,Anna,Lind,,,2
"""


@pytest.fixture
def listed(tmp_path):
    """The folder of a class with a list of five."""
    (tmp_path / "roster.csv").write_text(TABLE, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("name", "ids"),
    [
        ("ada", ("ada",)),
        ("ADA", ("ada",)),
        (" Ada  Brandt ", ("ada",)),
        ("Brandt, Ada", ("ada",)),
        ("brandt", ("ada",)),
        ("ben odegard", ("ben",)),
        ("BEN@workshop.example", ("ben",)),
        ("b o", ("ben",)),
        ("Benno", ("ben",)),
        ("юлия ковалева", ("julia",)),
        ("Юлия", ("julia",)),
        ("Anna Weiss", ("anna1",)),
        ("Anna_Lind", ("anna2",)),
        ("Anna", ("anna1", "anna2")),
        ("nobody", ()),
        ("", ()),
        ("...", ()),
    ],
)
def test_a_name_is_matched_by_its_surest_way(listed, name, ids):
    """Capitals, spaces, dots and accents do not matter; a bare first name is enough where only one bears it."""
    assert Roster.of(listed).ids_for(name) == ids


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("José Núñez", "jose nunez", True),
        ("Łukasz", "lukasz", True),
        ("İpek", "ipek", True),
        ("Straße", "STRASSE", True),
        ("한글", "한글", True),
        ("कि", "की", False),
        ("Ли", "Ла", False),
        ("Anna", "Anne", False),
    ],
)
def test_folding_keeps_different_names_apart(one, other, same):
    """Accents go; the vowel signs of scripts that write vowels as marks stay."""
    assert (folded(one) == folded(other)) is same


def test_what_was_stated_wins_and_is_kept(listed):
    """An alias that the instructor states decides between two of a name; the other columns of the file stay."""
    sentence = state_same(listed, "Anna", "anna2", ())
    assert "anna2" in sentence and Roster.of(listed).ids_for("anna") == ("anna2",)
    assert "room" in (listed / "roster.csv").read_text(encoding="utf-8").splitlines()[0]
    before = (listed / "roster.csv").read_bytes()
    state_same(listed, "ANNA", "anna2", ())
    assert (listed / "roster.csv").read_bytes() == before
    assert {entry.id for entry in read_list(listed / "roster.csv")} == {"ada", "ben", "julia", "anna1", "anna2"}


def test_a_class_without_a_list_gets_one_with_everybody(tmp_path):
    """The first name that is stated begins a list of all who are known."""
    state_same(tmp_path, "Yulia", "julia", {"julia", "ada"})
    assert [entry.id for entry in read_list(tmp_path / "roster.csv")] == ["ada", "julia"]


@pytest.mark.parametrize(
    ("name", "learner", "words"),
    [
        ("Yulia", "juli", "is it julia"),
        ("a;b", "ada", "semicolons"),
        ("--", "ada", "with letters"),
        ("a\nb", "ada", "one line"),
    ],
)
def test_a_statement_that_cannot_be_kept_gets_a_sentence(listed, name, learner, words):
    """An unknown id, a name of no letters, of two lines, or with the sign that parts names."""
    with pytest.raises(RosterError, match=words):
        state_same(listed, name, learner, ())
    assert (listed / "roster.csv").read_text(encoding="utf-8") == TABLE


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_list_that_a_table_program_saved_is_read(tmp_path, encoding):
    """A mark before the first column, and text of two bytes a sign; the same without a mark is said."""
    path = tmp_path / "roster.csv"
    path.write_bytes(TABLE.encode(encoding))
    assert Roster.of(tmp_path).ids_for("юлия ковалева") == ("julia",)
    path.write_bytes(TABLE.encode("utf-16-le"))
    with pytest.raises(RosterError, match=r"UTF-8|column 'id'"):
        read_list(path)


def test_a_list_is_never_left_half_written(listed, monkeypatch):
    """Where the last step fails, the old list is whole and nothing else lies about."""

    def breaks(*_):
        raise OSError("no space left")

    monkeypatch.setattr(os, "replace", breaks)
    with pytest.raises(OSError, match="no space"):
        state_same(listed, "Yulia", "julia", ())
    assert [path.name for path in listed.iterdir()] == ["roster.csv"]
    assert (listed / "roster.csv").read_text(encoding="utf-8") == TABLE


@pytest.mark.parametrize("content", [b"", b"\xff\x00", b"[1]\n", b"{}\n", b'{"learner": 3}\n', b"[" * 30_000])
def test_a_name_that_cannot_be_read_is_no_name(tmp_path, content):
    """Whatever stands in the first line of the evidence, looking for the name raises nothing."""
    (tmp_path / "evidence.jsonl").write_bytes(content)
    assert name_in_evidence(tmp_path) == ""


def test_a_linked_evidence_is_not_looked_into(tmp_path):
    """A link to another's evidence does not lend its name."""
    folder = tmp_path / "eve"
    folder.mkdir()
    writer = EvidenceWriter(tmp_path / "ada.jsonl", Header("ada", LESSON, "", "digest", "2026-01-05T09:00:00+00:00"))
    os.symlink(writer.path, folder / "evidence.jsonl")
    assert name_in_evidence(tmp_path) == "" and name_in_evidence(folder) == ""


# ---- class runs ------------------------------------------------------------------------------------------------------


@pytest.fixture
def listed_class(trial_class):
    """The trial class with the list of five."""
    (trial_class.root / "roster.csv").write_text(TABLE, encoding="utf-8")
    return trial_class


def judged(trial_class):
    """Run the class and return its reports by learner."""
    return {report.learner: report for report in Classroom(trial_class.root).judge(LESSON)}


def total(trial_class, learner):
    """The points of a learner in the gradebook."""
    return sum(trial_class.points(learner).values())


def test_whoever_typed_another_name_gets_full_credit(listed_class, perfect):
    """The folder has the id or the typed name, the evidence the typed name: the grade stands with the id."""
    listed_class.hand_in("ada", perfect, header_learner="ada brandt")
    listed_class.hand_in("Юлия", perfect, header_learner="юлия ковалёва")
    listed_class.hand_in("file_77_B-O", perfect, header_learner="benno")
    reports = judged(listed_class)
    assert set(reports) == {"ada", "anna1", "anna2", "ben", "julia"}
    assert [total(listed_class, name) for name in ("ada", "julia", "ben")] == [5.0, 5.0, 5.0]
    assert "submitted/Юлия" in reports["julia"].remarks[-1]
    assert {reports["anna1"].status, reports["anna2"].status} == {NOTHING}
    assert not any(report.judged_now for report in judged(listed_class).values())


def test_an_unknown_name_is_put_to_the_instructor_and_one_command_answers(listed_class, perfect):
    """Nothing is judged, nobody is made up; the command that the sentence gives is the one that mends it."""
    listed_class.hand_in("Yulia K", perfect, header_learner="Yulia K")
    report = judged(listed_class)["Yulia K"]
    assert report.status == NOT_JUDGED and "not on the class list" in report.reasons[0]
    assert "Yulia K" not in listed_class.course.learners()
    words = shlex.split(report.reasons[0].splitlines()[-1])
    assert words[:2] == ["timing-course", "class"] and words[3] == "--same"
    state_same(listed_class.root, words[4], "julia", ())
    assert judged(listed_class)["julia"].status == NEEDS_PERSON  # for the written answer alone
    assert total(listed_class, "julia") == 5.0


def test_evidence_of_an_unknown_name_in_a_known_folder(listed_class, perfect):
    """It is not believed, the instructor is told how to say that it is hers, and then it earns everything."""
    listed_class.hand_in("ada", perfect, header_learner="Sparky")
    monkey = judged(listed_class)["ada"]
    assert monkey.status == NEEDS_PERSON and total(listed_class, "ada") == 0.0
    state_same(listed_class.root, "sparky", "ada", ())
    assert judged(listed_class)["ada"].judged_now
    assert total(listed_class, "ada") == 5.0


def test_anothers_evidence_stays_recognised(listed_class, perfect):
    """Evidence that bears the name of somebody else on the list earns nothing, however it is spelled."""
    listed_class.hand_in("ada", perfect)
    listed_class.hand_in("ben", perfect, header_learner="ADA brandt")
    reports = judged(listed_class)
    assert (total(listed_class, "ada"), total(listed_class, "ben")) == (5.0, 0.0)
    assert reports["ben"].status == NEEDS_PERSON and "belongs to ADA brandt" in reports["ben"].reasons[0]


def test_two_folders_that_claim_one_learner_are_a_question(listed_class, perfect):
    """Neither is judged before the instructor has decided; an earlier grade stays."""
    listed_class.hand_in("julia", perfect)
    judged(listed_class)
    listed_class.hand_in("Юлия Ковалева", {"l98_first": 1.0})
    report = judged(listed_class)["julia"]
    assert report.status == NOT_JUDGED and "claim to be julia's" in report.reasons[0]
    assert total(listed_class, "julia") == 5.0


def test_one_name_in_two_hand_ins_is_a_doubt_until_it_is_stated(listed_class, perfect):
    """Two who are called the same and typed no more than that are judged, and a person looks whether one is a copy."""
    for learner in ("anna1", "anna2"):
        listed_class.hand_in(learner, {"l98_first": 3.0}, header_learner="Anna")
    reports = judged(listed_class)
    for learner, other in (("anna1", "anna2"), ("anna2", "anna1")):
        assert total(listed_class, learner) == 3.0
        assert reports[learner].status == NEEDS_PERSON and f"so does that of {other}" in reports[learner].reasons[0]
    for learner in ("anna1", "anna2"):
        state_same(listed_class.root, "Anna", learner, ())
    assert {report.status for name, report in judged(listed_class).items() if name.startswith("anna")} == {JUDGED}


def test_without_a_list_a_folder_is_an_id_and_spelling_does_not_matter(trial_class, perfect):
    """In a class without a list the folder's name decides, and the evidence may spell it otherwise."""
    trial_class.hand_in("Ada Brandt", perfect, header_learner="ada.brandt")
    judged(trial_class)
    assert total(trial_class, "Ada Brandt") == 5.0


def test_every_hand_in_is_filed_once(listed_class, perfect):
    """Whatever lies in submitted/, each learner has one line, and no folder is forgotten."""
    for name in ("ada", "ADA", "s[1]", "Anna", "stranger"):
        listed_class.hand_in(name, perfect, header_learner="somebody")
    filed = filed_hand_ins(Roster.of(listed_class.root), listed_class.root / "submitted", LESSON, ".")
    assert [one.learner for one in filed] == sorted({one.learner for one in filed})
    assert {one.folder for one in filed if one.question} == {"ada", "s[1]", "Anna", "stranger"}


def test_ids_compare_as_written_first():
    """An id that is another's alias, too, is its owner's."""
    roster = Roster([Listed("ada"), Listed("ben", also_known_as=("ada",))])
    assert roster.ids_for("ada") == ("ada",) and roster.ids_for("Ada") == ("ben",)
