"""A learner who follows the method by what the instruments show, and can be told to make one mistake at a time.

Used by the tests of the judge, the class run and the benchmarks. It reads only what a person could read, averages
the wobble by looking for a while, and never sees the true angle.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from engine_sim import Event, EvidenceWriter, Header, LearnersEngine, Session, learners_engine, load_card
from graders.bench.assignment import WARM_C, BenchAssignment, assignment_of
from graders.exercises.loader import load_rubric
from graders.model_answers.method import MethodAttempt
from graders.model_answers.model_learner import CREATED
from graders.model_answers.operator import SAFE

ENGINES = Path(__file__).parents[1] / "course" / "engines"
LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
RIGHT_ANSWERS = (
    ("l04_why_back_off", "adds_up", None),
    ("l04_distributor_degrees", 3.0, "distributor degrees"),
    ("l04_altitude_vacuum", 15.8, "inHg"),
    (
        "l04_explain",
        "The weights in the distributor add more lead as the engine speeds up, so the fastest "
        "idle is too early on a hill; I drove it to hear that it does not ping.",
        None,
    ),
    ("l04_protects", '["make_safe","warm","gauges","idle_at_peak","clamp","road"]', None),
)


@dataclass(frozen=True)
class Habits:
    """What this learner does; the defaults are the method as it should be."""

    makes_safe: bool = True
    warms_up: bool = True
    hose: str = "off and plugged"
    gauge: str = "manifold"
    finds_peak: bool = True
    retrims: bool = True
    backs_off_with: str = "distributor"  # distributor (by the tachometer, or by the gauge), idle_screw or nothing
    by_the_gauge: bool = False
    tightens: bool = True
    reads_again: bool = True
    reconnects: bool = True
    drives: bool = True
    turns_wrong_way: bool = False
    stops_short: bool = False
    advances_when_it_pings: bool = False
    hesitates: bool = False
    answers: tuple = RIGHT_ANSWERS


class ScriptedLearner(MethodAttempt):
    """The faultless try, with habits that break it. Call `work`."""

    def __init__(self, session: Session, habits: Habits):
        super().__init__(session)
        self.habits = habits

    def prepare(self) -> None:
        """Safe or not, warm or not, with hose and gauge where the habits have them."""
        if not self.habits.makes_safe:
            self.do("starter")
        for control, value in SAFE.items():
            self.do(control, value)
        self.do("tachometer", "on")
        self.do("gauge_hose", self.habits.gauge)
        self.do("starter", wait_s=6.0)
        if self.habits.warms_up:
            self.do("wait_until_warm")
        else:  # impatient: the choke is nearly off, the oil still thick
            for _ in range(17):
                self.do("wait")
        if self.habits.hose != "on":
            self.do("vacuum_hose", self.habits.hose)
        self.do("clamp", "loose", wait_s=3.0)

    def search(self) -> None:
        """Nowhere, the wrong way, one step, or as it should be; with the idle brought back or not."""
        if self.habits.turns_wrong_way:
            for _ in range(2):
                self.turn(-2.0)
        elif self.habits.finds_peak and self.habits.stops_short:
            self.hesitate()
            self.turn(4.0)
        elif self.habits.finds_peak and self.habits.retrims:
            super().search()
        elif self.habits.finds_peak:
            self.climb(self.gauge())

    def climb(self, best: float) -> None:
        """Up to the peak, after a few steps to and fro where that is a habit."""
        self.hesitate()
        super().climb(best)

    def hesitate(self) -> None:
        """A few steps to and fro, where that is a habit."""
        for step in (4.0, -2.0, 4.0, -4.0) if self.habits.hesitates else ():
            self.turn(step)

    def back_off(self) -> None:
        """With the distributor, the idle screw, or not at all."""
        if self.habits.backs_off_with == "idle_screw":
            self.trim(self.shown("speed_rpm", 6.0) - self.drop_rpm)
        elif self.habits.backs_off_with == "distributor" and not self.habits.turns_wrong_way:
            if self.habits.by_the_gauge:
                self.back_off_by_gauge()
            else:
                super().back_off()

    def finish(self) -> None:
        """What the habits have of tightening, putting back and driving."""
        self.do("read_gauges")
        if self.habits.tightens:
            self.tighten()
        if self.habits.reconnects:
            self.do("vacuum_hose", "on", wait_s=3.0)
        self.trim(self.wanted_rpm)
        if self.habits.drives:
            self.drive()
        else:
            self.do("read_gauges")

    def tighten(self) -> None:
        """Tighten, and read again or not."""
        self.do("clamp", "tight", wait_s=3.0)
        if self.habits.reads_again:
            self.do("read_gauges")

    def drive(self) -> None:
        """Drive until it does not ping; those who did not back off with the distributor leave it at one drive."""
        if not self.session.readings().warm:
            self.do("wait_until_warm")
        for _ in range(12):
            retard_deg = self.pings_on_the_road()
            if not retard_deg or self.habits.backs_off_with != "distributor":
                return
            self.do("clamp", "loose")
            self.turn(2.0 if self.habits.advances_when_it_pings else -retard_deg)
            self.tighten()


def engine_of(learner: str, class_id: str = "", engines: Path = ENGINES) -> LearnersEngine:
    """The truck that this learner is given in l04."""
    return learners_engine(load_card(engines / "delivery_truck_six.toml"), class_id, learner, LESSON)


def bench_of(learner: str, class_id: str = "", engines: Path = ENGINES) -> BenchAssignment:
    """The same truck as it stands at the bench, with what is to be known of its label."""
    header = Header(learner, LESSON, class_id, engine_of(learner, class_id, engines).card.digest, CREATED)
    return assignment_of(load_rubric(LESSON).exercises[BENCH], header, engines)


def evidence_by(
    path: Path,
    learner: str,
    habits: Habits | None = None,
    class_id: str = "",
    engines: Path = ENGINES,
    found_warm: bool = False,
) -> Path:
    """Write the evidence that such a learner leaves in the new file `path`; return it."""
    habits = habits or Habits()
    assert not path.exists(), f"{path} is there already"
    path.write_bytes(_work_at_the_bench(learner, replace(habits, answers=()), class_id, engines, found_warm))
    digest = engine_of(learner, class_id, engines).card.digest
    writer = EvidenceWriter(path, Header(learner, LESSON, class_id, digest, CREATED))
    for number, (exercise, value, unit) in enumerate(habits.answers):
        writer.append(Event(60.0 * number, exercise, "answer", value, unit))
    return path


@cache
def _work_at_the_bench(learner: str, habits: Habits, class_id: str, engines: Path, found_warm: bool) -> bytes:
    """What the file holds after the work at the bench: half a second each, and the same for the same learner."""
    given, digest = bench_of(learner, class_id, engines), engine_of(learner, class_id, engines).card.digest
    found = replace(given.found, coolant_c=WARM_C) if found_warm else given.found
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "evidence.jsonl"
        writer = EvidenceWriter(path, Header(learner, LESSON, class_id, digest, CREATED))
        session = Session(given.engine, found=found, evidence=writer, exercise=BENCH)
        ScriptedLearner(session, habits).work()
        return path.read_bytes()
