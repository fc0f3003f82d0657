"""The bench with every tool over the real engine: what the tools tell of a sound and of a worn one."""

from __future__ import annotations

from pathlib import Path

import pytest

import course
from course.widgets.bench.bench import Bench
from engine_sim import LEAD_EARTHED, EvidenceWriter, Header, Session
from graders.bench.assignment import assignment_of
from graders.exercises.loader import rubric_in

RUBRIC = rubric_in(Path(__file__).parents[1] / "browser" / "trial_rubrics" / "l95_tools.toml")
STEP_S = 0.04


def header(learner: str) -> Header:
    """The head of this learner's evidence."""
    return Header(learner, RUBRIC.lesson, "", "of no account here", "2026-01-01T00:00:00Z")


def opened(exercise: str, evidence: EvidenceWriter | None = None, learner: str = "Robin Vale") -> Bench:
    """The bench of an exercise as a learner finds it, or as the evidence has left it."""
    given = assignment_of(RUBRIC.exercises[exercise], header(learner), course.ENGINES)
    return Bench(
        Session(
            given.engine,
            conditions=given.conditions,
            found=given.found,
            evidence=evidence,
            exercise=exercise,
            tools=given.tools,
        )
    )


def run(bench: Bench, seconds: float) -> list[str]:
    """Let time pass in the steps of a running page; every text that the timing light's tile held."""
    held = []
    for _ in range(round(seconds / STEP_S)):
        bench.step(STEP_S)
        held.append(bench.tools["timing_light"]["words"])
    return held


def idling(exercise: str, learner: str = "Robin Vale") -> Bench:
    """A bench with light and meter on and the engine settled at its idle."""
    bench = opened(exercise, learner=learner)
    for tool in ("timing_light", "dwell_meter"):
        bench.act(tool, "on")
    bench.act("starter")
    run(bench, 15.0)
    assert bench.readings["running"]
    return bench


@pytest.mark.parametrize("learner", ["Robin Vale", "Ash Fenn", "Wren Hale"])
def test_a_sound_mark_stands_still_and_a_worn_one_wanders(learner):
    """On a sound distributor the mark is never said to wander at idle; with a worn bush it is, nearly always."""
    assert not any("wanders" in words for words in run(idling("l95_all_tools", learner), 20.0))
    worn = run(idling("l95_worn", learner), 20.0)
    assert sum("wanders" in words for words in worn) > 0.9 * len(worn)


def at_the_lamp(bench):
    """Coil lead earthed, spanner, lamp and ignition on."""
    for control, value in (
        ("coil_lead", LEAD_EARTHED),
        ("spanner", "on"),
        ("test_lamp", "on"),
        ("ignition_switch", "on"),
    ):
        bench.act(control, value)


def test_light_and_lamp_agree_on_the_base_timing():
    """Two instruments that know nothing of each other find the same place: the light at idle, with the hose plugged
    and the weights at rest, and the lamp as the crank is turned by hand. Static and dynamic timing agree there by
    common practice, no source."""
    bench = idling("l95_all_tools")
    by_light = bench.tools["timing_light"]["value"]
    bench.act("stop")
    run(bench, 10.0)
    at_the_lamp(bench)
    for place in range(30, -11, -1):
        bench.act("crank_mark", float(place))
        if bench.tools["test_lamp"]["value"]:
            break
    assert place == pytest.approx(by_light, abs=2.0)


def test_a_restarted_kernel_finds_the_tools_as_they_were(tmp_path):
    """What was put on and where the crank was left is in the evidence, and stands on the tiles again."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", header("Robin Vale"))
    bench = opened("l95_all_tools", writer)
    at_the_lamp(bench)
    bench.act("crank_mark", 20.0)
    bench.act("ignition_switch", "off")
    bench.act("fuel", "98 RON")
    again = opened("l95_all_tools", EvidenceWriter(tmp_path / "evidence.jsonl", header("Robin Vale")))
    assert again.tools == bench.tools
    assert again.tools["crank_mark"]["value"] == 20.0
    assert again.conditions == {"octane_ron": 98.0, "octane_mon": 88.0}
