"""The forms of several parts without a browser: what is taken, what is said, what comes back, what never leaves."""

from __future__ import annotations

import dataclasses
import json
import subprocess
import sys

import pytest

from course import widgets
from course.widgets.at_work import NO_ENGINE
from course.widgets.forms.form import NO_LONGER_FITS, Form
from course.widgets.forms.lookup import NoForm, form_module, need_forms
from course.widgets.shared.front_end import WIDGETS
from course.widgets.shared.verdict import spoken_result
from engine_sim import Event, read_evidence
from graders.exercises.kinds import KINDS
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.hook_up import PORTS, STARTS
from graders.exercises.loader import rubric_in
from graders.judge import judge_lesson
from tests.graders.instrument import (
    ENGINES,
    TRIAL,
    GivenAnswer,
    judged,
    mistaken_answers,
    own_exercise,
    right_answer,
    sentences_of,
    tables_in,
)

RUBRIC = rubric_in(TRIAL / "l97_forms.toml")
OF_PARTS = ("several", "order", "sum", "hook_up", "curve")
EXERCISES = {
    exercise.kind: own_exercise(RUBRIC, exercise, "anna")
    for exercise in RUBRIC.exercises.values()
    if exercise.kind in OF_PARTS
}


def form_class(kind: str) -> type[Form]:
    """The class of the form of a kind."""
    module = form_module(kind)
    own = (one for one in vars(module).values() if isinstance(one, type) and one.__module__ == module.__name__)
    return next(one for one in own if issubclass(one, Form))


FORMS = {kind: form_class(kind) for kind in KINDS if kind != "bench"}


class Recorder:
    """Keeps what a form records, and judges the latest as the class run would."""

    def __init__(self, exercise):
        self.exercise, self.values = exercise, []

    def record(self, value, unit):
        """One answer more."""
        assert unit is None
        self.values.append(value)
        return len(self.values)

    def judge(self):
        """The judge's word."""
        return judged(RUBRIC, RUBRIC.exercises[self.exercise.id], "anna", GivenAnswer(self.values[-1]))


def opened(kind: str, given=()):
    """A form of this kind and what it records into."""
    recorder = Recorder(EXERCISES[kind])
    return FORMS[kind].for_exercise(EXERCISES[kind], recorder.record, recorder.judge, given), recorder


def send(form, value) -> None:
    """Give the form an answer as the browser would."""
    form._handle_custom_msg({"answer": {"value": value}}, [])


def sent(kind: str, text: str):
    """What the browser sends for an answer that the evidence holds as `text`."""
    answer = json.loads(text)
    if kind == "sum":
        return {name: {"text": f"{entry[0]:g}".replace(".", ","), "unit": entry[1]} for name, entry in answer.items()}
    if kind == "curve":
        return [[str(rpm), str(degrees).replace(".", ",")] for rpm, degrees in reversed(answer)]
    return answer


@pytest.mark.parametrize("kind", OF_PARTS)
def test_a_right_answer_is_recorded_and_judged(kind):
    """What the browser sends becomes one line of evidence, and the judge's word comes back."""
    form, recorder = opened(kind)
    right = right_answer(EXERCISES[kind]).value
    send(form, sent(kind, right))
    assert form.said["kind"] == "done", form.said
    assert form.tries == 1 and form.result["points"] == EXERCISES[kind].points
    assert json.loads(recorder.values[0]) == json.loads(right)
    assert form.answer == {"value": json.loads(right)}


@pytest.mark.parametrize("kind", OF_PARTS)
def test_a_mistake_comes_back_with_its_sentence(kind):
    """Every catalogued mistake gets through the form to its feedback."""
    form, _ = opened(kind)
    for mistake in mistaken_answers(EXERCISES[kind]):
        send(form, sent(kind, mistake.value))
        assert form.said["kind"] == "done", form.said
        assert form.result["points"] < EXERCISES[kind].points


@pytest.mark.parametrize("kind", OF_PARTS)
@pytest.mark.parametrize(
    "value",
    [
        None,
        "",
        3,
        True,
        "all",
        [],
        {},
        [None],
        [[]],
        {"gauge": 3},
        [["1", "2", "3"]],
        ["chocks", "nothing"],
        [["a", "b"], ["c", "d"]],
        {"base": {"text": "x"}},
        {"base": "8"},
        {"base": {"text": "8", "unit": "furlongs"}},
        float("nan"),
    ],
    ids=repr,
)
def test_what_is_no_answer_is_said_and_not_recorded(kind, value):
    """One sentence says what was wanted; the evidence and the number of tries stay as they were."""
    form, recorder = opened(kind)
    send(form, value)
    assert form.said["kind"] == "wrong" and form.said["sentence"].endswith(".")
    assert recorder.values == [] and form.tries == 0 and form.result == {}


@pytest.mark.parametrize(
    ("kind", "value", "sentence"),
    [
        ("several", [], "Tick at least one"),
        ("order", ["warm"], "Each of the 6 steps"),
        ("sum", {"base": {"text": "eight", "unit": "crank degrees"}}, "Base timing: A number is wanted"),
        ("sum", {"base": {"text": "8", "unit": ""}}, "Base timing: choose the unit as well"),
        ("sum", {"base": {"text": " ", "unit": ""}}, "No line is filled in yet"),
        ("hook_up", {"gauge": None, "canister": None}, "No hose is connected"),
        ("hook_up", {"gauge": "manifold", "canister": "manifold"}, "One fitting takes one hose"),
        ("curve", [["1000", "0"], ["2,000", "5"]], "Point 2, speed: '2,000' can be read in two ways"),
        ("curve", [["1000", "0"], ["1000", "5"]], "Point 2 has to lie at a higher speed"),
        ("curve", [["1000", "0"], ["9000", "5"]], "Point 2 lies at 9000 rpm; the sheet goes from 500 to 4000"),
        ("curve", [["1000", "0"]], "From 2 to 6 points"),
    ],
)
def test_the_sentence_says_what_was_wanted(kind, value, sentence):
    """Who answers by half is told which half is missing."""
    form, _ = opened(kind)
    send(form, value)
    assert sentence in form.said["sentence"]


@pytest.mark.parametrize("kind", OF_PARTS)
def test_the_last_answer_comes_back(kind):
    """After a restart the form shows what was answered last, and how often."""
    exercise = EXERCISES[kind]
    values = [mistaken_answers(exercise)[0].value, right_answer(exercise).value]
    given = [Event(float(second), exercise.id, "answer", value) for second, value in enumerate(values)]
    form, _ = opened(kind, given)
    assert form.tries == 2 and form.answer == {"value": json.loads(values[1])}


@pytest.mark.parametrize("kind", OF_PARTS)
def test_an_answer_to_an_older_exercise_does_no_harm(kind):
    """Where the rubric changed after the answer, the form begins afresh and says so; it can be answered again."""
    old = Event(0.0, EXERCISES[kind].id, "answer", as_text(["taken out"]))
    form, _ = opened(kind, [old])
    assert form.answer == {} and form.said["sentence"] == NO_LONGER_FITS and form.tries == 1
    send(form, sent(kind, right_answer(EXERCISES[kind]).value))
    assert form.said["kind"] == "done"


@pytest.mark.parametrize("exercise", RUBRIC.exercises.values(), ids=lambda one: one.id)
def test_nothing_that_is_right_reaches_the_page(exercise):
    """What the browser is given before an answer holds no feedback, no tolerance and no mark of what is right."""
    own = own_exercise(RUBRIC, exercise, "anna")
    form = FORMS[own.kind].for_exercise(own)
    names = [name for name in form.traits(sync=True) if not name.startswith("_") and name not in ("layout", "comm")]
    text = json.dumps({name: getattr(form, name) for name in names}, default=str, ensure_ascii=False)
    sentences = [*sentences_of(own), *(one.sentence for one in tables_in(own, "choices", "wrong", "before"))]
    sentences += [wrong.sentence for part in tables_in(own, "fields", "hoses") for wrong in part.wrong]
    sentences += [said for check in tables_in(own, "checks") for said in check.sentences.values()]
    assert all(sentence not in text for sentence in sentences if len(sentence) > 5)
    words = set(text.split('"'))
    assert not {"right", "tolerance", "allowed", "before", "checks", "misconception"} & words
    reference = tables_in(own, "reference")
    assert not reference or json.dumps(reference) not in text


def test_every_kind_has_its_form_and_its_cell():
    """A kind that a rubric may name has a form under its own name, and a one-line cell that shows it."""
    assert set(FORMS) == set(KINDS) - {"bench"}
    assert all(form_class.kind.default_value == kind for kind, form_class in FORMS.items())
    for kind in KINDS:
        cell = getattr(widgets, {"sum": "fill_sum"}.get(kind, kind))
        assert cell.__module__ == form_module(kind).__name__ == f"course.widgets.forms.{kind}"


def test_a_kind_without_a_form_is_refused():
    """A kind that is registered and has no form is named in one sentence, with the module that is missing."""
    with pytest.raises(NoForm, match=r"'riddle' has no form: write course/widgets/forms/riddle\.py"):
        need_forms([*KINDS, "riddle"])


def test_the_course_refuses_a_kind_without_a_form_when_it_is_loaded():
    """Whatever imports the widgets after such a kind was registered gets that sentence."""
    script = "from graders.exercises.kinds import KINDS; KINDS['riddle'] = KINDS['order']; import course.widgets"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert loaded.returncode != 0 and "The kind of exercise 'riddle' has no form" in loaded.stderr


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_without_an_exercise_says_why(kind):
    """Where there is nothing to work on there is one sentence, in a form of the right kind."""
    form = FORMS[kind].with_problem("l97_gone", "There is no such exercise.")
    assert form.problem == "There is no such exercise." and form.kind == kind


def test_the_picture_knows_every_fitting():
    """The picture has a place for every beginning and end that a rubric may name."""
    text = (WIDGETS / "forms/hose_picture.js").read_text(encoding="utf-8")
    begins, fittings = text.split("const FITTING")[0], text.split("const FITTING")[1].split("};")[0]
    assert all(f"  {name}: {{" in begins for name in STARTS)
    assert all(f"  {name}: {{" in fittings for name in PORTS)


@pytest.fixture
def opened_lesson(tmp_path, monkeypatch):
    """A lesson folder in which cells work, with the exercises of the trial rubric that ask about no engine."""
    rubric = dataclasses.replace(
        RUBRIC, exercises={name: one for name, one in RUBRIC.exercises.items() if not one.engine}
    )
    folder = tmp_path / RUBRIC.lesson
    folder.mkdir()
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    (folder / "class.toml").write_text('class = "evening class"\n', encoding="utf-8")
    monkeypatch.chdir(folder)
    monkeypatch.setattr("course.widgets.at_work.rubric_for", lambda lesson, own: rubric)
    monkeypatch.setattr("graders.judge.rubric_for", lambda lesson, _folder=None: rubric)
    return folder


def test_cells_of_a_lesson_without_an_engine(opened_lesson):
    """Evidence needs no engine where no exercise asks about one; the cells show the learner's own exercises."""
    for exercise, cell in (
        ("l97_total", widgets.fill_sum),
        ("l97_hoses", widgets.hook_up),
        ("l97_curve", widgets.curve),
        ("l97_steps", widgets.order),
        ("l97_before_starting", widgets.several),
        ("l97_altitude", widgets.number),
        ("l97_cruise", widgets.choice),
    ):
        form = cell(exercise)
        assert not form.problem
        assert form.question == own_exercise(RUBRIC, RUBRIC.exercises[exercise], "anna").question
    send(widgets.hook_up("l97_hoses"), {"gauge": "manifold", "canister": "plug"})
    header = read_evidence(opened_lesson / "evidence.jsonl").header
    result = judge_lesson(RUBRIC.lesson, opened_lesson / "evidence.jsonl", ENGINES, "anna")
    assert header.engine == NO_ENGINE and not result.problem
    assert result.exercise("l97_hoses").points == 3.0


def test_the_card_shows_the_latest_answer_and_the_best_beside_it(opened_lesson):
    """One press records and shows what the answer earns; after a better one, a worse one is shown as what it is."""
    form = widgets.hook_up("l97_hoses")
    for given, met in (({"gauge": "manifold", "canister": "plug"}, 2), ({"gauge": "manifold", "canister": None}, 1)):
        send(form, given)
        assert f"{met} of 2 met" in form.said["sentence"]
    assert form.result["points"] == 1.5 and form.result["best"]["points"] == 3.0


def test_a_cell_of_another_kind_says_which_there_are(opened_lesson):
    """A cell that names an exercise of another kind names those that it could show."""
    form = widgets.order("l97_hoses")
    assert "no order exercise 'l97_hoses'" in form.problem and "l97_steps" in form.problem


def test_remarks_are_not_counted():
    """What earns nothing by itself is no criterion in the spoken sum."""
    form, _ = opened("several")
    send(form, ["chocks", "choke_blocked"])
    assert len(form.result["criteria"]) == 3
    result = judged(
        RUBRIC, RUBRIC.exercises["l97_before_starting"], "anna", GivenAnswer(as_text(["chocks", "choke_blocked"]))
    )
    assert spoken_result(result).startswith("Checked: 0 of 1 met")
