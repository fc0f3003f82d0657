"""From evidence to trajectories: the judge's own engine goes through what the learner did."""

from __future__ import annotations

from engine_sim import Evidence, Trajectory, replay

from .assignment import BenchAssignment


def attempts(evidence: Evidence, exercise: str, assignment: BenchAssignment) -> list[Trajectory]:
    """Replay every attempt of a bench exercise on what this learner was given.

    Raises ControlError where an event could not have been written by a session.
    """
    trajectories = replay(
        evidence.events,
        assignment.engine,
        conditions=assignment.conditions,
        found=assignment.found,
        exercise=exercise,
        tools=assignment.tools,
    )
    return [trajectory for trajectory in trajectories if trajectory.actions]
