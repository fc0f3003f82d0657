"""From evidence to trajectories: the judge's own engine goes through what the learner did."""

from __future__ import annotations

from engine_sim import Evidence, Trajectory, replay

from .assignment import Subject


def tries(evidence: Evidence, exercise: str, subject: Subject) -> list[Trajectory]:
    """Replay every try of a bench exercise on what this learner was given.

    Raises ControlError where an event could not have been written by a session.
    """
    trajectories = replay(
        evidence.events,
        subject.engine,
        conditions=subject.conditions,
        found=subject.found,
        exercise=exercise,
        tools=subject.tools,
    )
    return [trajectory for trajectory in trajectories if trajectory.moments]
