"""The judge of needles and of faults to find: what is right by engine, what costs, what is said and what is not."""

from __future__ import annotations

import dataclasses
import json
import tomllib

import pytest

from engine_sim import FAULTS, INSPECTIONS, PATTERNS, Event, EvidenceWriter, fault_named
from graders import judge
from graders.bench.assignment import assignment_of, reading_of, seed_text
from graders.exercises.kinds.common import AnswerError
from graders.exercises.kinds.diagnosis import IN_ORDER, NOT_IN_ORDER
from graders.exercises.loader import rubric_from, rubric_in
from graders.judge import judge_exercise
from graders.outcome import Outcome
from graders.schema import RubricError
from tests.graders.instrument import ENGINES, TRIAL, GivenAnswer, header_of, judged, own_exercise, right_answer

PATH = TRIAL / "l96_inspections.toml"
RUBRIC = rubric_in(PATH)
NEEDLE, FAULT = RUBRIC.exercises["l96_needle"], RUBRIC.exercises["l96_fault"]
LEARNERS = tuple(f"learner {number}" for number in range(24))


def learner_with(exercise, fault: str) -> str:
    """A learner whose engine has this fault, or none where it is empty."""
    return next(one for one in LEARNERS if assignment_of(exercise, header_of(RUBRIC, one), ENGINES).fault == fault)


@pytest.mark.parametrize("learner", LEARNERS[:8])
def test_what_is_right_follows_the_engine_that_was_drawn(learner):
    """One choice is right in a learner's form: that of the fault which the bench of the same exercise would have."""
    fault = assignment_of(NEEDLE, header_of(RUBRIC, learner), ENGINES).fault
    pattern = fault_named(fault).pattern if fault else PATTERNS[0]
    assert [one.pattern for one in own_exercise(RUBRIC, NEEDLE, learner).choices if one.right] == [pattern]
    fault = assignment_of(FAULT, header_of(RUBRIC, learner), ENGINES).fault
    assert [one.fault for one in own_exercise(RUBRIC, FAULT, learner).choices if one.right] == [fault or "none"]


def test_every_fault_of_a_rubric_is_drawn_for_somebody():
    """Over a class each of the faults comes up, and a sound engine too."""
    drawn = {assignment_of(FAULT, header_of(RUBRIC, learner), ENGINES).fault or "none" for learner in LEARNERS}
    assert drawn == set(FAULT.faults)


def found(*looked: str, learner: str = "", cause: str = ""):
    """The result of one try with these inspections and the right cause, or another one, on an engine whose canister is
    torn where no learner is named."""
    learner = learner or learner_with(FAULT, "canister_torn")
    own = own_exercise(RUBRIC, FAULT, learner)
    return judged(RUBRIC, FAULT, learner, GivenAnswer(cause or right_answer(own).value, looked=looked))


def points(result) -> list[float]:
    """Points of cause, minutes and order."""
    return [criterion.points for criterion in result.criteria]


def test_looking_and_naming_earns_all():
    """Cheap things first, within the time, the right cause, every other one ruled out."""
    assert points(found("hand_pump", "advance_sweep", "piston_stop")) == [3.0, 1.0, 1.0]


def test_a_cause_counts_when_the_tests_leave_it_alone():
    """Named without a test, or after one that leaves others, it earns nothing, and the sentence does not say whether it
    was right; it earns all as soon as one test has ruled out the others."""
    for looked in ((), ("hose_trace",)):
        right, wrong = found(*looked), found(*looked, cause="tired")
        assert points(right) == [0.0, 0.0, 0.0] and right.criteria == wrong.criteria
        assert "5 of the 5 causes on the list fit" in right.criteria[0].sentence
    assert points(found("hand_pump")) == [3.0, 1.0, 1.0]


def test_a_sound_engine_has_to_be_shown_sound():
    """One test in order rules out one cause; the engine is shown to be sound when every cause is ruled out."""
    sound = learner_with(FAULT, "")
    assert "4 of the 5" in found("hand_pump", learner=sound).criteria[0].sentence
    assert points(found("hand_pump", "advance_sweep", "compression", learner=sound)) == [3.0, 1.0, 1.0]


def test_naming_every_cause_in_turn_earns_nothing():
    """With one look that leaves them open, no cause on the list earns anything, whichever is named."""
    learner = learner_with(FAULT, "weights_stuck")
    own = own_exercise(RUBRIC, FAULT, learner)
    named = [GivenAnswer(one.id, looked=("hose_trace",) if not place else ()) for place, one in enumerate(own.choices)]
    assert judged(RUBRIC, FAULT, learner, *named).points == 0


def test_naming_too_early_uses_up_no_answer():
    """Somebody who named causes too early, tests on, and names the right one then, earns all; after a cause that was
    ruled out, half."""
    learner = learner_with(FAULT, "canister_torn")
    early = [GivenAnswer(one, looked=()) for one in ("weights", "tired")]
    shown = GivenAnswer("canister", looked=("hand_pump",))
    assert judged(RUBRIC, FAULT, learner, *early, shown).points == FAULT.points
    ruled_out = GivenAnswer("tired", looked=("hand_pump",))
    assert judged(RUBRIC, FAULT, learner, ruled_out, GivenAnswer("canister")).points == FAULT.points / 2


def test_what_no_test_of_the_exercise_tells_apart_need_not_be_ruled_out():
    """A class's own list may hold causes that its inspections read alike: what the tests cannot say is not asked."""
    own = own_exercise(RUBRIC, FAULT, learner_with(FAULT, "canister_torn"))
    blind = dataclasses.replace(own, inspections=("hand_pump", "hose_trace"))
    assert [one.id for one in blind.left(("hand_pump",))] == ["canister"]
    sound = dataclasses.replace(
        blind, choices=tuple(dataclasses.replace(one, right=one.id == "sound") for one in own.choices)
    )
    assert {one.id for one in sound.left(("hand_pump",))} == {"sound"}


def test_too_many_minutes_cost_their_own_points():
    """Every look costs, the second one of the same kind too; the sentence says how many minutes it was."""
    result = found("hand_pump", *("compression",) * 3)
    assert points(result) == [3.0, 0.0, 1.0]
    minutes = INSPECTIONS["hand_pump"].minutes + 3 * INSPECTIONS["compression"].minutes
    assert f"You took {minutes} minutes and had 45" in result.criteria[1].sentence


def test_taking_apart_too_soon_costs_its_own_points():
    """What has to come first came after a part was taken off."""
    assert points(found("piston_stop", "hand_pump")) == [3.0, 1.0, 0.0]


def test_a_wrong_cause_earns_nothing_for_the_way():
    """Minutes and order count with the cause alone: nobody earns points by looking and not thinking."""
    assert points(found("hand_pump", cause="tired")) == [0.0, 0.0, 0.0]


def test_a_new_account_begins_at_no_minutes():
    """`begin` forgets what was looked at, and the engine stays the same."""
    own = own_exercise(RUBRIC, FAULT, learner_with(FAULT, "canister_torn"))
    done = [
        *[("inspect", "compression")] * 3,
        ("begin", None),
        ("inspect", "hand_pump"),
        ("answer", right_answer(own).value),
    ]
    events = [Event(0.0, FAULT.id, control, value, None) for control, value in done]
    assert points(own.judge_events(tuple(events), None)) == [3.0, 1.0, 1.0]
    assert own.looked_at(tuple(events)) == ("hand_pump",)


def test_only_looking_earns_nothing():
    """Inspections without an answer are no try yet."""
    own = own_exercise(RUBRIC, FAULT, "anna")
    result = own.judge_events((Event(0.0, FAULT.id, "inspect", "hand_pump", None),), None)
    assert {one.outcome for one in result.criteria} == {Outcome.MISSING}


@pytest.mark.parametrize("event", [("inspect", "x_ray"), ("inspect", None), ("answer", "gremlins"), ("answer", 4.0)])
def test_a_forged_event_is_refused(event):
    """An event that no form writes is said, not judged."""
    own = own_exercise(RUBRIC, FAULT, "anna")
    with pytest.raises(AnswerError, match="is none of the"):
        own.judge_events((Event(0.0, FAULT.id, *event, None),), None)


def test_a_forged_account_without_end_is_refused():
    """More inspections than anybody makes are said, not added up."""
    own = own_exercise(RUBRIC, FAULT, "anna")
    with pytest.raises(AnswerError, match="100 inspections at most"):
        own.judge_events((Event(0.0, FAULT.id, "inspect", "hand_pump", None),) * 101, None)


# ---- through the whole judge ---------------------------------------------------------------------------------------


def evidence_of(tmp_path, learner: str, *looked: str, cause: str):
    """Evidence of one try."""
    header = dataclasses.replace(header_of(RUBRIC, learner), engine="")
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", header)
    for name in looked:
        writer.append(Event(1.0, FAULT.id, "inspect", name, None))
    writer.append(Event(2.0, FAULT.id, "answer", cause, None))
    return judge.read_evidence(writer.path)


@pytest.fixture
def known_rubric(monkeypatch):
    """The judge finds the trial rubric."""
    monkeypatch.setattr(judge, "rubric_for", lambda _lesson, _folder=None: RUBRIC)


def test_after_a_wrong_cause_every_inspection_is_said_to_mean_something(tmp_path, known_rubric):
    """What was in order and what was not is said; neither the fault nor its cause is."""
    learner = learner_with(FAULT, "canister_torn")
    evidence = evidence_of(tmp_path, learner, "hand_pump", "compression", cause="tired")
    remarks = judge_exercise(FAULT.id, evidence, ENGINES).criteria[3:]
    assert [one.sentence for one in remarks] == [NOT_IN_ORDER, IN_ORDER]
    assert all(one.max_points == 0.0 for one in remarks)
    said = json.dumps([(one.title, one.sentence) for one in remarks]).lower()
    assert "torn" not in said and FAULTS["canister_torn"].title.lower() not in said


def test_after_the_right_cause_nothing_more_is_said(tmp_path, known_rubric):
    """No remark, and full marks."""
    learner = learner_with(FAULT, "canister_torn")
    result = judge_exercise(FAULT.id, evidence_of(tmp_path, learner, "hand_pump", cause="canister"), ENGINES)
    assert result.points == FAULT.points and len(result.criteria) == 3


def test_a_faultless_learner_earns_all_by_what_the_inspections_show(tmp_path, known_rubric):
    """For every fault: what a faultless learner looks at is out of order, and for a sound engine nothing is."""
    for fault in FAULT.faults:
        learner = learner_with(FAULT, "" if fault == "none" else fault)
        header, own = header_of(RUBRIC, learner), own_exercise(RUBRIC, FAULT, learner)
        assignment = assignment_of(FAULT, header, ENGINES)
        looks = [
            reading_of(assignment, name, seed_text(FAULT, header)).in_order for name in own.model_answer().inspections
        ]
        assert all(looks) == (fault == "none")


# ---- rubrics that cannot be used ---------------------------------------------------------------------------------


def spoiled(exercise: int, change) -> str:
    """The sentence with which a changed rubric is refused."""
    content = tomllib.loads(PATH.read_text(encoding="utf-8"))
    change(content["exercises"][exercise])
    with pytest.raises(RubricError) as refused:
        rubric_from(content, PATH.name)
    return str(refused.value)


@pytest.mark.parametrize(
    ("exercise", "change", "wanted"),
    [
        (0, lambda one: one["faults"].append("runner_leak"), "which the needle does not tell from others"),
        (0, lambda one: one["choices"].pop(1), "pattern = 'steady and low'"),
        (0, lambda one: one["choices"][0].update(right=True), "the learner's engine decides that"),
        (0, lambda one: one["choices"][0].update(pattern="jumps"), "choices.pattern names 'jumps'"),
        (0, lambda one: one.update(faults=[]), "faults is missing"),
        (0, lambda one: one.update(tools=["fuel"]), "has its own hands"),
        (0, lambda one: one["found"].update(set_by="owner"), "found needs set_by"),
        (1, lambda one: one["found"].update(off_label_deg=-12.0), "found needs set_by"),
        (1, lambda one: one["found"].update(springs="stiffer pair"), "found.springs belongs to a bench"),
        (1, lambda one: one["inspections"].remove("hand_pump"), "first names 'hand_pump'"),
        (1, lambda one: one["inspections"].remove("piston_stop"), "lacks 'piston_stop', which shows the fault"),
        (1, lambda one: one["inspections"].append("x_ray"), "inspections names 'x_ray'"),
        (1, lambda one: one.update(budget_minutes=10), "budget_minutes has to be"),
        (1, lambda one: one["choices"].pop(2), "fault = 'weights_stuck', which may be drawn"),
        (1, lambda one: one["criteria"][0].update(check="found_peak"), "criteria.check names 'found_peak'"),
        (1, lambda one: one["criteria"].pop(2), "first belongs to a criterion"),
        (1, lambda one: one["criteria"][1]["sentences"].pop("over"), "no sentence for 'over'"),
    ],
)
def test_a_spoiled_rubric_says_what_is_wrong(exercise, change, wanted):
    """Each fault of a rubric is refused by its exercise and field."""
    said = spoiled(exercise, change)
    assert wanted in said and said.startswith(f"{PATH.name}: l96_")
