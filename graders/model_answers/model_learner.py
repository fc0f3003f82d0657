"""A faultless learner: the work of every bench done by what the instruments show, and every question answered.

It shows whether a rubric can be met at all on the engine of one learner. It reads only what a person could read.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from engine_sim import INSPECTIONS, Event, Evidence, EvidenceWriter, Header, Session, fault_named, read_evidence
from graders.bench.assignment import NO_FAULT, assignment_of, engine_of, seed_text
from graders.exercises.individualise import card_of, exercise_for
from graders.exercises.kinds import KINDS
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.hook_up import right_hook_up
from graders.exercises.kinds.order import right_order
from graders.exercises.kinds.own_engine import EXAMPLE
from graders.exercises.loader import Rubric
from graders.schema import Choice, ExerciseRubric

from . import WORKS
from .method import MethodTry
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


def tried(exercise: ExerciseRubric) -> bool:
    """Whether a faultless attempt can be made by machine: of one of the course's own benches, of the method, or of a
    question that has an answer."""
    if exercise.kind == "bench":
        by_method = not exercise.faults and {one.check for one in exercise.criteria} <= METHOD_CHECKS
        return exercise.id in WORKS or by_method
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
        given = assignment_of(exercise, header, engines)
        session = Session(
            given.engine,
            conditions=given.conditions,
            found=given.found,
            evidence=writer,
            exercise=exercise.id,
            tools=given.tools,
        )
        WORKS[exercise.id](Operator(session)) if exercise.id in WORKS else MethodTry(session).work()
        return
    own = exercise_for(exercise, seed_text(exercise, header), card_of(exercise, header, engines))
    for inspection in inspections_before(own):
        writer.append(Event(1.0, exercise.id, "inspect", inspection, None))
    value, unit = right_answer(own)
    writer.append(Event(1.0, exercise.id, "answer", value, unit))


def _digest(rubric: Rubric, learner: str, class_id: str, engines: Path) -> str:
    header = Header(learner, rubric.lesson, class_id, "", CREATED)
    names = [exercise.engine for exercise in rubric.exercises.values() if exercise.engine]
    return engine_of(header, engines, names[0]).card.digest if names else NO_ENGINE
