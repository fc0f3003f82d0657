"""The steps that a bench shows: which, for whom, and when they are ticked."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from course.widgets.forms.bench import guide_of
from graders.bench.criteria import CHECKS
from graders.bench.method_steps import STEPS, next_step, rail
from graders.exercises.loader import load_rubric

METHOD = {criterion.check for criterion in load_rubric("l04_base_timing").exercises["l04_set_base_timing"].criteria}


def act(control: str, value=None, kind: str = "done", running: bool = True, coolant_c: float = 20.0):
    """One act as a trajectory holds it."""
    return SimpleNamespace(control=control, value=value, kind=kind, running=running, coolant_c=coolant_c)


def ticked(acts, guide: str = "steps", checks=METHOD, prepared: bool = False) -> set[str]:
    """The words of the steps that are ticked."""
    return {words for phase in rail(guide, checks, acts, prepared) for words, done in phase["steps"] if done}


def test_every_step_belongs_to_a_check_of_the_judge():
    """No step names a check that is not there."""
    assert set().union(*(step.checks for step in STEPS)) <= set(CHECKS)


def test_the_main_job_has_four_phases_and_all_steps():
    """Make safe, set, confirm and road, in this order; nothing is ticked before anything was done."""
    phases = rail("steps", METHOD, [], prepared=False)
    assert [phase["title"] for phase in phases] == ["Make safe", "Set", "Confirm", "Road"]
    assert sum(len(phase["steps"]) for phase in phases) == len(STEPS)
    assert ticked([]) == set() and not any(phase["done"] for phase in phases)


def test_a_step_is_ticked_by_its_act_right_or_wrong():
    """A hose that was taken off and left open is ticked like one that was plugged: the judge says which was right."""
    assert ticked([act("vacuum_hose", "off and open")]) == ticked([act("vacuum_hose", "off and plugged")])
    assert ticked([act("vacuum_hose", "off and open")]) == {"advance hose off"}


def test_an_act_that_was_stopped_ticks_nothing():
    """What was not done is no step."""
    assert ticked([act("chocks", "away", kind="stopped"), act("driver", "x", kind="not possible")]) == set()


@pytest.mark.parametrize(
    ("acts", "step", "is_ticked"),
    [
        ([("clamp", "tight")], "clamp tightened", False),
        ([("clamp", "loose"), ("clamp", "tight")], "clamp tightened", True),
        ([("read_gauges", None), ("distributor", 2.0)], "body turned and read", False),
        ([("distributor", 2.0), ("read_gauges", None)], "body turned and read", True),
        ([("vacuum_hose", "on")], "hose on again", False),  # it never came off
        ([("clamp", "loose"), ("read_gauges", None), ("clamp", "tight")], "read again", False),
    ],
)
def test_steps_in_order_need_their_order(acts, step, is_ticked):
    """What is done again, or after something, needs that something first."""
    assert (step in ticked([act(*one) for one in acts])) is is_ticked


def test_the_rail_fades():
    """Four phases and no steps where it is judged, nothing in the letter."""
    made_safe = [act(control) for control in ("brake", "chocks", "ventilation", "fan_area")]
    phases = rail("phases", METHOD, made_safe, prepared=False)
    assert [(phase["title"], phase["done"], phase["steps"]) for phase in phases] == [
        ("Make safe", True, []),
        ("Set", False, []),
        ("Confirm", False, []),
        ("Road", False, []),
    ]
    assert rail("none", METHOD, made_safe, prepared=False) == []


@pytest.mark.parametrize(
    ("lesson", "exercise", "guide"),
    [
        ("l02_what_the_gauges_say", "l02_turn_and_watch", "steps"),
        ("l04_base_timing", "l04_set_base_timing", "phases"),
        ("l09_answer_the_letter", "l09_do_the_job", "none"),
    ],
)
def test_each_bench_has_its_guide(lesson, exercise, guide):
    """Every step in practice, phases in the main job, nothing in the letter's."""
    assert guide_of(lesson, load_rubric(lesson).exercises[exercise].guessable) == guide


def test_what_a_colleague_prepared_is_no_step():
    """A vehicle that stands safe and hooked up has no steps for that."""
    titles = [phase["title"] for phase in rail("steps", METHOD, [], prepared=True)]
    assert titles == ["Set", "Confirm", "Road"]


def test_warm_is_ticked_on_a_warm_running_engine():
    """An act at a warm running engine ticks it; one at a cold engine, or at a warm one that stands, does not."""
    assert "engine warm" in ticked([act("read_gauges", coolant_c=88.0)])
    assert "engine warm" not in ticked([act("read_gauges")])
    assert "engine warm" not in ticked([act("read_gauges", coolant_c=88.0, running=False)])


def test_what_comes_next_is_the_first_step_that_is_not_done():
    """In the order of the method, whatever was done out of turn; nothing where all is done, or where it was stopped."""
    assert next_step(METHOD, [], prepared=False).words == "parking brake"
    done = [act("chocks", "in place"), act("brake", "on")]
    assert next_step(METHOD, done, prepared=False).words == "extraction"
    assert next_step(METHOD, [act("brake", "on", kind="stopped")], prepared=False).words == "parking brake"
    assert next_step(METHOD, [], prepared=True).words == "advance hose off"
    assert next_step(set(), [], prepared=False) is None
