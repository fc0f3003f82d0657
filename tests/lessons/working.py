"""Work at the bench of any lesson's exercise, and what the judge says of what they did.

`at_bench` opens the bench as the learner of that name finds it; whatever is done there is evidence, and `judged` has
it judged by the same code as a class run.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from engine_sim import EvidenceWriter, Header, Session
from graders.bench.assignment import assignment_of, engine_of
from graders.exercises.loader import load_rubric
from graders.judge import judge_lesson
from graders.model_answers.model_learner import CREATED, NO_ENGINE
from graders.model_answers.operator import Operator
from graders.outcome import ExerciseResult

ENGINES = Path(__file__).parents[2] / "course" / "engines"


def at_bench(
    folder: Path,
    lesson: str,
    exercise_id: str,
    learner: str,
    work: Callable[[Operator], None],
    session: type[Session] = Session,
) -> Path:
    """Let `work` be done at the bench of an exercise, in a `session` of that kind; return the evidence, in `folder`."""
    rubric = load_rubric(lesson)
    names = [one.engine for one in rubric.exercises.values() if one.engine]
    header = Header(learner, lesson, "", "", CREATED)
    digest = engine_of(header, ENGINES, names[0]).card.digest if names else NO_ENGINE
    writer = EvidenceWriter(folder / "evidence.jsonl", Header(learner, lesson, "", digest, CREATED))
    exercise = rubric.exercises[exercise_id]
    given = assignment_of(exercise, header, ENGINES)
    work(
        Operator(
            session(
                given.engine,
                conditions=given.conditions,
                found=given.found,
                evidence=writer,
                exercise=exercise_id,
                tools=given.tools,
            )
        )
    )
    return writer.path


def judged(
    folder: Path,
    lesson: str,
    exercise_id: str,
    learner: str,
    work: Callable[[Operator], None],
    session: type[Session] = Session,
) -> ExerciseResult:
    """What the judge says of such work."""
    result = judge_lesson(lesson, at_bench(folder, lesson, exercise_id, learner, work, session), ENGINES, learner)
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
