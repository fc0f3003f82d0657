"""Hands at the bench of any lesson's exercise, and what the judge says of what they did.

`at_bench` opens the bench as the learner of that name finds it; whatever is done there is evidence, and `judged` has
it judged by the same code as a class run.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from engine_sim import EvidenceWriter, Header, Session
from graders.judge import judge_lesson
from graders.outcome import ExerciseResult
from graders.reference_try import CREATED, NO_ENGINE, SAFE
from graders.rubrics import load_rubric
from graders.subject import engine_of, subject_of

ENGINES = Path(__file__).parents[2] / "course" / "engines"


class Hands:
    """One learner at one bench, who sees what the instruments show."""

    def __init__(self, session: Session):
        self.session, self.card = session, session.engine.card
        # A body that is turned against the rotor advances the spark; seen from above, clockwise counts as positive.
        self.towards_advance = -1.0 if self.card.distributor.rotor_turns == "clockwise" else 1.0

    def do(self, control: str, value=None, wait_s: float = 0.6) -> str:
        """Use one control and wait a little; what came of it: done, stopped or not possible."""
        kind = self.session.act(control, value).kind
        self.session.advance(wait_s)
        return kind

    def make_safe(self) -> None:
        """Brake, chocks, extraction, fan area, and out of gear."""
        for control, value in SAFE.items():
            self.do(control, value)
        self.do("gear", "neutral")

    def turn(self, crank_degrees: float) -> None:
        """Turn the body so that the spark moves by that many crank degrees towards advance."""
        place = self.session.settings["distributor"] + self.towards_advance * crank_degrees / 2.0
        self.do("distributor", min(max(round(place * 4) / 4, -25.0), 25.0), wait_s=2.0)

    def shown(self, name: str, seconds: float = 3.0) -> float:
        """Average of what an instrument shows over some seconds; 0 where it is not connected."""
        readings = []
        for _ in range(round(seconds / 0.2)):
            self.session.advance(0.2)
            readings.append(getattr(self.session.readings(), name) or 0.0)
        return sum(readings) / len(readings)


def at_bench(folder: Path, lesson: str, exercise_id: str, learner: str, work: Callable[[Hands], None]) -> Path:
    """Let `work` be done at the bench of an exercise; return the evidence, in `folder`."""
    rubric = load_rubric(lesson)
    names = [one.engine for one in rubric.exercises.values() if one.engine]
    header = Header(learner, lesson, "", "", CREATED)
    digest = engine_of(header, ENGINES, names[0]).card.digest if names else NO_ENGINE
    writer = EvidenceWriter(folder / "evidence.jsonl", Header(learner, lesson, "", digest, CREATED))
    exercise = rubric.exercises[exercise_id]
    given = subject_of(exercise, header, ENGINES)
    work(Hands(Session(given.engine, conditions=given.conditions, found=given.found, evidence=writer,
                       exercise=exercise_id, tools=given.tools)))
    return writer.path


def judged(folder: Path, lesson: str, exercise_id: str, learner: str, work: Callable[[Hands], None]) -> ExerciseResult:
    """What the judge says of such work."""
    result = judge_lesson(lesson, at_bench(folder, lesson, exercise_id, learner, work), ENGINES, learner)
    assert not result.problem, result.problem
    return result.exercise(exercise_id)


def lost(result: ExerciseResult) -> dict[str, str | None]:
    """Every criterion that lost points, with the misconception that was named."""
    return {one.criterion: one.misconception for one in result.criteria if one.points < one.max_points}


def assert_costs_its_own(result: ExerciseResult, lesson: str, misconception: str) -> None:
    """A mistake costs the criteria that the rubric declares for it, no others, and is named in one of them."""
    declared, found = load_rubric(lesson).misconceptions[misconception], lost(result)
    assert set(declared.costs) <= set(found) <= {*declared.costs, *declared.may_cost}, found
    assert misconception in found.values(), found
    assert all(one.sentence for one in result.criteria)
