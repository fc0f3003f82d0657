"""Rubrics as instruments: the reference passes, the empty hand-in scores nothing, each mistake costs its own points."""

import re
import tomllib

import pytest

from engine_sim import DRIVER_READY, Event, EvidenceWriter, Header, Session
from graders.bench.criteria import CHECKS
from graders.bench.engine_cache import engine_for
from graders.exercises.loader import RubricError, lessons_with_rubrics, load_rubric, rubric_from, rubric_path
from graders.judge import judge_lesson
from graders.outcome import Outcome
from tests.graders.instrument import tables_in
from tests.scripted_learner import (
    BENCH,
    CREATED,
    ENGINES,
    LESSON,
    Habits,
    ScriptedLearner,
    bench_of,
    engine_of,
    evidence_by,
)

RUBRIC = load_rubric(LESSON)
MISTAKES = {
    "peak_is_setting": Habits(backs_off_with="nothing"),
    "dropped_with_screw": Habits(backs_off_with="idle_screw"),
    "advance_left_connected": Habits(hose="on"),
    "hose_left_open": Habits(hose="off and open"),
    "ported_source": Habits(gauge="ported"),
    "set_cold": Habits(warms_up=False),
    "clamp_left_loose": Habits(tightens=False),
    "reading_not_repeated": Habits(reads_again=False),
    "hose_not_reconnected": Habits(reconnects=False),
    "idle_not_retrimmed": Habits(retrims=False),
    "turned_wrong_way": Habits(turns_wrong_way=True),
    "wobble_for_peak": Habits(stops_short=True),
}


def judged(tmp_path, habits, learner="anna", **more):
    """The bench result of a learner with these habits."""
    path = evidence_by(tmp_path / "evidence.jsonl", learner, habits, **more)
    return judge_lesson(LESSON, path, ENGINES, learner)


def test_all_who_judge_a_learner_share_one_engine():
    """Everybody who asks for an engine by its card and wear gets the one that the learner works on, with its maps."""
    assignment = bench_of("anna")
    assert engine_for(assignment.card, assignment.engine.wear) is assignment.engine


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_method_scores_full_marks(tmp_path, learner):
    """Whoever follows the method by what the instruments show gets every point that needs no person."""
    result = judged(tmp_path, Habits(), learner)
    assert not result.problem
    for exercise in result.exercises[:-1]:
        assert exercise.points == exercise.max_points, [c for c in exercise.criteria if c.points < c.max_points]
    assert result.exercises[-1].needs_person and result.exercises[-1].answer


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_hesitant_hands_score_full_marks(tmp_path, learner):
    """An equivalent way with detours on the way to the peak passes."""
    result = judged(tmp_path, Habits(hesitates=True), learner).exercise(BENCH)
    assert result.points == result.max_points


@pytest.mark.parametrize("misconception", MISTAKES)
def test_each_mistake_costs_its_own_points_and_is_named(tmp_path, misconception):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, no other does, and it is
    named."""
    learner = "anna"
    result = judged(tmp_path, MISTAKES[misconception], learner).exercise(BENCH)
    lost = [criterion for criterion in result.criteria if criterion.points < criterion.max_points]
    declared, found = RUBRIC.misconceptions[misconception], {criterion.criterion for criterion in lost}
    assert set(declared.costs) <= found <= {*declared.costs, *declared.may_cost}
    assert misconception in {criterion.misconception for criterion in lost}
    assert all(criterion.sentence for criterion in lost)


def test_an_unsafe_start_is_stopped_and_costs_safety_points_only(tmp_path):
    """Trying the starter before making safe is stopped by the bench, kept in the record, and costs there alone."""
    result = judged(tmp_path, Habits(makes_safe=False)).exercise(BENCH)
    lost = {criterion.criterion for criterion in result.criteria if criterion.points < criterion.max_points}
    assert lost == {"make_safe"}


def test_no_drive_costs_the_road_check_only(tmp_path):
    """Leaving out the road check is missing, not wrong."""
    result = judged(tmp_path, Habits(drives=False)).exercise(BENCH)
    lost = [criterion for criterion in result.criteria if criterion.points < criterion.max_points]
    assert [(criterion.criterion, criterion.outcome) for criterion in lost] == [("road", Outcome.MISSING)]


class Hurried(ScriptedLearner):
    """Trims the idle with the hose off, puts the hose on with the engine off, and drives off at once."""

    def finish(self):
        """The idle with the hose on is never looked at."""
        self.tighten()
        self.trim(self.wanted_rpm)
        self.do("stop", wait_s=4.0)
        self.do("vacuum_hose", "on")
        self.hold()
        for control, value in (("chocks", "away"), ("driver", DRIVER_READY), ("gear", "neutral")):
            self.do(control, value)
        self.do("starter", wait_s=2.0)
        self.do("road_check", wait_s=0.0)
        while self.session.on_road:
            self.session.advance(0.2)
        self.back_in_the_workshop()


def test_an_idle_that_was_not_seen_with_the_hose_on_does_not_count(tmp_path):
    """What the idle was before the hose went on says nothing of the idle that was left."""
    given, digest = bench_of("anna"), engine_of("anna").card.digest
    evidence = EvidenceWriter(tmp_path / "e.jsonl", Header("anna", LESSON, "", digest, CREATED))
    Hurried(Session(given.engine, found=given.found, evidence=evidence, exercise=BENCH), Habits()).work()
    result = judge_lesson(LESSON, evidence.path, ENGINES, "anna").exercise(BENCH)
    told = next(one.sentence for one in result.criteria if one.criterion == "reconnect")
    assert float(re.search(r"idles at (\d+) rpm", told)[1]) > given.card.setting.idle_rpm + 25.0


def writer(tmp_path, learner="anna"):
    """A fresh evidence file of this learner."""
    card = engine_of(learner).card
    return EvidenceWriter(tmp_path / "evidence.jsonl", Header(learner, LESSON, "", card.digest, "t"))


def test_empty_hand_in_scores_nothing(tmp_path):
    """Evidence with a header and nothing else: all missing, no points."""
    result = judge_lesson(LESSON, writer(tmp_path).path, ENGINES, "anna")
    assert result.points == 0 and not result.problem
    assert {criterion.outcome for exercise in result.exercises for criterion in exercise.criteria} == {Outcome.MISSING}


def answered(tmp_path, exercise, value, unit=None):
    """The result of one answer to one question."""
    file = writer(tmp_path)
    file.append(Event(1.0, exercise, "answer", value, unit))
    return judge_lesson(LESSON, file.path, ENGINES, "anna").exercise(exercise)


@pytest.mark.parametrize(
    "exercise",
    [exercise for exercise in RUBRIC.exercises.values() if exercise.kind == "choice"],
    ids=lambda exercise: exercise.id,
)
def test_every_choice_has_its_own_feedback(tmp_path, exercise):
    """The right choice scores in full; every wrong one scores nothing and names what somebody believes who takes it."""
    sentences = set()
    for number, choice in enumerate(exercise.choices):
        folder = tmp_path / str(number)
        folder.mkdir()
        result = answered(folder, exercise.id, choice.id)
        assert result.points == (exercise.points if choice.right else 0.0)
        assert choice.right or result.criteria[0].misconception in RUBRIC.misconceptions
        sentences.add(result.criteria[0].sentence)
    assert len(sentences) == len(exercise.choices)


@pytest.mark.parametrize(
    ("exercise", "value", "unit", "points", "begins"),
    [
        ("l04_distributor_degrees", 3.0, "distributor degrees", 2, "Yes"),
        ("l04_distributor_degrees", 6.0, "crank degrees", 2, "Yes"),
        ("l04_distributor_degrees", 6.0, "distributor degrees", 0, "That is how far the crank"),
        ("l04_distributor_degrees", 12.0, "distributor degrees", 0, "The distributor turns at half"),
        ("l04_distributor_degrees", -3.0, "distributor degrees", 0, "The size is right"),
        ("l04_distributor_degrees", 3.0, "crank degrees", 0, "The number is right with the other unit"),
        ("l04_distributor_degrees", 45.0, "distributor degrees", 0, "Not yet"),
        ("l04_altitude_vacuum", 15.8, "inHg", 2, "Yes"),
        ("l04_altitude_vacuum", 15.77, "inHg", 2, "Yes"),
        ("l04_altitude_vacuum", 53.4, "kPa", 2, "Yes"),
        ("l04_altitude_vacuum", 15.8, "kPa", 0, "The number is right with the other unit"),
        ("l04_altitude_vacuum", 19.0, "inHg", 0, "The gauge shows the difference"),
        ("l04_altitude_vacuum", 22.8, "inHg", 0, "There is less air outside"),
        ("l04_altitude_vacuum", 14.0, "inHg", 0, "That is the rule of thumb"),
    ],
)
def test_numbers_with_units(tmp_path, exercise, value, unit, points, begins):
    """Right, right in another unit, a known mistake, the wrong sign, the wrong unit and plain wrong are told apart."""
    result = answered(tmp_path, exercise, value, unit)
    assert result.points == points and result.criteria[0].sentence.startswith(begins)


def test_best_answer_counts_and_every_one_is_kept(tmp_path):
    """A wrong answer after a right one takes nothing away."""
    file = writer(tmp_path)
    for second, value in enumerate([6.0, 3.0, 12.0]):
        file.append(Event(float(second), "l04_distributor_degrees", "answer", value, "distributor degrees"))
    assert judge_lesson(LESSON, file.path, ENGINES, "anna").exercise("l04_distributor_degrees").points == 2


@pytest.mark.parametrize(
    ("exercise", "value"),
    [
        ("l04_why_back_off", "no such choice"),
        ("l04_distributor_degrees", "three"),
        ("l04_distributor_degrees", True),
    ],
)
def test_forged_answers_ask_for_a_person(tmp_path, exercise, value):
    """An answer that no form writes could not be judged; it does not stop the rest."""
    result = answered(tmp_path, exercise, value)
    assert result.points == 0 and result.needs_person
    assert result.criteria[0].outcome is Outcome.COULD_NOT_BE_JUDGED


def test_forged_bench_event_asks_for_a_person(tmp_path):
    """A bench event that no session could write fails closed in its own exercise."""
    file = writer(tmp_path)
    file.append(Event(0.0, BENCH, "idle_screw", 1e6, None))
    result = judge_lesson(LESSON, file.path, ENGINES, "anna")
    assert result.exercise(BENCH).needs_person and result.exercise(BENCH).points == 0 and not result.problem


def test_another_learner_lesson_or_engine_is_said(tmp_path):
    """Evidence that belongs elsewhere is recognised, scored nothing and explained."""
    path = writer(tmp_path, "bela").path
    assert judge_lesson(LESSON, path, ENGINES, "anna").problem_kind == "another learner"
    assert judge_lesson(LESSON, path, ENGINES, "bela").problem_kind == ""
    other = tmp_path / "other.jsonl"
    EvidenceWriter(other, Header("anna", "l05_road_check", "", "f" * 16, "t"))
    assert judge_lesson(LESSON, other, ENGINES, "anna").problem_kind == "another lesson"
    EvidenceWriter(tmp_path / "engine.jsonl", Header("anna", LESSON, "", "f" * 16, "t"))
    assert judge_lesson(LESSON, tmp_path / "engine.jsonl", ENGINES, "anna").problem_kind == "another engine"


def test_no_evidence_is_missing(tmp_path):
    """A hand-in without evidence is missing, with what to do about it."""
    result = judge_lesson(LESSON, tmp_path / "evidence.jsonl", ENGINES, "anna")
    assert result.problem_kind == "missing" and result.points == 0 and result.max_points == 34


@pytest.mark.parametrize("lesson", lessons_with_rubrics())
def test_every_rubric_is_whole(lesson):
    """Every check exists; every finding a sentence; every misconception is known, and its costs are criteria."""
    rubric = load_rubric(lesson)
    for exercise in rubric.exercises.values():
        for criterion in exercise.criteria if exercise.kind == "bench" else ():
            assert criterion.check in CHECKS and {"met", "missing"} <= set(criterion.sentences)
        named = [item.misconception for item in tables_in(exercise, "choices", "wrong") if item.misconception]
        assert set(named) <= set(rubric.misconceptions)
        assert exercise.objective
    criteria = {criterion.id for exercise in rubric.exercises.values() for criterion in tables_in(exercise, "criteria")}
    for misconception in rubric.misconceptions.values():
        assert set(misconception.costs) <= criteria and misconception.sentence


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda item: item.update(check="guessed"), r"criteria\.warm\.check names 'guessed'; there are .*was_warm"),
        (lambda item: item["sentences"].pop("met"), r"criteria\.warm\.sentences has no sentence for 'met'"),
    ],
)
def test_a_spoiled_criterion_says_where(change, sentence):
    """A check that there is not, or a finding without its sentence, is refused when the rubric is read."""
    table = tomllib.loads(rubric_path(LESSON).read_text(encoding="utf-8"))
    bench = next(item for item in table["exercises"] if item["id"] == BENCH)
    change(next(item for item in bench["criteria"] if item["id"] == "warm"))
    with pytest.raises(RubricError, match=sentence):
        rubric_from(table, "l04.toml")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda item: item.pop("kind"), "kind"),
        (lambda item: item.update(kind="essay"), "is of kind 'essay'; there are"),
        (lambda item: item.update(points=0), "worth 0 points"),
        (lambda item: item["choices"][1].update(right=True), "exactly one choice"),
        (lambda item: item.update(colour="blue"), "colour"),
    ],
)
def test_a_spoiled_rubric_says_where(change, sentence):
    """An instructor who spoils a rubric is told the file, the exercise and the field."""
    item = {
        "id": "q",
        "title": "Q",
        "kind": "choice",
        "points": 1,
        "objective": "o",
        "choices": [
            {"id": "a", "text": "A", "right": True, "sentence": "s"},
            {"id": "b", "text": "B", "right": False, "sentence": "s"},
        ],
    }
    change(item)
    with pytest.raises(RubricError, match=sentence):
        rubric_from({"lesson": "l", "title": "t", "exercises": [item]}, "l.toml")
