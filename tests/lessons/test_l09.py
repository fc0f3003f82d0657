"""Lesson l09: the job at the hauler's bench, mistake by mistake, and the written answer that a person marks."""

from __future__ import annotations

import html
import re
import shutil

import nbformat
import pytest

from course.commands.answers import answers_for
from course.commands.make_class import make
from course.learner.progress import progress_in
from course.widgets import written
from engine_sim import Event, EvidenceWriter, Header
from graders.bench.assignment import engine_of
from graders.classroom.run import NEEDS_PERSON, Classroom
from graders.exercises.individualise import learners_exercise
from graders.exercises.loader import RubricError, load_rubric, rubric_from
from graders.judge import judge_lesson
from graders.model_answers.model_learner import CREATED
from tests.graders.test_judge import MISTAKES
from tests.scripted_learner import Habits, ScriptedLearner
from tests.submissions.hostile import source_of_one_lesson

from .working import ENGINES, assert_costs_its_own, judged, lost

LESSON, BENCH, ANSWER = "l09_answer_the_letter", "l09_do_the_job", "l09_answer"


def job(habits: Habits):
    """The work of a learner with these habits at the hauler."""
    return lambda operator: ScriptedLearner(operator.session, habits).work()


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_job_from_memory_scores_full_marks(tmp_path, learner):
    """Who carries out the whole method at five thousand feet gets every point, whatever hauler they have."""
    result = judged(tmp_path, LESSON, BENCH, learner, job(Habits()))
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize("misconception", MISTAKES)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception):
    """One mistake, all else well: only what the rubric declares for it is lost, and it is named."""
    result = judged(tmp_path, LESSON, BENCH, "anna", job(MISTAKES[misconception]))
    assert_costs_its_own(result, LESSON, misconception)


def answered(tmp_path, text):
    """What the judge says of a letter that was handed in."""
    digest = engine_of(Header("anna", LESSON, "", "", CREATED), ENGINES, "hill_hauler_eight").card.digest
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header("anna", LESSON, "", digest, CREATED))
    writer.append(Event(1.0, ANSWER, "answer", text))
    return judge_lesson(LESSON, writer.path, ENGINES, "anna").exercise(ANSWER)


def test_a_letter_waits_for_a_person_and_says_what_it_is_marked_for(tmp_path):
    """Five things, each with its points and the words of its best level; nothing is earned before a person has read."""
    result, table = answered(tmp_path, "Dear Marit, first of all: get a second person."), marking()
    assert result.needs_person and result.points == 0 and result.answer.startswith("Dear Marit")
    assert [one.title for one in result.criteria] == [one.title for one in table]
    assert all(
        with_letter(one.levels[2], "anna") in said.sentence for one, said in zip(table, result.criteria, strict=True)
    )
    assert sum(one.max_points for one in result.criteria) == result.max_points == 10


@pytest.mark.classroom
def test_the_marking_table_stands_where_the_mark_is_given(tmp_path, schema_asked_once):
    """After a class run the answer's cell, which the marking screen and the feedback page show, holds the letter and
    what it is marked for, and waits for a person."""
    root = tmp_path / "autumn"
    make(root, source=source_of_one_lesson(tmp_path / "lessons", LESSON))
    folder = root / "submitted" / "anna" / LESSON
    shutil.copytree(root / "release" / LESSON, folder)
    digest = engine_of(Header("anna", LESSON, "autumn", "", CREATED), ENGINES, "hill_hauler_eight").card.digest
    writer = EvidenceWriter(folder / "evidence.jsonl", Header("anna", LESSON, "autumn", digest, CREATED))
    writer.append(Event(1.0, ANSWER, "answer", "Dear Marit, <b>first</b> of all: get a second person."))
    (report,) = Classroom(root).judge(LESSON)
    assert report.status == NEEDS_PERSON
    judged_page = nbformat.read(root / "autograded" / "anna" / LESSON / f"{LESSON}.ipynb", as_version=4)
    (cell,) = [cell for cell in judged_page.cells if cell.metadata.get("nbgrader", {}).get("grade_id") == ANSWER]
    assert "Dear Marit" in cell.source and "<b>" not in cell.source
    shown = html.unescape(cell.source)
    assert all(one.title in shown and with_letter(one.levels[2], "anna", "autumn") in shown for one in marking())
    assert letter_of("anna", "autumn") in shown  # who marks has to know which letter was answered


def letter_of(learner, class_id=""):
    """The letter that a learner of a class is to answer."""
    header = Header(learner, LESSON, class_id, "", CREATED)
    own = learners_exercise(load_rubric(LESSON).exercises[ANSWER], header, ENGINES)
    return re.search(r"letter [A-Z], from \w+", own.question)[0]


def with_letter(text, learner, class_id=""):
    """A text of the rubric as this learner has it."""
    return text.replace("{letter}", letter_of(learner, class_id))


def marking():
    """The table by which the answer is marked."""
    return load_rubric(LESSON).exercises[ANSWER].marking


def test_five_criteria_of_three_levels():
    """The table has five criteria, and each has three different levels."""
    assert len(marking()) == 5
    assert all(len(set(one.levels)) == 3 for one in marking())


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"points": 0}, "worth 0 points"),
        ({"levels": ["no", "half"]}, "levels"),
        ({"levels": ["no", "", "all"]}, "three levels"),
    ],
)
def test_a_spoiled_table_says_where(change, sentence):
    """An instructor who spoils the table is told which line."""
    one = {"id": "safe", "title": "Safe", "points": 2, "levels": ["no", "half", "all"]}
    item = {"id": "q", "title": "Q", "kind": "written", "objective": "o", "marking": [one | change]}
    with pytest.raises(RubricError, match=sentence):
        rubric_from({"lesson": "l", "title": "t", "exercises": [item]}, "l.toml")


def printed_letters():
    """Every letter that the lesson prints, as its heading names it."""
    page = (ENGINES.parent / "source" / LESSON / f"{LESSON}.ipynb").read_text(encoding="utf-8")
    return re.findall(r"### (Letter [A-Z], from \w+)", page)


def test_nine_letters_are_drawn_and_four_are_taken_apart():
    """The lesson prints thirteen letters, each from somebody else. Those that another exercise takes apart are drawn
    for nobody; each of the others is."""
    exercises = load_rubric(LESSON).exercises
    printed = {name.replace("Letter", "letter") for name in printed_letters()}
    drawn = set(exercises[ANSWER].draw["letter"].words)
    asked = " ".join(one.question for one in exercises.values()).replace("Letter", "letter")
    taken_apart = set(re.findall(r"letter [A-Z], from \w+", asked))
    assert len(printed) == 13 and len({name.split()[-1] for name in printed}) == 13
    assert len(drawn) == 9 and drawn | taken_apart == printed and not drawn & taken_apart


def test_every_learner_has_a_letter_of_their_own():
    """It is drawn from class, learner and lesson: the same each time, all nine about as often, and another in another
    class."""
    theirs = [letter_of(f"learner {number}") for number in range(900)]
    assert theirs[:20] == [letter_of(f"learner {number}") for number in range(20)]
    assert len(set(theirs)) == 9 and all(60 <= theirs.count(one) <= 140 for one in set(theirs))
    assert theirs[:20] != [letter_of(f"learner {number}", "autumn") for number in range(20)]


def test_the_form_says_which_letter(tmp_path, monkeypatch):
    """The page asks for the same letter as the judge, in words and not as a name in braces."""
    folder = tmp_path / LESSON
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    form = written(ANSWER)
    assert form.problem == "" and letter_of("anna") in form.question and "{" not in form.question


def test_the_instructor_is_told_which_letter():
    """`timing-course answers` names the letter that a learner was given."""
    told = dict(answers_for(Header("bela", LESSON, "autumn", "", "")))
    (said,) = [text for title, text in told.items() if title.startswith(ANSWER)]
    assert letter_of("bela", "autumn") in said


@pytest.mark.parametrize(("class_id", "shown"), [("", True), ("autumn", False)])
def test_somebody_alone_sees_by_what_the_letter_is_marked(tmp_path, monkeypatch, class_id, shown):
    """Marks of one's own are kept in the record, earn nothing, and are counted apart; in a class there are none."""
    folder = tmp_path / LESSON
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    if class_id:
        (folder / "class.toml").write_text(f'class = "{class_id}"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    form = written(ANSWER)
    form.submit("Dear Tirza, first of all: a passenger reads the gauge.")
    assert bool(form.marking) == bool(form.samples) == shown
    assert {one["to"] for one in form.samples} == ({letter_of("anna")} if shown else set())
    marks = {one.id: one.points for one in marking()}
    form.mark(marks)
    far = progress_in(folder)
    assert (far.own_marks, far.own_most) == ((10.0, 10.0) if shown else (0.0, 0.0)) and far.points == 0.0
    assert written(ANSWER).own == (marks if shown else {})
