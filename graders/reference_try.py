"""A faultless learner: the method carried out at the bench by what the instruments show, and every question answered.

It shows whether a rubric can be met at all on the engine of one learner. It reads only what a person could read and
averages the wobble by looking for a while; it never sees the true angle. The tests make it careless in many ways.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from engine_sim import INSPECTIONS, Event, Evidence, EvidenceWriter, Header, Session, fault_named, read_evidence

from .exercise import Choice, ExerciseRubric
from .kinds import KINDS
from .kinds.common import as_text
from .kinds.hook_up import right_hook_up
from .kinds.order import right_order
from .kinds.own_engine import EXAMPLE
from .rubrics import Rubric
from .subject import NO_FAULT, engine_of, subject_of, words_of
from .variants import card_of, exercise_for

SAFE = {"brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear"}
CREATED = "2026-03-02T18:30:00+00:00"
NO_ENGINE = "no engine"
MOST_DRIVES = 8
# What the method meets; an exercise with another check asks for more than the method.
METHOD_CHECKS = frozenset({"made_safe", "was_warm", "hose_off_and_plugged", "gauges_on", "found_peak",
                           "idle_brought_back", "backed_off", "clamped_and_read_again", "reconnected", "road_checked",
                           "where_it_ended"})


class MethodTry:
    """The method at one session, from the chocks to the road check. Call `work`."""

    def __init__(self, session: Session):
        self.session = session
        card = session.engine.card
        self.wanted_rpm, self.drop_rpm = card.setting.idle_rpm, card.setting.speed_drop_rpm
        self.towards_advance = -1.0 if card.distributor.rotor_turns == "clockwise" else 1.0

    def work(self) -> None:
        """Go through the whole job."""
        self.prepare()
        self.search()
        self.back_off()
        self.finish()

    def prepare(self) -> None:
        """Make it safe, hook up the gauges, start, warm up, take the vacuum advance out."""
        for control, value in SAFE.items():
            self.do(control, value)
        self.do("tachometer", "on")
        self.do("gauge_hose", "manifold")
        self.do("starter", wait_s=6.0)
        self.do("wait_until_warm")
        self.do("vacuum_hose", "off and plugged")
        self.do("clamp", "loose", wait_s=3.0)

    def search(self) -> None:
        """Find the highest vacuum, bring the idle back there, and look for the peak again."""
        self.climb(self.gauge())
        self.trim(self.wanted_rpm)
        self.turn(2.0)
        self.turn(-2.0)

    def back_off(self) -> None:
        """Retard until the speed has fallen by what the label asks."""
        wanted = self.look("speed_rpm", 6.0) - self.drop_rpm
        for _ in range(90):
            off = self.look("speed_rpm", 3.0) - wanted
            if off <= 3.0:
                return
            self.turn(-2.0 if off > 30.0 else -1.0 if off > 12.0 else -0.5)

    def finish(self) -> None:
        """Tighten, read again, put the hose back, set the idle, drive."""
        self.do("read_gauges")
        self.tighten()
        self.do("vacuum_hose", "on", wait_s=3.0)
        self.trim(self.wanted_rpm)
        self.drive()

    def tighten(self) -> None:
        """Tighten the clamp and read the gauges once more."""
        self.do("clamp", "tight", wait_s=3.0)
        self.do("read_gauges")

    def drive(self) -> None:
        """Drive, and retard a little and drive again while it pings."""
        for _ in range(MOST_DRIVES):
            if not self.pings_on_the_road():
                return
            self.do("clamp", "loose")
            self.turn(-1.0)
            self.tighten()

    def pings_on_the_road(self) -> bool:
        """Drive once; whether the ear heard it ping."""
        self.do("chocks", "away")
        went = self.do("road_check", wait_s=45.0)
        self.do("chocks", "in place")
        heard = [line.text for line in self.session.log if line.text.startswith("Back from the road")]
        return went and bool(heard) and any(words in heard[-1] for words in ("clear ping", "heavy ping"))

    def do(self, control: str, value=None, wait_s: float = 0.6) -> bool:
        """Use one control and wait a little; whether it took effect."""
        done = self.session.act(control, value).kind == "done"
        self.session.advance(wait_s)
        return done

    def look(self, name: str, seconds: float = 4.0) -> float:
        """Average of what an instrument shows over a few seconds; 0 where it is not connected."""
        shown = []
        for _ in range(round(seconds / 0.2)):
            self.session.advance(0.2)
            shown.append(getattr(self.session.readings(), name) or 0.0)
        return sum(shown) / len(shown)

    def turn(self, crank_degrees: float) -> None:
        """Turn the body so that the spark moves by that many crank degrees towards advance."""
        place = self.session.settings["distributor"] + self.towards_advance * crank_degrees / 2.0
        self.do("distributor", min(max(round(place * 4) / 4, -25.0), 25.0), wait_s=2.0)

    def gauge(self) -> float:
        """What guides the search: the vacuum gauge, or the tachometer where the gauge shows nothing."""
        vacuum = self.look("vacuum_inhg", 3.0)
        return vacuum if vacuum > 2.0 else self.look("speed_rpm", 3.0) / 50.0

    def climb(self, best: float) -> None:
        """Advance until the reading has clearly stopped rising, and go back to where it was best."""
        since_best, place, best_place = 0, 0.0, 0.0
        while since_best < 3 and place < 60.0:
            self.turn(4.0)
            place += 4.0
            found = self.gauge()
            since_best = 0 if found > best + 0.05 else since_best + 1
            best, best_place = (found, place) if found > best else (best, best_place)
        self.turn(best_place - place)

    def trim(self, wanted_rpm: float) -> None:
        """Bring the idle to a speed with the screw, a tenth of a turn for twenty rpm, until it is within five."""
        for _ in range(25):
            off = wanted_rpm - self.look("speed_rpm", 3.0)
            if abs(off) <= 5.0:
                return
            turns = self.session.settings["idle_screw"] + max(min(off / 190.0, 0.3), -0.3)
            self.do("idle_screw", min(max(round(turns, 2), 0.0), 6.0), wait_s=3.0)


def tried(exercise: ExerciseRubric) -> bool:
    """Whether a faultless try can be made by machine: of the method, or of a question that has an answer."""
    if exercise.kind == "bench":
        return not exercise.faults and {one.check for one in exercise.criteria} <= METHOD_CHECKS
    return exercise.kind in KINDS and exercise.kind != "written"


def right_answer(own: ExerciseRubric) -> tuple[str | float, str | None]:
    """Value and unit of the answer that earns full marks in a learner's form of a question."""
    makers = {
        "choice": lambda: (right_choice(own).id, None),
        "needle": lambda: (right_choice(own).id, None),
        "diagnosis": lambda: (right_choice(own).id, None),
        "several": lambda: (as_text([one.id for one in own.choices if one.right]), None),
        "number": lambda: (own.value, own.unit),
        "sum": lambda: (as_text({line.id: [line.value, line.unit] for line in own.fields}), None),
        "order": lambda: (as_text(right_order(own)), None),
        "hook_up": lambda: (as_text(right_hook_up(own)), None),
        "curve": lambda: (as_text(own.reference), None),
        "engine_card": lambda: (as_text(EXAMPLE), None),
    }
    return makers[own.kind]()


def right_choice(own: ExerciseRubric) -> Choice:
    """The first choice that is right in a learner's form of a question."""
    return next(one for one in own.choices if one.right)


def inspections_before(own: ExerciseRubric) -> tuple[str, ...]:
    """The inspections that a faultless learner makes before naming the cause: those that come first, and the one that
    shows the fault; on a sound engine the shortest. None in an exercise of another kind."""
    if own.kind != "diagnosis":
        return ()
    fault = right_choice(own).fault
    shortest = min(own.inspections, key=lambda name: INSPECTIONS[name].minutes)
    shows = shortest if fault == NO_FAULT else fault_named(fault).found_by
    return tuple(dict.fromkeys((*own.first, shows)))


def faultless_evidence(rubric: Rubric, learner: str, class_id: str, engines: Path) -> Evidence:
    """The evidence that a faultless learner of that name leaves, as far as a machine can try the exercises.

    Raises TimingCourseError where an engine, a formula or an answer cannot be used.
    """
    with tempfile.TemporaryDirectory(prefix="try-") as folder:
        header = Header(learner, rubric.lesson, class_id, _digest(rubric, learner, class_id, engines), CREATED)
        writer = EvidenceWriter(Path(folder) / "evidence.jsonl", header)
        for exercise in filter(tried, rubric.exercises.values()):
            _try(exercise, writer, engines)
        return read_evidence(writer.path)


def _try(exercise: ExerciseRubric, writer: EvidenceWriter, engines: Path) -> None:
    header = writer.header
    if exercise.kind == "bench":
        given = subject_of(exercise, header, engines)
        MethodTry(Session(given.engine, conditions=given.conditions, found=given.found, evidence=writer,
                          exercise=exercise.id, tools=given.tools)).work()
        return
    own = exercise_for(exercise, words_of(exercise, header), card_of(exercise, header, engines))
    for inspection in inspections_before(own):
        writer.append(Event(1.0, exercise.id, "inspect", inspection, None))
    value, unit = right_answer(own)
    writer.append(Event(1.0, exercise.id, "answer", value, unit))


def _digest(rubric: Rubric, learner: str, class_id: str, engines: Path) -> str:
    header = Header(learner, rubric.lesson, class_id, "", CREATED)
    names = [exercise.engine for exercise in rubric.exercises.values() if exercise.engine]
    return engine_of(header, engines, names[0]).card.digest if names else NO_ENGINE
