"""Lesson l08: a reader who tests in the lesson's order, and knows only what an inspection tells, names every fault;
and top centre is found at the bench."""

from __future__ import annotations

import re
from statistics import median

import pytest

from engine_sim import INSPECTIONS, Draw, Event, EvidenceWriter, Header
from graders.bench.assignment import assignment_of, engine_of
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.model_answers.l08 import mark_centre
from graders.model_answers.model_learner import CREATED
from graders.model_answers.operator import Operator, Work

from .slips import act, after, before, instead, slip, turned, without
from .working import ENGINES, assert_costs_its_own, judged, lost

LESSON = "l08_not_the_timing"
RUBRIC = load_rubric(LESSON)
LEARNERS = [f"learner {number}" for number in range(40)]
BLOCKED_INHG, OFF_DEG, SPREAD_DEG, DWELL_DEG, BLOCKED_KPA = 0.8, 4.0, 5.0, 3.0, 10.0
TIMES = {"not once": "0 times", "once": "1 time", "twice": "2 times"}
WEAK_SHARE, GAINS_RPM, TIRED_SHARE, DROPS, LOW_SHARE, OIL_LIFTS = 0.6, 15.0, 0.8, 4, 0.8, 1.3


def numbers_in(text: str) -> list[float]:
    """Every number of a finding, in order."""
    return [float(found.replace(",", "")) for found in re.findall(r"(?<![\w.])-?\d{1,3}(?:,\d{3})*(?:\.\d+)?", text)]


class Reader:
    """Somebody who follows the lesson: cheap and telling tests first, and stops when one cause is left."""

    def __init__(self, assignment, offered):
        self.assignment, self.offered, self.looked = assignment, offered, []

    def look(self, name: str) -> str:
        """What an inspection tells; nothing where the exercise does not offer it."""
        if name not in self.offered:
            return ""
        self.looked.append(name)
        given = self.assignment
        return INSPECTIONS[name].tell(given.engine, given.found, given.conditions, Draw(f"{name}|{len(self.looked)}"))

    def cause(self) -> str:
        """The cause that is left."""
        for step in (
            self.held,
            self.light,
            self.each_cylinder,
            self.air,
            self.mixture,
            self.spark,
            self.valve,
            self.pressure,
        ):
            found = step()
            if found:
                return found
        return "none"

    def held(self) -> str:
        """Gas that cannot get out."""
        told = self.look("snap_and_hold").split("Held at 2,500 rpm")[1]
        at_first, _, afterwards, _ = [float(found) for found in re.findall(r"(\d+(?:\.\d+)?) (?:inHg|kPa)", told)]
        if at_first - afterwards < BLOCKED_INHG:
            return ""
        return "exhaust_blocked" if numbers_in(self.look("back_pressure"))[1] > BLOCKED_KPA else ""

    def light(self) -> str:
        """The advance sweep, and what it sends to."""
        told = self.look("advance_sweep")
        if "wanders" in told:
            return "bush_worn" if numbers_in(self.look("shaft_by_hand"))[0] > 0.2 else ""
        off, on, sheet_off, sheet_on = map(numbers_in, re.findall(r"-?\d+, -?\d+, -?\d+", told.split("rpm:")[1]))
        away = [shown - wanted for shown, wanted in zip(off, sheet_off, strict=True)]
        if max(away) - min(away) > SPREAD_DEG:
            return "weights_stuck" if max(off) - min(off) < SPREAD_DEG else "springs_weak"
        with_it_on = [shown - wanted for shown, wanted in zip(on, sheet_on, strict=True)]
        if max(abs(one - two) for one, two in zip(with_it_on, away, strict=True)) > SPREAD_DEG:
            return "canister_torn" if "falls back" in self.look("hand_pump") else "wrong_port"
        return self.shifted() if abs(away[0]) > OFF_DEG else ""

    def shifted(self) -> str:
        """The whole curve is shifted: points, mark, or base."""
        dwell = numbers_in(self.look("dwell_meter"))
        if dwell and abs(dwell[0] - dwell[-1]) >= DWELL_DEG:
            return "dwell_wrong"
        return "timing_late" if "at its zero" in self.look("piston_stop") else "damper_slipped"

    def each_cylinder(self) -> str:
        """One cylinder, or all of them."""
        told = self.look("cylinder_cut_out")
        [idle_rpm] = numbers_in(told.split("rpm")[0])  # an engine that stops without a cylinder falls by all of it
        falls = numbers_in(told.split("one, by")[1].replace("it stops", f"{idle_rpm:g}"))
        if min(falls) > WEAK_SHARE * median(falls):
            return ""
        told = self.look("compression").split("(")[0].split("one:")[1]
        low = [kpa for kpa in numbers_in(told) if kpa < LOW_SHARE * max(numbers_in(told))]
        if len(low) != 1:
            return "gasket_between" if low else self.air() or "plug_dead"
        return "valve_burnt"

    def air(self) -> str:
        """Air that comes in."""
        told = "" if "soapy_water" in self.looked else self.look("soapy_water")
        if "drawn in" not in told:
            return ""
        return "runner_leak" if "runner" in told else "plenum_leak"

    def mixture(self) -> str:
        """The mixture screws: what does the idle gain from?"""
        for way, cause in (("in raises the idle by ", "idle_rich"), ("out raises the idle by ", "idle_lean")):
            told = self.look("mixture_screws") if "mixture_screws" not in self.looked else self.told
            self.told = told
            if way in told and numbers_in(told.split(way)[1])[0] >= GAINS_RPM:
                return cause
        return ""

    def spark(self) -> str:
        """Rotor and coil."""
        told = numbers_in(self.look("look_at_rotor"))
        if told and max(told[:2]) > told[-1]:
            return "rotor_off"
        told = numbers_in(self.look("spark_gap_tester"))
        return "spark_tired" if told and told[0] < TIRED_SHARE * told[1] else ""

    def valve(self) -> str:
        """A valve that sticks, which oil eases."""
        words = self.look("oil_in_the_inlet")
        for word, count in TIMES.items():
            words = words.replace(word, count)
        told = numbers_in(words)
        return "valve_sticking" if len(told) > 2 and told[1] >= DROPS and told[2] < told[1] else ""

    def pressure(self) -> str:
        """All low: rings, valves that close late, or simply low."""
        told = self.look("compression")
        dry, wanted = numbers_in(told.split("one:")[1])[0], numbers_in(told.split("about")[1])[0]
        if dry > LOW_SHARE * wanted:
            return ""
        told = self.look("compression_with_oil")
        if told and numbers_in(told.split("With oil:")[1])[0] > OIL_LIFTS * dry:
            return "rings_weak"
        return "valves_late" if told and len(set(numbers_in(self.look("degree_wheel"))[-2:])) > 1 else "compression_low"


def header(learner: str) -> Header:
    """The head of this learner's evidence."""
    return Header(learner, LESSON, "", "", CREATED)


def faults_drawn(exercise_id: str) -> dict[str, str]:
    """For every fault that the learners of the tests are given, one of those learners."""
    drawn = {
        assignment_of(RUBRIC.exercises[exercise_id], header(learner), ENGINES).fault or "none": learner
        for learner in LEARNERS
    }
    return dict(sorted(drawn.items()))


CASES = [
    (exercise, fault, learner)
    for exercise in ("l08_truck", "l08_hauler")
    for fault, learner in faults_drawn(exercise).items()
]


@pytest.mark.parametrize(("exercise", "fault", "learner"), CASES, ids=[f"{one[4:]}-{fault}" for one, fault, _ in CASES])
def test_who_tests_in_order_finds_the_fault(tmp_path, exercise, fault, learner):
    """The lesson's order of tests, read with nothing but what is told, earns every point, whatever is wrong."""
    assignment = assignment_of(RUBRIC.exercises[exercise], header(learner), ENGINES)
    reader = Reader(assignment, RUBRIC.exercises[exercise].inspections)
    named = reader.cause()
    assert named == fault, reader.looked
    digest = engine_of(header(learner), ENGINES, "farm_runabout_four").card.digest
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", Header(learner, LESSON, "", digest, CREATED))
    for name in reader.looked:
        writer.append(Event(1.0, exercise, "inspect", name))
    writer.append(Event(2.0, exercise, "answer", named))
    result = judge_lesson(LESSON, writer.path, ENGINES, learner).exercise(exercise)
    assert result.points == result.max_points, lost(result)


def test_twelve_faults_and_more_are_drawn():
    """Forty learners are given more than twelve different faults, on each engine at least ten; some are sound."""
    drawn = {exercise: set(faults_drawn(exercise)) for exercise in ("l08_truck", "l08_hauler")}
    assert all(len(faults) >= 10 for faults in drawn.values())
    assert len(set.union(*drawn.values())) > 16 and "none" in drawn["l08_hauler"]


def test_the_needle_is_drawn_too():
    """The needle's patterns differ from learner to learner."""
    assert len(faults_drawn("l08_needle")) >= 5


# ---- true top centre at the bench ------------------------------------------------------------------------------------


def painted_at(times: float) -> Work:
    """The faultless work, but the new mark stands at so many times its right place."""

    def work(operator: Operator) -> None:
        touches = operator.session.settings["touches"]
        operator.do("centre_mark", times * round(sum(touches.values())) / 2)

    return slip(mark_centre, after("centre_mark", work))


@pytest.mark.parametrize("learner", ["anna", "bela", "carl"])
def test_the_centre_found_as_the_lesson_says_scores_full_marks(tmp_path, learner):
    """Two touches by hand, the mark midway, the light at it, everything put away: every point, on every ring."""
    result = judged(tmp_path, LESSON, "l08_mark_centre", learner, mark_centre)
    assert result.points == result.max_points, lost(result)


@pytest.mark.parametrize(
    ("misconception", "work"),
    [
        ("sides_mixed_up", painted_at(2.0)),
        ("corrected_the_wrong_way", painted_at(-1.0)),
        ("advance_left_connected", slip(mark_centre, before("starter", act("vacuum_hose", "on")))),
        ("marks_never_lie", slip(mark_centre, after("stop", turned(-6.0)))),
    ],
)
def test_each_mistake_about_the_centre_costs_its_own(tmp_path, misconception, work):
    """One mistake, all else well: the criteria that the rubric declares for it lose points, and it is named."""
    assert_costs_its_own(judged(tmp_path, LESSON, "l08_mark_centre", "anna", work), LESSON, misconception)


@pytest.mark.parametrize(
    ("work", "costs"),
    [
        (slip(mark_centre, without("turn_back_to_stop")), {"touched", "marked"}),
        (slip(mark_centre, instead("centre_mark", 1.0)), {"marked"}),
        (slip(mark_centre, without("spanner", "off")), {"make_safe", "used", "put_away"}),
        (slip(mark_centre, without("stop")), {"put_away"}),
    ],
)
def test_what_is_left_out_is_noticed(tmp_path, work, costs):
    """One touch, a mark by eye, a spanner left on and an engine left running each cost what they spoil."""
    found = lost(judged(tmp_path, LESSON, "l08_mark_centre", "anna", work))
    assert {one.rsplit(".", 1)[-1] for one in found} == costs
