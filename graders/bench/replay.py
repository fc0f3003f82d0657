"""From evidence to trajectories: the judge's own engine goes through what the learner did."""

from __future__ import annotations

from pathlib import Path

from engine_sim import Evidence, Trajectory, replay
from graders.schema import EngineExercise

from .assignment import BenchAssignment, another_engine, assignment_of


def attempts(exercise: EngineExercise, evidence: Evidence, engines: Path) -> list[tuple[Trajectory, BenchAssignment]]:
    """Replay every attempt of a bench exercise, each on what this learner was given for it.

    Raises ControlError where an event could not have been written by a session.
    """
    header = evidence.header
    given = [assignment_of(exercise, header, engines)]
    trajectories = replay(
        evidence.events,
        given[0].engine,
        conditions=given[0].conditions,
        found=given[0].found,
        exercise=exercise.id,
        tools=given[0].tools,
        another_engine=another_engine(exercise, header, engines),
    )
    last = max(trajectory.engine_number for trajectory in trajectories)
    given += [assignment_of(exercise, header, engines, number) for number in range(1, last + 1)]
    return [(trajectory, given[trajectory.engine_number]) for trajectory in trajectories if trajectory.actions]
