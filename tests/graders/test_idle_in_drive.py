"""Idle in drive and mixture screws: an exercise that uses them is solved by what the gauges show, and judged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from engine_sim import CONTROLS, Engine, EvidenceWriter, Header, Session, load_card, read_evidence
from graders.bench.assignment import assignment_of
from graders.bench.criteria.idling import SCREW_STEP_TURNS as FINGER_TURNS, highest_place
from graders.exercises.loader import rubric_in
from graders.model_answers.model_learner import CREATED, NO_ENGINE
from graders.model_answers.operator import START_S, Operator
from tests.further import on_one_each
from tests.scripted_learner import ENGINES

RUBRIC = Path(__file__).parent / "bench_rubrics" / "l94_idle.toml"
EXERCISE = "l94_idle_in_drive"
IN_DRIVE_RPM, NEAR_RPM = 650.0, 8.0
SCREW_STEP_TURNS, SETTLE_S, LOOK_S = 0.25, 8.0, 12.0
TOO_RICH_TURNS = 2.25
RPM_PER_TURN = 90.0  # of the idle screw, in drive


def judged(folder: Path, work, learner: str = "anna"):
    """What the judge says of work at the bench of this exercise: found points and named findings, by criterion."""
    exercise = rubric_in(RUBRIC).exercises[EXERCISE]
    header = Header(learner, "l94_idle", "", NO_ENGINE, CREATED)
    given = assignment_of(exercise, header, ENGINES)
    writer = EvidenceWriter(folder / "evidence.jsonl", header)
    session = Session(
        given.engine,
        conditions=given.conditions,
        found=given.found,
        evidence=writer,
        exercise=EXERCISE,
        tools=given.tools,
    )
    work(Operator(session))
    result = exercise.judge_evidence(read_evidence(writer.path), ENGINES)
    return {one.criterion: (one.points / one.max_points, one.sentence) for one in result.criteria}


def start(operator: Operator) -> None:
    """Start the engine, which a colleague has made safe, with the mixture screws as somebody left them."""
    operator.do("mixture_screw", TOO_RICH_TURNS)
    operator.do("starter", wait_s=2.0 * START_S)


def lean_out(operator: Operator) -> None:
    """Turn the mixture screws in while the needle rises, and one step back."""
    best = operator.shown("vacuum_inhg", LOOK_S)
    while True:
        operator.do("mixture_screw", operator.session.settings["mixture_screw"] - SCREW_STEP_TURNS, wait_s=SETTLE_S)
        found = operator.shown("vacuum_inhg", LOOK_S)
        if found < best:
            operator.do("mixture_screw", operator.session.settings["mixture_screw"] + SCREW_STEP_TURNS, wait_s=SETTLE_S)
            return
        best = found


def into_drive(operator: Operator) -> None:
    """A second person on the brake, and drive."""
    operator.do("helper", "at the brake")
    operator.do("gear", "drive", wait_s=SETTLE_S)


def trim_in_drive(operator: Operator) -> None:
    """Turn the idle screw until the tachometer shows the wanted idle in drive."""
    for _ in range(40):
        short_rpm = IN_DRIVE_RPM - operator.shown("speed_rpm", LOOK_S)
        if abs(short_rpm) < NEAR_RPM:
            return
        turned = operator.session.settings["idle_screw"] + short_rpm / RPM_PER_TURN
        operator.do("idle_screw", 0.05 * round(turned / 0.05), wait_s=SETTLE_S)


def out_of_drive(operator: Operator) -> None:
    """Neutral first, and only then does the second person leave the brake."""
    operator.do("gear", "neutral", wait_s=SETTLE_S)
    operator.do("helper", "nobody")


WORK = (start, lean_out, into_drive, trim_in_drive, out_of_drive)


def in_turn(*work) -> object:
    """Several pieces of work, one after the other."""
    return lambda operator: [piece(operator) for piece in work]


def left_alone(name: str):
    """The whole work without one piece."""
    return in_turn(*(piece for piece in WORK if piece.__name__ != name))


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_idle_in_drive_is_set_by_its_gauges(tmp_path, learner):
    """Mixture to the highest vacuum, idle in drive by the tachometer, out of gear: every criterion is met."""
    found = judged(tmp_path, in_turn(*WORK), learner)
    assert all(share == 1.0 for share, _ in found.values()), found


@pytest.mark.parametrize(
    ("missing", "criterion", "said"),
    [
        ("lean_out", "mixture", "too far out"),
        ("trim_in_drive", "idle", "rpm"),
        ("out_of_drive", "out_of_gear", "left in gear"),
    ],
)
def test_a_piece_left_out_costs_its_own_points(tmp_path, missing, criterion, said):
    """What is not done costs its own criterion, whose sentence names it."""
    found = judged(tmp_path, left_alone(missing))
    assert found[criterion][0] < 1.0 and said in found[criterion][1], found
    assert all(share == 1.0 for name, (share, _) in found.items() if name not in (criterion, "idle")), found


def test_alone_nobody_drives(tmp_path):
    """Without a second person drive is stopped, and the idle in drive is missing."""

    def work(operator: Operator) -> None:
        start(operator)
        assert operator.do("gear", "drive") == "stopped"

    found = judged(tmp_path, work)
    assert found["out_of_gear"][0] == found["idle"][0] == 0.0


def test_in_gear_the_throttle_stays_closed(tmp_path):
    """With the vehicle in drive nobody opens the throttle, and with an open throttle nobody puts it in drive."""

    def work(operator: Operator) -> None:
        start(operator)
        into_drive(operator)
        assert [operator.do(*act) for act in (("throttle", 0.3), ("snap", None))] == ["stopped", "stopped"]
        out_of_drive(operator)
        operator.do("helper", "at the brake")
        assert operator.do("throttle", 0.1, wait_s=2.0) == "done"
        assert operator.do("gear", "drive") == "stopped"
        operator.do("throttle", 0.0)

    judged(tmp_path, work)


@pytest.mark.parametrize(
    ("card", "idle_screw"), on_one_each(["delivery_truck_six", "farm_runabout_four", "hill_hauler_eight"], [1.0, 2.5])
)
def test_the_best_mixture_is_found_by_going_up_as_by_looking_everywhere(card, idle_screw):
    """From a lean, a middling and a rich place, at a lower and a higher idle, the climb ends at the highest vacuum of
    all places that a finger can leave the screws in, within what no needle tells."""
    engine = Engine(load_card(ENGINES / f"{card}.toml"))
    screw = CONTROLS["mixture_screw"]
    places = np.arange(screw.low, screw.high + FINGER_TURNS / 2, FINGER_TURNS)

    def vacuum_at(turns: float) -> float:
        state = engine.idle(10.0, idle_screw, mixture_screw=turns)
        return float(np.nan_to_num(state.manifold_vacuum_inhg))

    highest = max(vacuum_at(float(place)) for place in places)
    idles = [float(place) for place in places if vacuum_at(float(place))]
    for begin in (idles[0], idles[len(idles) // 2], idles[-1]):
        assert vacuum_at(highest_place(vacuum_at, begin)) == pytest.approx(highest, abs=0.01), begin
