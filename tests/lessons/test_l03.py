"""Lesson l03 at both of its benches, and what its text and pictures say of points and starting."""

from __future__ import annotations

import pytest

from course.authoring.lesson_pictures.engines import RUNABOUT, engine_named
from course.authoring.lesson_pictures.starting import STARTS, points_at_gap, start_over_time
from engine_sim import AsFound, Header, Session, published
from graders.bench.assignment import assignment_of
from graders.bench.attempt import Attempt
from graders.bench.criteria import CHECKS, starting as criteria_of_starting
from graders.exercises.formulas import value_of
from graders.exercises.kinds.common import as_text
from graders.exercises.loader import load_rubric
from graders.model_answers.l03 import (
    APPROACH_DEG,
    LISTEN_S,
    REST_S,
    crank_for_dwell,
    dwell_of_a_six,
    find_out,
    listen,
    look_under_cap,
    set_points,
    start_again,
    start_and_read,
    static,
    time_with_lamp,
)
from graders.model_answers.operator import BODY_MOST_DEG, START_S, STOP_S
from tests.graders.instrument import GivenAnswer, judged as answered

from .slips import act, after, before, in_turn, instead, off_by, slip, waiting, without
from .working import ENGINES, Operator, assert_costs_its_own, judged, lost

LESSON, STATIC, DEAD = "l03_getting_it_to_start", "l03_static", "l03_will_not_start"


def learner_with(fault: str) -> str:
    """The first of some names whose engine does not start for that reason."""
    exercise = load_rubric(LESSON).exercises[DEAD]
    return next(
        name
        for name in (f"learner {number}" for number in range(60))
        if assignment_of(exercise, Header(name, LESSON, "", "", "t"), ENGINES).fault == fault
    )


# ---- slips -----------------------------------------------------------------------------------------------------------

LAST_START = 3  # of static timing: the first two are for the dwell
FORGETS_THE_KEY = in_turn(
    act("stop", wait_s=STOP_S),
    *[act("ignition_switch", "on", wait_s=200.0)] * 2,  # pressed again it is still the same look
    act("starter", wait_s=START_S),
)
SPANNER_STAYS_ON = in_turn(
    act("spanner", "on"),
    act("starter"),  # stopped by the bench: done as it should be after all
    act("spanner", "off"),
)
LIFTS_BOTH_WAYS = in_turn(
    act("clamp", "loose"), act("refit", "half a turn round"), act("refit", "as found"), act("clamp", "tight")
)
BLIND_START = act("starter", wait_s=LISTEN_S + REST_S)
SHORT_OF_REST_S = LISTEN_S + 1.0


def lifts_without_a_look(operator: Operator) -> None:
    """One way and the other, by trial."""
    listen(operator)
    LIFTS_BOTH_WAYS(operator)
    start_again(operator, seen="")


def turns_the_body(operator: Operator) -> None:
    """Look, and then turn the body towards the label's figure as far as it can be turned."""
    listen(operator)
    seen = look_under_cap(operator)
    earlier = 1.0 if operator.session.base_timing_deg < 0 else -1.0
    operator.do("clamp", "loose")
    operator.do("distributor", BODY_MOST_DEG * earlier * operator.towards_advance)
    operator.do("clamp", "tight")
    start_again(operator, seen)


# ---- points and static timing ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_static_timing_by_the_lesson_scores_full_marks(tmp_path, learner):
    """Points, mark, lamp, clamp, start: every point, by what meter and lamp show, whatever the learner's engine."""
    result = judged(tmp_path, LESSON, STATIC, learner, static)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_at_the_cards_gap_the_meter_shows_the_cards_dwell(tmp_path, learner):
    """After the gap was set by the gauge, the meter on the starter shows what the card says, within a degree."""

    def work(operator: Operator) -> None:
        set_points(operator)
        operator.do("dwell_meter", "on")
        assert crank_for_dwell(operator) == pytest.approx(operator.card.ignition.dwell_deg, abs=1.0)

    judged(tmp_path, LESSON, STATIC, learner, work)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("timing_before_dwell", in_turn(time_with_lamp, set_points, start_and_read)),
        (
            "top_centre_for_mark",
            slip(
                static,
                instead("crank_mark", APPROACH_DEG, number=1),
                instead("crank_mark", 0.0, number=2),
            ),
        ),
        ("clamp_left_loose", slip(static, without("clamp", "tight"))),
        ("mark_from_behind", slip(static, off_by("crank_mark", -10.0 - APPROACH_DEG, number=1))),
        ("mark_from_behind", slip(static, off_by("crank_mark", 1.0 - APPROACH_DEG, number=1))),
        ("ignition_left_on", slip(static, after("starter", FORGETS_THE_KEY, number=LAST_START))),
    ],
)
def test_each_mistake_at_the_points_costs_its_own_and_is_named(tmp_path, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, STATIC, "anna", work), LESSON, misconception)


@pytest.mark.parametrize(
    ("criterion", "work"),
    [
        ("dwell", slip(static, without("starter", number=2), without("stop", number=2))),
        ("runs", slip(static, without("starter", number=LAST_START))),
    ],
)
def test_each_omission_at_the_points_costs_its_own(tmp_path, criterion, work):
    """What is left out costs its own criterion alone."""
    assert set(lost(judged(tmp_path, LESSON, STATIC, "bela", work))) == {criterion}


@pytest.mark.parametrize(
    "work",
    [
        in_turn(act("test_lamp", "on"), static),
        slip(static, before("coil_lead", SPANNER_STAYS_ON, value="in the cap")),
    ],
)
def test_an_unsafe_order_at_the_lamp_costs_its_points(tmp_path, work):
    """A lamp before the coil lead is earthed, or a starter with the spanner on, is stopped and costs safety alone."""
    result = judged(tmp_path, LESSON, STATIC, "anna", work)
    assert set(lost(result)) == {"safe"} and next(one for one in result.criteria if one.criterion == "safe").points == 0


def test_a_look_needs_the_lamp(tmp_path):
    """The ignition switched on and off again without a lamp is no look, and earns nothing."""

    def work(operator: Operator) -> None:
        operator.do("ignition_switch", "on")
        operator.do("ignition_switch", "off")
        operator.do("starter")

    assert lost(judged(tmp_path, LESSON, STATIC, "anna", work))["ignition"] is None


def test_a_key_left_on_after_a_stall_is_seen(tmp_path):
    """The engine dies and its ignition stays on: that heats the coil as well."""

    def work(operator: Operator) -> None:
        static(operator)
        operator.do("clamp", "loose")
        operator.do("distributor", -25.0 * operator.towards_advance, wait_s=400.0)
        operator.do("read_gauges")

    assert lost(judged(tmp_path, LESSON, STATIC, "anna", work))["ignition"] == "ignition_left_on"


# ---- a six and an eight ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("learner", ["anna", "bela"])
def test_the_dwell_of_a_six_scores_full_marks(tmp_path, learner):
    """Read on the starter, set at rest, read again: every point, and the meter then shows the six's own dwell."""

    def work(operator: Operator) -> None:
        dwell_of_a_six(operator)
        operator.do("stop", wait_s=2.0 * STOP_S)
        operator.do("dwell_meter", "on")
        operator.do("coil_lead", "out and earthed")
        assert crank_for_dwell(operator) == pytest.approx(operator.card.ignition.dwell_deg, abs=1.0)
        assert published("dwell_six").agrees(operator.card.ignition.dwell_deg)

    result = judged(tmp_path, LESSON, "l03_dwell_six", learner, work)
    assert result.points == result.max_points, lost(result)


def test_the_gap_alone_is_not_the_dwell(tmp_path):
    """Where the meter was not read after the gap was set, its own points are lost."""
    work = slip(dwell_of_a_six, without("starter", number=2), without("stop", number=2))
    assert set(lost(judged(tmp_path, LESSON, "l03_dwell_six", "anna", work))) == {"six_read"}


def test_the_meters_share_is_of_one_spark_to_the_next():
    """The formula's pitches are the published ones, and a dwell that it gives lies in the trade's band."""
    fields = {one.id: one for one in load_rubric(LESSON).exercises["l03_dwell_share"].fields}
    assert value_of(fields["pitch"].formula, {}) == published("lobe_pitch_8").value
    assert value_of(fields["eight"].formula, {"share": 68.0}) == pytest.approx(0.68 * published("lobe_pitch_8").value)
    assert value_of(fields["six"].formula, {"share": 64.0}) == pytest.approx(0.64 * published("lobe_pitch_6").value)
    assert published("dwell_eight").agrees(value_of(fields["eight"].formula, {"share": 68.0}))
    assert published("dwell_six").agrees(value_of(fields["six"].formula, {"share": 64.0}))


# ---- it does not start -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["tooth_out", "half_turn", "flooded"])
def test_an_engine_that_does_not_start_is_made_to_run(tmp_path, fault):
    """Listen, look under the cap, put right what it shows, start: every point, whatever is wrong."""
    result = judged(tmp_path, LESSON, DEAD, learner_with(fault), find_out)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("fault", "misconception", "work"),
    [
        ("flooded", "throttle_left_open", slip(find_out, instead("throttle", 0.1, of=0.0))),
        ("flooded", "distributor_for_fuel", slip(find_out, before("throttle", LIFTS_BOTH_WAYS, number=1))),
        ("half_turn", "cranks_and_hopes", in_turn(BLIND_START, BLIND_START, find_out)),
        (
            "half_turn",
            "starter_needs_no_rest",
            in_turn(
                act("starter", wait_s=SHORT_OF_REST_S),
                slip(find_out, waiting("starter", SHORT_OF_REST_S, number=1)),
            ),
        ),
        ("half_turn", "clamp_left_loose", slip(find_out, without("clamp", "tight"))),
    ],
)
def test_each_mistake_at_the_dead_engine_costs_its_own_and_is_named(tmp_path, fault, misconception, work):
    """One mistake and all else well: what the rubric declares for it is lost, and nothing more."""
    assert_costs_its_own(judged(tmp_path, LESSON, DEAD, learner_with(fault), work), LESSON, misconception)


@pytest.mark.parametrize(("opened_again", "costs"), [(0.0, {}), (0.3, {"runs": "throttle_left_open"})])
def test_racing_beyond_the_benchs_stop_costs_its_own(tmp_path, opened_again, costs):
    """Where the bench closes the throttle at 3,500 rpm nothing is lost; a second press beyond costs the last points."""
    races = in_turn(
        act("throttle", 1.0, wait_s=3.0),
        act("throttle", opened_again, wait_s=2.0),
        act("throttle", 0.0, wait_s=8.0),
        act("read_gauges"),
    )
    result = judged(tmp_path, LESSON, DEAD, learner_with("half_turn"), in_turn(find_out, races))
    assert lost(result) == costs


def test_an_engine_that_runs_down_is_not_cranked(monkeypatch):
    """The starter's time ends when the engine catches, though it is switched off soon after and runs down."""
    session = Session(engine_named(RUNABOUT), found=AsFound(8.0, 2.4, 0.0, 5, prepared=True))
    operator = Operator(session)
    operator.do("starter", wait_s=3.0)
    operator.do("stop", wait_s=4.0)
    session.end_attempt()
    attempt = Attempt(session.trajectories[-1], session.engine, session.conditions)
    caught_s = next(sample.time_s for sample in attempt.trajectory.samples if sample.running)
    found = []
    for cranked_s in (caught_s + 0.1, caught_s - 0.3):
        monkeypatch.setattr(criteria_of_starting, "CRANKED_AT_MOST_S", cranked_s)
        found.append(CHECKS["starter_rested"](attempt, {"rest_s": 28.0, "most": 5}).name)
    assert found == ["met", "no rest"]


def test_lifting_before_looking_costs_and_is_named(tmp_path):
    """Who lifts the distributor without a look loses the look, and puts nothing right by trial."""
    found = lost(judged(tmp_path, LESSON, DEAD, learner_with("tooth_out"), lifts_without_a_look))
    assert found["looked"] == "parts_before_looking" and {"looked", "cure"} <= set(found)


def test_turning_the_body_does_not_cure_a_tooth(tmp_path):
    """The body turned as far as it goes is not a distributor set in rightly, even where the engine then runs."""
    found = lost(judged(tmp_path, LESSON, DEAD, learner_with("tooth_out"), turns_the_body))
    assert found["cure"] == "turns_for_a_tooth" and set(found) <= {"cure", "runs"}


@pytest.mark.parametrize("exercise", [STATIC, DEAD])
def test_nothing_done_earns_nothing(tmp_path, exercise):
    """Who only looks at the bench has done none of it."""
    assert judged(tmp_path, LESSON, exercise, "anna", lambda operator: operator.do("brake", "on")).points == 0


# ---- the order at rest, and the questions about the starter ----------------------------------------------------------


def told(exercise_id: str, answer) -> tuple[float, set[str | None]]:
    """The share of points for an answer, and the misconceptions that are named."""
    rubric = load_rubric(LESSON)
    result = answered(rubric, rubric.exercises[exercise_id], "anna", GivenAnswer(answer))
    return result.points / result.max_points, {one.misconception for one in result.criteria} - {None}


ORDER = ["gap", "lead", "dwell", "mark", "lamp", "tight", "again", "spanner", "start"]


@pytest.mark.parametrize("order", [ORDER, ["lead", *(one for one in ORDER if one != "lead")]])
def test_the_coils_lead_may_come_out_before_or_after_the_gap(order):
    """It is earthed before the starter turns the engine for the meter: all points."""
    assert told("l03_order", as_text(order)) == (1.0, set())


@pytest.mark.parametrize(
    ("moved", "before", "misconception"),
    [
        ("lamp", "lead", "lead_left_in"),
        ("dwell", "lead", "lead_left_in"),
        ("spanner", "again", "lead_left_in"),
        ("start", "spanner", "spanner_left_on"),
        ("mark", "dwell", "spanner_left_on"),
    ],
)
def test_an_order_that_could_fire_or_throw_the_spanner_is_named(moved, before, misconception):
    """The lead is earthed before the lamp and until the last look; the spanner is off whenever the starter turns."""
    order = [one for one in ORDER if one != moved]
    order.insert(order.index(before), moved)
    share, named = told("l03_order", as_text(order))
    assert share < 1.0 and misconception in named


@pytest.mark.parametrize(
    ("exercise_id", "right", "wrong"),
    [
        (
            "l03_jerks",
            "too_early",
            {
                "too_late": "jerks_taken_for_late",
                "weak_battery": "jerks_taken_for_battery",
                "flooded": "jerks_taken_for_flooded",
            },
        ),
        (
            "l03_goes_on_turning",
            "no_fuel",
            {
                "too_late": "dry_taken_for_late",
                "flooded": "dry_taken_for_flooded",
                "too_early": "even_taken_for_early",
                "starter": "even_taken_for_weak",
            },
        ),
        (
            "l03_turns_and_pops",
            "too_late",
            {
                "no_fuel": "pops_taken_for_no_fuel",
                "flooded": "pops_taken_for_flooded",
                "too_early": "even_taken_for_early",
            },
        ),
    ],
)
def test_the_starter_tells_early_dry_and_late_apart(exercise_id, right, wrong):
    """Thrown back is early, dry plugs and a cold pipe are no fuel, pops and a warm pipe are late; the rest is named."""
    assert told(exercise_id, right) == (1.0, set())
    assert {choice: told(exercise_id, choice) for choice in wrong} == {
        choice: (0.0, {misconception}) for choice, misconception in wrong.items()
    }


def test_the_signs_of_the_questions_are_those_of_the_table():
    """No fuel: no petrol, dry, cold. Too late: pops, warm, damp. The table and the two questions say the same."""
    rows = {row[3]: row for row in cranking_table()}
    exercises = load_rubric(LESSON).exercises
    dry, pops = exercises["l03_goes_on_turning"].question, exercises["l03_turns_and_pops"].question
    (no_fuel,) = (row for name, row in rows.items() if name.startswith("**no fuel"))
    (late,) = (row for name, row in rows.items() if "too late" in name)
    assert "cold" in no_fuel[1] and "dry" in no_fuel[2] and "cold" in dry and "plugs are dry" in dry
    assert "not smell" in dry and "no petrol" in no_fuel[2]
    for sign in ("muffled pops", "warm", "damp"):
        assert sign in " ".join(late) and sign in pops


def cranking_table() -> list[list[str]]:
    """The rows of the table of what the starter tells, each with its five cells."""
    lines = (ENGINES.parent / "source" / LESSON / f"{LESSON}.ipynb").read_text(encoding="utf-8").splitlines()
    found = [line.strip().strip('",').removesuffix("\\n").strip().strip("|").split("|") for line in lines]
    return [[cell.strip() for cell in row] for row in found if len(row) == 5 and "---" not in row[0]][1:]


def test_the_table_separates_eight_causes():
    """No two rows show the same; each has its own cause, and something to look at first."""
    rows = cranking_table()
    causes = [
        "too early",
        "too late",
        "no spark",
        "no fuel",
        "flooded",
        "crossed leads",
        "half a turn out",
        "weak battery",
    ]
    assert len(rows) == len(causes) and all(cause in row[3] for cause, row in zip(causes, rows, strict=True))
    assert len({tuple(row[:3]) for row in rows}) == len(rows) and all(row[4] for row in rows)


# ---- text and pictures -----------------------------------------------------------------------------------------------


def test_a_degree_of_dwell_moves_the_spark_by_one_crank_degree():
    """On the bench the spark moves with the gap as the published rule says (spark_per_dwell_degree)."""
    (wide, early), (narrow, late) = points_at_gap(0.50), points_at_gap(0.30)
    assert published("spark_per_dwell_degree").agrees((early - late) / (narrow - wide))


def test_the_four_starts_are_as_their_titles_say():
    """The first runs; the second is thrown back; the others turn as fast as the first did before it caught, for as
    long as the key is turned."""
    (_, runs, _), (_, jerks, said), (_, late, _), (_, wet, smelt) = map(start_over_time, STARTS)
    assert runs[-1] > 900 and "kicks back" in said and jerks[-1] < 50 and "petrol" in smelt
    assert late[100:].std() < 10 and wet[100:].std() < 10 and late[-1] == pytest.approx(wet[-1], abs=10)
