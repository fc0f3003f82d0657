"""Single criteria at attempts that were written by hand: what whole learners at the bench never come near."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from course import ENGINES
from engine_sim import SEA_LEVEL_DAY, Engine, Trajectory, load_card
from engine_sim.workshop.trajectory import ActionRecord, DriveRecord, Sample
from graders.bench.attempt import CHECKS, MISSING, Attempt
from graders.bench.criteria.preparing import ADJUSTMENTS, HOLDS, YOURS
from graders.bench.criteria.road_check import TOTAL_RPM
from graders.bench.full_throttle import earliest_silent_deg, pull_over_lead, weights_deg
from graders.exercises.loader import lessons_with_rubrics, load_rubric, rubric_path

CARD = load_card(ENGINES / "farm_runabout_four.toml")
ENGINE = Engine(CARD)
AT_REST = {"test_lamp": "off", "ignition_switch": "off", "crank_mark": 0.0, "throttle": 0.0}


def act(control, value=None, time_s=1.0, running=True, speed_rpm=800.0, base_deg=8.0, **settings) -> ActionRecord:
    """One act that took effect."""
    return ActionRecord(
        time_s, control, value, "done", running, base_deg, 2.0, speed_rpm, 18.0, 85.0, {**AT_REST, **settings}
    )


def not_running(time_s, speed_rpm=0.0) -> Sample:
    """The engine's state at a moment in which it stands, or is only cranked."""
    return Sample(time_s, False, 8.0, 8.0, 2.0, speed_rpm, 18.0, 85.0, 0.0, "on", on_road=False)


def found(check, actions, samples=(), settings=None, **tolerances):
    """What a criterion finds at such an attempt."""
    trajectory = Trajectory(list(actions), list(samples), [], settings or {})
    return CHECKS[check](Attempt(trajectory, ENGINE, SEA_LEVEL_DAY), tolerances)


# ---- at the test stand -----------------------------------------------------------------------------------------------


def read_at(rpm, lost=0.001) -> ActionRecord:
    """The gauges read at a speed, throttle wide open, so late that the pull is less than its best by a share."""
    latest_deg, _ = pull_over_lead(ENGINE, rpm, 0.0).flat_top_deg(lost)
    base_deg = latest_deg - float(ENGINE.centrifugal_deg(rpm))
    return act("read_gauges", speed_rpm=rpm, base_deg=base_deg, throttle=1.0)


def test_a_reading_counts_at_its_own_speed():
    """What was read at another speed is no reading at this one, and does not take the place of one."""
    too_late = act("read_gauges", time_s=2.0, speed_rpm=2000.0, base_deg=-10.0, throttle=1.0)
    assert found("read_at_best", [read_at(1000.0), too_late], rpm=1000.0, less=0.008).name == "met"
    assert found("read_at_best", [too_late], rpm=1000.0, less=0.008).name == "missing"


@pytest.mark.parametrize("criterion", ["read_slow", "read_middle", "read_fast"])
def test_the_flat_top_of_lesson_one_is_narrow(criterion):
    """By the lesson's tolerance a pull that loses 0.7 percent was read at its best, and one that loses 1.2 was not."""
    bench = load_rubric("l01_why_the_spark_leads").exercises["l01_three_speeds"]
    [declared] = [one for one in bench.criteria if one.id == criterion]
    rpm = declared.tolerances["rpm"]
    assert found("read_at_best", [read_at(rpm, 0.007)], **declared.tolerances).name == "met"
    assert found("read_at_best", [read_at(rpm, 0.012)], **declared.tolerances).name == "late"


# ---- at the piston stop ----------------------------------------------------------------------------------------------

SLIPPED = Engine(CARD, replace(ENGINE.wear, mark_slip_deg=12.0))
TOUCHED = (act("turn_to_stop", running=False), act("turn_back_to_stop", time_s=2.0, running=False))


def found_at_slipped(check, actions, **left):
    """What a criterion finds on an engine whose mark shows 12 degrees at top centre."""
    trajectory = Trajectory(list(actions), [not_running(9.0)], [], {"piston_stop": "out", "spanner": "off", **left})
    return CHECKS[check](Attempt(trajectory, SLIPPED, SEA_LEVEL_DAY), {"within_deg": 1.0})


@pytest.mark.parametrize(
    ("mark_deg", "name"),
    [(12.5, "met"), (-11.5, "wrong way"), (24.0, "whole difference"), (6.0, "off"), (0.0, "off")],
)
def test_the_new_mark_is_judged_by_where_the_piston_is(mark_deg, name):
    """Within a degree of the middle it is right; on the other side, or twice as far, the belief behind it is named."""
    painted = (*TOUCHED, act("centre_mark", mark_deg, time_s=3.0, running=False))
    assert found_at_slipped("marked_true_centre", painted, centre_mark=mark_deg).name == name


def test_a_mark_before_both_touches_is_a_guess():
    """Painted first, or after one touch, it earns nothing, also where it happens to be right."""
    painted = act("centre_mark", 12.0, time_s=1.5, running=False)
    for actions in ((painted, *TOUCHED[1:]), (TOUCHED[0], painted), (TOUCHED[0], painted, TOUCHED[1])):
        assert found_at_slipped("marked_true_centre", actions, centre_mark=12.0).name == "guessed"
    assert found_at_slipped("marked_true_centre", TOUCHED, centre_mark=0.0) == MISSING
    assert found_at_slipped("touched_both_ways", TOUCHED[:1]).name == "one side"


def test_a_stop_that_was_never_in_was_not_taken_out():
    """What is left in, and a body that was turned, are named; without a stop there is nothing to judge."""
    put_in = act("piston_stop", "in cylinder one", running=False)
    assert found_at_slipped("stop_taken_out", ()) == MISSING
    assert found_at_slipped("stop_taken_out", (put_in,), spanner="on").name == "left in"
    assert found_at_slipped("stop_taken_out", (put_in, act("distributor", 1.0))).name == "body turned"
    assert found_at_slipped("stop_taken_out", (put_in,)).name == "met"


# ---- at the dead engine ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong", [{"running": True}, {"test_lamp": "off"}, {"ignition_switch": "off"}], ids=lambda wrong: "".join(wrong)
)
def test_the_lamp_tells_only_at_rest_with_the_ignition_on(wrong):
    """The body was turned by the lamp only where the engine stood, the lamp was on and the ignition was on."""
    label = CARD.setting.label_base_timing_deg
    right = {"running": False, "test_lamp": "on", "ignition_switch": "on"}
    assert found("set_with_lamp", [act("distributor", -1.0, crank_mark=label, **right)], mark_deg=0.5).name == "met"
    turned = act("distributor", -1.0, crank_mark=label, **{**right, **wrong})
    assert found("set_with_lamp", [turned], mark_deg=0.5).name == "no lamp"


def test_the_key_is_let_go_where_the_engine_stands_again():
    """An engine that was thrown back and stands is cranked no more: three such presses need no rest."""
    presses = [act("starter", time_s=20.0 * number, running=False) for number in range(3)]
    stands = [not_running(20.0 * number + 2.0) for number in range(3)]
    turns = [not_running(20.0 * number + 2.0, speed_rpm=180.0) for number in range(3)]
    limits = {"most": 9, "rest_s": 60.0}
    assert found("starter_rested", presses, stands, **limits).name == "met"
    assert found("starter_rested", presses, turns, **limits).name == "no rest"


# ---- how it was left -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("adjustment", ["clamp", "throttle", "vacuum_hose", "mixture_screw"])
def test_every_adjustment_is_left_as_it_was_found(adjustment):
    """One that stands otherwise at the end counts as changed, whichever act moved it."""
    as_found = {**dict.fromkeys(ADJUSTMENTS, "as found"), **YOURS, **HOLDS}
    actions, samples = [act("starter", **as_found | {"tachometer": "on"})], [not_running(9.0)]
    assert found("left_as_it_should_be", actions, samples, as_found).name == "met"
    assert found("left_as_it_should_be", actions, samples, {**as_found, adjustment: "other"}).name == "changed"


def test_an_engine_that_never_idled_again_has_no_speed():
    """Hose on again, but the engine was switched off before it idled: the idle is off, and the speed told is nought."""
    off, turn = act("vacuum_hose", "off and plugged", time_s=0.5), act("distributor", -1.0)
    hose, limit = act("vacuum_hose", "on", time_s=5.0, running=False), {"speed_rpm": 25.0}
    finding = found(
        "reconnected", [off, turn, hose], [running(2.0, 14.0), not_running(9.0)], {"vacuum_hose": "on"}, **limit
    )
    assert (finding.name, finding.values["speed"]) == ("idle off", 0.0)


# ---- what was never moved is not put back ---------------------------------------------------------------------------


def running(time_s, base_deg=8.0) -> Sample:
    """The idling engine's state at a moment."""
    return Sample(time_s, True, base_deg, base_deg, 2.0, CARD.setting.idle_rpm, 18.0, 85.0, 0.0, "on", on_road=False)


@pytest.mark.parametrize("hose", [[], [act("vacuum_hose", "on", time_s=5.0)]], ids=["untouched", "pressed on"])
def test_a_hose_that_never_came_off_earns_nothing_for_being_put_back(hose):
    """With the timing set, the idle right and the hose on, nothing was put back where the hose never came off."""
    idles, left, limit = [running(0.2 * tick, 10.0) for tick in range(60)], {"vacuum_hose": "on"}, {"speed_rpm": 50.0}
    turn = act("distributor", -1.0)
    came_off = [act("vacuum_hose", "off and plugged", time_s=0.5), turn, act("vacuum_hose", "on", time_s=5.0)]
    assert found("reconnected", came_off, idles, left, **limit).name == "met"
    assert found("reconnected", [turn, *hose], idles, left, **limit) == MISSING


@pytest.mark.parametrize("check", ["put_back_as_found", "stand_left_well"])
def test_a_body_that_hardly_moved_was_not_put_back(check):
    """A nudge within what counts as put back earns nothing; turned away and back earns all."""
    left = {"clamp": "tight", "vacuum_hose": "on", "throttle": 0.0, "load_brake": 0.0}
    turns = [act("distributor", 1.0, base_deg=8.0), act("distributor", 0.0, time_s=3.0, base_deg=8.5)]
    stands = not_running(9.0)
    assert found(check, turns, [running(2.0, 8.5), stands], left, within_deg=1.0) == MISSING
    assert found(check, turns, [running(2.0, 14.0), stands], left, within_deg=1.0).name == "met"


def test_a_clamp_that_held_nothing_earns_nothing():
    """Loosened, tightened and read with the distributor never turned, or by a hair, is no setting that was kept."""
    on, left = {"tachometer": "on", "gauge_hose": "none"}, {"clamp": "tight"}
    acts = [act("clamp", "loose"), act("clamp", "tight", time_s=4.0)]
    read, turn = act("read_gauges", time_s=6.0, **on), act("distributor", -1.0, time_s=2.0)
    assert found("clamped_and_read_again", [*acts, read], (), left) == MISSING
    assert found("clamped_and_read_again", [*acts, turn, read], [running(3.0, 9.0)], left) == MISSING
    turned = [running(3.0, 10.0)]
    assert found("clamped_and_read_again", [*acts, turn, read], turned, left).name == "met"
    blind = act("read_gauges", time_s=6.0, tachometer="off", gauge_hose="none")
    assert found("clamped_and_read_again", [*acts, turn, blind], turned, left).name == "not read"


def test_a_peak_is_not_found_without_a_gauge():
    """Turned past the peak with nothing connected is no peak that was found."""
    assert (
        found("found_peak", [act("distributor", 9.0, tachometer="off", gauge_hose="none")], nearly_deg=6.0) == MISSING
    )


def test_leads_that_were_never_on_were_not_taken_off():
    """An engine that was only started and stopped, with nothing connected, earns nothing for how it was left."""
    as_found = {**dict.fromkeys(ADJUSTMENTS, "as found"), **YOURS, **HOLDS}
    assert found("left_as_it_should_be", [act("starter", **as_found)], [not_running(9.0)], as_found) == MISSING


@pytest.mark.parametrize(("check", "limit"), [("small_steps", {"step_deg": 2.0}), ("never_advanced_for_ping", {})])
def test_a_ping_that_was_left_as_it_was_earns_nothing_for_its_cure(check, limit):
    """One pull that pinged and none after it is no small step; a silent one needs none where the spark stands as early
    as the engine allows, and shows nothing where it stands far later."""
    earliest_deg = earliest_silent_deg(CARD, SEA_LEVEL_DAY)

    def pulls(*pings, late_deg=0.0):
        drives = [DriveRecord(9.0, "on", earliest_deg - late_deg - at, ping, True) for at, ping in enumerate(pings)]
        return CHECKS[check](Attempt(Trajectory([], [], drives, {}), ENGINE, SEA_LEVEL_DAY), limit)

    assert pulls(0.9) == pulls(0.0, late_deg=8.0) == pulls() == MISSING
    assert pulls(0.0).name == pulls(0.9, 0.0).name == "met"


def test_a_silent_pull_as_it_was_found_shows_no_limit():
    """Silent where it was found is no earliest timing, also where it happens to be one; an earlier pull that pinged
    shows it, and so does a later one that was turned to. Where the total that was found is at its ceiling, a silent
    pull ends the task; a total above it does not."""
    earliest_deg = earliest_silent_deg(CARD, SEA_LEVEL_DAY)
    ron = float(ENGINE.fuel(SEA_LEVEL_DAY)[0])
    all_in_deg = float(weights_deg(CARD, None, np.array([TOTAL_RPM]))[0])

    def limit(*pulls, below_ceiling_deg=20.0):
        drives = [DriveRecord(9.0, "on", earliest_deg - late_deg, ping, True) for late_deg, ping in pulls]
        trajectory = Trajectory([], [running(0.2, earliest_deg)], drives, {})
        return CHECKS["earliest_without_ping"](
            Attempt(trajectory, ENGINE, SEA_LEVEL_DAY),
            {"ron": ron, "window_deg": 2.75, "most_deg": earliest_deg + all_in_deg + below_ceiling_deg},
        )

    assert limit((0.0, 0.0)) == limit((0.0, 0.0), (0.5, 0.0)) == limit((0.0, 0.0), below_ceiling_deg=-3.0) == MISSING
    assert limit((0.0, 0.0), below_ceiling_deg=1.0).name == "met"
    assert limit((-1.0, 0.9), (0.0, 0.0)).name == limit((0.0, 0.0), (1.0, 0.0)).name == "met"


# ---- made safe -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "lesson", [one for one in lessons_with_rubrics() if "made_safe" in rubric_path(one).read_text("utf-8")]
)
def test_two_stops_cost_all_for_making_safe(lesson):
    """Somebody whom the bench had to stop twice earns nothing for making safe, in every lesson."""
    checks = [
        one
        for exercise in load_rubric(lesson).exercises.values()
        for one in getattr(exercise, "criteria", ())
        if one.check == "made_safe"
    ]
    stop, start = replace(act("starter"), kind="stopped"), act("starter", time_s=2.0)
    for wanted in checks:
        shares = [found("made_safe", [*[stop] * times, start], **wanted.tolerances).share for times in range(3)]
        assert (shares[0], shares[2]) == (1.0, 0.0) and shares[1] in (0.0, 0.5)
    assert checks


# ---- the idle -------------------------------------------------------------------------------------------------------


def in_drive(time_s, speed_rpm) -> Sample:
    """The running engine's state at a moment with the vehicle in drive."""
    return Sample(time_s, True, 8.0, 8.0, 2.0, speed_rpm, 18.0, 85.0, 0.0, "on", False, "drive")


def test_the_idle_in_drive_counts_once_it_has_settled():
    """Until the idle in drive has had its time nothing counts; then its distance from the wanted one decides."""
    wanted = {"idle_rpm": 550.0, "window_rpm": 25.0}
    soon, settled, far = in_drive(2.0, 550.0), in_drive(8.0, 560.0), in_drive(8.0, 640.0)
    assert found("idles_in_drive", [], [soon], **wanted).name == "never in drive"
    assert found("idles_in_drive", [], [soon, settled], **wanted).name == "met"
    assert found("idles_in_drive", [], [soon, far], **wanted).name == "off"


# ---- without a figure ------------------------------------------------------------------------------------------------

LAMP = {"test_lamp": "on", "ignition_switch": "on"}
ROAD = {"route": "full pull", "timing_light": "off", "vacuum_hose": "on"}
LIGHT = {"timing_light": "on", "vacuum_hose": "off and plugged"}


def test_a_static_start_needs_its_lamp_and_its_figure():
    """The last turn at rest before the start counts; a crank with the lead earthed is no start."""
    window = {"low_deg": 5.0, "high_deg": 9.0}
    lamp = act("distributor", 2.0, 1.0, running=False, speed_rpm=0.0, **LAMP)
    blind = act("distributor", 3.0, 2.0, running=False, speed_rpm=0.0)
    cranked = act("starter", None, 3.0, running=False, speed_rpm=0.0, base_deg=20.0, coil_lead="out and earthed")
    started = act("starter", None, 4.0, running=False, speed_rpm=0.0, base_deg=7.0, coil_lead="in the cap")
    late = act("starter", None, 4.0, running=False, speed_rpm=0.0, base_deg=2.0, coil_lead="in the cap")
    assert found("started_from_static", [lamp, cranked, started], **window).name == "met"
    assert found("started_from_static", [lamp, late], **window).name == "off"
    assert found("started_from_static", [lamp, blind, started], **window).name == "no lamp"
    assert found("started_from_static", [lamp, cranked], **window).name == "missing"
    assert found("started_from_static", [started], **window).name == "missing"


def test_the_total_is_seen_by_a_light_without_vacuum_and_before_the_pull():
    """At idle, with the hose on, after the pull, or before a turn towards advance it was not seen."""
    wanted = {"from_rpm": 2850.0}
    seen = act("read_gauges", time_s=1.0, speed_rpm=3000.0, **LIGHT)
    idle = act("read_gauges", time_s=1.0, **LIGHT)
    hose = act("read_gauges", time_s=1.0, speed_rpm=3000.0, **{**LIGHT, "vacuum_hose": "on"})
    pull, advanced = act("road_check", time_s=2.0, **ROAD), act("road_check", time_s=2.0, base_deg=10.0, **ROAD)
    too_late = act("read_gauges", time_s=3.0, speed_rpm=3000.0, **LIGHT)
    names = [
        found("total_seen_before_pull", acts, **wanted).name
        for acts in ([seen, pull], [idle, pull], [hose, pull], [pull, too_late], [seen, advanced], [seen])
    ]
    assert names == ["met", "not seen", "hose on", "not seen", "turned after", "missing"]


def test_the_total_counts_base_and_weights():
    """On the runabout's weights a base of ten is within 34, and one of twelve is not."""
    within = act("road_check", base_deg=10.0, **ROAD)
    beyond = act("road_check", base_deg=12.0, **ROAD)
    as_found = [running(0.2, -6.0)]
    assert found("total_within", [within], as_found, most_deg=34.0).name == "met"
    assert found("total_within", [within, beyond], as_found, most_deg=34.0).name == "too far"
    driven_as_found = found("total_within", [within], [running(0.2, 10.0)], most_deg=34.0)
    cruised = found("total_within", [act("road_check", **{**ROAD, "route": "level cruise"})], as_found, most_deg=34.0)
    assert driven_as_found.name == cruised.name == "missing"
