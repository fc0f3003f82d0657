"""The question forms without a browser: what is taken as an answer, what is said, what is judged."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from course.learner.number_text import NumberTextError, number_in
from course.widgets import check
from course.widgets.forms.choice import ChoiceForm
from course.widgets.forms.number import NumberForm
from course.widgets.forms.written import LONGEST_ANSWER, WrittenForm
from course.widgets.shared.verdict import shown_result, spoken_result
from engine_sim import EvidenceError
from graders.exercises.loader import load_rubric
from graders.outcome import CriterionOutcome, ExerciseResult, Outcome

RESULT = ExerciseResult(
    "l04_why_back_off",
    "Why back off",
    3.0,
    (CriterionOutcome("reason", "Names the reason", Outcome.NOT_YET, 0.0, 3.0, "Think of full load."),),
)


class Recorder:
    """Keeps the answers that a form records."""

    def __init__(self):
        self.answers = []

    def __call__(self, value, unit):
        self.answers.append((value, unit))
        return len(self.answers)


@pytest.fixture
def recorder():
    """A fresh recorder."""
    return Recorder()


def choice_form(recorder, judge=lambda: RESULT):
    """A form with two answers to choose from."""
    return ChoiceForm(recorder, judge, choices=[["a", "one"], ["b", "two"]])


def send(form, content):
    """Give the form a message as the browser would."""
    form._handle_custom_msg(content, [])


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12.5", 12.5),
        ("12,5", 12.5),
        (" 8 ", 8.0),
        ("-3", -3.0),
        ("\u22123,5", -3.5),
        ("1 200", 1200.0),
        ("1\u202f200,5", 1200.5),
        ("1,200.5", 1200.5),
        ("1.200,5", 1200.5),
        ("0,125", 0.125),
        (".5", 0.5),
        ("5.", 5.0),
        ("1e3", 1000.0),
        ("12,34", 12.34),
    ],
)
def test_a_number_is_read_as_people_write_it(text, value):
    """Point or comma, spaces between thousands and a real minus sign are all taken."""
    assert number_in(text) == value


@pytest.mark.parametrize(
    "text", ["", "  ", "eight", "1.2.3", "1,2,3", "12 rpm", "nan", "inf", "1e999", "--3", "1,2.3,4", "0x10", "12.5,5.5"]
)
def test_what_is_not_a_number_is_said(text):
    """A text that is no finite number is refused with what is wanted."""
    with pytest.raises(NumberTextError, match="number is wanted"):
        number_in(text)


def test_a_number_with_two_readings_is_asked_about():
    """1,200 may be twelve hundred or one and a fifth; the learner says which."""
    with pytest.raises(NumberTextError, match=r"1200 or 1\.200"):
        number_in("1,200")


def test_a_choice_is_recorded_and_judged(recorder):
    """Recording a choice is a try, and what the judge says comes back in words."""
    form = choice_form(recorder)
    send(form, {"answer": {"value": "b"}})
    assert recorder.answers == [("b", None)]
    assert form.tries == 1
    assert form.result["criteria"][0]["outcome"] == "not yet"


@pytest.mark.parametrize("value", [None, "c", "", 3, "one"])
def test_a_choice_that_is_not_offered_is_not_recorded(recorder, value):
    """Only an answer on the list is taken."""
    form = choice_form(recorder)
    send(form, {"answer": {"value": value}})
    assert recorder.answers == []
    assert form.said["kind"] == "wrong"


def test_a_number_is_recorded_with_its_unit(recorder):
    """Number and unit go into the evidence as they were given."""
    form = NumberForm(recorder, lambda: None, units=["crank degrees", "distributor degrees"])
    send(form, {"answer": {"value": "7,5", "unit": "crank degrees"}})
    assert recorder.answers == [(7.5, "crank degrees")]
    assert form.answer == {"value": 7.5, "unit": "crank degrees", "text": "7,5"}


@pytest.mark.parametrize("unit", [None, "", "furlongs"])
def test_a_number_without_its_unit_is_asked_about(recorder, unit):
    """Where units are offered, one must be chosen."""
    form = NumberForm(recorder, lambda: None, units=["inHg", "kPa"])
    send(form, {"answer": {"value": "7", "unit": unit}})
    assert recorder.answers == []
    assert "Choose the unit" in form.said["sentence"]


def test_a_written_answer_is_saved_once_for_the_same_words(recorder):
    """Leaving the field and pressing Save do not write the same words twice."""
    form = WrittenForm(recorder, None)
    send(form, {"answer": {"value": "It pings under load."}})
    send(form, {"answer": {"value": "It pings under load.  "}})
    assert recorder.answers == [("It pings under load.", None)]


def test_a_written_answer_too_long_is_said_and_not_recorded(recorder):
    """An answer that the evidence could not hold is refused before it is written."""
    form = WrittenForm(recorder, None)
    form.submit("x" * (LONGEST_ANSWER + 1))
    assert recorder.answers == []
    assert str(LONGEST_ANSWER) in form.said["sentence"]


LETTER = load_rubric("l09_answer_the_letter").exercises["l09_answer"].filled({"letter": "letter C, from Tirza"})
HALVES = {one.id: one.points / 2 for one in LETTER.marking}


def letter_form(recorder, kept, **more):
    """The form of the letter for somebody who learns alone; `kept` takes the marks that are written down."""
    return WrittenForm(recorder, None, alone=LETTER, keep_marks=kept.append, **more)


def test_somebody_alone_marks_their_own_answer(recorder):
    """Table and samples come with the saved text and not before; marks are written down, shown, and belong to it."""
    kept = []
    form = letter_form(recorder, kept)
    send(form, {"own_marks": HALVES})
    assert not form.marking and not kept and "Save your text first" in form.said["sentence"]
    send(form, {"answer": {"value": "Dear Tirza, a passenger reads the gauge."}})
    assert [one["id"] for one in form.marking] == [one.id for one in LETTER.marking] and len(form.samples) == 3
    assert {one["to"] for one in form.samples} == {"letter C, from Tirza"}
    send(form, {"own_marks": HALVES})
    assert [json.loads(value) for value in kept] == [HALVES] and form.own == HALVES
    assert "5 of 10 by your own marks, counted apart" in form.said["sentence"]
    send(form, {"answer": {"value": "Dear Tirza, stop reading it yourself."}})
    assert form.own == {} and form.marking


@pytest.mark.parametrize("marks", [None, "all", {}, {"safe": 2}, HALVES | {"safe": 3}, HALVES | {"safe": True}])
def test_marks_that_the_table_does_not_have_are_not_kept(recorder, marks):
    """One of the three levels for each criterion, or a sentence."""
    kept = []
    form = letter_form(recorder, kept)
    send(form, {"answer": {"value": "Dear Tirza."}})
    send(form, {"own_marks": marks})
    assert kept == [] and form.said["kind"] == "wrong"


def test_in_a_class_no_marking_table_is_shown(recorder):
    """There a person marks: nothing comes with the saved text, and marks of one's own are refused."""
    form = WrittenForm(recorder, None)
    send(form, {"answer": {"value": "Dear Tirza."}})
    send(form, {"own_marks": HALVES})
    assert not form.marking and not form.samples and "Save your text first" in form.said["sentence"]


def test_half_a_character_pair_does_not_spoil_the_evidence(recorder):
    """What some keyboards leave behind is replaced before it reaches a UTF-8 file."""
    form = WrittenForm(recorder, None)
    form.submit("ping \ud83d here")
    assert recorder.answers == [("ping ? here", None)]


def test_evidence_that_cannot_be_written_is_a_sentence():
    """A record that was changed elsewhere is said in the form."""

    def refuse(value, unit):
        raise EvidenceError("changed elsewhere", "This lesson is open in another tab.")

    form = choice_form(refuse)
    send(form, {"answer": {"value": "a"}})
    assert form.said == {"number": 1, "kind": "wrong", "sentence": "This lesson is open in another tab."}
    assert form.tries == 0


def test_an_unexpected_fault_is_said_and_not_hidden(recorder):
    """A fault of the judge reaches the learner as a sentence and the log as itself."""

    def broken():
        raise KeyError("rubric")

    form = choice_form(recorder, broken)
    with pytest.raises(KeyError):
        form._on_message(form, {"answer": {"value": "a"}}, [])
    assert "KeyError" in form.said["sentence"]


def test_one_press_records_and_shows_every_criterion(recorder):
    """The same card that records the answer shows outcome, points and sentence, and speaks the sum."""
    form = choice_form(recorder, lambda: RESULT)
    send(form, {"answer": {"value": "a"}})
    assert len(recorder.answers) == 1 and form.result == shown_result(RESULT)
    assert form.said["sentence"] == f"Your answer is recorded. {spoken_result(RESULT)}"
    assert "0 of 1 met" in form.said["sentence"]


def test_the_grade_cell_shows_nothing_of_its_own():
    """The cell that carries the points for the class leaves no output; the exercise's own card has the verdict."""
    assert check("l04_why_back_off") is None


def test_a_worse_latest_try_is_shown_beside_the_best():
    """The card speaks of the latest try, says that the best one counts, and has its criteria behind a line; a latest
    try that is as good stands alone."""
    met = replace(RESULT.criteria[0], outcome=Outcome.MET, points=RESULT.criteria[0].max_points)
    best = replace(RESULT, criteria=(met,), latest=RESULT)
    shown = shown_result(best)
    assert shown["criteria"] == shown_result(RESULT)["criteria"] and shown["points"] == 0.0
    assert shown["best"]["points"] == best.points == best.max_points
    assert f"earned {best.points:g} points, and these count" in spoken_result(best)
    assert shown_result(replace(best, latest=replace(best, latest=None)))["best"] is None


@pytest.mark.parametrize("content", [None, 1, "check", [], {"answer": "a"}, {"check": False}])
def test_a_message_of_another_shape_does_nothing(recorder, content):
    """What is not a message of this form is left alone."""
    form = choice_form(recorder)
    send(form, content)
    assert recorder.answers == [] and form.said == {}
