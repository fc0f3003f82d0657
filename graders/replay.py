"""From evidence to trajectories: the judge's own engine goes through what the learner did."""

from __future__ import annotations

import functools
from pathlib import Path

from engine_sim import (
    SEA_LEVEL_DAY,
    Engine,
    EngineCard,
    Evidence,
    Header,
    LearnersEngine,
    Trajectory,
    learners_engine,
    load_card,
    replay,
)


@functools.lru_cache(maxsize=64)
def card_named(engines: Path, name: str) -> EngineCard:
    """The engine card of that name in the folder of cards. Raises CardError."""
    return load_card(Path(engines) / f"{name}.toml")


@functools.lru_cache(maxsize=16)
def engine_for(card: EngineCard) -> Engine:
    """One engine for a card, so that its map is loaded once in a class run."""
    return Engine(card)


def engine_of(header: Header, engines: Path, name: str) -> LearnersEngine:
    """The engine that the learner of this header was given for an exercise on the card of that name."""
    return learners_engine(card_named(engines, name), header.class_id, header.learner, header.lesson)


def tries(evidence: Evidence, exercise: str, given: LearnersEngine) -> list[Trajectory]:
    """Replay every try of a bench exercise on the engine that this learner was given.

    Raises ControlError where an event could not have been written by a session.
    """
    trajectories = replay(
        evidence.events, engine_for(given.card), conditions=SEA_LEVEL_DAY, found=given.found, exercise=exercise
    )
    return [trajectory for trajectory in trajectories if trajectory.moments]
