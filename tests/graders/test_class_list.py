"""The class list and the gradebook together: at any time, by name, and nobody twice."""

from __future__ import annotations

import pytest
from nbgrader.api import Gradebook

from course.commands import make_class
from engine_sim import TimingCourseError
from graders.classroom.class_list import ghosts
from graders.classroom.run import NEEDS_PERSON, Classroom

LESSON, WRITTEN = "l98_trial", "l98_explain"

pytestmark = pytest.mark.classroom


def names_shown(trial_class) -> dict[str, str]:
    """What nbgrader's marking list shows, by id: it puts last and first name together."""
    with trial_class.course.gradebook() as gradebook:
        return {student.id: f"{student.last_name}, {student.first_name}" for student in gradebook.students}


def give_mark(trial_class, learner: str, points: float) -> None:
    """Mark the written answer by hand, as the marking screen does."""
    with Gradebook(trial_class.course.directory.db_url) as gradebook:
        grade = gradebook.find_grade(WRITTEN, LESSON, LESSON, learner)
        grade.manual_score, grade.needs_manual_grade = points, False
        gradebook.db.commit()


@pytest.fixture
def school_list(tmp_path):
    """A school's list of two."""
    path = tmp_path / "list.csv"
    path.write_text("Pupil number;Surname;Given name\na1;Berg;Ada\nb2;Lind;Ben\n", encoding="utf-8")
    return path


def test_the_marking_list_shows_names_or_ids_and_never_none(trial_class, perfect):
    """A class without a list shows ids; with one that was edited by hand, the next run brings the names."""
    trial_class.hand_in("ada", perfect)
    Classroom(trial_class.root).judge(LESSON)
    assert names_shown(trial_class) == {"ada": "ada, "}
    (trial_class.root / "roster.csv").write_text("id,first_name,last_name\nada,Ada,Berg\n", encoding="utf-8")
    Classroom(trial_class.root).judge(LESSON)
    assert names_shown(trial_class) == {"ada": "Berg, Ada"}


def test_a_list_in_the_middle_of_the_term_merges_who_is_there_already(trial_class, perfect, school_list):
    """Work judged, and marked by hand, under a typed name goes to the learner on the list with all its points."""
    trial_class.hand_in("Ada Berg", perfect)
    Classroom(trial_class.root).judge(LESSON)
    give_mark(trial_class, "Ada Berg", 3.0)
    before = trial_class.points("Ada Berg")
    said = make_class.take_in(trial_class.root, school_list)
    assert any("'Ada Berg' is a1's now" in sentence for sentence in said)
    assert names_shown(trial_class) == {"a1": "Berg, Ada", "b2": "Lind, Ben"} and ghosts(trial_class.course) == []
    assert trial_class.points("a1") == before and before[WRITTEN] == 3.0
    reports = {one.learner: one for one in Classroom(trial_class.root).judge(LESSON)}
    assert set(reports) == {"a1", "b2"} and trial_class.points("a1") == before


def test_a_second_list_keeps_what_was_said_of_names_and_takes_nobody_off(trial_class, school_list):
    """New learners come, changed names are brought up to date, and the others stay, with a sentence."""
    make_class.take_in(trial_class.root, school_list)
    make_class.say_same(trial_class.root, "Addi", "a1")
    school_list.write_text("Pupil number,Surname,Given name\na1,Berg-Lund,Ada\nc3,Noor,Cy\n", encoding="utf-8")
    said = make_class.take_in(trial_class.root, school_list)
    assert any("1 of them new" in sentence for sentence in said) and any("kept: b2" in sentence for sentence in said)
    assert "a1,Ada,Berg-Lund,,Addi" in (trial_class.root / "roster.csv").read_text(encoding="utf-8")
    assert names_shown(trial_class)["a1"] == "Berg-Lund, Ada"


def test_same_merges_a_name_that_nobody_could_guess(trial_class, perfect, school_list):
    """`--same` gives what the gradebook has under a nickname to the learner, in one step."""
    trial_class.hand_in("Sparky", perfect)
    Classroom(trial_class.root).judge(LESSON)
    before = trial_class.points("Sparky")
    said = make_class.take_in(trial_class.root, school_list)
    assert any("'Sparky' is in the gradebook and not on the class list" in sentence for sentence in said)
    assert "is b2's now" in make_class.say_same(trial_class.root, "Sparky", "b2")
    assert trial_class.points("b2") == before and "Sparky" not in names_shown(trial_class)
    (report,) = [one for one in Classroom(trial_class.root).judge(LESSON) if one.learner == "b2"]
    assert report.status == NEEDS_PERSON and report.to_mark == (WRITTEN,) and report.questions == ()


def test_same_gives_a_learner_of_the_list_a_name(trial_class, perfect, school_list):
    """Somebody who was added to the list by hand, and gets what lies under a nickname, is shown by name and not as
    "None, None"."""
    trial_class.hand_in("Sparky", perfect)
    Classroom(trial_class.root).judge(LESSON)
    make_class.take_in(trial_class.root, school_list)
    with (trial_class.root / "roster.csv").open("a", encoding="utf-8") as roster:
        roster.write("c3,Cleo,Dahl,,\n")
    make_class.say_same(trial_class.root, "Sparky", "c3")
    assert names_shown(trial_class)["c3"] == "Dahl, Cleo"


def test_same_leaves_a_learner_on_the_list_alone(trial_class, perfect, school_list):
    """A name that is somebody else's id keeps its own points, and an id that is not in the class moves nothing."""
    make_class.take_in(trial_class.root, school_list)
    trial_class.hand_in("a1", perfect)
    trial_class.hand_in("Sparky", perfect)
    Classroom(trial_class.root).judge(LESSON)
    before = trial_class.points("a1")
    make_class.say_same(trial_class.root, "a1", "b2")
    assert trial_class.points("a1") == before and trial_class.points("b2") == {}
    with pytest.raises(TimingCourseError, match="no learner 'b3'"):
        make_class.say_same(trial_class.root, "Sparky", "b3")
    assert "b3" not in names_shown(trial_class)


def test_marks_by_hand_on_both_sides_are_left_to_the_instructor(trial_class, perfect):
    """Where both names have marks by hand in a lesson nothing is lost: nothing is moved, and the lesson is named."""
    trial_class.hand_in("ada", perfect)
    trial_class.hand_in("Sparky", perfect)
    Classroom(trial_class.root).judge(LESSON)
    give_mark(trial_class, "ada", 3.0)
    give_mark(trial_class, "Sparky", 1.0)
    said = make_class.say_same(trial_class.root, "Sparky", "ada")
    assert f"both have marks by hand in {LESSON}" in said
    assert trial_class.points("ada")[WRITTEN] == 3.0 and trial_class.points("Sparky")[WRITTEN] == 1.0
