"""A faultless learner: the work of every bench done by what the instruments show, and every question answered.

It shows whether a rubric can be met at all on the engine of one learner. It reads only what a person could read.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from engine_sim import Event, Evidence, EvidenceWriter, Header, read_evidence
from graders.bench.assignment import engine_of, session_at
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import Rubric
from graders.schema import EngineExercise, proven

from . import WORKS
from .method import MethodAttempt
from .operator import Operator

CREATED = "2026-03-02T18:30:00+00:00"
NO_ENGINE = "no engine"
# What the method meets: a bench exercise that asks for no other check is tried by it, an instructor's own one too.
METHOD_CHECKS = frozenset(
    {
        "made_safe",
        "was_warm",
        "hose_off_and_plugged",
        "gauges_on",
        "found_peak",
        "idle_brought_back",
        "backed_off",
        "clamped_and_read_again",
        "reconnected",
        "road_checked",
        "where_it_ended",
    }
)


def tried(exercise: Exercise) -> bool:
    """Whether a faultless attempt can be made by machine: of one of the course's own benches, of the method, or of a
    question that has an answer."""
    if isinstance(exercise, EngineExercise) and exercise.at_the_bench:
        checks = {one.check for one in exercise.tables_with_points()}
        by_method = not exercise.faults and checks <= METHOD_CHECKS
        return exercise.id in WORKS or by_method
    return not exercise.marked_by_person


def faultless_evidence(rubric: Rubric, learner: str, class_id: str, engines: Path) -> Evidence:
    """The evidence that a faultless learner of that name leaves, as far as a machine can try the exercises.

    Raises TimingCourseError where an engine, a formula or an answer cannot be used.
    """
    with tempfile.TemporaryDirectory(prefix="try-") as folder:
        header = Header(
            learner=learner,
            lesson=rubric.lesson,
            class_id=class_id,
            engine=_digest(rubric, learner, class_id, engines),
            created=CREATED,
        )
        writer = EvidenceWriter(Path(folder) / "evidence.jsonl", header)
        for exercise in filter(tried, rubric.exercises.values()):
            _try(exercise, writer, engines)
        return read_evidence(writer.path)


def _try(exercise: Exercise, writer: EvidenceWriter, engines: Path) -> None:
    if exercise.at_the_bench:
        _work(exercise, writer, engines)
        return
    own = learners_exercise(exercise, writer.header, engines)
    given = proven(own.model_answer(), f"the model answer of {exercise.id}")
    for inspection in given.inspections:
        writer.append(Event(1.0, exercise.id, "inspect", inspection, None))
    writer.append(Event(1.0, exercise.id, "answer", given.value, given.unit))


def _work(exercise: Exercise, writer: EvidenceWriter, engines: Path) -> None:
    session = session_at(exercise, writer.header, engines, evidence=writer)
    WORKS[exercise.id](Operator(session)) if exercise.id in WORKS else MethodAttempt(session).work()


def _digest(rubric: Rubric, learner: str, class_id: str, engines: Path) -> str:
    header = Header(learner=learner, lesson=rubric.lesson, class_id=class_id, engine="", created=CREATED)
    names = [exercise.engine for exercise in rubric.exercises.values() if exercise.engine]
    return engine_of(header, engines, names[0]).card.digest if names else NO_ENGINE
