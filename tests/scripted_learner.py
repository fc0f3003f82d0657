"""A learner who follows the method by what the instruments show, and can be told to make one mistake at a time.

Used by the tests of the judge, the class run and the benchmarks. It reads only what a person could read, averages
the wobble by looking for a while, and never sees the true angle.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from engine_sim import Engine, Event, EvidenceWriter, Header, LearnersEngine, Session, learners_engine, load_card

ENGINES = Path(__file__).parents[1] / "course" / "engines"
LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
CREATED = "2026-03-02T18:30:00+00:00"
SAFE = {"brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear"}
RIGHT_ANSWERS = (
    ("l04_why_back_off", "adds_up", None),
    ("l04_distributor_degrees", 3.0, "distributor degrees"),
    ("l04_altitude_vacuum", 14.0, "inHg"),
    (
        "l04_explain",
        "The weights in the distributor add more lead as the engine speeds up, so the fastest "
        "idle is too early on a hill; I drove it to hear that it does not ping.",
        None,
    ),
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
    backs_off_with: str = "distributor"  # distributor, idle_screw or nothing
    tightens: bool = True
    reads_again: bool = True
    reconnects: bool = True
    drives: bool = True
    turns_wrong_way: bool = False
    stops_short: bool = False
    advances_when_it_pings: bool = False
    hesitates: bool = False
    answers: tuple = RIGHT_ANSWERS


class ScriptedLearner:
    """One learner with habits at one session. Call `work`."""

    def __init__(self, session: Session, habits: Habits):
        self.session, self.habits = session, habits
        card = session.engine.card
        self.wanted_rpm, self.drop_rpm = card.setting.idle_rpm, card.setting.speed_drop_rpm
        self.towards_advance = -1.0 if card.distributor.rotor_turns == "clockwise" else 1.0

    def work(self) -> None:
        """Go through the whole job."""
        self._prepare()
        self._search()
        self._back_off()
        self._finish()

    def _do(self, control, value=None, wait_s: float = 0.6) -> bool:
        done = self.session.act(control, value).kind == "done"
        self.session.advance(wait_s)
        return done

    def _look(self, name: str, seconds: float = 4.0) -> float:
        """Average of what an instrument shows over a few seconds; 0 where it is not connected."""
        shown = []
        for _ in range(round(seconds / 0.2)):
            self.session.advance(0.2)
            shown.append(getattr(self.session.readings(), name) or 0.0)
        return sum(shown) / len(shown)

    def _prepare(self) -> None:
        if not self.habits.makes_safe:
            self._do("starter")
        for control, value in SAFE.items():
            self._do(control, value)
        self._do("tachometer", "on")
        self._do("gauge_hose", self.habits.gauge)
        self._do("starter", wait_s=6.0)
        if self.habits.warms_up:
            self._do("wait_until_warm")
        else:  # impatient: the choke is nearly off, the oil still thick
            for _ in range(17):
                self._do("wait")
        if self.habits.hose != "on":
            self._do("vacuum_hose", self.habits.hose)
        self._do("clamp", "loose", wait_s=3.0)

    def _turn(self, crank_degrees: float) -> None:
        """Turn the body so that the spark moves by that many crank degrees towards advance."""
        place = self.session.settings["distributor"] + self.towards_advance * crank_degrees / 2.0
        self._do("distributor", min(max(round(place * 4) / 4, -25.0), 25.0), wait_s=2.0)

    def _gauge(self) -> float:
        """What guides the search: the vacuum gauge, or the tachometer where the gauge shows nothing."""
        vacuum = self._look("vacuum_inhg", 3.0)
        return vacuum if vacuum > 2.0 else self._look("speed_rpm", 3.0) / 50.0

    def _search(self) -> None:
        if self.habits.turns_wrong_way:
            for _ in range(2):
                self._turn(-2.0)
            return
        if not self.habits.finds_peak:
            return
        self._climb(self._gauge())
        if self.habits.retrims and not self.habits.stops_short:
            self._trim(self.wanted_rpm)
            self._turn(2.0)
            self._turn(-2.0)

    def _climb(self, best: float) -> None:
        if self.habits.hesitates:
            for step in (4.0, -2.0, 4.0, -4.0):
                self._turn(step)
        since_best, place, best_place = 0, 0.0, 0.0
        while since_best < 3 and place < 60.0:
            self._turn(4.0)
            place += 4.0
            found = self._gauge()
            since_best = 0 if found > best + 0.05 else since_best + 1
            best, best_place = (found, place) if found > best else (best, best_place)
            if self.habits.stops_short:
                return
        self._turn(best_place - place)

    def _trim(self, wanted_rpm: float) -> None:
        """Bring the idle to a speed with the screw, a tenth of a turn for twenty rpm, until it is within five."""
        for _ in range(25):
            off = wanted_rpm - self._look("speed_rpm", 3.0)
            if abs(off) <= 5.0:
                return
            turns = self.session.settings["idle_screw"] + max(min(off / 190.0, 0.3), -0.3)
            self._do("idle_screw", min(max(round(turns, 2), 0.0), 6.0), wait_s=3.0)

    def _back_off(self) -> None:
        peak_rpm = self._look("speed_rpm", 6.0)
        wanted = peak_rpm - self.drop_rpm
        if self.habits.backs_off_with == "idle_screw":
            self._trim(wanted)
        if self.habits.backs_off_with != "distributor" or self.habits.turns_wrong_way:
            return
        for _ in range(90):
            off = self._look("speed_rpm", 3.0) - wanted
            if off <= 3.0:
                return
            self._turn(-2.0 if off > 30.0 else -1.0 if off > 12.0 else -0.5)

    def _finish(self) -> None:
        self._do("read_gauges")
        if self.habits.tightens:
            self._do("clamp", "tight", wait_s=3.0)
            if self.habits.reads_again:
                self._do("read_gauges")
        if self.habits.reconnects:
            self._do("vacuum_hose", "on", wait_s=3.0)
        self._trim(self.wanted_rpm)
        if self.habits.drives:
            self._drive()

    def _drive(self) -> None:
        if not self.session.readings().warm:
            self._do("wait_until_warm")
        for _ in range(8):
            self._do("chocks", "away")
            went = self._do("road_check", wait_s=45.0)
            self._do("chocks", "in place")
            if not went:
                return
            heard = next(line.text for line in reversed(self.session.log) if line.text.startswith("Back from the road"))
            pings = "clear ping" in heard or "heavy ping" in heard
            if not pings or self.habits.backs_off_with != "distributor":
                return
            self._do("clamp", "loose")
            self._turn(2.0 if self.habits.advances_when_it_pings else -1.0)
            self._do("clamp", "tight")
            if self.habits.reads_again:
                self._do("read_gauges")


def engine_of(learner: str, class_id: str = "", engines: Path = ENGINES) -> LearnersEngine:
    """The truck that this learner is given in l04."""
    return learners_engine(load_card(engines / "delivery_truck_six.toml"), class_id, learner, LESSON)


def evidence_by(
    path: Path, learner: str, habits: Habits | None = None, class_id: str = "", engines: Path = ENGINES
) -> Path:
    """Write the evidence that such a learner leaves in the file `path`; return it."""
    habits = habits or Habits()
    given = engine_of(learner, class_id, engines)
    writer = EvidenceWriter(path, Header(learner, LESSON, class_id, given.card.digest, CREATED))
    session = Session(Engine(given.card), found=given.found, evidence=writer, exercise=BENCH)
    ScriptedLearner(session, habits).work()
    for number, (exercise, value, unit) in enumerate(habits.answers):
        writer.append(Event(60.0 * number, exercise, "answer", value, unit))
    return path
